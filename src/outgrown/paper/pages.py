"""Pages: the whole pattern as home-printer tiles in one PDF, and as one SVG."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..arrays import Flags, Floats, frozen
from ..errors import PieceError
from ..geometry.polylines import thin_line
from ..pieces.piece import Pattern
from ..units import Units
from .cover import draw_cover
from .draw_piece import draw_piece
from .joining import draw_joins
from .pdf import PdfSurface
from .printing import A4, Printing
from .recording import Item, RecordingSurface, Stroke, draw_items, item_segments_mm
from .scale import draw_scale_bar, draw_square
from .sewing_pages import draw_sewing_pages, has_sewing_pages
from .sheet import Sheet, arrange_pieces, move_piece
from .size_lines import layer_names
from .surface import Pages, Surface
from .svg import SvgSurface
from .svg_pages import SvgPages
from .tile_frame import draw_borders, draw_foot
from .tiles import (
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


def draw_tiles_pdf(pattern: Pattern, printing: Printing | str = A4, units: Units | str | None = None) -> bytes:
    """Return the pattern at exactly 1:1 as a PDF: a first page to check and read, then tiles to join.

    Args:
        pattern: what to print; at least one piece.
        printing: how, or only the paper's name.
        units: which unit leads in words, `mm` or `inch`; None for the one the pattern was made with.

    Raises:
        PieceError: the paper is not known, or there is no piece.
    """
    printing = Printing(printing) if isinstance(printing, str) else printing
    size, stretch = printing.upright_mm(), printing.correction.stretch(False)
    title, layers = headline(pattern) or "Pattern", layer_names(pattern)
    surface = PdfSurface(*size, title, PRINT_RIGHT, stretch=stretch, layers=layers)
    draw_pages(surface, pattern, printing, units)
    return surface.write()


def draw_pages_svg(pattern: Pattern, printing: Printing | str = A4, units: Units | str | None = None) -> list[str]:
    """Return the same pages as SVG documents, to look at; see `draw_tiles_pdf`."""
    printing = Printing(printing) if isinstance(printing, str) else printing
    surface = SvgPages(*printing.upright_mm(), headline(pattern) or "Pattern")
    draw_pages(surface, pattern, printing, units)
    return surface.write()


def draw_pages(surface: Pages, pattern: Pattern, printing: Printing, units: Units | str | None = None) -> None:
    """Draw a first page to check and read, tiles to join, and the sewing pages; see `draw_tiles_pdf`."""
    units = choose_units(pattern, units)
    tiling, items = plan_tiles(pattern, printing, units)
    correction, page = printing.correction, tiling.page
    size, stretch = printing.upright_mm(), correction.stretch(False)
    title = headline(pattern)
    notes = draw_cover(surface, size, pattern, tiling, printing, units)
    surface.set_page_size(page.width_mm, page.height_mm, correction.stretch(page.is_landscape))
    marks = RecordingSurface()
    draw_joins(marks, tiling, item_segments_mm(items))
    drawn = [*items, *marks.items]
    bounds = np.array([(path.min(axis=0), path.max(axis=0)) for path in (item.path_mm() for item in drawn)])
    count = len(tiling.tiles)
    for number, tile in enumerate(tiling.tiles, start=1):
        surface.bookmark(f"Page {tile.name}")
        _draw_tile(surface, tiling, tile, [drawn[i] for i in np.flatnonzero(_shows(tile, bounds))])
        where = f"{pattern.made_on} · page {number} of {count} · print at 100 %"
        lines = (title, where, correction.short())
        draw_foot(surface, page, tile.name, lines if lines[-1] else lines[:2])
        surface.end_page()
    if has_sewing_pages(pattern):
        surface.set_page_size(*size, stretch)
        draw_sewing_pages(surface, size, pattern, units, notes)


def plan_tiles(
    pattern: Pattern, printing: Printing | str = A4, units: Units | str | None = None
) -> tuple[Tiling, list[Item]]:
    """Return the tiles needed and everything drawn on the sheet.

    Raises:
        PieceError: the paper is not known, or there is no piece.
    """
    printing = Printing(printing) if isinstance(printing, str) else printing
    units = choose_units(pattern, units)
    tiling = choose_tiling(find_sheets(pattern), printing.pages())
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
    sizes = pattern.choices.get("nested") or ()
    for piece in sheet.pieces:
        draw_piece(surface, piece, label_lines(pattern, piece, units), clear, sizes)


def draw_svg(pattern: Pattern, units: Units | str | None = None) -> str:
    """Return the whole pattern at 1:1 as SVG in millimetres, with named groups.

    Raises:
        PieceError: there is no piece.
    """
    units = choose_units(pattern, units)
    sheet = min(find_sheets(pattern), key=lambda s: (s.width_mm + 60) * (s.height_mm + 60))
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


def find_sheets(pattern: Pattern) -> list[Sheet]:
    """Return the ways to lay the pieces side by side.

    Raises:
        PieceError: there is no piece.
    """
    if not pattern.pieces:
        raise PieceError("This pattern has no piece to draw.", "Make it again from its photo.")
    return arrange_pieces(pattern.pieces)


def _draw_tile(surface: Pages, tiling: Tiling, tile: Tile, items: Sequence[Item]) -> None:
    page = tiling.page
    low, (width, height) = page.low_mm, page.window_mm
    high = (low[0] + width, low[1] + height)
    shift = (low[0] - tile.low_mm[0], low[1] - tile.low_mm[1])
    with surface.window(low, high, shift):
        draw_items(surface, items)
    draw_borders(surface, tiling, tile, low, high)


def _shows(tile: Tile, bounds_mm: Floats) -> Flags:
    """Tell for each of (N, 2, 2) lower left and upper right corners whether a tile shows any of it."""
    low, high = np.array(tile.low_mm) - 1, np.array(tile.high_mm) + 1
    shows: Flags = np.all((bounds_mm[:, 1] >= low) & (bounds_mm[:, 0] <= high), axis=1)
    return shows
