"""Tiles laid over one another, none cut: both pages show the strip, the line and two crosses to pin through."""

import re

import numpy as np
import pytest
from measuring import FINE_MM, assert_all_drawn
from reading import open_pdf, page_paths, page_text
from sample_patterns import make_band, make_leg, make_pattern

from outgrown.errors import PieceError
from outgrown.paper.joining import place_crosses
from outgrown.paper.pages import draw_tiles_pdf, plan_tiles
from outgrown.paper.printing import Printing
from outgrown.paper.recording import item_segments_mm

LARGE = make_pattern(make_leg(330, 1050, 320, 130, 10, 40, 46), make_band(700, 160, 10))
UNTRIMMED = Printing("a4", overlap_mm=15.0, is_untrimmed=True)


@pytest.fixture(scope="module")
def tiled():
    tiling, items = plan_tiles(LARGE, UNTRIMMED)
    document = open_pdf(draw_tiles_pdf(LARGE, UNTRIMMED))
    pages = [page for page in document if re.search(r"page \d+ of \d+", page_text(page))]
    return tiling, items, dict(zip(tiling.tiles, pages, strict=True))


def on_sheet(tiling, tile, points):
    return np.asarray(points) - tiling.page.low_mm + tile.low_mm


def crosses_on(tiling, tile, page):
    """Middles of crosses on a page, in the sheet's millimetres: two short lines that halve each other."""
    short = [p.points_mm for p in page_paths(page) if len(p.points_mm) == 2 and abs(p.length_mm() - 6.4) < FINE_MM]
    middles = on_sheet(tiling, tile, [points.mean(axis=0) for points in short])
    return middles[[np.sum(np.hypot(*(middles - m).T) < FINE_MM) > 1 for m in middles]]


def test_both_pages_of_a_join_show_both_crosses_at_one_place(tiled):
    tiling, items, pages = tiled
    segments = item_segments_mm(items)
    assert len(tiling.joins) > 5
    for join in tiling.joins:
        for middle in place_crosses(join, 15.0, segments):
            for tile in (join.below, join.above):
                found = crosses_on(tiling, tile, pages[tile])
                assert np.hypot(*(found - middle).T).min() < FINE_MM
                # The whole cross lies on both pages, not half of it.
                assert (middle - 3.2 > tile.low_mm).all() and (middle + 3.2 < tile.high_mm).all()


def test_the_crosses_of_a_join_are_far_apart(tiled):
    tiling, items, _ = tiled
    for join in tiling.joins:
        one, other = place_crosses(join, 15.0, item_segments_mm(items))
        assert np.hypot(*(other - one)) > 0.15 * np.hypot(*np.subtract(join.end_mm, join.start_mm))


def test_both_pages_show_the_same_line(tiled):
    tiling, _, pages = tiled
    for join in tiling.joins:
        for tile in (join.below, join.above):
            lines = [p for p in page_paths(pages[tile]) if len(p.points_mm) == 2 and p.clip_mm is None]
            axis = 0 if join.is_upright else 1
            at = [on_sheet(tiling, tile, p.points_mm)[:, axis] for p in lines if p.size_mm()[axis] < 1e-3]
            assert min(abs(a[0] - join.start_mm[axis]) for a in at) < FINE_MM


def test_words_tell_to_cut_no_page(tiled):
    _, _, pages = tiled
    text = " ".join(page_text(page) for page in pages.values())
    assert "do not cut: lay this line on the same line of" in text
    assert "cut along this line" not in text
    cover = page_text(open_pdf(draw_tiles_pdf(LARGE, UNTRIMMED))[0]).replace("\n", " ")
    assert "no page is cut" in cover and "pin" in cover


def test_lines_have_their_lengths(tiled):
    assert_all_drawn(LARGE, [path for page in tiled[2].values() for path in page_paths(page)], within_mm=FINE_MM)


@pytest.mark.parametrize("orientation", ["portrait", "landscape"])
def test_pages_lie_as_asked(orientation):
    tiling, _ = plan_tiles(LARGE, Printing("a4", orientation=orientation))
    assert tiling.page.is_landscape == (orientation == "landscape")


@pytest.mark.parametrize("overlap", [8.0, 12.0, 25.0])
def test_pages_overlap_as_asked(overlap):
    tiling, _ = plan_tiles(LARGE, Printing("a4", overlap_mm=overlap))
    for join in tiling.joins:
        shared = np.minimum(join.below.high_mm, join.above.high_mm) - np.maximum(join.below.low_mm, join.above.low_mm)
        assert shared.min() == pytest.approx(overlap)


@pytest.mark.parametrize("wish", [{"overlap_mm": 1.0}, {"overlap_mm": 90.0}, {"orientation": "upside down"}])
def test_what_cannot_be_joined_is_refused(wish):
    with pytest.raises(PieceError):
        Printing("a4", **wish)
