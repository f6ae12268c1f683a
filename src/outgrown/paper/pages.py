"""Pages: the whole pattern as home-printer tiles in one PDF, and as one SVG."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..arrays import Floats, frozen
from ..errors import PieceError
from ..geometry.polylines import thin_line
from ..pieces.choices import Units
from ..pieces.piece import Pattern
from ..standards import SHEET_SIZES_MM
from . import styles
from .cover import draw_cover
from .draw_piece import draw_piece
from .joining import draw_joins
from .lettering import measure_words_mm, shorten_words
from .pdf import PdfSurface
from .recording import Item, RecordingSurface, Stroke, draw_items, item_segments_mm
from .scale import BAR_LENGTH_MM, draw_scale_bar, draw_square
from .sewing_pages import draw_sewing_pages, has_sewing_pages
from .sheet import Sheet, arrange_pieces, move_piece
from .surface import Anchor, Lettering, Surface
from .svg import SvgSurface
from .tiles import (
    FOOT_MARGIN_MM,
    OVERLAP_MM,
    SIDE_MARGIN_MM,
    Join,
    Page,
    Tile,
    Tiling,
    choose_tiling,
    find_tiles,
    make_tile,
    sample_segments,
)
from .words import PRINT_RIGHT, choose_units, headline, label_lines

_SVG_MARGIN_MM = 10.0
_THIN_MM = 0.005
"""An eighth of a dot at 600 dots to the inch."""
_DENSE = 20
_NARROWEST_MM = 200.0
"""Squares, bars and map of the first page need so much."""
PAPERS = tuple(name for name, (short, _, _) in SHEET_SIZES_MM.items() if short >= _NARROWEST_MM)
"""Names of the paper sizes that can be printed on."""


def draw_tiles_pdf(
    pattern: Pattern, paper: str = "a4", units: Units | str | None = None, overlap_mm: float = OVERLAP_MM
) -> bytes:
    """Return the pattern at exactly 1:1 as a PDF: a first page to check and read, then tiles to join.

    Args:
        pattern: what to print; at least one piece.
        paper: one of `PAPERS`, e.g. `a4`, `letter`, `a3`.
        units: which unit leads in words, `mm` or `inch`; None for the one the pattern was made with.
        overlap_mm: strip shown on both neighbours [mm].

    Raises:
        PieceError: the paper is not known, or there is no piece.
    """
    units = choose_units(pattern, units)
    tiling, items = plan_tiles(pattern, paper, units, overlap_mm)
    short, long, _ = SHEET_SIZES_MM[paper.lower()]
    surface = PdfSurface(short, long, title=headline(pattern) or "Pattern", subject=PRINT_RIGHT)
    notes = draw_cover(surface, (short, long), pattern, tiling, paper, units)
    surface.set_page_size(tiling.page.width_mm, tiling.page.height_mm)
    marks = RecordingSurface()
    draw_joins(marks, tiling, item_segments_mm(items))
    for number, tile in enumerate(tiling.tiles, start=1):
        surface.bookmark(f"Page {tile.name}")
        _draw_tile(surface, tiling, tile, [*items, *marks.items])
        _draw_foot(surface, tiling.page, tile, headline(pattern), pattern.made_on, number, len(tiling.tiles))
        surface.end_page()
    if has_sewing_pages(pattern):
        surface.set_page_size(short, long)
        draw_sewing_pages(surface, (short, long), pattern, notes)
    return surface.write()


def plan_tiles(
    pattern: Pattern, paper: str = "a4", units: Units | str | None = None, overlap_mm: float = OVERLAP_MM
) -> tuple[Tiling, list[Item]]:
    """Return the tiles needed and everything drawn on the sheet.

    Raises:
        PieceError: the paper is not known, or there is no piece.
    """
    paper = paper.lower()
    if paper not in PAPERS:
        raise PieceError(f"“{paper}” is not a paper size known here.", f"Use one of {', '.join(PAPERS)}.")
    units = choose_units(pattern, units)
    tiling = choose_tiling(_sheets(pattern), paper, overlap_mm)
    # Pages within a piece show no cut line; what is drawn on the piece may need them none the less.
    joins = replace(tiling, tiles=_whole_grid(tiling)).joins
    lines = np.concatenate([np.zeros((0, 2, 2)), *(_strip_mm(join, tiling.page) for join in joins)])
    recorded = RecordingSurface()
    draw_sheet(recorded, pattern, tiling.sheet, units, lines)
    points = sample_segments(recorded.segments_mm(), 0.5)
    tiles = find_tiles(tiling.page, tiling.origin_mm, points)
    return Tiling(tiling.sheet, tiling.page, tiling.origin_mm, tiles), [_thinned(item) for item in recorded.items]


def _thinned(item: Item) -> Item:
    """Return the item without points that no printer shows, each line being drawn again on every page it crosses."""
    if not isinstance(item, Stroke) or item.is_curve or len(item.points_mm) < _DENSE:
        return item
    # A ring keeps its first point and its last.
    return replace(item, points_mm=frozen(thin_line(item.points_mm, _THIN_MM)))


def _whole_grid(tiling: Tiling) -> tuple[Tile, ...]:
    """Return every tile of the rows and columns that are in use, in reading order."""
    rows, columns = (1 + max(places) for places in zip(*((t.row, t.column) for t in tiling.tiles), strict=True))
    return tuple(make_tile(tiling.page, tiling.origin_mm, row, column) for row, column in np.ndindex(rows, columns))


def _strip_mm(join: Join, page: Page) -> Floats:
    """Return (4, 2, 2) lines that fill the strip glued, which words had better keep out of [mm]."""
    line = np.array([join.start_mm, join.end_mm])
    strip = np.array([page.overlap_mm, 0.0]) if join.is_upright else np.array([0.0, -page.overlap_mm])
    return np.stack([line + strip * share for share in np.linspace(0.0, 1.0, 4)])


def draw_sheet(
    surface: Surface, pattern: Pattern, sheet: Sheet, units: Units, keep_clear_mm: Floats | None = None
) -> None:
    """Draw all pieces where they lie on the sheet."""
    clear = np.zeros((0, 2, 2)) if keep_clear_mm is None else keep_clear_mm
    for piece in sheet.pieces:
        draw_piece(surface, piece, label_lines(pattern, piece, units), clear)


def draw_svg(pattern: Pattern, units: Units | str | None = None) -> str:
    """Return the whole pattern at 1:1 as SVG in millimetres, with named groups.

    Raises:
        PieceError: there is no piece.
    """
    units = choose_units(pattern, units)
    sheet = min(_sheets(pattern), key=lambda s: (s.width_mm + 60) * (s.height_mm + 60))
    check_height = 78.0
    width = max(sheet.width_mm, 120.0) + 2 * _SVG_MARGIN_MM
    height = sheet.height_mm + check_height + 2 * _SVG_MARGIN_MM
    surface = SvgSurface(width, height, headline(pattern) or "Pattern")
    moved = tuple(move_piece(piece, 0.0, (_SVG_MARGIN_MM, _SVG_MARGIN_MM)) for piece in sheet.pieces)
    shifted = Sheet(moved, sheet.width_mm, sheet.height_mm)
    draw_sheet(surface, pattern, shifted, units)
    top = height - _SVG_MARGIN_MM
    with surface.group("scale check"):
        draw_square(surface, (_SVG_MARGIN_MM, top - 50), 50.0, "50 mm")
        draw_square(surface, (_SVG_MARGIN_MM + 60, top - 50.8), 50.8, "2 in")
        draw_scale_bar(surface, (_SVG_MARGIN_MM, top - 62))
    return surface.write()


def _sheets(pattern: Pattern) -> list[Sheet]:
    if not pattern.pieces:
        raise PieceError("This pattern has no piece to draw.", "Make it again from its photo.")
    return arrange_pieces(pattern.pieces)


def _draw_tile(surface: PdfSurface, tiling: Tiling, tile: Tile, items: Sequence[Item]) -> None:
    page = tiling.page
    low, (width, height) = page.low_mm, page.window_mm
    high = (low[0] + width, low[1] + height)
    shift = (low[0] - tile.low_mm[0], low[1] - tile.low_mm[1])
    with surface.window(low, high, shift):
        draw_items(surface, [item for item in items if _shows(item, tile)])
    _draw_borders(surface, tiling, tile, low, high)


def _shows(item: Item, tile: Tile) -> bool:
    path = item.path_mm()
    low, high = path.min(axis=0), path.max(axis=0)
    return bool(np.all(high >= np.array(tile.low_mm) - 1) and np.all(low <= np.array(tile.high_mm) + 1))


def _draw_borders(
    surface: PdfSurface, tiling: Tiling, tile: Tile, low: tuple[float, float], high: tuple[float, float]
) -> None:
    """Draw trim lines at the left and the top, glue lines at the right and the foot, where there are neighbours."""
    (x0, y0), (x1, y1), strip = low, high, tiling.page.overlap_mm
    small = 2.5
    for join in tiling.joins:
        other = join.above if join.below == tile else join.below
        if tile not in (join.above, join.below):
            continue
        anchor = Anchor.MIDDLE
        words_on = f"then lay it on {other.name}, button {join.number}"
        words_under = f"glue: {other.name} lies on this strip"
        if join.above == tile:
            with surface.group("trim line", styles.TRIM):
                surface.polyline([(x0, y0), (x0, y1)] if join.is_upright else [(x0, y1), (x1, y1)])
            words = f"cut along this line, {words_on}"
            if join.is_upright:
                place, turn = (x0 - 1.2, (y0 + y1) / 2), 90.0
            else:
                place, turn = ((x0 + x1) / 2, y1 + 1.2), 0.0
        else:
            with surface.group("glue line", styles.GLUE):
                if join.is_upright:
                    surface.polyline([(x1 - strip, y0), (x1 - strip, y1)])
                else:
                    surface.polyline([(x0, y0 + strip), (x1, y0 + strip)])
            words = words_under
            if join.is_upright:
                place, turn = (x1 + 0.8 + small * 0.75, (y0 + y1) / 2), 90.0
            else:
                # At the left end, above the pattern's name: the right end is the scale bar's.
                place, turn, anchor = (x0, y0 - 0.8 - small * 0.75), 0.0, Anchor.START
        surface.text(words, place, Lettering(small, False, turn, anchor, styles.TRIM_GREY))


def _draw_foot(surface: PdfSurface, page: Page, tile: Tile, title: str, made_on: str, number: int, count: int) -> None:
    """Write the page's name, the pattern's name and a scale bar below the window."""
    left, right, base = SIDE_MARGIN_MM, page.width_mm - SIDE_MARGIN_MM, FOOT_MARGIN_MM
    bar = right - BAR_LENGTH_MM
    surface.text(tile.name, (left, base + 0.8), Lettering(8.0, is_bold=True))
    after = left + measure_words_mm(tile.name, 8.0, True) + 4
    room = bar - 6 - after
    surface.text(shorten_words(title, room, 2.8), (after, base + 4.3), Lettering(2.8))
    words = f"{made_on} · page {number} of {count} · print at 100 %"
    surface.text(shorten_words(words, room, 2.4), (after, base + 0.9), Lettering(2.4, grey=0.2))
    draw_scale_bar(surface, (bar, base + 4.4), size_mm=2.2)
