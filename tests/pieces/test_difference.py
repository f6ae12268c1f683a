"""Two patterns compared, and a sewn garment compared with its pattern: known changes come out as they were made."""

from dataclasses import replace

import numpy as np
import pytest
from pieces.legs import STRAIGHT_ENDS, garment_of
from pieces.test_front_and_back import PAIRS, matching_back
from shapely import LineString, Polygon, hausdorff_distance
from shapes import Leg, Shot

from outgrown.arrays import frozen
from outgrown.errors import PieceError
from outgrown.garment.garment import Laid
from outgrown.garment.reading import read_garment
from outgrown.outline.outline import Outline
from outgrown.pieces.choices import Choices, Hem
from outgrown.pieces.comparable import find_shapes
from outgrown.pieces.difference import compare_patterns
from outgrown.pieces.drafting import draft_pattern
from outgrown.pieces.growing import grow_pattern
from outgrown.pieces.growth import Growth
from outgrown.pieces.sewn import check_sewn

NAMES = ("last year's", "this year's")


def draft(leg, **choices):
    return draft_pattern(garment_of(leg), Choices(**choices))


def rows(difference, shape=None):
    return {row.what: row.more_mm for row in difference.lengths if shape in (None, row.shape)}


def seen(leg, seed=5):
    ring = Shot(137.0, (80.0, -40.0), True, 0.3, 0.5, seed, 1.0).ring(leg.ring())
    return Outline(frozen(ring), frozen(ring), (), frozen(np.full(len(ring), 0.3)), frozen(np.ones(len(ring))))


def test_a_pattern_does_not_differ_from_itself():
    found = compare_patterns(draft(Leg()), draft(Leg()), NAMES)
    assert all(row.more_mm == 0.0 for row in found.lengths)
    assert all(abs(row.worst_mm) < 1e-6 for row in found.edges)
    assert {row.edge for row in found.edges} == {"hem", "inseam", "rise", "waist"}
    assert not found.missing


def test_a_longer_and_wider_leg_by_hand():
    one = STRAIGHT_ENDS
    other = replace(one, inseam_height=one.inseam_height + 20.0, hem_width=one.hem_width + 5.0)
    found = compare_patterns(draft(one), draft(other), NAMES)
    more = rows(found)
    assert more["side"] == pytest.approx(20.0, abs=0.01)
    assert more["half hem"] == pytest.approx(5.0, abs=0.01)
    assert more["waist edge"] == pytest.approx(0.0, abs=0.01)
    assert more["rise"] == pytest.approx(0.0, abs=0.01)
    hem = next(row for row in found.edges if row.edge == "hem")
    assert hem.mean_mm == pytest.approx(20.0, abs=0.01)
    assert hem.p95_mm == pytest.approx(20.0, abs=0.01)


def test_the_other_way_round_has_the_other_sign():
    one, other = draft(Leg()), draft(replace(Leg(), hem_width=Leg().hem_width + 7.0))
    there, back = compare_patterns(one, other, NAMES), compare_patterns(other, one, NAMES[::-1])
    assert rows(there)["half hem"] == pytest.approx(-rows(back)["half hem"])
    for a, b in zip(there.edges, back.edges, strict=True):
        assert np.sign(round(a.mean_mm, 2)) == -np.sign(round(b.mean_mm, 2))


def test_the_distance_of_edges_is_shapelys():
    one, other = draft(Leg()), draft(replace(Leg(), crotch_width=Leg().crotch_width + 9.0))
    found = compare_patterns(one, other, NAMES)
    first, second = found.shapes[0]
    for row in found.edges:
        line, true = LineString(second.lines[row.edge]), LineString(first.lines[row.edge])
        assert row.p95_mm <= abs(row.worst_mm) + 1e-9
        assert abs(row.worst_mm) <= hausdorff_distance(line, true, densify=0.02) + 0.05
    rise = next(row for row in found.edges if row.edge == "rise")
    assert rise.worst_mm > 3.0
    assert Polygon(second.ring_mm()).area > Polygon(first.ring_mm()).area


@pytest.mark.parametrize("side_seam", [False, True])
def test_front_and_back_are_told_apart_however_they_are_cut(side_seam):
    front, back = PAIRS["child's leggings"]
    back = matching_back(front, back)
    joined = draft_pattern(garment_of(front), Choices(), back=garment_of(back))
    other = draft_pattern(garment_of(front), Choices(side_seam=side_seam), back=garment_of(back))
    found = compare_patterns(joined, other, NAMES)
    assert {row.shape for row in found.lengths} == {"front half leg", "back half leg"}
    assert max(abs(row.more_mm) for row in found.lengths) < 0.6  # a side seam is trued at its own corners
    assert not found.missing


def test_one_half_leg_for_both_is_laid_on_front_and_back():
    front, back = PAIRS["child's leggings"]
    pair = draft_pattern(garment_of(front), Choices(), back=garment_of(matching_back(front, back)))
    found = compare_patterns(draft(front), pair, NAMES)
    assert [second.name for _, second in found.shapes] == ["front half leg", "back half leg"]
    assert rows(found, "back half leg")["rise"] > 10.0 > abs(rows(found, "front half leg")["rise"])


def test_the_next_size_differs_as_it_was_grown():
    pattern = draft(Leg(), waist_mm=500.0)
    grown = grow_pattern(pattern, Growth(longer_mm=20.0))
    found = compare_patterns(pattern, grown, NAMES)
    assert rows(found)["inseam"] == pytest.approx(20.0, abs=0.05)
    assert {row.what for row in found.strips} >= {"cut length"}


def test_patterns_without_a_piece_in_common_are_refused():
    leg = draft(Leg())
    bare = replace(leg, pieces=())
    with pytest.raises(PieceError, match="no piece in common"):
        compare_patterns(leg, bare, NAMES)


def test_shapes_lie_on_their_side_with_the_crotch_at_nought():
    front, back = PAIRS["adult's"]
    pair = draft_pattern(garment_of(front), Choices(), back=garment_of(matching_back(front, back)))
    for shape in find_shapes(pair.pieces):
        ring = shape.ring_mm()
        assert Polygon(ring).is_valid
        assert Polygon(ring).exterior.is_ccw
        assert shape.lines["inseam"][:, 1].max() == pytest.approx(0.0)
        assert np.abs(shape.lines["side"][:, 0]).max() == pytest.approx(0.0, abs=1e-6)


def test_a_pair_sewn_twelve_millimetres_short_is_told():
    kept = draft(Leg(), hem=Hem.PLAIN)
    sewn = replace(Leg(), inseam_height=Leg().inseam_height - 12.0)
    outline = seen(sewn)
    found = check_sewn(kept, read_garment(outline, kind="leggings", laid=Laid.FOLDED), outline.ring_mm)
    more = rows(found.difference)
    assert more["inseam"] == pytest.approx(-12.0, abs=2.0)
    assert more["half thigh"] == pytest.approx(0.0, abs=1.5)
    assert "hem-turned-otherwise" in {finding.code for finding in found.findings}
    # The pattern's own line, laid back on the photo, follows the garment but for its hem.
    wanted, ring = found.wanted_mm[0], LineString(outline.ring_mm)
    near = [LineString([p, p + 0.01]).distance(ring) for p in np.asarray(wanted)]
    assert np.percentile(near, 60) < 1.5
    assert 8.0 < max(near) < 16.0


def test_a_pair_sewn_right_has_no_difference_beyond_its_doubt():
    kept, outline = draft(Leg()), seen(Leg(), seed=9)
    found = check_sewn(kept, read_garment(outline, kind="leggings", laid=Laid.FOLDED), outline.ring_mm)
    sure = [row for row in found.difference.lengths if row.is_sure]
    assert len(sure) <= 1  # 95 % bands, eight lengths
    assert not found.findings


def test_a_gathered_waist_is_told_and_given_flat_is_spread():
    leg = Leg()
    kept = draft(leg)
    outline = seen(replace(leg, waist_width=leg.waist_width - 18.0))
    garment = read_garment(outline, kind="leggings", laid=Laid.FOLDED)
    gathered = check_sewn(kept, garment, outline.ring_mm)
    assert "waist-gathered" in {finding.code for finding in gathered.findings}
    quarter = {row.what: row.first_mm for row in gathered.difference.lengths}["waist edge"]
    flat = check_sewn(kept, garment, outline.ring_mm, waist_flat_mm=2.0 * quarter)
    assert rows(flat.difference)["waist edge"] == pytest.approx(0.0, abs=0.5)
    assert "waist-gathered" not in {finding.code for finding in flat.findings}


def test_washed_means_after_the_shrinkage_the_pattern_allows_for():
    kept = draft(STRAIGHT_ENDS)
    kept = replace(kept, choices={**kept.choices, "fabric": {"shrink_long": 0.05, "shrink_wide": 0.0}})
    outline = seen(STRAIGHT_ENDS)
    garment = read_garment(outline, kind="leggings", laid=Laid.FOLDED)
    new, washed = (check_sewn(kept, garment, outline.ring_mm, is_washed=w) for w in (False, True))
    side = {row.what: row.first_mm for row in new.difference.lengths}["side"]
    assert rows(washed.difference)["side"] - rows(new.difference)["side"] == pytest.approx(0.05 * side, abs=0.01)
    assert [f.code for f in new.findings] == ["not-yet-washed"]
    assert "not-yet-washed" not in {f.code for f in washed.findings}


def test_a_pair_lying_open_is_refused():
    garment = replace(garment_of(Leg()), laid=Laid.OPEN)
    with pytest.raises(PieceError, match="hides its rise"):
        check_sewn(draft(Leg()), garment, np.zeros((4, 2)))
