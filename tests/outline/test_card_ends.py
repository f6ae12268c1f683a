"""Outlines with the end of a card sticking out, made by hand, and one drawn photo."""

import numpy as np
import pytest
from lying import lay_card
from shapely.affinity import rotate
from shapely.geometry import Polygon, box

from outgrown.outline.card_ends import find_card_ends
from outgrown.photo import Photo
from outgrown.steps import trace_outline

LEG = Polygon([(0, 0), (900, 40), (900, 140), (300, 240), (0, 200)])
# Corners of ISO/IEC 7810:2019, ID-1: 3.18 mm round.
ROUND_MM = 3.18


def ring_with(*ends, ripple_mm=0.1):
    """Return the leg's outline with rectangles laid under it, 0.4 mm a point and a little rippled."""
    shape = LEG
    for end in ends:
        shape = shape.union(end)
    shape = rotate(shape, 17)
    line = shape.exterior
    steps = np.arange(0, line.length, 0.4)
    ring = np.array([line.interpolate(step).coords[0] for step in steps])
    ring += np.random.default_rng(1).normal(0, ripple_mm, ring.shape)
    return ring if shape.exterior.is_ccw else ring[::-1]


def end_of(width_mm, length_mm=60.0, at=(450.0, 210.0), turn_deg=-8.0):
    left, upper = at[0] - width_mm / 2, at[1] + length_mm / 2
    sharp = box(left + ROUND_MM, upper - length_mm + ROUND_MM, left + width_mm - ROUND_MM, upper - ROUND_MM)
    return rotate(sharp.buffer(ROUND_MM), turn_deg)


@pytest.mark.parametrize("width_mm", [85.60, 53.98])
@pytest.mark.parametrize("turn_deg", [-25.0, -8.0, 6.0])
def test_the_end_of_a_card_under_the_garment_is_told(width_mm, turn_deg):
    ring = ring_with(end_of(width_mm, turn_deg=turn_deg))
    (finding,) = find_card_ends(ring, ring * 2.5)
    assert finding.code == "card-under-garment" and finding.advice
    assert f"{width_mm / 10:.1f} cm" in finding.text


@pytest.mark.parametrize("width_mm", [40.0, 50.0, 60.0, 80.0, 92.0])
def test_what_is_not_as_wide_as_a_card_is_not_taken_for_one(width_mm):
    ring = ring_with(end_of(width_mm))
    assert find_card_ends(ring, ring) == []


def test_a_hem_as_wide_as_a_card_is_none():
    leg = Polygon([(0, 0), (0, 200), (300, 240), (900, 145.6), (900, 60)])
    line = leg.exterior
    ring = np.array([line.interpolate(step).coords[0] for step in np.arange(0, line.length, 0.4)])
    ring = ring if line.is_ccw else ring[::-1]
    assert find_card_ends(ring, ring) == []
    assert find_card_ends(ring_with(), ring_with()) == []


def test_a_card_of_the_cloths_colour_that_lies_half_under_it_is_told():
    grey = np.full((1500, 2000), 150.0)
    grey[500:950, 300:1700] = 60.0
    lay_card(grey, 900, 410, 300, level=60.0)
    lay_card(grey, 200, 120, 300)
    grey += np.random.default_rng(2).normal(0, 2, grey.shape)
    traced = trace_outline(Photo(np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)))
    assert "card-under-garment" in [finding.code for finding in traced.findings]
