"""A motif at the end of one leg that a hint has brought in, cut off by a ring of its own, close to the other leg."""

import cv2
import numpy as np
import pytest

from outgrown.outline.band import LocalLooks
from outgrown.outline.bridging import bridge, keep_said
from outgrown.outline.looks import to_lab

SHAPE = (200, 300)
FLOOR, CLOTH, NAVY, MINT = (120, 86, 40), (176, 104, 40), (44, 50, 62), (140, 190, 160)


def box(top, bottom, left, right):
    mask = np.zeros(SHAPE, bool)
    mask[top:bottom, left:right] = True
    return mask


def disc(radius):
    mask = np.zeros(SHAPE, np.uint8)
    cv2.circle(mask, (60, 68), radius, 1, -1)
    return mask > 0


LEGS = box(40, 96, 30, 280) | box(108, 164, 30, 280) | box(40, 164, 230, 280)
FOUND = LEGS & ~(box(0, 102, 0, 60) | disc(34))
MOTIF = disc(22)


@pytest.fixture(scope="module")
def looks():
    picture = np.empty((*SHAPE, 3), np.float32)
    for mask, colour in ((box(0, 200, 0, 300), FLOOR), (LEGS, CLOTH), (disc(34) & LEGS, NAVY), (MOTIF, MINT)):
        picture[mask] = colour
    picture += np.random.default_rng(1).normal(size=picture.shape) * 5
    return LocalLooks(to_lab(np.clip(cv2.GaussianBlur(picture, (0, 0), 0.7), 0, 255).astype(np.uint8)))


def test_it_is_joined_to_its_own_leg_and_the_gap_stays_open(looks):
    # As near to the one leg as to the other: all that both face was filled.
    joined = bridge(looks, FOUND, MOTIF)
    gap = box(97, 107, 30, 220)
    assert not joined[gap].any()
    assert cv2.connectedComponents(joined.astype(np.uint8))[0] == 2
    assert (joined & disc(30) & box(0, 96, 66, 300)).sum() > 0.9 * (disc(30) & box(0, 96, 66, 300)).sum()


def test_what_was_said_to_be_floor_stays_out_of_the_bridge(looks):
    fixed = np.where(MOTIF, 1, np.where(box(60, 76, 86, 90), -1, 0)).astype(np.int8)
    kept = keep_said(looks, FOUND | MOTIF, fixed)
    assert kept[MOTIF].all() and not kept[fixed < 0].any()
