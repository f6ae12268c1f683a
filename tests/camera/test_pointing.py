"""Somebody points to a card that is not found by itself."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from outgrown.camera import find_all
from outgrown.camera.find.choose import measure_apart
from outgrown.camera.find_all import find_all_references
from outgrown.camera.reference import Kind
from outgrown.errors import ScaleError
from outgrown.photo import Photo

# A card of 85.60 x 53.98 mm with corners of radius 3.18 mm (ISO/IEC 7810) at 2.5 px to the millimetre.
SCALE = 2.5
MIDDLE = (610.0, 420.0)
HALF = np.array([85.60, 53.98]) * SCALE / 2
CORNERS = np.array(MIDDLE) + HALF * np.array([[1, 1], [-1, -1], [-1, 1], [1, -1]])


def draw(contrast):
    rng = np.random.default_rng(1)
    fine = 4
    picture = np.full((900 * fine, 1200 * fine), 130.0, np.float32)
    half = np.array([85.60, 53.98]) * SCALE / 2
    radius = 3.18 * SCALE
    at = ((np.array(MIDDLE) + 0.5) * fine - 0.5).astype(np.float32)
    for size in ((half - [radius, 0]), (half - [0, radius])):
        low, high = np.round(at - size * fine).astype(int), np.round(at + size * fine).astype(int)
        picture[low[1] : high[1] + 1, low[0] : high[0] + 1] = 130 + contrast
    for x in (-1, 1):
        for y in (-1, 1):
            centre = at + (half - radius) * [x, y] * fine
            cv2.circle(picture, np.round(centre).astype(int).tolist(), round(radius * fine), 130.0 + contrast, -1)
    small = cv2.GaussianBlur(cv2.resize(picture, (1200, 900), interpolation=cv2.INTER_AREA), (0, 0), 0.8)
    rough = cv2.GaussianBlur(rng.normal(size=small.shape).astype(np.float32), (0, 0), 1.5)
    seen = small + 9 * rough / rough.std() + rng.normal(size=small.shape) * 2
    return Photo(np.repeat(np.clip(np.round(seen), 0, 255).astype(np.uint8)[..., None], 3, axis=2), focal_px=1000.0)


def test_a_faint_card_is_found_where_it_is_pointed_to():
    photo = draw(18)
    found = find_all_references(photo, kinds=[Kind.CARD], at_px=MIDDLE)
    assert len(found) == 1
    half = np.array([85.60, 53.98]) * SCALE / 2
    assert np.abs(np.abs(found[0].corners_px - MIDDLE) - half).max() < 2.5


def test_a_card_whose_corners_cannot_be_seen_is_found_where_it_is_pointed_to_and_only_there():
    photo = draw(60)
    half = np.array([85.60, 53.98]) * SCALE / 2
    pixels = photo.pixels.copy()
    for number, (x, y) in enumerate(((-1, -1), (1, -1), (1, 1), (-1, 1))):
        at = np.round(MIDDLE + half * [x, y] - [4 * x, 4 * y]).astype(int)
        cv2.circle(pixels, at.tolist(), 9, (100 + 20 * number,) * 3, -1)
    hidden = replace(photo, pixels=pixels)
    assert find_all_references(hidden, kinds=[Kind.CARD]) == []
    (found,) = find_all_references(hidden, kinds=[Kind.CARD], at_px=MIDDLE)
    assert np.abs(np.abs(found.corners_px - MIDDLE) - half).max() < 1.0


def test_a_place_with_nothing_on_it_is_refused():
    with pytest.raises(ScaleError, match="Nothing of known size is seen at 100,700"):
        find_all_references(draw(18), kinds=[Kind.CARD], at_px=(100, 700))


def test_a_place_outside_the_photo_is_refused():
    with pytest.raises(ScaleError, match="outside the photo, which is 1200 x 900 pixels"):
        find_all_references(draw(18), kinds=[Kind.CARD], at_px=(1300, 20))


# Edges not half again as high as the floor's scatter: to 4 px, 1.6 mm. Pointing alone finds nothing there.
FAINTEST_OFF_PX = 4.0


def test_a_card_too_faint_to_point_at_is_found_by_its_four_corners():
    photo = draw(13)
    with pytest.raises(ScaleError, match="--reference-corners"):
        find_all_references(photo, kinds=[Kind.CARD], at_px=MIDDLE)
    by_hand = CORNERS + np.array([[4, -3], [-4, 3], [3, 4], [4, 3]])
    (found,) = find_all_references(photo, corners_px=by_hand.tolist())
    assert found.kind is Kind.CARD
    assert np.abs(np.abs(found.corners_px - MIDDLE) - HALF).max() < FAINTEST_OFF_PX


def test_corners_set_roughly_are_drawn_onto_the_edges():
    photo = draw(60)
    found = [
        find_all_references(photo, corners_px=(CORNERS + np.array(off)).tolist())
        for off in ([0, 0], [[14, -12], [-13, 11], [12, 13], [-14, 12]])
    ]
    assert [len(one) for one in found] == [1, 1]
    assert measure_apart(found[0][0].corners_px, found[1][0].corners_px) < 0.1


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        (CORNERS[:3], "four corners, and 3 were given"),
        (CORNERS + np.array([0, 700]), "outside the photo"),
        (CORNERS * [0, 1] + [300, 0], "four corners were set"),
        (CORNERS + np.array([-350, 300]), "four corners were set"),
    ],
)
def test_corners_that_are_no_cards_are_refused(corners, words):
    with pytest.raises(ScaleError, match=words):
        find_all_references(draw(18), corners_px=corners.tolist())


def test_what_was_found_there_already_is_not_found_twice():
    photo = draw(60)
    (seen,) = find_all_references(photo)
    (found,) = find_all_references(photo, corners_px=CORNERS.tolist())
    assert measure_apart(seen.corners_px, found.corners_px) < 0.5


def test_what_was_taken_for_a_card_and_is_none_is_left_out():
    photo = draw(60)
    assert len(find_all_references(photo)) == 1
    assert find_all_references(photo, none_at_px=[MIDDLE]) == []
    # Somebody who says what it is after all is believed.
    (found,) = find_all_references(photo, at_px=MIDDLE, none_at_px=[MIDDLE])
    assert found.kind is Kind.CARD


@pytest.mark.parametrize(
    ("place", "words"),
    [((100.0, 700.0), "Nothing at 100,700 was taken for a card"), ((1300.0, 20.0), "outside the photo")],
)
def test_a_place_where_nothing_was_taken_for_a_card_is_refused(place, words):
    with pytest.raises(ScaleError, match=words):
        find_all_references(draw(60), none_at_px=[MIDDLE, place])


def test_a_target_that_is_none_takes_its_frame_and_paper_along(monkeypatch):
    """What could be found as a card in place of a target's paper, had the target not been there, is none either."""
    (paper,) = find_all_references(draw(60))
    target = replace(paper, kind=Kind.TARGET, outline_px=paper.corners_px)
    # Only the target's frame is pointed into.
    frame = np.array(MIDDLE) + 40 + 0.2 * (paper.corners_px - MIDDLE)
    monkeypatch.setattr(find_all, "find_targets", lambda photo, bar_mm: (replace(target, corners_px=frame),))
    assert find_all_references(draw(60))[0].kind is Kind.TARGET
    shifted = replace(paper, corners_px=paper.corners_px - 60)
    monkeypatch.setattr(find_all, "find_references", lambda photo, kinds: [shifted])
    assert find_all_references(draw(60), none_at_px=[tuple(frame.mean(axis=0))]) == []
