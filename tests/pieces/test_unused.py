"""What a person says and this garment has no use for is told, never passed over in silence."""

from dataclasses import replace

import pytest
from pieces.test_front_and_back import PAIRS
from pieces.test_growing import kept, kept_pair, skirt
from pieces.test_panels import read, truth_of

from outgrown.paper.pages import draw_tiles_pdf
from outgrown.pieces.body import Sex
from outgrown.pieces.choices import Choices, EdgeIs, Hem, Waist
from outgrown.pieces.drafting import draft_pattern
from outgrown.pieces.growing import grow_pattern
from outgrown.pieces.growth import Growth
from outgrown.trace_findings import say_of_print


def told(pattern):
    return [finding.sentence() for finding in pattern.findings if finding.code == "choice-not-used"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"edge_is": EdgeIs.CUT}, "(--edge-is) changed nothing: this garment was not taken apart"),
        ({"is_whole": True}, "(--whole) changed nothing: legs are drawn by their seams"),
        ({"share_up_to_mm": 9.0}, "(--share-up-to) changed nothing: front and back are cut alike"),
        ({"waist": Waist.FOLDED_BAND, "elastic_width_mm": 30.0}, "(--elastic) changed nothing: a folded waistband"),
    ],
)
def test_folded_legs_say_what_they_have_no_use_for(changes, words):
    (said,) = told(kept(**changes))
    assert words in said


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"side_seam": True}, "(--side-seam)"),
        ({"waist_flat_mm": 300.0}, "(--waist-flat)"),
        ({"edge_is": EdgeIs.SEAM}, "(--edge-is)"),
        ({"share_up_to_mm": 9.0}, "(--share-up-to)"),
        ({"is_whole": True, "waist_mm": 500.0}, "(--waist)"),
        ({"is_whole": True, "waist": Waist.ELASTIC_TURNED}, "(--waist-finish)"),
        ({"is_whole": True, "hem": Hem.RAW}, "(--hem)"),
        ({"is_whole": True, "elastic_width_mm": 30.0}, "(--elastic)"),
    ],
)
def test_a_skirt_says_what_it_has_no_use_for(changes, words):
    (said,) = told(skirt(**changes))
    assert f"{words} changed nothing: " in said


def test_what_is_used_is_not_complained_of():
    assert told(kept(waist_flat_mm=260.0, side_seam=True, hem=Hem.MOCK_CUFF, elastic_width_mm=30.0)) == []
    assert told(kept_pair(share_up_to_mm=9.0)) == []
    assert told(skirt(waist_mm=500.0, elastic_width_mm=30.0, hem=Hem.RAW)) == []
    assert told(skirt(is_whole=True)) == []
    panel = draft_pattern(read(truth_of(next(iter(PAIRS)))), Choices(edge_is=EdgeIs.CUT, share_up_to_mm=9.0))
    assert told(panel) == []


@pytest.mark.parametrize(
    ("growth", "words"),
    [
        ({"longer_mm": 20.0, "sex": Sex.GIRL}, "(--sex) changed nothing: the chart goes by ages"),
        ({"longer_mm": 20.0, "waist_then_mm": 500.0}, "(--waist-then) changed nothing"),
        ({"longer_mm": 20.0, "hip_then_mm": 600.0}, "(--hip-then) changed nothing: the hip now was not said"),
    ],
)
def test_growth_says_what_it_has_no_use_for(growth, words):
    (said,) = told(grow_pattern(kept(), Growth(**growth)))
    assert words in said


def test_heights_measured_outrank_ages_and_that_is_told():
    ages = Growth(height_then_mm=1040.0, height_now_mm=1100.0, age_then_months=50.0, age_now_months=62.0, sex=Sex.BOY)
    assert [said.split(" changed")[0] for said in told(grow_pattern(kept(), ages))] == [
        "The ages (--age-then, --age)",
        "Whose growth chart it is (--sex)",
    ]
    chart = Growth(age_then_months=50.0, age_now_months=62.0, sex=Sex.BOY, waist_then_mm=500.0)
    assert told(grow_pattern(kept(), chart)) == []


def test_the_next_size_and_paper_have_forgotten_it():
    """It is for her who makes the pattern now."""
    pattern = kept(is_whole=True)
    assert told(pattern) and told(grow_pattern(pattern, Growth(longer_mm=20.0))) == []
    without = replace(pattern, findings=tuple(f for f in pattern.findings if f.code != "choice-not-used"))
    assert draw_tiles_pdf(pattern) == draw_tiles_pdf(without)


def test_a_bar_of_targets_that_are_not_in_the_photo_is_told_of():
    (said,) = say_of_print((), 149.0)
    assert "(--bar) changed nothing: none were used" in said.text
    assert say_of_print((), None) == []
