"""Paper speaks to somebody who may never have seen a command line, perhaps a year later."""

import re
from dataclasses import replace

import pytest
from reading import open_pdf, page_text
from sample_patterns import make_band, make_leg, make_pattern

from outgrown.findings import Finding
from outgrown.lay.cloth import Bolt, Rules
from outgrown.lay_steps import draw_lay, lay_on_bolt
from outgrown.paper.big_sheet import draw_sheet_pdf
from outgrown.paper.correction import make_correction
from outgrown.paper.pages import draw_tiles_pdf
from outgrown.paper.printing import Printing
from outgrown.paper.target_sheet import draw_targets_pdf

NOTES = (
    Finding("a", "The elastic's length is not known.", "Measure the waist and give it, too (--waist)."),
    Finding("b", "Kept long ago.", "Say --waist-flat with what you find."),
)
PATTERN = replace(make_pattern(make_leg(), make_band()), findings=NOTES)
CORRECTED = make_correction([100.8], [98.7, 101.6])


@pytest.mark.parametrize(
    "draw",
    [
        lambda: draw_tiles_pdf(PATTERN, Printing(correction=CORRECTED)),
        lambda: draw_sheet_pdf(PATTERN, correction=CORRECTED),
        draw_targets_pdf,
        lambda: draw_lay(lay_on_bolt([PATTERN], Bolt(1400.0, True, 10.0), Rules(seconds=0.2)))["lay.pdf"],
    ],
    ids=["tiles", "sheet", "targets", "lay"],
)
def test_no_page_names_an_option(draw):
    text = "\n".join(page_text(page) for page in open_pdf(draw()))
    assert len(text) > 100
    assert re.findall(r"--[a-z]+", text) == []


def test_the_advice_is_there_in_plain_words():
    text = re.sub(r"\s+", " ", " ".join(page_text(page) for page in open_pdf(draw_tiles_pdf(PATTERN))))
    assert "Measure the waist and give it, too." in text
    assert "Say “waist flat” with what you find." in text
