"""An invented pair with different rises is folded both ways, read twice, joined again, and compared with the truth."""

import re
from dataclasses import replace

import numpy as np
import pytest
from garment.test_open_pairs import open_ring
from pieces.legs import garment_of
from ring_error import measure_ring_error
from sewn_leg import compare
from shapely import LineString, Polygon
from shapes import Leg, Shot, random_leg

from outgrown.arrays import frozen
from outgrown.errors import PieceError
from outgrown.findings import Severity
from outgrown.garment.fold import straighten_side
from outgrown.garment.garment import EdgeName, Laid
from outgrown.garment.reading import read_garment
from outgrown.geometry.polylines import distances_to_line_mm, length_mm, resample
from outgrown.geometry.sections import crossings_mm
from outgrown.geometry.truing import corner_angle_deg
from outgrown.outline.outline import Outline
from outgrown.pieces.choices import Choices, Hem, Waist
from outgrown.pieces.drafting import draft_pattern
from outgrown.pieces.leg_shape import is_leg
from outgrown.pieces.piece import Finish

# The rises leave the inseam square and reach the waist square, as a good draft's do.
FRONT = Leg(inseam_lean_deg=12, crotch_lean_deg=12, waist_slant=10, waist_curve=2)
BACK = replace(FRONT, crotch_width=171, waist_width=122, waist_slant=-14, waist_curve=-5)
PAIRS = {
    "child's leggings": (FRONT, BACK),
    "baby's": tuple(
        replace(leg, inseam_height=160, rise_height=165, crotch_width=w, waist_width=v, hem_width=72)
        for leg, w, v in ((FRONT, 134, 103), (BACK, 141, 106))
    ),
    "shorts": tuple(
        replace(leg, inseam_height=80, rise_height=195, crotch_width=w, waist_width=v, hem_width=h)
        for leg, w, v, h in ((FRONT, 185, 132, 172), (BACK, 192, 134, 175))
    ),
    "adult's": tuple(
        replace(leg, inseam_height=700, rise_height=270, crotch_width=w, waist_width=v, hem_width=110)
        for leg, w, v in ((FRONT, 275, 183), (BACK, 290, 190))
    ),
}


def matching_back(front, back):
    """The back as sewn to the front: heights below the crotch changed until the inseams are equally long."""
    for _ in range(30):
        more = length_mm(front.edges()["inseam"]) - length_mm(back.edges()["inseam"])
        total = back.inseam_height + back.rise_height
        back = replace(back, inseam_height=back.inseam_height + more, rise_height=total - back.inseam_height - more)
    return back


def read(leg, shot):
    ring = shot.ring(leg.ring())
    n = len(ring)
    return read_garment(Outline(frozen(ring), frozen(ring), (), frozen(np.full(n, 0.5)), frozen(np.ones(n))))


def true_ring(front, back):
    f, b = (straighten_side(list(leg.edges().values())).edges_mm for leg in (front, back))
    left = [line[::-1] * [-1, 1] for line in b]
    return np.vstack([left[1][:-1], f[1][:-1], f[2][:-1], f[3][:-1], f[4][:-1], left[4][:-1], left[3][:-1], left[2]])


def seam_ring(piece):
    return np.vstack([edge.points_mm[:-1] for edge in piece.edges])


def girth(ring, height):
    found = crossings_mm(np.vstack([ring, ring[:1]]), height)
    return float(found.max() - found.min())


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("name", PAIRS)
def test_folded_both_ways_and_joined_again_it_is_the_leg_it_was(name, seed):
    front, back = PAIRS[name]
    back = matching_back(front, back)
    shots = (
        Shot(20.0 + 50 * seed, (80.0, -40.0), False, 0.4, 1.0, 11 + 2 * seed, 1.0),
        Shot(200.0 + 50 * seed, (-30.0, 10.0), True, 0.4, 1.0, 12 + 2 * seed, 1.0),
    )
    pattern = draft_pattern(read(front, shots[0]), Choices(), back=read(back, shots[1]))
    found = compare(pattern, front, back)
    assert found["p95"] < 1.5
    assert found["worst"] < 3.0
    # The aim is 0.5 % and kept on drawn photos, whose edges stray by 0.25 mm (`benchmarks/sewn_leg.py photos`: 0.44 %
    # at most). Here they stray by 0.5 mm, which four edges of a baby's hem of 288 mm feel.
    assert found["girth"] < 1.0
    assert max(abs(found["front rise"]), abs(found["back rise"])) < 3.0


@pytest.mark.parametrize("name", PAIRS)
@pytest.mark.parametrize("side_seam", [False, True])
def test_walked_seams_are_equal_and_joined_corners_smooth(name, side_seam):
    front, back = (garment_of(leg) for leg in PAIRS[name])
    pattern = draft_pattern(front, Choices(side_seam=side_seam), back=back)
    edges = {(e.name, e.part): e.points_mm for piece in pattern.pieces for e in piece.edges}
    inseams = [length_mm(edges[EdgeName.INSEAM, part]) for part in ("front", "back")]
    assert abs(inseams[0] - inseams[1]) < 0.01  # aim of the trade here: 0.5 mm
    if side_seam:
        sides = [length_mm(edges[EdgeName.SIDE, part]) for part in ("front", "back")]
        assert abs(sides[0] - sides[1]) < 0.01
    for corner in pattern.provenance["joined_corners"]:
        assert abs(corner["front_deg"] + corner["back_deg"] - 180.0) < 4.0, corner["place"]
    for seam in pattern.provenance["walked"]:
        before = seam["front_mm"] - seam["back_mm"]
        assert seam["front_after_mm"] == pytest.approx(seam["back_after_mm"], abs=0.01)
        if seam["seam"] == "inseam":
            assert seam["front_after_mm"] == pytest.approx(seam["front_mm"] - before / 2, abs=0.01)


def test_the_crotch_curve_runs_through_square_to_the_inseam():
    pattern = draft_pattern(garment_of(FRONT), Choices(), back=garment_of(BACK))
    piece = pattern.pieces[0]
    names = [(e.name, e.part) for e in piece.edges]
    lines = [e.points_mm for e in piece.edges]
    i = names.index((EdgeName.INSEAM, "front"))
    assert corner_angle_deg(lines[i], lines[i + 1], 2.0) == pytest.approx(90.0, abs=2.0)
    i = names.index((EdgeName.RISE, "back"))
    assert corner_angle_deg(lines[i], lines[i + 1], 2.0) == pytest.approx(90.0, abs=2.0)


def test_mixed_up_photos_are_put_right_and_told():
    right = draft_pattern(garment_of(FRONT), Choices(), back=garment_of(BACK))
    wrong = draft_pattern(garment_of(BACK), Choices(), back=garment_of(FRONT))
    assert "front-and-back-swapped" in [f.code for f in wrong.findings]
    assert "front-and-back-swapped" not in [f.code for f in right.findings]
    assert np.array_equal(wrong.pieces[0].cut_ring_mm, right.pieces[0].cut_ring_mm)


@pytest.mark.parametrize(("more_mm", "limit_mm"), [(7.0, 6.0), (-7.0, 6.0), (10.0, 9.0)])
def test_seams_that_differ_too_much_are_refused_with_their_lengths(more_mm, limit_mm):
    back = replace(FRONT, inseam_height=FRONT.inseam_height + more_mm, rise_height=FRONT.rise_height + 30)
    with pytest.raises(PieceError, match=r"The inseam of the (front|back) is .* mm longer"):
        draft_pattern(garment_of(FRONT), Choices(share_up_to_mm=limit_mm), back=garment_of(back))


def test_a_greater_difference_is_shared_when_the_person_says_so():
    back = replace(FRONT, inseam_height=FRONT.inseam_height + 8, rise_height=FRONT.rise_height + 12, waist_slant=-10)
    pattern = draft_pattern(garment_of(FRONT), Choices(share_up_to_mm=25.0), back=garment_of(back))
    assert pattern.provenance["walked"][0]["front_mm"] < pattern.provenance["walked"][0]["back_mm"] - 6


@pytest.mark.parametrize("hem", list(Hem))
@pytest.mark.parametrize("waist", list(Waist))
@pytest.mark.parametrize("side_seam", [False, True])
def test_every_finish_gives_sound_pieces(hem, waist, side_seam):
    pattern = draft_pattern(
        garment_of(FRONT), Choices(hem=hem, waist=waist, side_seam=side_seam, waist_mm=520.0), back=garment_of(BACK)
    )
    assert sum(is_leg(piece) for piece in pattern.pieces) == (2 if side_seam else 1)
    for piece in pattern.pieces:
        cut, seam = Polygon(piece.cut_ring_mm), Polygon(seam_ring(piece))
        assert cut.is_valid
        assert seam.is_valid
        assert cut.buffer(0.01).covers(seam)
        assert cut.covers(LineString(piece.grainline_mm))
        assert cut.covers(LineString(piece.stretch_mm))
        for edge in piece.edges:
            if edge.finish is Finish.SEAM:
                line = resample(edge.points_mm, 5.0)[3:-3]
                gap = distances_to_line_mm(line, np.vstack([piece.cut_ring_mm, piece.cut_ring_mm[:1]]))
                assert np.allclose(gap, edge.allowance_mm, atol=0.15)
        if not is_leg(piece):
            continue
        assert {n.is_double for n in piece.notches if n.depth_mm > 0} >= ({True} if piece.name == "back" else {False})


def bowed(leg, bow_mm):
    return replace(leg, side_bow=bow_mm)


def test_a_shaped_side_is_kept_with_a_side_seam():
    halves = [bowed(leg, 14.0) for leg in (FRONT, matching_back(FRONT, BACK))]
    shots = (Shot(20.0, noise=0.2, ripple=0.5, seed=3), Shot(110.0, noise=0.2, ripple=0.5, seed=4))
    garments = [read(leg, shot) for leg, shot in zip(halves, shots, strict=True)]
    assert all(g.side_shape_mm is not None for g in garments)
    pattern = draft_pattern(garments[0], Choices(side_seam=True), back=garments[1])
    assert "side-shape-kept" in [f.code for f in pattern.findings]
    for piece, leg in zip(pattern.pieces, halves, strict=True):
        side = next(e for e in piece.edges if e.name is EdgeName.SIDE)
        assert np.ptp(side.points_mm[:, 0]) == pytest.approx(14.0, abs=1.0)
        assert np.percentile(measure_ring_error(seam_ring(piece), leg.ring()), 95) < 1.2
    front, back = (next(e for e in p.edges if e.name is EdgeName.SIDE).points_mm for p in pattern.pieces)
    assert abs(length_mm(front) - length_mm(back)) < 0.5  # aim of the trade here
    for corner in pattern.provenance["joined_corners"]:
        assert abs(corner["front_deg"] + corner["back_deg"] - 180.0) < 4.0, corner["place"]
    straight = draft_pattern(garments[0], Choices(), back=garments[1])
    assert "side-probably-shaped" in [f.code for f in straight.findings]
    assert len(straight.pieces) == 1


def test_a_shaped_side_of_one_photo_is_kept_too():
    pattern = draft_pattern(read(bowed(FRONT, 14.0), Shot()), Choices(side_seam=True))
    (piece,) = pattern.pieces
    # Squaring waist and hem may move them by 2 mm.
    assert measure_ring_error(seam_ring(piece), bowed(FRONT, 14.0).ring()).max() < 2.0


def test_a_one_piece_leg_has_a_notch_at_the_side_for_the_band():
    pattern = draft_pattern(garment_of(FRONT), Choices(waist=Waist.FOLDED_BAND), back=garment_of(BACK))
    piece = pattern.pieces[0]
    waist = next(e for e in piece.edges if e.name is EdgeName.WAIST).points_mm
    top = [n for n in piece.notches if distances_to_line_mm(n.point_mm[None], waist)[0] < 0.01]
    assert len(top) == 1
    assert top[0].point_mm[0] == pytest.approx(0.0, abs=1e-6)
    assert top[0].outward == pytest.approx([0.0, 1.0], abs=0.1)
    casing = draft_pattern(garment_of(FRONT), Choices(), back=garment_of(BACK)).pieces[0]
    assert not [n for n in casing.notches if abs(n.point_mm[0]) < 1.0]


def test_one_photo_with_a_side_seam_is_cut_four_times():
    pattern = draft_pattern(garment_of(FRONT), Choices(side_seam=True))
    (piece,) = pattern.pieces
    assert piece.quantity.startswith("cut 4")
    assert pattern.cut_list[0].quantity == 4
    assert all(e.finish is not Finish.FOLD for e in piece.edges)


def test_open_pairs_become_front_and_back_marked_as_estimates():
    ring = open_ring()
    n = len(ring)
    outline = Outline(frozen(ring), frozen(ring), (), frozen(np.full(n, 0.5)), frozen(np.ones(n)))
    pattern = draft_pattern(read_garment(outline, laid=Laid.OPEN), Choices())
    (piece,) = pattern.pieces
    assert any("ESTIMATE" in label for label in piece.labels)
    told = {f.code: f for f in pattern.findings}
    assert told["rise-estimated"].severity is Severity.WARNING
    rises = {e.part: length_mm(e.points_mm) for e in piece.edges if e.name is EdgeName.RISE}
    assert rises["back"] > rises["front"] + 5.0
    # A sixteenth of the seat in front (Aldrich, from memory), an eighth behind (common practice).
    seat = 2.0 * next(m.value_mm for m in pattern.measurements if m.name == "half seat")
    forks = re.search(r"rule alone: (\d+) and (\d+) mm", told["rise-estimated"].text)
    assert [float(mm) for mm in forks.groups()] == pytest.approx([seat / 16, seat / 8], rel=0.08, abs=1.0)
    seams = {s["seam"]: s for s in pattern.provenance["walked"]}
    assert abs(seams["inseam"]["front_after_mm"] - 400.0) < 3.0
    # square to the side, 200 mm up it: the side leans outward by 75 mm over 400, the inseam stands upright
    lean = np.arctan(75 / 400)
    assert girth(seam_ring(piece), 200.0) == pytest.approx(2 * (85 + 200 * np.sin(lean)) / np.cos(lean), abs=2.0)
    assert Polygon(piece.cut_ring_mm).is_valid


@pytest.mark.parametrize("seed", range(40))
def test_random_legs_with_random_finishes_give_clean_cut_lines(seed):
    rng = np.random.default_rng(seed)
    leg, _ = random_leg(rng)
    front = replace(leg, cuff_height=0.0, side_bow=0.0)
    back = matching_back(
        front,
        replace(
            front,
            crotch_width=front.crotch_width * rng.uniform(1.0, 1.08),
            waist_width=front.waist_width * rng.uniform(0.97, 1.05),
            waist_slant=front.waist_slant - 0.12 * front.waist_width,
            waist_curve=0.0,
        ),
    )
    choices = Choices(
        hem=rng.choice([Hem.PLAIN, Hem.MOCK_CUFF, Hem.RAW]),
        waist=rng.choice(list(Waist)),
        band_height_mm=30.0,
        side_seam=bool(rng.random() < 0.5),
    )
    pattern = draft_pattern(garment_of(front), choices, back=garment_of(back))
    for piece in pattern.pieces:
        cut = Polygon(piece.cut_ring_mm)
        assert cut.is_valid
        assert cut.buffer(0.01).covers(Polygon(seam_ring(piece)))
    inseams = [length_mm(e.points_mm) for p in pattern.pieces for e in p.edges if e.name is EdgeName.INSEAM]
    assert abs(inseams[0] - inseams[1]) < 0.5
