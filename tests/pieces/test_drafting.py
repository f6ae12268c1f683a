import numpy as np
import pytest
from pieces.legs import STRAIGHT_ENDS, garment_of
from shapely import LineString, Point, Polygon
from shapes import Leg

from outgrown.arrays import frozen
from outgrown.errors import PieceError
from outgrown.findings import Severity
from outgrown.garment.garment import Band, Edge, EdgeName, Garment, Laid
from outgrown.geometry.polylines import length_mm
from outgrown.geometry.truing import corner_angle_deg
from outgrown.pieces.choices import YOURS, Choices, Hem, Machine, Waist, choose_allowances
from outgrown.pieces.drafting import draft_pattern
from outgrown.pieces.girths import measure_leg_girths
from outgrown.pieces.leg_seams import LegSeams, heighten, lengthen, lower_waist, raise_hem, spread_waist
from outgrown.pieces.piece import Finish
from outgrown.units import Units


def draft(leg=STRAIGHT_ENDS, cuff=None, waistband=None, **choices):
    return draft_pattern(garment_of(leg, cuff, waistband), Choices(**choices))


def row(pattern, name):
    (found,) = [r for r in pattern.cut_list if r.name == name]
    return found


def codes(pattern):
    return [finding.code for finding in pattern.findings]


def test_default_allowances_are_common_practice_and_say_so():
    allowances = choose_allowances(Choices())
    assert {edge: a.amount_mm for edge, a in allowances.items() if edge is not EdgeName.OUTLINE} == {
        EdgeName.SIDE: 0.0,
        EdgeName.HEM: 25.0,  # plain knit hem
        EdgeName.INSEAM: 6.0,  # overlocked, 1/4 in
        EdgeName.RISE: 6.0,
        EdgeName.WAIST: 26.0,  # 20 mm elastic + 6 mm
    }
    assert all("common practice" in a.source or "fold" in a.source for a in allowances.values())


def test_machine_hem_and_waist_decide_allowances():
    machine = choose_allowances(Choices(machine=Machine.SEWING_MACHINE, hem=Hem.RIBBED_CUFF, waist=Waist.FOLDED_BAND))
    assert [machine[e].amount_mm for e in (EdgeName.INSEAM, EdgeName.HEM, EdgeName.WAIST)] == [10.0, 10.0, 10.0]
    assert choose_allowances(Choices(hem=Hem.MOCK_CUFF))[EdgeName.HEM].amount_mm == 38.0
    assert choose_allowances(Choices(hem=Hem.RAW))[EdgeName.HEM].amount_mm == 0.0
    assert choose_allowances(Choices(hem=Hem.FINISHED))[EdgeName.HEM].finish is Finish.FINISHED
    turned = choose_allowances(Choices(waist=Waist.ELASTIC_TURNED, elastic_width_mm=25.0))
    assert turned[EdgeName.WAIST].amount_mm == 25.0


def test_an_own_allowance_wins_and_is_marked_as_such():
    allowances = choose_allowances(Choices(allowance_mm={EdgeName.INSEAM: 12.0}))
    assert allowances[EdgeName.INSEAM].amount_mm == 12.0
    assert allowances[EdgeName.INSEAM].source == YOURS
    assert allowances[EdgeName.RISE].amount_mm == 6.0


def test_an_allowance_for_an_edge_that_is_not_there_is_told():
    pattern = draft(allowance_mm={EdgeName.NECK: 9.0, EdgeName.INSEAM: 9.0})
    (told,) = (f for f in pattern.findings if f.code == "allowance-not-used")
    assert "neck" in told.text and "inseam" in told.advice and told.severity is Severity.WARNING


@pytest.mark.parametrize(
    ("chosen", "words"),
    [
        ({"allowance_mm": {EdgeName.WAIST: 22.0}}, "no room for elastic of 20 mm"),  # sewn 3 mm from its raw edge
        ({"allowance_mm": {EdgeName.WAIST: 24.0}, "elastic_width_mm": 25.0, "waist": Waist.ELASTIC_TURNED}, "no room"),
        ({"allowance_mm": {EdgeName.HEM: 0.0}}, "cannot be turned from nothing"),
    ],
)
def test_what_is_too_narrow_to_be_turned_is_refused(chosen, words):
    with pytest.raises(PieceError, match=words) as told:
        choose_allowances(Choices(**chosen))
    assert told.value.advice.endswith(".")


def test_a_casing_that_just_takes_its_elastic_is_drawn():
    just = choose_allowances(Choices(allowance_mm={EdgeName.WAIST: 23.0}))
    assert just[EdgeName.WAIST].amount_mm == 23.0
    turned = choose_allowances(Choices(allowance_mm={EdgeName.WAIST: 20.0}, waist=Waist.ELASTIC_TURNED))
    assert turned[EdgeName.WAIST].amount_mm == 20.0


def test_an_elastic_wider_than_any_casing_is_refused():
    with pytest.raises(PieceError, match="elastic width of 200 mm cannot be"):
        Choices(elastic_width_mm=200.0)


def test_elastic_is_a_share_of_the_waist_and_the_overlap_computed_by_hand():
    elastic = row(draft(waist_mm=520.0), "elastic")
    assert elastic.length_mm == pytest.approx(520.0 * 0.93 + 20.0)  # 503.6
    assert elastic.width_mm == 20.0
    assert "common practice" in elastic.note


def test_without_a_waist_there_is_no_elastic_row_but_a_finding():
    pattern = draft()
    assert [r.name for r in pattern.cut_list] == ["leg"]
    assert "no-waist-given" in codes(pattern)


def test_a_folded_band_is_a_snug_strip_and_lowers_the_legs_computed_by_hand():
    pattern = draft(waist_mm=520.0, waist=Waist.FOLDED_BAND, band_height_mm=60.0)
    band = row(pattern, "waistband")
    assert band.length_mm == pytest.approx(520.0 - 25.0)
    assert band.width_mm == pytest.approx(2 * 60.0 + 2 * 6.0)
    assert "On a fold: 24.8 cm" in band.note  # 247.5 mm
    top = pattern.pieces[0].edges[0].points_mm[0, 1]
    assert top == pytest.approx(570.0 - 60.0, abs=0.01)


def test_a_ribbed_cuff_shortens_the_leg_computed_by_hand():
    pattern = draft(hem=Hem.RIBBED_CUFF, cuff_height_mm=50.0)
    hem = pattern.pieces[0].edges[1].points_mm
    assert hem[:, 1] == pytest.approx(50.0, abs=1e-6)
    cuff = row(pattern, "ribbed cuff")
    assert cuff.length_mm == pytest.approx(2 * hem[-1, 0] * 0.85 + 12.0, abs=0.01)
    assert cuff.width_mm == pytest.approx(2 * 50.0 + 2 * 6.0)
    assert cuff.quantity == 2


def test_a_cuff_seen_on_the_garment_becomes_a_cuff_of_its_own_size():
    seen = Band(45.0, 70.0)
    kept = draft(cuff=seen, hem=Hem.RIBBED_CUFF)
    assert row(kept, "ribbed cuff").length_mm == pytest.approx(2 * 70.0 + 12.0)
    assert row(kept, "ribbed cuff").width_mm == pytest.approx(2 * 45.0 + 12.0)
    assert kept.pieces[0].edges[0].points_mm[-1, 1] == pytest.approx(0.0)
    higher = draft(cuff=seen, hem=Hem.RIBBED_CUFF, cuff_height_mm=60.0)
    assert higher.pieces[0].edges[0].points_mm[-1, 1] == pytest.approx(15.0)
    plain = draft(cuff=seen, hem=Hem.PLAIN)
    assert plain.pieces[0].edges[0].points_mm[-1, 1] == pytest.approx(-45.0)
    assert [r.name for r in plain.cut_list] == ["leg"]


def test_a_waistband_seen_on_the_garment_becomes_a_band_of_its_own_size():
    seen = Band(40.0, 100.0)
    kept = draft(waistband=seen, waist=Waist.FOLDED_BAND)
    assert row(kept, "waistband").length_mm == pytest.approx(4 * 100.0 + 12.0)
    assert row(kept, "waistband").width_mm == pytest.approx(2 * 40.0 + 12.0)
    assert kept.pieces[0].edges[0].points_mm[0, 1] == pytest.approx(570.0)
    lower = draft(waistband=seen, waist=Waist.FOLDED_BAND, band_height_mm=60.0)
    assert lower.pieces[0].edges[0].points_mm[0, 1] == pytest.approx(550.0, abs=0.01)
    cased = draft(waistband=seen, waist=Waist.CASING)
    assert cased.pieces[0].edges[0].points_mm[0, 1] == pytest.approx(610.0)


def test_a_gathered_waist_is_spread_to_its_flat_width_fading_to_the_crotch():
    pattern = draft(waist_flat_mm=300.0)
    edges = {edge.name: edge.points_mm for edge in pattern.pieces[0].edges}
    assert length_mm(edges[EdgeName.WAIST]) == pytest.approx(150.0, abs=1.0)
    assert edges[EdgeName.RISE][0] == pytest.approx([165.0, 380.0])
    with pytest.raises(PieceError, match="waist"):
        draft(waist_flat_mm=2900.0)


def test_front_and_back_alike_is_said_and_the_pair_is_cut_mirrored_on_the_fold():
    pattern = draft(title="stripes", for_whom="Ada, 104", date="2026-03-01")
    (leg,) = pattern.pieces
    assert "front-and-back-alike" in codes(pattern)
    assert leg.quantity == "cut 2, mirrored, on fold"
    assert leg.labels[:4] == ("stripes", "for Ada, 104", "2026-03-01", "cut 2, mirrored, on fold")
    assert "hem: 25 mm, turned up" in leg.labels
    assert "side: fold, no allowance" in leg.labels


def test_labels_are_in_inch_when_asked():
    (leg,) = draft(units=Units.INCH).pieces
    assert "inseam: 1/4 in, seam" in leg.labels
    assert "hem: 1 in, turned up" in leg.labels


def test_notches_meet_the_cut_line_and_the_inseams_is_halfway():
    (leg,) = draft(Leg()).pieces
    cut = Polygon(leg.cut_ring_mm).exterior
    assert len(leg.notches) == 4
    assert not any(notch.is_double for notch in leg.notches)
    for notch in leg.notches:
        assert np.hypot(*notch.outward) == pytest.approx(1.0)
        assert cut.distance(Point(notch.point_mm + notch.outward * notch.depth_mm)) < 0.35
    inseam = next(edge.points_mm for edge in leg.edges if edge.name is EdgeName.INSEAM)
    half = LineString(inseam).project(Point(leg.notches[0].point_mm))
    assert half == pytest.approx(length_mm(inseam) / 2, abs=0.01)


def test_grainline_and_stretch_arrow_lie_inside_the_piece_square_to_each_other():
    for leg in (
        Leg(),
        Leg(inseam_height=60, rise_height=185, crotch_width=190, hem_width=180),
        Leg(700, 270, 285, 185),
    ):
        (piece,) = draft(leg).pieces
        seam = Polygon(np.vstack([edge.points_mm[:-1] for edge in piece.edges]))
        for line in (piece.grainline_mm, piece.stretch_mm):
            assert seam.contains(LineString(line))
            assert LineString(line).length > 0.4 * min(seam.bounds[2], seam.bounds[3])
        grain, stretch = (np.diff(line, axis=0)[0] for line in (piece.grainline_mm, piece.stretch_mm))
        assert grain[0] == 0
        assert stretch[1] == 0


@pytest.mark.parametrize("leg", [Leg(), Leg(waist_slant=14, hem_slant=5), Leg(crotch_lean_deg=18, inseam_lean_deg=12)])
def test_corners_are_trued_square(leg):
    (piece,) = draft(leg).pieces
    side, hem, inseam, rise, waist = (edge.points_mm for edge in piece.edges)
    assert corner_angle_deg(side, hem, 1.0) == pytest.approx(90.0, abs=1.0)
    assert corner_angle_deg(waist, side, 1.0) == pytest.approx(90.0, abs=1.0)
    assert corner_angle_deg(rise, waist, 1.0) == pytest.approx(90.0, abs=1.5)
    if abs(corner_angle_deg(*(garment_of(leg).edges[i].points_mm for i in (2, 3)), 35.0) - 90) < 15:
        assert corner_angle_deg(inseam, rise, 1.0) == pytest.approx(90.0, abs=1.5)


def test_truing_hardly_moves_the_seam_lines():
    leg = Leg(waist_slant=12, hem_slant=4)
    garment = garment_of(leg)
    (piece,) = draft_pattern(garment, Choices()).pieces
    for edge in piece.edges[1:]:
        before = garment.edge(edge.name).points_mm
        line = LineString(before)
        assert max(line.distance(Point(p)) for p in edge.points_mm) < 2.1, edge.name
        assert length_mm(edge.points_mm) == pytest.approx(length_mm(before), abs=0.6), edge.name
        assert np.allclose(edge.points_mm[0], before[0], atol=1e-9)


def test_girths_are_twice_the_width_at_each_height():
    (piece,) = draft(STRAIGHT_ENDS).pieces
    rows = measure_leg_girths((piece,))
    assert [height for height, _ in rows[:3]] == [50.0, 100.0, 150.0]
    assert rows[-1] == pytest.approx((380.0, 330.0))
    seam = Polygon(np.vstack([edge.points_mm[:-1] for edge in piece.edges]))
    for height, girth in rows[:-1]:
        assert girth == pytest.approx(2 * seam.intersection(LineString([(-5, height), (999, height)])).length, abs=0.01)


def test_lowering_raising_and_lengthening_move_edges_by_just_that_much():
    seams = LegSeams.of(garment_of(STRAIGHT_ENDS))
    assert lower_waist(seams, 40.0).waist_mm[:, 1] == pytest.approx(530.0)
    assert raise_hem(seams, 40.0).hem_mm[:, 1] == pytest.approx(40.0)
    longer = lengthen(seams, 40.0)
    assert longer.hem_mm[:, 1] == pytest.approx(-40.0)
    assert longer.inseam_mm[0] == pytest.approx(longer.hem_mm[-1])
    assert spread_waist(seams, length_mm(seams.waist_mm)).waist_mm == pytest.approx(seams.waist_mm, abs=1e-6)
    taller = heighten(seams, 40.0)
    assert taller.waist_mm[:, 1] == pytest.approx(610.0)
    assert taller.rise_mm[-1] == pytest.approx(taller.waist_mm[0])


def test_a_finished_edge_wants_a_straight_hem():
    assert "hem-not-straight" in codes(draft(Leg(hem_slant=8), hem=Hem.FINISHED))
    assert "hem-not-straight" not in codes(draft(hem=Hem.FINISHED))


def test_any_other_garment_becomes_its_outline_with_an_allowance_all_round():
    square = np.array([[0, 0], [100, 0], [100, 100], [0, 100], [0, 0]], dtype=float)
    bib = Garment("bib", Laid.OTHER, (Edge(EdgeName.OUTLINE, frozen(square)),))
    (piece,) = draft_pattern(bib, Choices(title="bib", machine=Machine.SEWING_MACHINE)).pieces
    assert piece.name == "bib"
    assert Polygon(piece.cut_ring_mm).equals(Polygon([(-10, -10), (110, -10), (110, 110), (-10, 110)]))
    assert "allowance all round: 10 mm" in piece.labels


def test_choices_come_back_from_json_values():
    choices = Choices(title="t", waist_mm=520.0, hem=Hem.MOCK_CUFF, allowance_mm={EdgeName.HEM: 30.0}, units=Units.INCH)
    assert Choices.from_json(choices.as_json()) == choices
    assert Choices.from_json({**choices.as_json(), "something newer": 1}) == choices
