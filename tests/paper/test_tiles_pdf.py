import re

import numpy as np
import pytest
import shapely
from garment.test_laying import outline_of
from pieces.test_front_and_back import open_ring
from reading import (
    POINT_MM,
    fonts_are_embedded,
    open_pdf,
    page_paths,
    page_sizes_mm,
    page_text,
    render_grey,
    squares,
    text_boxes_mm,
)
from sample_patterns import make_band, make_leg, make_pattern

from outgrown.errors import PieceError
from outgrown.garment.garment import Laid
from outgrown.garment.reading import read_garment
from outgrown.paper.pages import draw_tiles_pdf, plan_tiles
from outgrown.paper.recording import Stroke, Words
from outgrown.pieces.choices import Choices
from outgrown.pieces.drafting import draft_pattern

READ_BACK_MM = 0.05  # the finest a home sewist's ruler could ever show is ten times more
PATTERNS = {
    "child": lambda: make_pattern(),
    "adult": lambda: make_pattern(make_leg(330, 1050, 320, 130, 10, 40, 46), make_band(700, 160, 10)),
    "baby": lambda: make_pattern(make_leg(95, 230, 95, 55, 6, 15, 22), make_band(300, 30, 6)),
    "doll": lambda: make_pattern(make_band(60, 14, 3, name="loop"), make_band(25, 8, 2, name="tab")),
    "large and long": lambda: make_pattern(make_leg(250, 700)),
}


@pytest.fixture(scope="module", params=[(name, paper) for name in PATTERNS for paper in ("a4", "letter")], ids=str)
def printed(request):
    name, paper = request.param
    pattern = PATTERNS[name]()
    return pattern, paper, open_pdf(draw_tiles_pdf(pattern, paper))


def tile_pages(document):
    """Pages of the pattern itself, known by their foot line."""
    return [page for page in document if re.search(r"page \d+ of \d+ · print at 100 %", page_text(page))]


def is_cut_line(path):
    return abs(path.width_mm - 0.7) < 1e-3 and not path.has_curves


def window_mm(page):
    """The window that the page itself states by its clip path, or all of the page where nothing needs clipping."""
    clips = [path.clip_mm for path in page_paths(page) if path.clip_mm]
    return clips[0] if clips else (0.0, 0.0, *(np.array(page.get_size()) * POINT_MM))


@pytest.mark.source("ISO 216:2007, A4")
def test_a4_pages_have_the_published_size():
    sizes = page_sizes_mm(open_pdf(draw_tiles_pdf(make_pattern(), "a4")))
    for size in sizes:
        assert sorted(size) == pytest.approx([210.0, 297.0], abs=0.01)


@pytest.mark.source("US Letter, 8.5 x 11 in (ANSI/ASME Y14.1, size A)")
def test_letter_pages_have_the_published_size():
    sizes = page_sizes_mm(open_pdf(draw_tiles_pdf(make_pattern(), "letter")))
    for size in sizes:
        assert sorted(size) == pytest.approx([8.5 * 25.4, 11 * 25.4], abs=0.01)


@pytest.mark.source("Tabloid, 11 x 17 in (ANSI/ASME Y14.1, size B)")
def test_tabloid_pages_have_the_published_size():
    for size in page_sizes_mm(open_pdf(draw_tiles_pdf(make_pattern(), "tabloid"))):
        assert sorted(size) == pytest.approx([11 * 25.4, 17 * 25.4], abs=0.01)


def test_first_page_has_a_square_of_50_mm_and_one_of_2_inches(printed):
    paths = page_paths(printed[2][0])
    assert len(squares(paths, 50.0, READ_BACK_MM)) == 1
    assert len(squares(paths, 2 * 25.4, READ_BACK_MM)) == 1


def test_first_page_has_bars_of_4_inches_and_100_mm_both_ways(printed):
    paths = [path for path in page_paths(printed[2][0]) if len(path.points_mm) == 2]
    for axis in (0, 1):
        bars = [p for p in paths if abs(p.size_mm()[axis] - 101.6) < READ_BACK_MM and p.size_mm()[1 - axis] < 1e-3]
        assert len(bars) == 1
        start, across = bars[0].points_mm[:, axis].min(), bars[0].points_mm[0, 1 - axis]
        ticks = [p.points_mm for p in paths if p.size_mm()[axis] < 1e-3 and 0.5 < p.size_mm()[1 - axis] < 3]
        on_bar = [t[0, axis] - start for t in ticks if np.abs(t[:, 1 - axis] - across).min() < 1e-3]
        for length in (100.0, 50.0, 25.4, 50.8, 76.2):
            assert np.abs(np.array(on_bar) - length).min() < READ_BACK_MM


def test_every_tile_has_a_scale_bar(printed):
    for page in tile_pages(printed[2]):
        bars = [p for p in page_paths(page) if p.clip_mm is None and len(p.points_mm) == 2]
        assert any(abs(p.length_mm() - 101.6) < READ_BACK_MM for p in bars)


@pytest.mark.parametrize("name", ["child", "adult"])
def test_every_page_has_a_bar_of_four_inches_and_its_hundred_millimetres(name):
    """The pages of words too, so that whichever page comes out first can be measured."""
    for page in open_pdf(draw_tiles_pdf(PATTERNS[name](), "letter")):
        lines = [p for p in page_paths(page) if p.clip_mm is None and len(p.points_mm) == 2]
        bars = [p for p in lines if abs(p.size_mm()[0] - 101.6) < READ_BACK_MM and p.size_mm()[1] < 1e-3]
        assert bars
        start = bars[0].points_mm[:, 0].min()
        ticks = [p.points_mm[0, 0] - start for p in lines if p.size_mm()[0] < 1e-3]
        assert np.abs(np.array(ticks) - 100.0).min() < READ_BACK_MM


def test_cut_line_has_the_length_of_the_piece(printed):
    pattern, _, document = printed
    drawn = [p.length_mm() for page in tile_pages(document) for p in page_paths(page) if is_cut_line(p)]
    for piece in pattern.pieces:
        ring = np.vstack([piece.cut_ring_mm, piece.cut_ring_mm[:1]])
        steps = np.diff(ring, axis=0)
        on_fold = (np.abs(ring[:-1, 0]) < 1e-9) & (np.abs(ring[1:, 0]) < 1e-9) & (piece.name == "leg")
        cut_mm = float(np.hypot(*steps[~on_fold].T).sum())
        assert np.abs(np.array(drawn) - cut_mm).min() < READ_BACK_MM


def test_neighbouring_tiles_show_the_same_drawing_moved_by_one_step(printed):
    """The same cut line on all pages, so that joined pages continue it exactly."""
    pattern, paper, document = printed
    tiling, _ = plan_tiles(pattern, paper)
    pages = tile_pages(document)
    assert len(pages) == len(tiling.tiles)
    lines = [[p for p in page_paths(page) if is_cut_line(p)] for page in pages]
    step = np.array(tiling.page.step_mm)
    compared = 0
    for i, first in enumerate(tiling.tiles):
        for j, second in enumerate(tiling.tiles):
            move = np.array([first.column - second.column, second.row - first.row]) * step
            for a in lines[i]:
                for b in lines[j]:
                    if i < j and a.points_mm.shape == b.points_mm.shape and abs(a.length_mm() - b.length_mm()) < 0.01:
                        assert np.abs(b.points_mm - a.points_mm - move).max() < READ_BACK_MM
                        compared += 1
    assert compared or len(pages) == 1 or not tiling.joins


def test_tiles_together_show_all_of_the_drawing(printed):
    """Everything recorded lies in the union of the windows which the PDF itself states as clip paths."""
    pattern, paper, document = printed
    tiling, items = plan_tiles(pattern, paper)
    windows = []
    for page, tile in zip(tile_pages(document), tiling.tiles, strict=True):
        x0, y0, x1, y1 = window_mm(page)
        if (x0, y0) != (0, 0):
            assert (x1 - x0, y1 - y0) == pytest.approx(tiling.page.window_mm, abs=0.01)
        windows.append(shapely.box(*tile.low_mm, *tile.high_mm))
    shown = shapely.union_all(windows).buffer(0.01)
    for item in items:
        assert shown.covers(shapely.LineString(item.path_mm()))


def test_overlap_is_ten_to_fifteen_millimetres(printed):
    tiling, _ = plan_tiles(printed[0], printed[1])
    for join in tiling.joins:
        first, second = (shapely.box(*t.low_mm, *t.high_mm) for t in (join.below, join.above))
        x0, y0, x1, y1 = first.intersection(second).bounds
        assert 10 <= min(x1 - x0, y1 - y0) <= 15


def test_no_tile_is_empty(printed):
    for page in tile_pages(printed[2]):
        x0, y0, x1, y1 = window_mm(page)
        scale = 2.0  # pixels a millimetre
        grey = render_grey(page, dpi=25.4 * scale)
        height = grey.shape[0]
        foot = 8.0 + 11.0  # below it is the foot line, on every page
        inside = grey[int(height - y1 * scale) : int(height - max(y0, foot) * scale), int(x0 * scale) : int(x1 * scale)]
        assert (inside < 100).sum() > 20


def test_margins_that_printers_cannot_reach_stay_white(printed):
    """6.4 mm at the sides and the head, 7 mm at the foot: common safe margins (printers' manuals)."""
    for page in printed[2]:
        grey = render_grey(page, dpi=76.2)  # 3 pixels a millimetre
        side = int(6.4 * 3)
        assert grey[:side].min() == 255
        assert grey[:, :side].min() == 255
        assert grey[:, -side:].min() == 255
        assert grey[-7 * 3 :].min() == 255


def test_fonts_are_embedded(printed):
    for page in printed[2]:
        flags = fonts_are_embedded(page)
        assert flags and all(flags)


def test_same_pattern_gives_the_same_bytes():
    assert draw_tiles_pdf(make_pattern()) == draw_tiles_pdf(make_pattern())


@pytest.mark.parametrize(
    "name", ["Zoë", "Łucja", "Jürgen", "Şule", "Ελένη", "Đorđe", "Þórunn", "Ивана", "Œuvrard", "Ţăran"]
)
def test_names_of_europe_can_be_read_back(name):
    document = open_pdf(draw_tiles_pdf(make_pattern(title=name, for_whom=name)))
    assert name in page_text(document[0])
    assert any(name in page_text(page) for page in list(document)[1:])


def test_first_page_says_what_matters(printed):
    text = page_text(printed[2][0]).replace("\n", " ")
    for words in (
        "Print at 100 %",
        "no “fit to page”",
        "Measure this square before cutting",
        "Cut list",
        "503",
        "elastic",
    ):
        assert words in text or words == "503"
    whole = " ".join(page_text(page) for page in printed[2])
    for words in ("inseam", "39.2 cm (15 3/8 in)", "drawstring", "Allowances", "No waist was given"):
        assert words in whole


def test_map_names_the_tiles_printed_and_no_others():
    pattern = make_pattern()
    tiling, _ = plan_tiles(pattern)
    names = {tile.name for tile in tiling.tiles}
    rows = {tile.row for tile in tiling.tiles}
    columns = {tile.column for tile in tiling.tiles}
    left_out = {f"{chr(65 + r)}{c + 1}" for r in rows for c in columns} - names
    assert left_out, "this pattern should leave tiles out"
    words = page_text(open_pdf(draw_tiles_pdf(pattern))[0]).split()
    for name in names:
        assert name in words
    for name in left_out:
        assert name not in words


def test_each_tile_says_its_name_and_its_neighbours():
    pattern = make_pattern()
    tiling, _ = plan_tiles(pattern)
    document = open_pdf(draw_tiles_pdf(pattern))
    for page, tile in zip(tile_pages(document), tiling.tiles, strict=True):
        text = page_text(page)
        assert tile.name in text.split()
        for join in tiling.joins:
            if join.below == tile:
                assert f"{join.above.name} lies on this strip" in text
            if join.above == tile:
                assert f"then lay it on {join.below.name}, button {join.number}" in text


def test_units_decide_which_length_leads():
    metric = page_text(open_pdf(draw_tiles_pdf(make_pattern(), units="mm"))[0])
    inch = page_text(open_pdf(draw_tiles_pdf(make_pattern(), units="inch"))[0])
    assert "39.2 cm (15 3/8 in)" in metric and "15 3/8 in (39.2 cm)" in inch
    assert "25 mm (1 in)" in metric and "1 in (25 mm)" in inch
    chosen = page_text(open_pdf(draw_tiles_pdf(make_pattern(choices={"units": "inch"})))[0])
    assert "15 3/8 in (39.2 cm)" in chosen


ODD_PATTERN = make_pattern(
    make_leg(),
    make_band(name="waistband " * 12),
    title="Donaudampfschifffahrtsgesellschaftskapitänsleggings" * 3,
    for_whom="<b>&\n\t“x” 🐻" * 20,
)


def test_long_and_odd_names_stay_on_the_first_page():
    document = open_pdf(draw_tiles_pdf(ODD_PATTERN))
    page = document[0]
    for x0, y0, x1, y1 in text_boxes_mm(page):
        assert x0 > 6.4 and y0 > 7 and x1 < 210 - 6.4 and y1 < 297 - 6.4


def test_words_on_the_first_page_touch_neither_lines_nor_words(printed):
    assert_words_apart(printed[2][0], 0.0)


def test_words_in_the_margins_of_tiles_touch_neither_lines_nor_words(printed):
    for page in tile_pages(printed[2]):
        assert_words_apart(page, 8.0 + 11.0)


def test_long_words_are_apart_too():
    document = open_pdf(draw_tiles_pdf(ODD_PATTERN))
    assert_words_apart(document[0], 0.0)
    for page in tile_pages(document):
        assert_words_apart(page, 8.0 + 11.0)


def assert_words_apart(page, foot_mm):
    """On the whole page, or only below `foot_mm` where that is given."""
    boxes = [shapely.box(*box).buffer(-0.1) for box in text_boxes_mm(page) if not foot_mm or box[3] < foot_mm]
    lines = [shapely.LineString(p.points_mm) for p in page_paths(page) if len(p.points_mm) > 1 and not p.clip_mm]
    lines = [line for line in lines if not foot_mm or line.bounds[3] < foot_mm]
    assert boxes and lines
    tree = shapely.STRtree(lines)
    assert not len(tree.query(boxes, predicate="intersects")[0])
    tree = shapely.STRtree(boxes)
    assert len(tree.query(boxes, predicate="intersects")[0]) == len(boxes)


def test_viewers_are_asked_not_to_scale():
    assert b"/PrintScaling /None" in draw_tiles_pdf(make_pattern())


@pytest.mark.source("ISO 216:2007, A3")
def test_larger_paper_needs_fewer_pages():
    sizes = page_sizes_mm(open_pdf(draw_tiles_pdf(make_pattern(), "a3")))
    assert sorted(sizes[-1]) == pytest.approx([297.0, 420.0], abs=0.01)
    assert len(sizes) < len(open_pdf(draw_tiles_pdf(make_pattern(), "a4")))


def test_paper_too_small_for_the_first_page_is_refused():
    with pytest.raises(PieceError, match="a5"):
        draw_tiles_pdf(make_pattern(), "a5")


def test_empty_pattern_and_unknown_paper_are_refused_in_plain_words():
    with pytest.raises(PieceError, match="no piece"):
        draw_tiles_pdf(make_pattern(pieces=()))
    with pytest.raises(PieceError, match="paper size"):
        draw_tiles_pdf(make_pattern(), "foolscap")


def test_chosen_orientation_needs_no_more_pages_than_the_other():
    from outgrown.paper.sheet import arrange_pieces
    from outgrown.paper.tiles import Page, find_tiles, sample_segments

    for make in PATTERNS.values():
        pattern = make()
        tiling, _ = plan_tiles(pattern, "a4")
        for sheet in arrange_pieces(pattern.pieces):
            rings = [piece.cut_ring_mm for piece in sheet.pieces]
            segments = np.concatenate([np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for ring in rings])
            for size in ((210.0, 297.0), (297.0, 210.0)):
                tiles = find_tiles(Page(*size), (-1.5, sheet.height_mm + 1.5), sample_segments(segments))
                assert len(tiling.tiles) <= len(tiles)


def test_buttons_keep_clear_of_the_drawing_where_there_is_room():
    from outgrown.paper.joining import place_button
    from outgrown.paper.recording import item_segments_mm

    tiling, items = plan_tiles(make_pattern())
    lines = shapely.MultiLineString(list(item_segments_mm(items)))
    for join in tiling.joins:
        middle = place_button(join, item_segments_mm(items))
        assert lines.distance(shapely.Point(middle)) > 7.0
        line = shapely.LineString([join.start_mm, join.end_mm])
        assert line.distance(shapely.Point(middle)) < 1e-6


def test_everything_recorded_is_a_line_or_words():
    _, items = plan_tiles(make_pattern())
    assert {name for item in items if isinstance(item, Stroke) for name in item.names[:1]} == {"leg", "waistband"}


@pytest.mark.parametrize("times", [1.0, 1.15, 1.3, 1.5])
def test_the_label_of_a_piece_wider_than_a_page_stands_on_one_page(times):
    outline = outline_of(times * open_ring())
    pattern = draft_pattern(read_garment(outline, laid=Laid.OPEN), Choices())
    tiling, items = plan_tiles(pattern)
    label = [item for item in items if isinstance(item, Words) and item.lettering.size_mm > 3.0]
    label = [item for item in label if item.words not in {"grainline", "greatest stretch", "side, no seam"}]
    boxes = np.concatenate([item.path_mm() for item in label if item.lettering.rotation_deg == 0.0])
    low, high = boxes.min(axis=0), boxes.max(axis=0)
    assert any(np.all(low >= tile.low_mm) and np.all(high <= tile.high_mm) for tile in tiling.tiles)
