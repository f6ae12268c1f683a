"""Edges that leave their line for a print cut off at the cloth's edge, and corners that are none."""

import cv2
import numpy as np

from outgrown.outline.bites import close_bites
from outgrown.outline.edge import Edge
from outgrown.outline.line_step import measure_clearness
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


FLAT = [(400 - 12 * np.cos(a), LOWER - 4 * np.sin(a)) for a in np.linspace(0, np.pi, 21)]
FLOOR, CLOTH, PALE = (150, 145, 135), (120, 30, 40), (190, 188, 184)


def draw_flat(motif=None, depth=4, shadow=1.0):
    """Return a picture whose lower edge has a flat dent, or a motif there; the floor beside the cloth is darker."""
    fine = 8
    picture = np.full((120 * fine, 160 * fine, 3), FLOOR, np.float32)
    y, x = (np.mgrid[0 : 120 * fine, 0 : 160 * fine] + 0.5) / fine - 0.5 + np.array([320, 320])[:, None, None]
    oval = depth * np.sqrt(np.maximum(1 - ((x - 400) / 12) ** 2, 0))
    beyond = y - LOWER + (oval if motif is None else 0)
    picture *= (1 - (1 - shadow) * np.exp(-np.maximum(beyond, 0) / 6))[..., None]
    picture[beyond < 0] = CLOTH
    if motif is not None:
        picture[(beyond < 0) & (y > LOWER - oval)] = motif
    whole = cloth().astype(np.float32)
    whole[320:440, 320:480] = cv2.resize(picture, (160, 120), interpolation=cv2.INTER_AREA)
    whole = cv2.GaussianBlur(whole, (0, 0), 0.9) + np.random.default_rng(5).normal(size=whole.shape) * 2
    return np.clip(np.round(whole), 0, 255).astype(np.uint8)


def test_a_motif_that_the_edge_bites_a_little_off_is_not_bitten_out_either():
    edge, closed = close_bites(ring_with(FLAT), draw_flat(PALE, depth=10))
    assert closed.any()
    assert np.abs(lower_edge(edge)[:, 1] - LOWER).max() < 1.0


def test_a_flat_dent_stays_in_its_shadow_too():
    for shadow in (1.0, 0.6):
        before = ring_with(FLAT)
        edge, closed = close_bites(before, draw_flat(shadow=shadow))
        assert not closed.any()
        np.testing.assert_array_equal(edge.ring, before.ring)


def test_an_edge_is_clear_only_along_its_own_line():
    picture = draw_flat(PALE, depth=10)
    inner = np.array([400.0, 300.0])

    def measure(y):
        return measure_clearness(picture, np.array([340.0, y]), np.array([460.0, y]), inner)

    assert measure(LOWER - 0.5) > 1
    for off in (-12.0, -4.0, 3.0, 12.0):
        assert measure(LOWER - 0.5 + off) < 1
