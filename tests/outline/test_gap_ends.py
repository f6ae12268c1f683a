"""Narrow gaps are followed to their end in the photo itself, and no further."""

from itertools import pairwise

import cv2
import numpy as np
import pytest

from outgrown.outline.follow import follow_edge
from outgrown.outline.follow_anew import follow_anew
from outgrown.outline.gap_ends import lengthen_gaps
from outgrown.outline.gap_walk import _choose_bank
from outgrown.outline.hints import Hints
from outgrown.outline.segmentation import Segmentation

CLOTH, FLOOR = (70, 170, 190), (180, 125, 85)
TIP, MOUTH = np.array([260.0, 300.0]), 760.0
WIDE = 60.0
"""Width of the gap at its mouth; it runs out in a tip."""


def draw(cloth=CLOTH, floor=FLOOR, seam=None, dots=None, wide=WIDE):
    """Return two legs side by side, their gap open to the right, and its true banks."""
    image = np.full((600, 900, 3), floor, np.uint8)
    cv2.rectangle(image, (60, 100), (int(MOUTH), 500), cloth, -1)
    if dots is not None:
        for x, y in np.random.default_rng(3).uniform((80, 120), (740, 480), (160, 2)):
            cv2.circle(image, (int(x), int(y)), 6, dots, -1, cv2.LINE_AA)
    if seam is not None:
        cv2.line(image, (60, 300), (262, 300), seam, 2, cv2.LINE_AA)
    gap = np.array([TIP, (MOUTH + 2, 300 + wide / 2), (MOUTH + 2, 300 - wide / 2)])
    cv2.fillPoly(image, [np.round(gap * 16).astype(np.int32)], floor, cv2.LINE_AA, 4)
    return cv2.GaussianBlur(image, (0, 0), 0.8)


def ring_to(x, wide=WIDE):
    """Return the edge, the gap lost from `x` on."""
    half = wide / 2 * (x - TIP[0]) / (MOUTH - TIP[0])
    corners = np.array(
        [
            (60, 100),
            (60, 500),
            (MOUTH, 500),
            (MOUTH, 300 + wide / 2),
            (x, 300 + half),
            (x, 300 - half),
            (MOUTH, 300 - wide / 2),
            (MOUTH, 100),
        ],
        float,
    )
    closed = np.vstack([corners, corners[:1]])
    return np.vstack([np.linspace(a, b, 200, endpoint=False) for a, b in pairwise(closed)])


def reach_of(ring):
    """Return how far to the left the gap goes."""
    inner = (np.abs(ring[:, 1] - 300) < 60) & (ring[:, 0] < MOUTH - 20) & (ring[:, 0] > 100)
    return float(ring[inner, 0].min())


def test_a_lost_tip_is_found_again():
    ring = lengthen_gaps(ring_to(420.0), draw())
    assert reach_of(ring_to(420.0)) == pytest.approx(420.0)
    # Where it is 2.5 px wide, 21 px before the tip, and a little further: the picture is soft.
    assert 258 <= reach_of(ring) <= 285
    # Its banks lie on the true ones.
    inner = ring[(np.abs(ring[:, 1] - 300) < 40) & (ring[:, 0] > 290) & (ring[:, 0] < 420)]
    half = WIDE / 2 * (inner[:, 0] - TIP[0]) / (MOUTH - TIP[0])
    assert len(inner) > 100
    assert np.abs(np.abs(inner[:, 1] - 300) - half).max() < 1.5


def test_a_tip_is_found_again_where_a_wide_gap_was_lost():
    # Legs 17 degrees apart, the gap lost where it is 20 px wide: there its banks seem 54 degrees apart.
    ring = lengthen_gaps(ring_to(325.0, 150.0), draw(wide=150.0))
    assert reach_of(ring) < 275


def on_floor(floor):
    """Return two legs on a floor (600, 900, 3), brown where `draw` has its own."""
    legs = draw()
    bare = np.all(np.abs(legs.astype(int) - FLOOR) < 12, axis=2)
    share = cv2.GaussianBlur(bare.astype(np.float32), (0, 0), 0.8)[..., None]
    return np.round(legs * (1 - share) + floor * share).astype(np.uint8)


@pytest.mark.parametrize(("slant", "width"), [(0.2, 14), (0.2, 28), (0.35, 20)])
def test_stripes_of_the_floor_along_the_gap_do_not_stop_the_walk(slant, width):
    # Most sections see both colours, and the blur between them, which is neither's.
    y, x = np.mgrid[:600, :900]
    dark = ((slant * x + y) % width < width / 2)[..., None]
    floor = np.where(dark, (58, 55, 57), FLOOR).astype(np.float32)
    ring = lengthen_gaps(ring_to(420.0), on_floor(cv2.GaussianBlur(floor, (0, 0), 1.5)))
    assert reach_of(ring) <= 285


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_mottled_floor_does_not_stop_the_walk(seed):
    spots = cv2.GaussianBlur(np.random.default_rng(seed).normal(size=(600, 900)).astype(np.float32), (0, 0), 7)
    shade = np.clip(0.75 + 0.18 * spots / spots.std(), 0.4, 1.0)
    ring = lengthen_gaps(ring_to(420.0), on_floor(shade[..., None] * np.array((117, 160, 150), np.float32)))
    assert reach_of(ring) <= 290


def test_the_ring_keeps_its_way_round():
    before, after = ring_to(420.0), lengthen_gaps(ring_to(420.0), draw())
    areas = [cv2.contourArea(ring.astype(np.float32), oriented=True) for ring in (before, after)]
    assert np.sign(areas[0]) == np.sign(areas[1])
    # What the gap takes away: its triangle from 420 on.
    half = WIDE / 2 * (420.0 - TIP[0]) / (MOUTH - TIP[0])
    assert abs(areas[0]) - abs(areas[1]) == pytest.approx(half * (420.0 - TIP[0]), rel=0.1)


@pytest.mark.parametrize("cloth", [CLOTH, (225, 225, 220), (120, 40, 60)])
def test_a_seam_that_goes_on_behind_the_tip_is_not_followed(cloth):
    dark = tuple(int(0.6 * level) for level in cloth)
    ring = lengthen_gaps(ring_to(420.0), draw(cloth, seam=dark))
    assert 254 <= reach_of(ring) <= 290


def test_a_print_beside_it_does_not_stop_the_walk():
    ring = lengthen_gaps(ring_to(420.0), draw(dots=(250, 210, 200)))
    assert reach_of(ring) < 300


@pytest.mark.parametrize("at", [235, 215, 195])
def test_a_motif_of_the_floors_colour_behind_the_tip_is_not_reached(at):
    image = draw()
    cv2.circle(image, (at, 300), 14, FLOOR, -1, cv2.LINE_AA)
    assert reach_of(lengthen_gaps(ring_to(420.0), image)) > 250


def test_the_corner_under_a_sleeve_is_no_gap():
    image = draw(dots=(150, 115, 120))
    corner = np.array([(60, 100), (60, 500), (MOUTH, 500), (450, 300), (MOUTH, 100)], float)
    cv2.fillPoly(image, [np.int32([(450, 300), (MOUTH + 2, 500), (MOUTH + 2, 100)])], FLOOR)
    closed = np.vstack([corner, corner[:1]])
    ring = np.vstack([np.linspace(a, b, 200, endpoint=False) for a, b in pairwise(closed)])
    assert lengthen_gaps(ring, image) is ring


def test_a_way_that_leads_out_of_the_garment_again_is_no_gap():
    image = draw()
    cv2.rectangle(image, (50, 291), (460, 309), FLOOR, -1)
    ring = ring_to(420.0)
    assert lengthen_gaps(ring, image) is ring


def test_a_dent_in_a_print_is_no_gap():
    image = draw()
    gap = (image == np.array(FLOOR)).all(axis=2)
    gap[:, :60] = gap[:, 470:] = gap[:110] = gap[490:] = False
    image[gap] = (200, 60, 140)
    ring = ring_to(420.0)
    assert lengthen_gaps(ring, image) is ring


def test_a_whole_gap_is_left_as_it_is():
    ring = ring_to(268.0)
    assert lengthen_gaps(ring, draw()) is ring


def test_cloth_that_only_light_parts_from_the_floor_is_left_as_it_is():
    # Grey cloth on a darker grey floor: what goes on may be a fold's shade.
    ring = ring_to(420.0)
    assert lengthen_gaps(ring, draw((150, 150, 150), (100, 100, 100))) is ring


def test_a_garment_without_a_gap_is_left_as_it_is():
    turn = np.linspace(0, 2 * np.pi, 700, endpoint=False)
    ring = np.column_stack([400 + 250 * np.cos(turn), 300 - 180 * np.sin(turn)])
    assert lengthen_gaps(ring, draw()) is ring


def test_only_the_gaps_asked_for_are_followed():
    ring = ring_to(420.0)
    assert lengthen_gaps(ring, draw(), lambda places: places[:, 0] > 800) is ring
    assert reach_of(lengthen_gaps(ring, draw(), lambda places: np.abs(places[:, 0] - 420) < 30)) < 300


def test_a_hint_elsewhere_or_beside_it_keeps_the_tip_that_was_found():
    image, step = draw(), 3.0
    shape = (200, 300)
    mask = np.zeros(shape, np.uint8)
    at = (ring_to(420.0) + 0.5) / step - 0.5
    cv2.fillPoly(mask, [np.round(at * 16).astype(np.int32)], 1, shift=4)
    nothing = np.zeros(shape, bool)
    seen = Segmentation(mask > 0, np.zeros(shape, np.float32), nothing, (step, step), (0, 0), (900, 600))
    old = follow_edge(image, seen, mask > 0)
    assert reach_of(old.ring) < 300
    # At the hem of the upper leg, round the gap's lost end, and within the tip.
    for x, y in ((700, 102), (450, 314), (414, 300), (330, 300)):
        said = mask > 0
        said[int(y / step) - 2 : int(y / step) + 3, int(x / step) - 2 : int(x / step) + 3] = False
        new = follow_anew(image, seen, said, old, said != (mask > 0), Hints())
        assert reach_of(new.ring) < 300, (x, y)


@pytest.mark.parametrize("first", [0, 500, 800, 1000, 1190])
def test_it_does_not_matter_where_the_ring_begins(first):
    ring = lengthen_gaps(np.roll(ring_to(420.0), -first, axis=0), draw())
    assert 258 <= reach_of(ring) <= 285
    assert len(np.unique(ring, axis=0)) == len(ring)


def test_what_may_be_the_floor_is_not_taken_for_the_cloth_beside_a_section():
    floors = np.array([(131.0, 104, 87), (56, 57, 60)])
    cloth, floor = np.array([100.0, 103, 160]), np.array([112.0, 92, 75])
    assert _choose_bank(floor, cloth, floors) is cloth
    # Stripes run across a leg: what is no floor is believed.
    other = np.array([40.0, 150, 60])
    assert _choose_bank(other, cloth, floors) is other
    # Nor is the one before of use where it lay in the gap as well.
    assert _choose_bank(floor, floors[0], floors) is floor
