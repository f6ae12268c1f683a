"""Joints: erased where they run on over the floor, left alone where they are cloth."""

import cv2
import numpy as np
import pytest

from outgrown.outline.joints import erase_joints

FLOOR, CLOTH, DARK = (190, 186, 178), (120, 40, 50), (40, 36, 34)


def draw_floor(width=400, height=520):
    noise = np.random.default_rng(3).normal(0, 2, (height, width, 3))
    return np.clip(np.full((height, width, 3), FLOOR) + noise, 0, 255).astype(np.uint8)


def is_floor(picture, at):
    return np.abs(picture[at].astype(int) - FLOOR).max() < 25


@pytest.mark.parametrize("lean_px", [0, 40])
def test_a_joint_goes_from_frame_to_frame_and_the_cloth_stays(lean_px):
    picture = draw_floor()
    cv2.line(picture, (200 - lean_px, 0), (200 + lean_px, 519), DARK, 3, cv2.LINE_AA)
    picture[150:300, 100:320] = CLOTH
    erased = erase_joints(picture, np.zeros(picture.shape[:2], bool))
    for y in (40, 120, 340, 470):
        x = round(200 - lean_px + 2 * lean_px * y / 519)
        assert not is_floor(picture, (y, x))
        assert is_floor(erased, (y, x))
    assert (erased[155:295, 105:315] == CLOTH).all()


def test_a_joint_in_the_gap_between_two_legs_is_erased():
    picture = draw_floor()
    cv2.line(picture, (200, 0), (200, 519), DARK, 2)
    picture[100:200, 100:300] = CLOTH
    picture[200:450, 100:188] = picture[200:450, 222:300] = CLOTH
    erased = erase_joints(picture, np.zeros(picture.shape[:2], bool))
    assert is_floor(erased, (330, 200)) and not is_floor(picture, (330, 200))


def test_stripes_of_the_cloth_are_no_joints():
    picture = draw_floor()
    picture[120:400, 100:300] = CLOTH
    picture[120:400:20, 100:300] = picture[121:400:20, 100:300] = DARK
    assert erase_joints(picture, np.zeros(picture.shape[:2], bool)) is picture


def test_a_reference_is_left_as_it_is():
    picture = draw_floor()
    blocked = np.zeros(picture.shape[:2], bool)
    blocked[:, 180:220] = True
    cv2.line(picture, (200, 0), (200, 519), DARK, 2)
    assert erase_joints(picture, blocked) is picture
