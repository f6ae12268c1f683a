"""Sewing steps: in the right order for the machine and the finishes, stitches by their numbers, cautions by name."""

from itertools import product

import pytest
from pieces.legs import garment_of
from shapes import Leg

from outgrown.pieces.choices import Choices, Hem, Machine, Waist
from outgrown.pieces.drafting import draft_pattern
from outgrown.pieces.fabric import Fabric, apply_fabric
from outgrown.pieces.growing import grow_pattern
from outgrown.pieces.growth import Growth
from outgrown.pieces.sewing import (
    CAUTIONS,
    COVER,
    OVERLOCK_3,
    OVERLOCK_4,
    ZIGZAG,
    Sketch,
    list_notions,
    list_steps,
)

ALL = list(product(Machine, Waist, Hem))


def drafted(machine=Machine.OVERLOCKER, waist=Waist.CASING, hem=Hem.PLAIN, **changes):
    choices = Choices(waist_mm=500.0, machine=machine, waist=waist, hem=hem, **changes)
    return draft_pattern(garment_of(Leg()), choices)


@pytest.mark.source("ISO 4915:1991, stitch types: 304 lockstitch; 406 multi-thread chain; 504, 514 overedge")
def test_stitch_numbers():
    named = {"zigzag": 304, "coverstitch": 406, "3-thread overlock": 504}
    named["4-thread overlock"] = 514
    assert {s.name: s.number for s in (ZIGZAG, COVER, OVERLOCK_3, OVERLOCK_4)} == named


@pytest.mark.parametrize(("machine", "waist", "hem"), ALL)
def test_seams_come_before_the_waist_and_the_waist_before_trying_on(machine, waist, hem):
    steps = list_steps(drafted(machine, waist, hem))
    order = [step.sketch for step in steps]
    assert order[0] is Sketch.CUT and order[-1] is Sketch.PRESS
    assert order.index(Sketch.INSEAM) < order.index(Sketch.RISE)
    at_waist = {Sketch.CASING, Sketch.ELASTIC_ON, Sketch.BAND} & set(order)
    assert len(at_waist) == 1
    assert order.index(Sketch.RISE) < order.index(*at_waist)
    at_hem = {Hem.PLAIN: {Sketch.HEM}, Hem.MOCK_CUFF: {Sketch.MOCK_CUFF}, Hem.RIBBED_CUFF: {Sketch.CUFF}}
    assert {Sketch.HEM, Sketch.MOCK_CUFF, Sketch.CUFF} & set(order) == at_hem.get(hem, set())


@pytest.mark.parametrize(("waist", "hem"), list(product(Waist, Hem)))
def test_a_sewing_machine_needs_no_overlock_and_no_coverstitch(waist, hem):
    steps = list_steps(drafted(Machine.SEWING_MACHINE, waist, hem))
    assert {stitch for step in steps for stitch in (*step.stitches, *step.then)} == {ZIGZAG}
    assert all("zigzag" in step.text for step in steps if step.sketch in (Sketch.INSEAM, Sketch.RISE))


def test_mock_cuff_by_hand():
    """38 mm, 13 of them for the seam: 25 turned twice; all cloth beyond the line is used, so the leg ends at it."""
    (step,) = (s for s in list_steps(drafted(hem=Hem.MOCK_CUFF)) if s.sketch is Sketch.MOCK_CUFF)
    assert "Turn 25 mm" in step.text
    turned, seam = 25.0, 6.5
    assert turned + 2 * seam == 38.0


def test_side_seams_are_sewn_first_where_there_are_some():
    steps = list_steps(drafted(side_seam=True))
    assert [s.sketch for s in steps][:3] == [Sketch.CUT_OPEN, Sketch.SIDE, Sketch.INSEAM]


def test_notions_name_the_elastic_as_it_is_cut():
    words = " ".join(list_notions(drafted()))
    assert "48.5 cm long, 20 mm wide" in words
    assert "elastic" not in " ".join(list_notions(drafted(waist=Waist.FOLDED_BAND)))
    # The same rule as in the cut list, where the waist is known.
    assert "waist x 0.93 and 20 mm overlap" in " ".join(list_notions(draft_pattern(garment_of(Leg()), Choices())))


def test_cloth_that_is_to_shrink_is_not_washed_before_it_is_cut():
    """The pattern is drawn larger for the shrinkage; washed first, the cloth would give a garment too large by it."""
    kept = apply_fabric(drafted(), Fabric(shrink_long=0.05, shrink_wide=0.03))
    for pattern in (kept, grow_pattern(kept, Growth(longer_mm=20.0))):
        cut = list_steps(pattern)[0].text
        assert "Do not wash the cloth first" in cut
        assert "5\u00a0% along the grain and 3\u00a0% across" in cut
        assert "not yet washed" in list_notions(pattern)[0]
        assert [f.code for f in pattern.findings].count("drawn-for-shrinkage") == 1
    plain = apply_fabric(drafted(), Fabric(stretch_old=0.5, stretch_new=0.5, hip_mm=600.0))
    assert "Wash and dry the cloth first." in list_steps(plain)[0].text
    assert "Do not wash" not in list_steps(plain)[0].text


def test_cautions_name_the_rules_and_none_of_their_numbers():
    words = " ".join(CAUTIONS)
    for rule in ("16 CFR 1615", "1616", "16 CFR 1120", "EN 14682", "16 CFR 1501"):
        assert rule in words
    assert " cm" not in words and " mm" not in words and " in)" not in words
    assert "local rule" in words
