"""Sewing pages and nested sizes as printed."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from paper.reading import open_pdf, page_text
from pieces.test_growing import SIX_CM, kept, kept_pair
from pieces.test_sewing import drafted

from outgrown.paper.pages import draw_tiles_pdf, plan_tiles
from outgrown.paper.recording import RecordingSurface
from outgrown.paper.size_lines import draw_size_lines
from outgrown.paper.sketches import HEIGHT_MM, WIDTH_MM, draw_sketch
from outgrown.pieces.choices import Hem, Machine, Waist
from outgrown.pieces.growing import grow_pattern
from outgrown.pieces.nesting import nest_patterns
from outgrown.pieces.sewing import Sketch


def sewing_pages(pattern, paper="a4"):
    return [page_text(p) for p in open_pdf(draw_tiles_pdf(pattern, paper)) if "ISO 4915" in page_text(p)]


@pytest.mark.parametrize(("machine", "waist"), list(product(Machine, Waist)))
def test_steps_follow_the_tiles_on_one_page_with_the_cautions(machine, waist):
    pattern = drafted(machine, waist, Hem.MOCK_CUFF)
    document = open_pdf(draw_tiles_pdf(pattern))
    tiles = len(plan_tiles(pattern)[0].tiles)
    texts = [page_text(page) for page in document]
    (at,) = [i for i, text in enumerate(texts) if "ISO 4915" in text]
    assert at == len(texts) - 1 and at > tiles
    assert "Close the inseams" in texts[at] and "16 CFR" in texts[at]


def test_they_are_left_out_when_not_wished_for():
    pattern = drafted()
    without = replace(pattern, choices={**pattern.choices, "has_steps": False})
    assert len(sewing_pages(pattern)) == 1
    assert sewing_pages(without) == []


@pytest.mark.parametrize("sketch", Sketch)
def test_sketches_stay_in_their_box_and_have_lines(sketch):
    surface = RecordingSurface()
    draw_sketch(surface, sketch, (10.0, 20.0))
    points = np.vstack([item.path_mm() for item in surface.items])
    low, high = points.min(axis=0), points.max(axis=0)
    assert (low > np.array([9.0, 19.0])).all()
    assert (high < np.array([10.0 + WIDTH_MM + 3.0, 20.0 + HEIGHT_MM + 1.0])).all()
    assert len(surface.segments_mm()) > 4


@pytest.mark.parametrize("base", [kept(), kept_pair(), kept_pair(side_seam=True)], ids=["fold", "joined", "side seam"])
def test_nested_sizes_are_told_apart_by_bars_that_can_be_counted(base):
    other = grow_pattern(base, replace(SIX_CM, height_now_mm=1160.0))
    nested = nest_patterns([base, grow_pattern(base, SIX_CM), other], ["104 cm", "110 cm", "116 cm"])
    for piece in nested.pieces:
        surface = RecordingSurface()
        draw_size_lines(surface, piece)
        bars = {}
        for item in surface.items:
            if len(item.points_mm) == 2:
                bars[item.names[-1]] = bars.get(item.names[-1], 0) + 1
        assert set(bars) == {"cut line, 110 cm", "cut line, 104 cm"}
        one, two = bars["cut line, 110 cm"], bars["cut line, 104 cm"]
        assert one > 10 and two % 2 == 0 and abs(two / 2 - one) < 4
    text = " ".join(page_text(page) for page in open_pdf(draw_tiles_pdf(nested)))
    for words in ("116 cm: no bar", "110 cm: one bar", "104 cm: two bars"):
        assert words in text.replace("\n", " ").replace("\r", "")
