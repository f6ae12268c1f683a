"""Kinds of garment: told or said, measured upright, halved on their middle line."""

import numpy as np
import pytest
from garment.test_laying import open_pair, outline_of, panel, t_shirt
from shapes import Leg, Shot

from outgrown.garment.garment import EdgeName, Laid
from outgrown.garment.kinds import KINDS
from outgrown.garment.reading import read_garment
from outgrown.garment.taking import take_for
from outgrown.geometry.polylines import distances_to_line_mm, resample
from outgrown.pieces.choices import Choices
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
