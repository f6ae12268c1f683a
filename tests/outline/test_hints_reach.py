"""How far a hint reaches: over what is wrong round it, and not over cloth or floor of the same look elsewhere."""

import cv2
import numpy as np
import pytest
from lying import fill, overlap

from outgrown.outline import Hints, Side, Stroke, Tracer

SHAPE = HEIGHT, WIDTH = 900, 700
FLOOR, DARK, NEARLY_DARK, TEAL = (176, 160, 138), (44, 46, 52), (52, 50, 52), (70, 132, 124)
TROUSERS = np.array([[200, 120], [500, 120], [520, 780], [390, 780], [350, 330], [310, 780], [180, 780]])
JOINT = np.array([[160, 0], [184, 0], [184, HEIGHT], [160, HEIGHT]])
SHIRT = np.array([[200, 120], [500, 120], [520, 780], [180, 780]])
BAND = np.array([[100, 400], [600, 480], [600, 560], [100, 480]])


def draw(*things):
    """Return a picture of rings in colours (None: the floor's), one on another."""
    chance = np.random.default_rng(3)
    mottle = cv2.GaussianBlur(chance.normal(size=SHAPE).astype(np.float32), (0, 0), 6)
    floor = np.array(FLOOR, np.float32) * (1 + 0.3 * mottle[..., None])
    picture = floor.copy()
    for ring, colour in things:
        picture[fill(ring, shape=SHAPE)] = floor[fill(ring, shape=SHAPE)] if colour is None else colour
    picture = cv2.GaussianBlur(picture, (0, 0), 0.9) + chance.normal(size=picture.shape) * 3
    return np.clip(picture, 0, 255).astype(np.uint8)


def say(*what):
    return Hints(tuple(Stroke(side, np.array([place], float)) for side, place in what))


def segment(tracer, *what):
    return tracer.segment(say(*what) if what else None).paint(SHAPE)


@pytest.fixture(scope="module")
def parted():
    """A shirt that a band of the floor's colour cuts in two; one part is found."""
    return Tracer(draw((SHIRT, TEAL), (BAND, None)))


@pytest.mark.parametrize("y", [480, 600, 720])
def test_a_hint_on_a_dark_joint_takes_no_leg_of_dark_trousers(y):
    tracer, truth = Tracer(draw((JOINT, NEARLY_DARK), (TROUSERS, DARK))), fill(TROUSERS, shape=SHAPE)
    before = segment(tracer)
    assert before[y, 170], "the joint is taken for cloth"
    # Without a limit to how deep a hint reaches the overlap fell to 0.73.
    after = segment(tracer, (Side.FLOOR, (170, y)))
    assert overlap(after, truth) > overlap(before, truth)
    assert not after[y, 170]
    assert after[600, 240] and after[600, 450]


def test_the_other_part_of_a_garment_that_a_band_cuts_in_two_is_joined_to_it(parted):
    truth = fill(SHIRT, shape=SHAPE)
    assert overlap(segment(parted), truth) < 0.6
    assert segment(parted)[200, 350]
    # Seen: 0.996; the part pointed at had taken the other's place.
    assert overlap(segment(parted, (Side.GARMENT, (350, 680))), truth) > 0.98


def test_what_was_said_holds_when_more_is_said(parted):
    after = segment(parted, (Side.GARMENT, (350, 680)), (Side.FLOOR, (385, 680)))
    assert after[680, 350]
    assert not after[680, 385]
    assert after[200, 350]


def test_what_lies_far_off_is_not_joined():
    shirt, other = SHIRT // 3 + np.array([40, 40]), np.array([[420, 640], [560, 640], [560, 760], [420, 760]])
    tracer = Tracer(draw((shirt, TEAL), (other, TEAL)))
    assert segment(tracer)[150, 150]
    after = segment(tracer, (Side.GARMENT, (490, 700)))
    # One of them is the garment, and not the floor between.
    assert not after[450, 350]


@pytest.mark.parametrize(("wide", "y"), [(14, 700), (30, 600)])
def test_a_hint_at_the_edge_of_a_gap_changes_nothing_at_its_far_end(wide, y):
    bottom, crotch = 780, 250
    gap = [[350 + wide, bottom], [350, crotch], [350 - wide, bottom]]
    ring = np.array([[200, 120], [500, 120], [520, bottom], *gap, [180, bottom]])
    tracer = Tracer(draw((ring, TEAL)))
    edge = 350 - wide * (y - crotch) / (bottom - crotch)
    changed = segment(tracer, (Side.GARMENT, (edge + 3, y))) != segment(tracer)
    # Without a limit to how far along it a hint reaches: 200 and 280 px away.
    assert np.abs(np.argwhere(changed)[:, 0] - y).max(initial=0) < 70
