"""Kinds of garment: told or said, measured upright, halved on their middle line."""

import numpy as np
import pytest
from garment.test_laying import open_pair, outline_of, panel, t_shirt
from shapely import LineString, Polygon
from shapely.affinity import affine_transform
from shapes import Leg, Shot, bezier

from outgrown.errors import GarmentError
from outgrown.garment.garment import EdgeName, Laid
from outgrown.garment.kinds import KINDS
from outgrown.garment.reading import read_garment
from outgrown.garment.taking import take_for
from outgrown.geometry.polylines import distances_to_line_mm, resample
from outgrown.pieces.choices import Choices, Hem, Waist
from outgrown.pieces.drafting import draft_pattern
from outgrown.pieces.piece import Finish

QUIET = Shot(40.0, (10.0, 5.0), False, 0.3, 0.8, 3, 1.0)


def dense(ring):
    return resample(np.vstack([ring, ring[:1]]), 1.0)[:-1]


def skirt(half_waist=230.0, half_hem=380.0, length=330.0):
    x, y = half_waist / 2, half_hem / 2
    return dense(np.array([[-y, 0.0], [y, 0.0], [x, length], [-x, length]]))


def test_kinds_are_found_by_their_files():
    assert set(KINDS) == {"leggings", "trousers", "shorts", "t-shirt", "skirt", "other"}
    assert all(name == kind.name for name, kind in KINDS.items())


@pytest.mark.parametrize(
    ("ring", "kind", "laid"),
    [
        (Leg().ring(), "leggings", Laid.FOLDED),
        (dense(open_pair(Leg())), "leggings", Laid.OPEN),
        (panel(Leg()), "leggings", Laid.PANEL),
        (dense(t_shirt()), "other", Laid.OTHER),
    ],
)
def test_the_outline_tells_what_it_is_taken_for_and_how_to_correct_it(ring, kind, laid):
    taken = take_for(outline_of(QUIET.ring(ring)))
    assert (taken.kind, taken.laid) == (kind, laid)
    assert "--laid" in taken.sentence()
    assert "--kind" in taken.sentence()


def test_the_persons_word_outranks_the_outline():
    outline = outline_of(QUIET.ring(Leg().ring()))
    assert take_for(outline, laid=Laid.OTHER).laid is Laid.OTHER
    assert take_for(outline, kind="t-shirt").laid is Laid.OTHER
    said = take_for(outline, kind="trousers", laid=Laid.FOLDED)
    assert said.sentence() == "Taken for trousers folded lengthwise, one leg on the other, as you said."


@pytest.mark.parametrize("laid", [Laid.FOLDED, Laid.OPEN, Laid.PANEL])
@pytest.mark.parametrize("kind", ["t-shirt", "skirt", "other"])
def test_what_has_no_legs_is_not_read_as_legs(kind, laid):
    with pytest.raises(GarmentError, match="only legs") as told:
        take_for(outline_of(QUIET.ring(Leg().ring())), kind, laid)
    assert "--laid" in told.value.advice


def test_no_way_of_laying_is_offered_for_what_has_no_legs():
    said = take_for(outline_of(QUIET.ring(dense(t_shirt()))), kind="t-shirt")
    assert said.sentence() == "Taken for a t-shirt, kept as it lies, as you said."


@pytest.mark.parametrize("angle_deg", [0.0, 100.0, 180.0, 300.0])
def test_a_t_shirt_is_measured_upright_however_it_lies(angle_deg):
    shot = Shot(angle_deg, (10.0, 5.0), False, 0.3, 0.8, 3, 1.0)
    garment = read_garment(outline_of(shot.ring(dense(t_shirt()))), kind="t-shirt", laid=Laid.OTHER)
    found = {m.name: m.value_mm for m in garment.measurements}
    assert found["half chest"] == pytest.approx(350.0, abs=4.0)  # its armpits lie at x = +-175
    assert found["half hem"] == pytest.approx(360.0, abs=3.0)
    assert found["length"] == pytest.approx(470.0, abs=4.0)
    assert found["sleeve to sleeve"] == pytest.approx(640.0, abs=5.0)


@pytest.mark.parametrize("angle_deg", [0.0, 100.0, 180.0, 300.0])
def test_a_skirt_is_measured_waist_up_however_it_lies(angle_deg):
    shot = Shot(angle_deg, (10.0, 5.0), False, 0.3, 0.8, 3, 1.0)
    garment = read_garment(outline_of(shot.ring(skirt())), kind="skirt", laid=Laid.OTHER)
    found = {m.name: m.value_mm for m in garment.measurements}
    assert found["half waist"] == pytest.approx(230 + 150 * 0.04, abs=3.0)
    assert found["half hem"] == pytest.approx(380.0, abs=3.0)
    assert found["length"] == pytest.approx(330.0, abs=3.0)


def test_a_skirts_hem_that_hangs_round_is_measured_between_its_ends():
    x = np.linspace(-190.0, 190.0, 60)
    ring = np.vstack([np.column_stack([x, 30.0 * (x / 190.0) ** 2]), [[115.0, 330.0], [-115.0, 330.0]]])
    garment = read_garment(outline_of(QUIET.ring(dense(ring))), kind="skirt", laid=Laid.OTHER)
    assert garment.measured("half hem").value_mm == pytest.approx(380.0, abs=3.0)


def test_corners_of_a_mirrored_half_stay_corners():
    garment = read_garment(outline_of(QUIET.ring(skirt())), kind="skirt", laid=Laid.OTHER)
    (piece,) = draft_pattern(garment, Choices(allowance_mm={EdgeName.OUTLINE: 12.0})).pieces
    # Sides met truly: 12 mm beside both lines, at the corner of 103 degrees 12 / sin(103 / 2) from it.
    corner, angle_deg = np.array([115.0, 330.0]), 90.0 + np.degrees(np.arctan(75 / 330))
    ring = piece.cut_ring_mm
    outer = ring[(np.hypot(*(ring - corner).T) < 30.0) & (ring[:, 0] > 115.0) & (ring[:, 1] > 335.0)]
    reach = np.hypot(*(outer - corner).T).max()
    assert reach == pytest.approx(12.0 / np.sin(np.radians(angle_deg / 2)), abs=1.5)


def test_a_mirrored_half_is_cut_on_the_fold_with_its_allowance():
    garment = read_garment(outline_of(QUIET.ring(skirt())), kind="skirt", laid=Laid.OTHER)
    pattern = draft_pattern(garment, Choices(allowance_mm={EdgeName.OUTLINE: 12.0}))
    (piece,) = pattern.pieces
    assert [e.name for e in piece.edges] == [EdgeName.CENTRE, EdgeName.OUTLINE]
    assert piece.edges[0].finish is Finish.FOLD
    assert np.allclose(piece.edges[0].points_mm[:, 0], 0.0)
    right = np.array([[0.0, 0.0], [190.0, 0.0], [115.0, 330.0], [0.0, 330.0]])
    assert np.percentile(distances_to_line_mm(piece.edges[1].points_mm, right), 95) < 1.5
    middle = resample(piece.edges[1].points_mm, 5.0)[5:-5]
    ring = np.vstack([piece.cut_ring_mm, piece.cut_ring_mm[:1]])
    assert np.median(distances_to_line_mm(middle, ring)) == pytest.approx(12.0, abs=0.05)
    assert piece.cut_ring_mm[:, 0].min() == pytest.approx(0.0, abs=1e-6)


def test_the_whole_outline_is_kept_when_asked_for_or_when_its_halves_differ():
    garment = read_garment(outline_of(QUIET.ring(skirt())), kind="skirt", laid=Laid.OTHER)
    pattern = draft_pattern(garment, Choices(is_whole=True))
    assert [e.name for e in pattern.pieces[0].edges] == [EdgeName.OUTLINE]
    uneven = dense(np.array([[0.0, 0.0], [400.0, 0.0], [400.0, 200.0], [90.0, 500.0]]))
    pattern = draft_pattern(read_garment(outline_of(QUIET.ring(uneven)), kind="other", laid=Laid.OTHER), Choices())
    assert [e.name for e in pattern.pieces[0].edges] == [EdgeName.OUTLINE]
    assert "halves-not-alike" in [f.code for f in pattern.findings]


SHIRT = {
    "hem": bezier((0, 6), (60, 0), (120, 0), (180, 4)),
    "side": bezier((180, 4), (174, 110), (172, 220), (176, 320)),
    "underarm": bezier((176, 320), (205, 315), (240, 285), (262, 262)),
    "sleeve hem": bezier((262, 262), (280, 289), (300, 318), (318, 345)),
    "shoulder": bezier((318, 345), (250, 425), (190, 480), (80, 500)),
    "neck": bezier((80, 500), (60, 478), (30, 470), (0, 470)),
}


def shirt():
    """A T-shirt lying flat, both its halves."""
    right = np.vstack([*(line[:-1] for line in SHIRT.values()), SHIRT["neck"][-1:]])
    return dense(np.vstack([right[:-1], (right * [-1, 1])[::-1][:-1]]))


def drafted(ring, kind, angle_deg=0.0, **choices):
    shot = Shot(angle_deg, (10.0, 5.0), False, 0.3, 0.4, 3, 1.0)
    return draft_pattern(read_garment(outline_of(shot.ring(ring)), kind=kind, laid=Laid.OTHER), Choices(**choices))


def turned_back(piece, name, over_mm):
    """What lies beyond a turned edge's chord, mirrored on it by a matrix, its outer 2 mm left out."""
    line = next(e.points_mm for e in piece.edges if e.name == name)
    way = (line[-1] - line[0]) / np.hypot(*(line[-1] - line[0]))
    out = np.array([way[1], -way[0]])
    c, s = way[0] ** 2 - way[1] ** 2, 2 * way[0] * way[1]
    shift = line[0] - np.array([[c, s], [s, -c]]) @ line[0]
    strip = [line[0] - 900 * way, line[0] - 900 * way + over_mm * out, line[-1] + 900 * way + over_mm * out]
    beyond = Polygon([*strip, line[-1] + 900 * way])
    near = LineString(line).buffer(1.5 * over_mm)
    return affine_transform(Polygon(piece.cut_ring_mm).intersection(beyond).intersection(near), [c, s, s, -c, *shift])


@pytest.mark.parametrize("angle_deg", [0.0, 100.0, 250.0])
def test_the_edges_of_a_t_shirts_half_are_told_by_its_corners(angle_deg):
    pattern = drafted(shirt(), "t-shirt", angle_deg)
    (piece,) = pattern.pieces
    named = {str(e.name): e for e in piece.edges}
    assert list(named) == ["centre", *SHIRT]
    for name, line in SHIRT.items():
        assert np.hypot(*(named[name].points_mm[[0, -1]] - line[[0, -1]]).T).max() < 3.0
    assert {name: (e.allowance_mm, e.finish) for name, e in named.items()} == {
        "centre": (0.0, Finish.FOLD),
        "hem": (25.0, Finish.HEM),
        "side": (6.0, Finish.SEAM),
        "underarm": (6.0, Finish.SEAM),
        "sleeve hem": (25.0, Finish.HEM),
        "shoulder": (6.0, Finish.SEAM),
        "neck": (6.0, Finish.SEAM),
    }
    assert piece.quantity.startswith("cut 2 on fold")
    assert pattern.cut_list[0].quantity == 2
    assert "one-neck-seen" in [f.code for f in pattern.findings]


def test_hems_of_a_t_shirt_lie_flat_inside_it_when_turned_up():
    (piece,) = drafted(shirt(), "t-shirt").pieces
    whole = Polygon(piece.cut_ring_mm)
    for name, deg in (("hem", 0.0), ("sleeve hem", 60.0)):
        turned = turned_back(piece, name, 23.0)
        assert turned.area > 0.9 * 23.0 * np.hypot(*np.diff(SHIRT[name][[0, -1]], axis=0)[0]), deg
        # Nothing sticks out but what the bend of the fold line itself makes.
        assert (
            turned.difference(whole.buffer(1.5))
            .intersection(Polygon([(0, -99), (500, -99), (500, 600), (0, 600)]))
            .area
            < 8.0
        )


def test_seams_of_a_t_shirt_are_cut_beside_themselves():
    (piece,) = drafted(shirt(), "t-shirt", allowance_mm={EdgeName.NECK: 9.0, EdgeName.SHOULDER: 14.0}).pieces
    ring = np.vstack([piece.cut_ring_mm, piece.cut_ring_mm[:1]])
    for name, amount in (("neck", 9.0), ("shoulder", 14.0), ("underarm", 6.0), ("side", 6.0)):
        line = next(e.points_mm for e in piece.edges if e.name == name)
        middle = resample(line, 3.0)[8:-8]
        assert distances_to_line_mm(middle, ring) == pytest.approx(amount, abs=0.1), name


def test_a_garment_whose_corners_do_not_tell_its_edges_gets_one_allowance_and_says_so():
    (piece,) = drafted(dense(t_shirt()), "t-shirt").pieces  # its neck turns by 26 degrees
    assert [e.name for e in piece.edges] == [EdgeName.CENTRE, EdgeName.OUTLINE]
    assert "edges-not-told" in [f.code for f in drafted(dense(t_shirt()), "t-shirt").findings]


def test_a_skirt_has_a_casing_side_seams_and_a_hem():
    pattern = drafted(skirt(), "skirt", waist_mm=520.0)
    (piece,) = pattern.pieces
    assert [(str(e.name), e.allowance_mm) for e in piece.edges] == [
        ("centre", 0.0),
        ("hem", 25.0),
        ("side", 6.0),
        ("waist", 26.0),
    ]
    assert {r.name: r.length_mm for r in pattern.cut_list}["elastic"] == pytest.approx(520.0 * 0.93 + 20.0)
    # Sides slant by 75 over 330: mirrored at the hem the cut edge is as far in below as above.
    cut = Polygon(piece.cut_ring_mm)

    def width(height):
        return cut.intersection(LineString([(-1, height), (900, height)])).length

    hem = piece.edges[1].points_mm[:, 1].mean()
    assert width(hem - 20.0) == pytest.approx(width(hem + 20.0), abs=0.6)
    assert width(hem - 20.0) < width(hem) - 3.0


def test_a_skirts_waistband_makes_up_its_top():
    plain, banded = drafted(skirt(), "skirt"), drafted(skirt(), "skirt", waist=Waist.FOLDED_BAND, band_height_mm=50.0)
    assert [p.name for p in banded.pieces] == ["skirt", "waistband"]
    top = [p.pieces[0].edges[-1].points_mm[-1, 1] for p in (plain, banded)]
    assert top[0] - top[1] == pytest.approx(50.0, abs=0.2)


def test_cuffs_of_other_garments_are_not_drawn_and_that_is_said():
    pattern = drafted(skirt(), "skirt", hem=Hem.RIBBED_CUFF)
    assert "cuff-not-drawn" in [f.code for f in pattern.findings]


def test_a_sleeve_that_hangs_beside_the_body_keeps_its_own_allowances():
    hanging = {
        **SHIRT,
        "underarm": bezier((176, 320), (186, 302), (196, 284), (208, 262)),
        "sleeve hem": bezier((208, 262), (236, 280), (264, 298), (292, 316)),
        "shoulder": bezier((292, 316), (230, 430), (190, 480), (80, 500)),
    }
    right = np.vstack([*(line[:-1] for line in hanging.values()), hanging["neck"][-1:]])
    pattern = drafted(dense(np.vstack([right[:-1], (right * [-1, 1])[::-1][:-1]])), "t-shirt")
    assert [str(e.name) for e in pattern.pieces[0].edges] == ["centre", *SHIRT]
    assert Polygon(pattern.pieces[0].cut_ring_mm).is_valid
