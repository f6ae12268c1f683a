"""Pairs laid open: corners, lengths and widths against invented shapes."""

import numpy as np
import pytest
from shapely import Polygon, box
from shapes import Shot

from outgrown.arrays import frozen
from outgrown.errors import GarmentError
from outgrown.findings import Severity
from outgrown.garment.garment import EdgeName, Laid
from outgrown.garment.reading import read_garment
from outgrown.geometry.polylines import resample
from outgrown.geometry.rings import as_ring
from outgrown.outline.outline import Outline


def open_ring(inseam=400.0, rise=190.0, half_thigh=160.0, half_hem=85.0, half_waist=250.0, gap_deg=2.0):
    """Two legs, each turned outward by `gap_deg` about the crotch; the sides straight in two parts."""
    a = np.deg2rad(gap_deg)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    leg = np.array([[0.0, -inseam], [half_hem, -inseam], [half_thigh, 0.0]]) @ turn.T
    right = np.vstack([[[0.0, 0.0]], leg, [[half_waist / 2, rise]]])
    ring = np.vstack([right, (right * [-1, 1])[::-1][:-1]])
    return resample(np.vstack([ring, ring[:1]]), 1.0)[:-1]


def read(ring, **options):
    n = len(ring)
    outline = Outline(frozen(ring), frozen(ring), (), frozen(np.full(n, 0.5)), frozen(np.ones(n)))
    return read_garment(outline, laid=Laid.OPEN, **options)


@pytest.mark.parametrize("angle_deg", [0.0, 75.0, 200.0])
@pytest.mark.parametrize("is_mirrored", [False, True])
def test_lengths_and_widths_are_those_of_the_pair(angle_deg, is_mirrored):
    shot = Shot(angle_deg, (100.0, 50.0), is_mirrored, 0.3, 1.0, 5, 1.0)
    garment = read(shot.ring(open_ring()))
    found = {m.name: m.value_mm for m in garment.measurements}
    assert found["inseam"] == pytest.approx(np.hypot(400, 0), abs=4.0)
    assert found["half hem"] == pytest.approx(85.0, abs=2.0)
    assert found["half waist"] == pytest.approx(250.0, abs=3.0)
    assert found["front rise, straight"] == pytest.approx(190.0, abs=3.0)
    # 25 mm below the crotch: the leg tapers from 160 to 85 mm over 400; widths are taken square to the side
    assert found["half thigh"] == pytest.approx((160 - 75 * 25 / 400) * np.cos(np.arctan(75 / 400)), abs=3.5)


def test_edges_are_closed_round_with_the_side_on_the_axis():
    garment = read(open_ring())
    assert [e.name for e in garment.edges] == [
        EdgeName.SIDE,
        EdgeName.HEM,
        EdgeName.INSEAM,
        EdgeName.CENTRE,
        EdgeName.WAIST,
    ]
    for one, two in zip(garment.edges, (*garment.edges[1:], garment.edges[0]), strict=True):
        assert np.allclose(one.points_mm[-1], two.points_mm[0], atol=1e-6)
    assert np.allclose(garment.edge(EdgeName.SIDE).points_mm[:, 0], 0.0)


def test_legs_far_apart_are_told():
    codes = [f.code for f in read(open_ring(gap_deg=18.0)).findings]
    assert "legs-spread" in codes
    assert "legs-spread" not in [f.code for f in read(open_ring()).findings]


def touching(ring, for_mm):
    """The ring with the gap between the legs filled from the crotch down."""
    patch = box(-60.0, -for_mm, 60.0, 5.0)
    joined = np.asarray(Polygon(ring).union(patch).exterior.coords)[::-1]
    return as_ring(resample(joined, 1.0)[:-1])


@pytest.mark.parametrize("gap_deg", [0.7, 2.0, 5.0])
@pytest.mark.parametrize("for_mm", [70.0, 120.0])
def test_legs_that_touch_below_the_crotch_are_told(gap_deg, for_mm):
    garment = read(touching(open_ring(gap_deg=gap_deg), for_mm))
    (finding,) = (f for f in garment.findings if f.code == "legs-touching")
    assert finding.severity is Severity.WARNING
    assert "fold the pair" in finding.advice
    assert garment.measured("inseam").value_mm < 400.0 - for_mm + 6.0  # too short, as is said


@pytest.mark.parametrize(
    "sizes",
    [
        {},
        {"gap_deg": 0.7},
        {"inseam": 130.0},  # shorts
        {"inseam": 150.0, "rise": 170.0, "half_thigh": 130.0, "half_hem": 75.0, "half_waist": 210.0},  # a baby's
        {"inseam": 760.0, "rise": 290.0, "half_thigh": 290.0, "half_hem": 160.0, "half_waist": 390.0},  # grown up
        {"rise": 225.0, "half_thigh": 158.0},  # a high waist
    ],
)
def test_a_gap_that_reaches_the_crotch_is_not_called_touching(sizes):
    assert "legs-touching" not in [f.code for f in read(open_ring(**sizes)).findings]


def test_what_is_no_open_pair_is_refused():
    t = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    with pytest.raises(GarmentError, match="does not look like leggings laid open"):
        read(np.column_stack([300 * np.cos(t), 200 * np.sin(t)]))


@pytest.mark.parametrize("touching_mm", [0.0, 15.0, 29.0])
def test_shorts_laid_open_say_that_their_legs_may_touch_unseen(touching_mm):
    # Legs that touch for a little: the gap begins so much lower, the outline is else the same.
    garment = read(open_ring(inseam=110.0 - touching_mm, rise=190.0 + touching_mm, half_thigh=160.0, half_hem=140.0))
    (said,) = [f for f in garment.findings if f.place == "crotch"]
    assert said.code in ("short-inseam-unsure", "legs-touching")
    assert said.severity is Severity.WARNING
    assert "inseam" in said.sentence()


def test_long_legs_whose_gap_reaches_the_crotch_are_not_doubted():
    assert not [f for f in read(open_ring()).findings if f.place == "crotch"]
