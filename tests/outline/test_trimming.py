"""Thin things that hang on a garment."""

import numpy as np
import pytest

from outgrown.outline.masks import dilate
from outgrown.outline.trimming import trim_thin


def box(left, top, right, bottom):
    mask = np.zeros((400, 500), bool)
    mask[top:bottom, left:right] = True
    return mask


CLOTH = box(100, 60, 220, 340)


@pytest.mark.parametrize(
    ("part", "stays"),
    [
        pytest.param((220, 200, 300, 204), False, id="a drawstring"),
        pytest.param((220, 200, 300, 210), False, id="a joint as wide as a thumb"),
        pytest.param((220, 200, 300, 216), True, id="a sleeve"),
        pytest.param((220, 200, 238, 210), True, id="a tab"),
        pytest.param((150, 40, 170, 60), True, id="a loop"),
    ],
)
def test_only_long_thin_arms_go(part, stays):
    trimmed = trim_thin(CLOTH | box(*part))
    end = box(part[0] + 10, *part[1:]) if part[0] >= 220 else box(*part)
    assert trimmed[end].mean() > 0.8 if stays else not trimmed[end].any()
    assert trimmed[CLOTH].all() and not (trimmed & ~dilate(CLOTH | box(*part), 1)).any()


def test_a_leg_that_hangs_on_by_a_thread_of_cloth_stays():
    leg = box(232, 310, 400, 340)
    whole = CLOTH | leg | box(220, 320, 232, 330)
    assert trim_thin(whole)[leg].mean() > 0.98


@pytest.mark.parametrize("wide_px", [5, 9])
def test_what_is_thin_itself_is_left_alone(wide_px):
    frame = box(100, 100, 400, 300) & ~box(100 + wide_px, 100 + wide_px, 400 - wide_px, 300 - wide_px)
    assert (trim_thin(frame) == frame).all()


def test_nothing_stays_nothing():
    assert not trim_thin(np.zeros((40, 50), bool)).any()
