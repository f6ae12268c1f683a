"""`pattern.json` alone gives every other output again, byte for byte."""

from dataclasses import replace

import numpy as np
import pytest
from garment.test_kinds import QUIET, skirt
from garment.test_laying import outline_of
from pieces.legs import garment_of
from pieces.test_front_and_back import BACK, FRONT, open_ring
from shapes import Leg

from outgrown import steps
from outgrown.drawer.archive import read_pattern_json
from outgrown.garment.garment import EdgeName, Laid
from outgrown.garment.reading import read_garment
from outgrown.pieces.choices import Choices, EdgeIs, Hem, Machine, Waist
from outgrown.pieces.drafting import draft_pattern
from outgrown.units import Units

ALL_CHOSEN = Choices(
    title="Kites",
    for_whom="Zoë",
    date="2024-02-29",
    waist_mm=520.0,
    waist_flat_mm=300.0,
    elastic_width_mm=15.0,
    machine=Machine.SEWING_MACHINE,
    hem=Hem.RIBBED_CUFF,
    waist=Waist.FOLDED_BAND,
    cuff_height_mm=45.0,
    band_height_mm=55.0,
    allowance_mm={EdgeName.INSEAM: 9.0},
    units=Units.INCH,
    kind="trousers",
    laid="folded",
    side_seam=True,
    edge_is=EdgeIs.CUT,
    share_up_to_mm=8.0,
    paper="letter",
)
PATTERNS = {
    "one photo": lambda: draft_pattern(garment_of(Leg()), replace(ALL_CHOSEN, side_seam=False)),
    "two photos": lambda: draft_pattern(garment_of(FRONT), ALL_CHOSEN, back=garment_of(BACK)),
    "one-piece leg": lambda: draft_pattern(garment_of(FRONT), Choices(), back=garment_of(BACK)),
    "open": lambda: draft_pattern(read_garment(outline_of(open_ring()), laid=Laid.OPEN), Choices()),
    "skirt": lambda: draft_pattern(
        read_garment(outline_of(QUIET.ring(skirt())), kind="skirt", laid=Laid.OTHER), Choices()
    ),
}


@pytest.mark.parametrize("name", PATTERNS)
def test_every_output_is_drawn_again_byte_for_byte(name):
    files = steps.draw_pattern_files(PATTERNS[name]())
    assert set(files) == {"pattern.pdf", "pattern.svg", "pattern.json"}
    again = steps.draw_pattern_files(read_pattern_json(files["pattern.json"].decode("utf-8")))
    assert again == files


def test_every_choice_is_kept_and_drafts_the_same_pieces():
    pattern = PATTERNS["two photos"]()
    kept = read_pattern_json(steps.draw_pattern_files(pattern)["pattern.json"].decode("utf-8"))
    choices = Choices.from_json(kept.choices)
    assert choices == ALL_CHOSEN
    again = draft_pattern(garment_of(FRONT), choices, back=garment_of(BACK))
    for one, other in zip(pattern.pieces, again.pieces, strict=True):
        assert np.array_equal(one.cut_ring_mm, other.cut_ring_mm)


def test_another_paper_is_kept_with_the_pattern():
    files = steps.draw_pattern_files(PATTERNS["one-piece leg"](), "letter")
    kept = read_pattern_json(files["pattern.json"].decode("utf-8"))
    assert kept.choices["paper"] == "letter"
    assert steps.draw_pattern_files(kept)["pattern.pdf"] == files["pattern.pdf"]
