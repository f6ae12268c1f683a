"""Another cloth: the share of stretch kept, shrinkage by direction, over the hips or not. Arithmetic done by hand."""

import numpy as np
import pytest
from pieces.legs import garment_of
from shapes import Leg

from outgrown.arrays import frozen
from outgrown.drawer.archive import read_pattern_json, write_pattern_json
from outgrown.errors import PieceError
from outgrown.garment.garment import Edge, EdgeName, Garment, Laid
from outgrown.pieces.choices import Choices, Waist
from outgrown.pieces.drafting import draft_pattern
from outgrown.pieces.fabric import Fabric, apply_fabric, cut_length, keep_stretch_share
from outgrown.pieces.growing import grow_pattern
from outgrown.pieces.growth import Growth
from outgrown.pieces.leg_shape import measure_leg

RATIO = 0.003


def drafted(**changes):
    return draft_pattern(garment_of(Leg()), Choices(waist_mm=500.0, **changes))


def codes(pattern):
    return {finding.code for finding in pattern.findings}


@pytest.mark.parametrize(
    ("body", "garment", "old", "new", "wanted"),
    [
        (500.0, 400.0, 0.50, 0.50, 400.0),
        (500.0, 400.0, 0.50, 0.25, 500 / 1.125),
        (500.0, 400.0, 0.50, 1.00, 500 / 1.5),
        (500.0, 400.0, 0.50, 0.00, 500.0),
        (500.0, 500.0, 0.50, 0.25, 500.0),
        (500.0, 560.0, 0.50, 0.25, 560.0),
    ],
)
def test_the_share_of_stretch_in_use_stays(body, garment, old, new, wanted):
    girth = keep_stretch_share(body, garment, old, new)
    assert girth == pytest.approx(wanted)
    if garment < body and new:
        assert (body / girth - 1) / new == pytest.approx((body / garment - 1) / old)


def test_a_cloth_that_does_not_stretch_cannot_be_tight():
    with pytest.raises(PieceError, match="not to stretch"):
        keep_stretch_share(500.0, 400.0, 0.0, 0.5)


@pytest.mark.source("percent change = (after - before) / before, ISO 5077:2007: 5 % off 100 cm leaves 95 cm")
def test_what_is_cut_shrinks_to_what_is_wanted():
    assert cut_length(95.0, 0.05) == pytest.approx(100.0)
    assert cut_length(1000.0, 0.05) == pytest.approx(1052.6, abs=0.05)
    assert cut_length(1000.0, 0.05) * 0.95 == pytest.approx(1000.0)


@pytest.mark.source("stretch % = (pulled - rest) / rest; the limit 1 - 1/(1 + stretch): 25 % -> 20 %, 100 % -> 50 %")
@pytest.mark.parametrize(("stretch", "smaller"), [(0.25, 0.20), (0.50, 1 / 3), (0.75, 3 / 7), (1.0, 0.50)])
def test_a_garment_that_uses_all_stretch_stays_at_the_limit(stretch, smaller):
    limit = 500.0 * (1.0 - 1.0 / 1.6)
    tight = keep_stretch_share(500.0, 500.0 - limit, 0.6, stretch)
    assert 1.0 - tight / 500.0 == pytest.approx(smaller)


def test_less_stretch_widens_the_leg_level_by_level():
    plain = drafted()
    before = measure_leg(plain.pieces)
    body = {"hip_mm": 1.2 * before.hip, "thigh_mm": 1.1 * before.thigh}
    after = measure_leg(apply_fabric(plain, Fabric(0.5, 0.25, **body)).pieces)
    assert after.thigh / before.thigh == pytest.approx(1.1 / 1.05, abs=RATIO)
    assert after.hip / before.hip == pytest.approx(1.2 / 1.1, abs=RATIO)
    assert after.hem / before.hem == pytest.approx(1.1 / 1.05, abs=RATIO)
    assert after.inseam == pytest.approx(before.inseam, rel=0.01)
    assert after.outside == pytest.approx(before.outside)


def test_shrinkage_goes_its_own_way_in_each_direction():
    plain = drafted()
    shrunk = apply_fabric(plain, Fabric(shrink_long=0.06, shrink_wide=0.03))
    one, other = plain.pieces[0], shrunk.pieces[0]
    ring, larger = (np.vstack([e.points_mm[:-1] for e in piece.edges]) for piece in (one, other))
    assert np.ptp(larger, axis=0) * (0.97, 0.94) == pytest.approx(np.ptp(ring, axis=0), abs=0.2)
    rows = {row["what"]: row for row in shrunk.choices["fabric"]["sizes"]}
    assert rows["outside"]["cut_mm"] * 0.94 == pytest.approx(rows["outside"]["finished_mm"])
    assert rows["thigh"]["cut_mm"] * 0.97 == pytest.approx(rows["thigh"]["finished_mm"])


def test_a_waist_that_cannot_pass_the_hips_is_told():
    plain = drafted()
    opening = measure_leg(plain.pieces).waist
    enough = Fabric(0.5, 0.5, hip_mm=opening * 1.49)
    assert "cannot-pass-hips" not in codes(apply_fabric(plain, enough))
    short = apply_fabric(plain, Fabric(stretch_new=0.5, stretch_old=0.5, hip_mm=opening * 1.6))
    (finding,) = (f for f in short.findings if f.code == "cannot-pass-hips")
    assert finding.amount_mm == pytest.approx(0.1 * opening, abs=3.0)


def test_a_snug_waistband_is_the_opening_that_counts():
    plain = drafted(waist=Waist.FOLDED_BAND)
    band = next(row for row in plain.cut_list if row.name == "waistband")
    hip = band.length_mm * 1.5 + 10.0
    told = apply_fabric(plain, Fabric(0.5, 0.5, hip_mm=hip))
    assert any(f.code == "cannot-pass-hips" and "waistband" in f.text for f in told.findings)


@pytest.mark.parametrize(("more_mm", "passes"), [(-1.0, True), (1.0, False)])
def test_a_waistband_opens_as_far_as_it_is_when_sewn_and_washed(more_mm, passes):
    plain = draft_pattern(garment_of(Leg()), Choices(waist_mm=400.0, waist=Waist.FOLDED_BAND))
    band = next(row for row in plain.cut_list if row.name == "waistband")
    # 375 mm as cut, two seams of 6 mm; what is cut longer between the seams for the shrinkage shrinks away.
    assert band.length_mm == pytest.approx(375.0)
    sewn = 375.0 - 12.0
    cloth = Fabric(0.5, 0.5, shrink_wide=0.05, hip_mm=1.5 * sewn + more_mm)
    assert ("cannot-pass-hips" not in codes(apply_fabric(plain, cloth))) is passes


@pytest.mark.parametrize("cloth", [Fabric(0.5, 0.25), Fabric(hip_mm=700.0), Fabric(stretch_new=0.5, shrink_long=0.05)])
def test_stretch_is_not_passed_over_in_silence_where_there_are_no_legs(cloth):
    ring = frozen([[0.0, 0.0], [380.0, 0.0], [300.0, 330.0], [70.0, 330.0], [0.0, 0.0]])
    skirt = draft_pattern(Garment("skirt", Laid.OTHER, (Edge(EdgeName.OUTLINE, ring),)), Choices())
    assert "girths-of-legs-only" in codes(apply_fabric(skirt, cloth))
    assert "girths-of-legs-only" not in codes(apply_fabric(skirt, Fabric(shrink_long=0.05)))
    assert "girths-of-legs-only" not in codes(apply_fabric(drafted(), cloth))


def test_what_is_missing_is_asked_for():
    assert "one-stretch-only" in codes(apply_fabric(drafted(), Fabric(stretch_new=0.5)))
    assert "no-body-girth" in codes(apply_fabric(draft_pattern(garment_of(Leg()), Choices()), Fabric(0.5, 0.25)))
    assert "hip-stretch-unknown" in codes(apply_fabric(drafted(), Fabric(hip_mm=700.0)))


def test_a_plain_fabric_leaves_the_pattern_as_it_is():
    plain = drafted()
    assert apply_fabric(plain, Fabric(waist_mm=500.0)) is plain


@pytest.mark.parametrize("wrong", [{"stretch_old": 4.0}, {"shrink_long": 0.5}, {"shrink_wide": -0.1}, {"hip_mm": 5.0}])
def test_what_no_cloth_and_no_body_does_is_refused(wrong):
    with pytest.raises(PieceError, match="cannot be"):
        Fabric(**wrong)


def test_the_cloth_is_kept_and_a_grown_size_shrinks_the_same():
    shrunk = apply_fabric(drafted(), Fabric(shrink_long=0.06, shrink_wide=0.03))
    again = read_pattern_json(write_pattern_json(shrunk))
    assert Fabric.from_json(again.choices["fabric"]) == Fabric(shrink_long=0.06, shrink_wide=0.03)
    grown = grow_pattern(again, Growth(longer_mm=20.0))
    more = measure_leg(grown.pieces).inseam - measure_leg(again.pieces).inseam
    assert more * 0.94 == pytest.approx(20.0, abs=0.05)
    (inseam,) = (row for row in grown.choices["grown"]["sizes"] if row["what"] == "inseam")
    assert inseam["after_mm"] - inseam["before_mm"] == pytest.approx(20.0, abs=0.05)


def band_of(pattern):
    return next(row for row in pattern.cut_list if row.name == "waistband")


def test_a_grown_waistband_is_cut_as_much_longer_for_the_shrinkage_as_before():
    # Waist 500 mm: 475 mm as cut, two seams of 6 mm, 463 between them; a tenth of what is cut shrinks away.
    kept = apply_fabric(drafted(waist=Waist.FOLDED_BAND), Fabric(shrink_wide=0.1))
    assert band_of(kept).length_mm == pytest.approx(463.0 / 0.9 + 12.0)
    assert band_of(grow_pattern(kept, Growth(longer_mm=20.0))).length_mm == pytest.approx(463.0 / 0.9 + 12.0)
    wider = grow_pattern(kept, Growth(waist_now_mm=530.0))
    assert band_of(wider).length_mm == pytest.approx((530.0 - 25.0 - 12.0) / 0.9 + 12.0)


@pytest.mark.parametrize("cloth", [Fabric(shrink_wide=0.2), Fabric(0.5, 0.2, waist_mm=560.0, hip_mm=620.0)])
def test_a_waistband_as_long_as_the_waist_edge_stays_so(cloth):
    allowance = {EdgeName.INSEAM: 3.0, EdgeName.WAIST: 16.0}
    choices = Choices(waist=Waist.FOLDED_BAND, allowance_mm=allowance)
    fitted = apply_fabric(draft_pattern(garment_of(Leg()), choices), cloth)
    grown = grow_pattern(fitted, Growth(waist_then_mm=500.0, waist_now_mm=600.0))
    for pattern in (fitted, grown):
        assert band_of(pattern).length_mm - 2 * 16.0 == pytest.approx(measure_leg(pattern.pieces).waist, abs=0.05)


def test_elastic_is_compared_with_the_waist_edge_as_it_is_when_washed():
    opening = measure_leg(drafted().pieces).waist
    # The elastic is a little longer than the waist edge as sewn, shorter than as cut.
    choices = Choices(waist_mm=opening * 1.02 / 0.93)
    kept = apply_fabric(draft_pattern(garment_of(Leg()), choices), Fabric(shrink_wide=0.05))
    assert "waist-edge-shorter-than-elastic" in codes(kept)
    grown = grow_pattern(kept, Growth(longer_mm=20.0))
    (told,) = (f for f in grown.findings if f.code == "waist-edge-shorter-than-elastic")
    assert f"{opening / 10:.1f} cm" in told.text


def test_a_waist_gathered_by_elastic_follows_the_hip_and_a_band_its_own_girth():
    with_elastic, with_band = drafted(), drafted(waist=Waist.FOLDED_BAND)
    for plain, follows_hip in ((with_elastic, True), (with_band, False)):
        before = measure_leg(plain.pieces)
        cloth = Fabric(0.5, 0.25, waist_mm=1.4 * before.waist, hip_mm=1.2 * before.hip)
        rows = {row["what"]: row for row in apply_fabric(plain, cloth).choices["fabric"]["sizes"]}
        ratio = rows["waist"]["finished_mm"] / rows["waist"]["garment_mm"]
        assert ratio == pytest.approx(1.2 / 1.1 if follows_hip else 1.4 / 1.2)
        assert ("elastic" in rows["waist"]["why"]) is follows_hip
