"""Projector page: the whole pattern on one page at 1:1, in a frame of known size to set the projector by."""

from math import ceil

import numpy as np

from ..errors import PieceError
from ..pieces.piece import Pattern
from ..standards import INCH_MM
from ..units import write_cm, write_inch
from .bold import BoldSurface
from .choices import Grid
from .draw_piece import draw_piece
from .lettering import measure_words_mm, shorten_words
from .pages import find_sheets
from .pdf import PdfSurface
from .sheet import Sheet, move_piece
from .size_lines import layer_names
from .surface import Anchor, Lettering, Pen, Surface
from .words import headline, short_label_lines

LETTERS = 2.2
"""Times their size on paper: read from where one stands at a table, with a projector's coarse dots."""
_PAD_MM = 30.0
_OUTSIDE_MM = 20.0
_STRIP_MM = 150.0
"""At the foot: squares to measure, and words."""
_NARROWEST_MM = 700.0
_LONGEST_MM = 5000.0
"""A PDF page may be 14 400 points long, ISO 32000-1, annex C: 5080 mm."""
_TICK_MM = 12.0
_WORDS_MM = 13.0
_FRAME, _SQUARE, _GRID = Pen(0.7), Pen(0.4), Pen(0.3, grey=0.72)
_GRID_MM = {Grid.NONE: 100.0, Grid.CM: 100.0, Grid.INCH: 4 * INCH_MM.value}


def draw_projector_pdf(pattern: Pattern, *, is_dark: bool = False, grid: Grid = Grid.NONE) -> bytes:
    """Return the whole pattern as one PDF page at 1:1, as large as it needs.

    Args:
        pattern: what to show; at least one piece.
        is_dark: white lines on black, for dark cloth or a bright room.
        grid: lines every 10 cm or every 4 in; with none, only the frame is divided, every 10 cm.

    Raises:
        PieceError: there is no piece, or they need a page larger than a PDF can have.
    """
    sheet = min(find_sheets(pattern), key=lambda s: (s.width_mm + 2 * _PAD_MM) * (s.height_mm + _STRIP_MM))
    step = _GRID_MM[grid]
    frame_width = step * ceil(max(sheet.width_mm + 2 * _PAD_MM, _NARROWEST_MM) / step)
    frame_height = step * ceil((sheet.height_mm + 2 * _PAD_MM + _STRIP_MM) / step)
    width, height = frame_width + 2 * _OUTSIDE_MM, frame_height + 2 * _OUTSIDE_MM
    if max(width, height) > _LONGEST_MM:
        raise PieceError(
            f"These pieces need a page of {write_cm(width)} × {write_cm(height)}, more than a PDF page can have.",
            "Use --as sheet with --roll.",
        )
    title = headline(pattern) or "Pattern"
    page = PdfSurface(width, height, title, "For a projector, at 1:1", layers=layer_names(pattern))
    if is_dark:
        with page.group("background", Pen(0.1)):
            page.ring([(0, 0), (width, 0), (width, height), (0, height)], is_filled=True)
    surface = BoldSurface(page, is_dark)
    low = np.array([_OUTSIDE_MM, _OUTSIDE_MM])
    high = low + np.array([frame_width, frame_height])
    _draw_frame(surface, low, high, step, grid)
    _draw_strip(surface, low, high, title, step)
    room = np.array([frame_width, frame_height - _STRIP_MM])
    corner = low + np.array([0.0, _STRIP_MM]) + (room - np.array([sheet.width_mm, sheet.height_mm])) / 2
    placed = Sheet(tuple(move_piece(p, 0.0, corner) for p in sheet.pieces), sheet.width_mm, sheet.height_mm)
    sizes = pattern.choices.get("nested") or ()
    for piece in placed.pieces:
        # Letters to be read from afar leave no room for more; name and date stand in the strip.
        draw_piece(surface, piece, short_label_lines(pattern, piece), sizes=sizes, letters=LETTERS)
    page.end_page()
    return page.write()


def _draw_frame(surface: Surface, low: np.ndarray, high: np.ndarray, step: float, grid: Grid) -> None:
    (x0, y0), (x1, y1) = low, high
    across, up = np.arange(x0 + step, x1 - 1, step), np.arange(y0 + step, y1 - 1, step)
    if grid is not Grid.NONE:
        with surface.group("grid", _GRID):
            for x in across:
                surface.polyline([(x, y0), (x, y1)])
            for y in up:
                surface.polyline([(x0, y), (x1, y)])
    with surface.group("frame", _FRAME):
        surface.ring([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
        for x in across:
            surface.polyline([(x, y0), (x, y0 + _TICK_MM)])
            surface.polyline([(x, y1), (x, y1 - _TICK_MM)])
        for y in up:
            surface.polyline([(x0, y), (x0 + _TICK_MM, y)])
            surface.polyline([(x1, y), (x1 - _TICK_MM, y)])


def _draw_strip(surface: Surface, low: np.ndarray, high: np.ndarray, title: str, step: float) -> None:
    """Draw a square of 10 cm and one of 4 in, and say how large the frame is."""
    x, y = (low + 24.0).tolist()
    for side, words in ((100.0, "10 cm"), (4 * INCH_MM.value, "4 in")):
        with surface.group(f"test square {words}", _SQUARE):
            surface.ring([(x, y), (x + side, y), (x + side, y + side), (x, y + side)])
        surface.text(words, (x + side / 2, y + side / 2 - 5), Lettering(16.0, True, anchor=Anchor.MIDDLE))
        x += side + 24.0
    room = float(high[0]) - 24.0 - x
    size_mm = high - low
    is_metric = step == _GRID_MM[Grid.CM]
    cm = " × ".join(f"{length / 10:.2f}".rstrip("0").rstrip(".") for length in size_mm) + " cm"
    inch = " × ".join(write_inch(length, 16).removesuffix(" in") for length in size_mm) + " in"
    # The frame is whole in the unit of its steps.
    first, second = (cm, inch) if is_metric else (inch, cm)
    apart = "10 cm" if is_metric else "4 in"
    lines = [
        (title, 16.0, True),
        (f"Frame {first}", _WORDS_MM, False),
        (f"({second})", _WORDS_MM, False),
        (f"One step along the frame: {apart}", _WORDS_MM, False),
    ]
    top = y + 100.0
    for words, size, is_bold in lines:
        size = min(size, size * room / max(measure_words_mm(words, size, is_bold), 1.0)) if words != title else size
        top -= size * 1.1
        surface.text(shorten_words(words, room, size, is_bold), (x, top), Lettering(size, is_bold))
        top -= size * 0.45
