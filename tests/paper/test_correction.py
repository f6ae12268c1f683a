"""A printer that prints too large or too small, corrected by its bars measured."""

import re

import numpy as np
import pytest
from measuring import all_paths, assert_all_drawn
from reading import open_pdf, page_paths, page_sizes_mm, page_text, squares
from sample_patterns import make_band, make_leg, make_pattern

from outgrown.cli.types import PRINTED_BAR
from outgrown.errors import PieceError
from outgrown.paper.big_sheet import draw_sheet_pdf
from outgrown.paper.correction import NO_CORRECTION, make_correction
from outgrown.paper.pages import draw_tiles_pdf, plan_tiles
from outgrown.paper.printing import Printing

ACROSS, DOWN = 1.008, 0.987  # what an invented printer makes of a millimetre
BARS = ([100 * ACROSS], [100 * DOWN])


def printed_by(page, is_landscape=False):
    """Its paths on paper: the printer's two directions belong to the paper, however the page lies."""
    scale = np.array([DOWN, ACROSS] if is_landscape else [ACROSS, DOWN])
    paths = page_paths(page)
    for path in paths:
        path.points_mm = path.points_mm * scale
    return paths


@pytest.mark.parametrize("orientation", ["portrait", "landscape"])
@pytest.mark.parametrize("paper", ["a4", "letter", "a3", "tabloid"])
def test_tiles_come_out_right_from_a_printer_that_is_off(paper, orientation):
    pattern = make_pattern()
    printing = Printing(paper, orientation=orientation, correction=make_correction(*BARS))
    document = open_pdf(draw_tiles_pdf(pattern, printing))
    is_landscape = orientation == "landscape"
    stretch = (DOWN, ACROSS) if is_landscape else (ACROSS, DOWN)
    tiles = [page for page in document if re.search(r"page \d+ of", page_text(page))]
    assert len(tiles) == len(plan_tiles(pattern, printing)[0].tiles)
    assert_all_drawn(pattern, [path for page in tiles for path in page_paths(page)], stretch)
    cover = printed_by(document[0])
    assert len(squares(cover, 50.0)) == 1 and len(squares(cover, 50.8)) == 1
    for axis in (0, 1):
        bars = [p for p in cover if len(p.points_mm) == 2 and abs(p.size_mm()[axis] - 101.6) < 0.05]
        assert bars
    for page in tiles:
        paths = printed_by(page, is_landscape)
        assert any(abs(p.size_mm()[0] - 101.6) < 0.05 for p in paths if len(p.points_mm) == 2)


def test_the_paper_itself_is_not_stretched():
    corrected = open_pdf(draw_tiles_pdf(make_pattern(), Printing(correction=make_correction(*BARS))))
    assert page_sizes_mm(corrected)[0] == pytest.approx((210.0, 297.0), abs=0.01)


def test_a_large_sheet_comes_out_right_too():
    pattern = make_pattern()
    document = open_pdf(draw_sheet_pdf(pattern, correction=make_correction(*BARS)))
    assert sorted(page_sizes_mm(document)[0]) == pytest.approx([841.0, 1189.0], abs=0.01)
    assert_all_drawn(pattern, all_paths(document), (ACROSS, DOWN))
    assert len(squares(printed_by(document[0]), 50.0)) == 1


def test_bars_of_later_prints_multiply():
    """A print corrected by the first bar still shows 0.3 % too much; both together are right."""
    both = make_correction([100.5, 100.3])
    assert both.across == pytest.approx(1 / (1.005 * 1.003))
    assert both.down == 1.0


def test_an_overshoot_is_taken_back():
    there_and_back = make_correction([102.0, 100 / 1.02])
    assert there_and_back.across == pytest.approx(1.0)


def test_pages_say_which_correction_was_made():
    printing = Printing(correction=make_correction([100.8], [98.7]))
    pages = [page_text(page).replace("\n", " ") for page in open_pdf(draw_tiles_pdf(make_pattern(), printing))]
    assert "0.79 % smaller across" in pages[0] and "1.32 % larger down" in pages[0]
    said = pages[0].replace("\u00a0", " ")
    assert "(bar 100.8 mm)" in said and "(bar 98.7 mm)" in said
    tiles = [text for text in pages if re.search(r"page \d+ of", text)]
    assert tiles
    for text in tiles:
        assert "corrected: 0.79 % smaller across, 1.32 % larger down" in text


def test_without_a_measurement_nothing_is_said_or_changed():
    assert make_correction() == NO_CORRECTION
    assert "Corrected" not in page_text(open_pdf(draw_tiles_pdf(make_pattern()))[0])


@pytest.mark.parametrize("bars", [([94.0], []), ([], [106.0]), ([104.0, 104.0], []), ([0.0], [])])
def test_what_no_printer_does_is_refused(bars):
    with pytest.raises(PieceError, match="more than 5 % off"):
        make_correction(*bars)


def test_a_bar_in_inches_is_measured_to_its_four_inches():
    assert PRINTED_BAR.convert("4in", None, None) == pytest.approx(100.0)
    assert PRINTED_BAR.convert("4 1/32in", None, None) == pytest.approx(100.78, abs=0.01)
    assert PRINTED_BAR.convert("100.8mm", None, None) == pytest.approx(100.8)
    assert PRINTED_BAR.convert("10.08 cm", None, None) == pytest.approx(100.8)


def test_the_whole_bar_in_millimetres_is_taken_for_a_mistake():
    """The bar is 4 in long, 101.6 mm; taken for its 100 mm it would shrink the pattern by 1.6 %."""
    import click

    with pytest.raises(click.BadParameter, match="whole bar"):
        PRINTED_BAR.convert("101.6mm", None, None)


@pytest.mark.parametrize("typed", ["100.8mm", "4 1/32in", "4 1/16in", "99.25mm", "3 31/32in"])
def test_what_is_said_to_keep_can_be_typed_again(typed):
    bar = PRINTED_BAR.convert(typed, None, None)
    said = re.findall(r"--bar-across (\S+)", make_correction([bar]).options())
    assert PRINTED_BAR.convert(said[0], None, None) == pytest.approx(bar, abs=0.015)
    said = re.findall(r"\(bar ([\d.]+\s\w+)", make_correction([bar]).sentence())
    assert PRINTED_BAR.convert(said[0], None, None) == pytest.approx(bar, abs=0.015)


def test_nothing_is_lost_at_the_edges_of_a_stretched_page():
    """The drawing keeps to the margins that printers reach, whatever the correction."""
    for bars in (([95.0], [95.0]), ([105.0], [105.0])):
        printing = Printing(correction=make_correction(*bars))
        document = open_pdf(draw_tiles_pdf(make_pattern(make_leg(), make_band()), printing))
        for page in document:
            for path in page_paths(page):
                if path.clip_mm:
                    x0, y0, x1, y1 = path.clip_mm
                    assert x0 > 6.4 and y0 > 7 and x1 < 210 - 6.4 and y1 < 297 - 6.4
