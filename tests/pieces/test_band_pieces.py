"""Waistband and cuffs are drawn as half a strip on a fold, as long and wide as the cut list says."""

from dataclasses import replace

import numpy as np
import pytest
from pieces.legs import STRAIGHT_ENDS, garment_of
from shapely import Polygon, box
from shapes import Leg

from outgrown.garment.garment import Band, EdgeName
from outgrown.geometry.polylines import length_mm
from outgrown.pieces.choices import Choices, Hem, Waist
from outgrown.pieces.drafting import draft_pattern
from outgrown.pieces.fabric import Fabric, apply_fabric
from outgrown.pieces.growing import grow_pattern
from outgrown.pieces.growth import Growth
from outgrown.pieces.nesting import nest_patterns
from outgrown.pieces.piece import Finish

BOTH = {"hem": Hem.RIBBED_CUFF, "waist": Waist.FOLDED_BAND}
BACK = replace(Leg(), crotch_width=185.0, waist_width=128.0, waist_slant=-8.0)


def draft(**choices):
    return draft_pattern(garment_of(STRAIGHT_ENDS), Choices(**{**BOTH, "waist_mm": 520.0, **choices}))


def strips(pattern):
    return {p.name: p for p in pattern.pieces if p.name in ("waistband", "ribbed cuff")}


def assert_as_listed(pattern):
    found = strips(pattern)
    rows = {r.name: r for r in pattern.cut_list if r.length_mm is not None and r.material != "elastic"}
    assert set(found) == set(rows)
    for name, piece in found.items():
        size = np.ptp(piece.cut_ring_mm, axis=0)
        assert size == pytest.approx([0.5 * rows[name].length_mm, rows[name].width_mm], abs=1e-6), name


def test_strips_computed_by_hand():
    pattern = draft(band_height_mm=60.0, cuff_height_mm=50.0)
    band, cuff = strips(pattern).values()
    # 52 cm less 2.5, halved; 2 x 60 and a seam of 6 to either side, the fold's end without one.
    assert Polygon(band.cut_ring_mm).symmetric_difference(box(0.0, -6.0, 247.5, 126.0)).area < 1e-6
    assert Polygon(np.vstack([e.points_mm[:-1] for e in band.edges])).equals(box(0.0, 0.0, 241.5, 120.0))
    hem = next(e for e in pattern.pieces[0].edges if e.name is EdgeName.HEM).points_mm
    half = 0.5 * (2 * hem[-1, 0] * 0.85 + 12.0)
    assert Polygon(cuff.cut_ring_mm).symmetric_difference(box(0.0, -6.0, half, 106.0)).area < 1e-3
    for piece, finished in ((band, 60.0), (cuff, 50.0)):
        (fold,) = piece.inner_lines
        assert fold.points_mm[:, 1] == pytest.approx(finished)
        assert [e.finish for e in piece.edges].count(Finish.FOLD) == 1
        assert np.ptp(piece.stretch_mm[:, 1]) == 0.0
        assert np.ptp(piece.grainline_mm[:, 0]) == 0.0
    assert (band.quantity, cuff.quantity) == ("cut 1 of main fabric, on fold", "cut 2 of rib, on fold")
    assert_as_listed(pattern)


def test_elastic_stays_a_length():
    pattern = draft_pattern(garment_of(STRAIGHT_ENDS), Choices(waist_mm=520.0))
    assert [p.name for p in pattern.pieces] == ["leg"]


@pytest.mark.parametrize("side_seam", [False, True])
def test_a_waistbands_notches_meet_the_sides_of_a_higher_back(side_seam):
    choices = Choices(waist=Waist.FOLDED_BAND, side_seam=side_seam)
    pattern = draft_pattern(garment_of(Leg()), choices, back=garment_of(BACK))
    band = strips(pattern)["waistband"]
    if side_seam:
        front, back = (
            length_mm(e.points_mm)
            for p in pattern.pieces
            for e in p.edges[:5]
            if e.name is EdgeName.WAIST and p is not band
        )
    else:
        waist = next(e for e in pattern.pieces[0].edges if e.name is EdgeName.WAIST).points_mm
        at = int(np.argmin(np.abs(waist[:, 0])))
        front, back = length_mm(waist[: at + 1]), length_mm(waist[at:])
    for notch in band.notches:
        # As long as the legs' edge, so the notch lies as far from the fold as the side from the front's middle.
        assert notch.point_mm[0] == pytest.approx(front, abs=0.5)
    assert band.edges[0].points_mm[-1, 0] == pytest.approx(front + back, abs=0.5)


def test_the_garments_own_cuff_and_band_or_the_heights_given_are_drawn():
    garment = garment_of(STRAIGHT_ENDS, Band(45.0, 70.0), Band(40.0, 100.0))
    own = strips(draft_pattern(garment, Choices(**BOTH)))
    assert own["ribbed cuff"].inner_lines[0].points_mm[0, 1] == pytest.approx(45.0)
    assert own["waistband"].inner_lines[0].points_mm[0, 1] == pytest.approx(40.0)
    said = strips(draft_pattern(garment, Choices(**BOTH, cuff_height_mm=30.0, band_height_mm=55.0)))
    assert said["ribbed cuff"].inner_lines[0].points_mm[0, 1] == pytest.approx(30.0)
    assert said["waistband"].inner_lines[0].points_mm[0, 1] == pytest.approx(55.0)


def test_heights_said_of_a_garment_that_shows_no_band_are_told_from_the_leg():
    pattern = draft(band_height_mm=60.0, cuff_height_mm=50.0)
    side = next(e for e in pattern.pieces[0].edges if e.name is EdgeName.SIDE)
    # Band, leg and cuff together are as long as the garment: 570 mm at the side.
    assert 60.0 + length_mm(side.points_mm) + 50.0 == pytest.approx(570.0, abs=0.01)


def test_strips_follow_cloth_growth_and_nesting():
    pattern = draft()
    cloth = apply_fabric(pattern, Fabric(waist_mm=520.0, shrink_long=0.05, shrink_wide=0.04))
    assert_as_listed(cloth)
    growth = Growth(height_then_mm=1040.0, height_now_mm=1100.0)
    bigger = grow_pattern(pattern, growth)
    assert_as_listed(bigger)
    assert np.ptp(strips(bigger)["waistband"].cut_ring_mm[:, 0]) > 247.5
    nested = nest_patterns([pattern, bigger], ["104 cm", "110 cm"])
    for piece in strips(nested).values():
        (line,) = [line for line in piece.inner_lines if line.name.startswith("cut line")]
        assert line.points_mm[:, 0].min() == pytest.approx(0.0, abs=1e-6)  # folds on fold
