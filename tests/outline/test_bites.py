"""Edges that leave their line for a print cut off at the cloth's edge, and corners that are none."""

import cv2
import numpy as np

from outgrown.outline.bites import close_bites
from outgrown.outline.edge import Edge
from outgrown.outline.stations import resample_ring

WIDTH, HEIGHT = 900, 500
# x from 100 to 800, y from 120 to 380 on the picture; the lower edge is the one that is bitten.
LOWER = 380.0


def cloth(motif=None, gap=None):
    picture = np.full((HEIGHT, WIDTH, 3), (150, 145, 135), np.uint8)
    picture[120:380, 100:800] = (120, 30, 40)
    if motif is not None:
        cv2.circle(picture, (400, 380), 14, motif, -1)
        picture[380:] = (150, 145, 135)
    if gap is not None:
        picture[380 - gap : 380, 392:408] = (150, 145, 135)
    return picture


def ring_with(dent):
    """Return a ring, counter-clockwise on the picture, whose lower edge has the points `dent` in it."""
    points = [(100, LOWER), *dent, (800, LOWER), (800, 120), (100, 120)]
    ring = resample_ring(np.array(points, dtype=float), 2.0)
    return Edge(ring, np.full(len(ring), 0.2))


HALF_ROUND = [(400 - 14 * np.cos(a), LOWER - 14 * np.sin(a)) for a in np.linspace(0, np.pi, 15)]


def lower_edge(edge):
    near = (np.abs(edge.ring[:, 0] - 400) < 60) & (edge.ring[:, 1] > 250)
    return edge.ring[near]


def test_a_motif_of_nearly_the_floors_colour_is_not_bitten_out():
    edge, closed = close_bites(ring_with(HALF_ROUND), cloth(motif=(135, 132, 126)))
    assert np.abs(lower_edge(edge)[:, 1] - LOWER).max() < 1.0
    assert closed.any()
    assert (edge.sigma[closed] >= 1.0).all()


def test_a_real_notch_stays():
    picture = cloth(motif=(150, 145, 135))
    before = ring_with(HALF_ROUND)
    edge, closed = close_bites(before, picture)
    assert not closed.any()
    np.testing.assert_array_equal(edge.ring, before.ring)


def test_a_spot_of_the_floor_taken_for_cloth_is_trimmed():
    picture = cloth()
    cv2.circle(picture, (400, 381), 14, (95, 90, 80), -1)
    picture[120:380, 100:800] = (120, 30, 40)
    bump = [(x, 2 * LOWER - y) for x, y in HALF_ROUND]
    edge, closed = close_bites(ring_with(bump), picture)
    assert closed.any()
    assert np.abs(lower_edge(edge)[:, 1] - LOWER).max() < 1.0


def test_the_gap_between_two_legs_and_the_corners_stay():
    gap = [(392, LOWER), (392, LOWER - 150), (408, LOWER - 150), (408, LOWER)]
    before = ring_with(gap)
    edge, closed = close_bites(before, cloth(gap=150))
    assert not closed.any()
    np.testing.assert_array_equal(edge.ring, before.ring)
