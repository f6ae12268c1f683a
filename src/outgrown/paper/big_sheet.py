"""Big sheet: the whole pattern on large paper, sheets or a roll, without joins."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from ..errors import PieceError
from ..pieces.piece import Pattern, Piece
from ..standards import SHEET_SIZES_MM
from ..units import Units, write_cm, write_inch
from .check_block import BLOCK_HEIGHT_MM, BLOCK_WIDTH_MM, draw_check_block
from .choices import BIG_PAPERS, ORIENTATIONS
from .correction import Correction
from .lettering import break_words, limit_lines
from .packing import Packed, pack_pages
from .pages import draw_sheet
from .pdf import PdfSurface
from .sheet import Sheet, find_bounds, move_piece, stand_piece
from .size_lines import layer_names
from .surface import Lettering
from .words import ONE_SIZE, PRINT_RIGHT, choose_units, headline

ROLLS_MM = 300.0, 3000.0
"""Narrower, the check block leaves no room; wider, nobody prints [mm]."""
_MARGIN_MM = 12.0
_GAP_MM = 10.0
_LONGEST_MM = 5000.0
"""A PDF page may be 14 400 points long, ISO 32000-1, annex C: 5080 mm."""
_TITLE_MM, _TEXT_MM, _LEADING = 7.5, 3.6, 1.3
_TITLE_LINES = 3


@dataclass(frozen=True, eq=False)
class _Layout:
    """Pages of pieces: every page's size [mm] and where pieces lie on it; the block comes after the pieces."""

    pieces: tuple[Piece, ...]
    pages: list[Packed]
    size_mm: tuple[float, float]
    is_roll: bool


def draw_sheet_pdf(
    pattern: Pattern,
    paper: str = "a0",
    units: Units | str | None = None,
    *,
    roll_mm: float | None = None,
    orientation: str = "",
    correction: Correction | None = None,
) -> bytes:
    """Return the pattern at exactly 1:1 on large paper as a PDF: whole pieces, as many sheets as needed.

    Args:
        pattern: what to print; at least one piece.
        paper: one of `BIG_PAPERS`.
        units: which unit leads in words; None for the one the pattern was made with.
        roll_mm: width of a roll instead of the paper [mm]; the page is as long as needed.
        orientation: of sheets, one of `ORIENTATIONS`; empty for the one which needs fewer.
        correction: of the printer; across is across the page as it is seen.

    Raises:
        PieceError: the paper is not known, a piece does not fit on it, or there is no piece.
    """
    units = choose_units(pattern, units)
    correction = correction or Correction()
    stretch = correction.stretch(False)
    title = headline(pattern) or "Pattern"
    words = [correction.sentence(), ONE_SIZE if layer_names(pattern) else ""]
    lines = _block_lines(title, pattern.made_on, [sentence for sentence in words if sentence])
    high = sum(size * _LEADING for _, size, _ in lines) + 3 + BLOCK_HEIGHT_MM
    block = (BLOCK_WIDTH_MM, high)
    layout = _lay_out(pattern, block, paper, roll_mm, orientation, stretch)
    surface = PdfSurface(*layout.size_mm, title, PRINT_RIGHT, stretch=stretch, layers=layer_names(pattern))
    count = len(layout.pages)
    for number, packed in enumerate(layout.pages, start=1):
        width, height = layout.size_mm
        if layout.is_roll:
            height = packed.height_mm + 2 * _MARGIN_MM
        surface.set_page_size(width, height, stretch)
        surface.bookmark(f"Sheet {number}")
        corners = {i: (_MARGIN_MM + at.x_mm, height - _MARGIN_MM - at.y_mm) for i, at in packed.places.items()}
        where = f"sheet {number} of {count} · {_paper_words(paper, roll_mm)} · print at 100 %"
        _draw_block(surface, corners[len(layout.pieces)], lines, where)
        placed = [
            _put(piece, packed.places[index].is_turned, corners[index])
            for index, piece in enumerate(layout.pieces)
            if index in corners
        ]
        draw_sheet(surface, pattern, Sheet(tuple(placed), width, height), units)
        surface.end_page()
    return surface.write()


def _lay_out(
    pattern: Pattern,
    block: tuple[float, float],
    paper: str,
    roll_mm: float | None,
    orientation: str,
    stretch: tuple[float, float],
) -> _Layout:
    if not pattern.pieces:
        raise PieceError("This pattern has no piece to draw.", "Make it again from its photo.")
    sizes = [(roll_mm, _LONGEST_MM)] if roll_mm is not None else _paper_sizes(paper, orientation)
    best: _Layout | None = None
    for width, height in sizes:
        size = width / stretch[0], height / stretch[1]
        room = size[0] - 2 * _MARGIN_MM, size[1] - 2 * _MARGIN_MM
        pieces = tuple(_turned_to_fit(piece, room) for piece in pattern.pieces)
        packed = pack_pages([*map(_size, pieces), block], len(pieces), room, _GAP_MM, roll_mm is not None)
        if packed is not None and (best is None or len(packed) < len(best.pages)):
            best = _Layout(pieces, packed, size, roll_mm is not None)
    if best is None:
        raise _too_large(pattern.pieces, paper, roll_mm, stretch[0])
    return best


def _paper_sizes(paper: str, orientation: str) -> list[tuple[float, float]]:
    if paper.lower() not in BIG_PAPERS:
        raise PieceError(
            f"“{paper}” is no paper for one large sheet.", f"Use one of {', '.join(BIG_PAPERS)}, or --as tiles."
        )
    short, long, _ = SHEET_SIZES_MM[paper.lower()]
    both = dict(zip(ORIENTATIONS, [(short, long), (long, short)], strict=True))
    return [both[orientation]] if orientation else list(both.values())


def _size(piece: Piece) -> tuple[float, float]:
    low, high = find_bounds(piece)
    width, height = (high - low).tolist()
    return width, height


def _put(piece: Piece, is_turned: bool, top_left_mm: tuple[float, float]) -> Piece:
    turned = move_piece(piece, 90.0) if is_turned else piece
    low, high = find_bounds(turned)
    return move_piece(turned, 0.0, np.array(top_left_mm) - np.array([low[0], high[1]]))


def _turned_to_fit(piece: Piece, room: tuple[float, float]) -> Piece:
    """Return the piece with its grain upright, or lying where only that fits: paper has no grain."""
    standing = stand_piece(piece)
    width, height = _size(standing)
    if (width > room[0] or height > room[1]) and height <= room[0] and width <= room[1]:
        return move_piece(standing, 90.0)
    return standing


def _too_large(pieces: Sequence[Piece], paper: str, roll_mm: float | None, stretch: float) -> PieceError:
    sizes = [_size(stand_piece(piece)) for piece in pieces]
    if roll_mm is not None:
        widest = max(sizes, key=min)
        need = ceil((max(min(widest), BLOCK_WIDTH_MM) + 2 * _MARGIN_MM) * stretch)
        return PieceError(
            f"The widest piece needs a roll of {_both(need)}, and this one has {_both(roll_mm)}.",
            "Choose a wider roll, or --as tiles.",
        )
    name = pieces[max(range(len(pieces)), key=lambda i: max(sizes[i]))].name
    width, height = max(sizes, key=max)
    return PieceError(
        f"The {name} is {write_cm(width)} wide and {write_cm(height)} high, too large for a sheet of {paper.upper()}.",
        "Choose a larger paper, a roll (--roll 914mm), or --as tiles.",
    )


def _both(length_mm: float) -> str:
    return f"{write_cm(length_mm)} ({write_inch(length_mm)})"


def _paper_words(paper: str, roll_mm: float | None) -> str:
    return f"roll {_both(roll_mm)}" if roll_mm is not None else paper.upper()


def _block_lines(title: str, made_on: str, sentences: Sequence[str]) -> list[tuple[str, float, bool]]:
    """Return (words, size, bold) of the lines above the squares; an empty one is where the sheet's number comes."""
    named = limit_lines(
        break_words(title, BLOCK_WIDTH_MM, _TITLE_MM, True), _TITLE_LINES, BLOCK_WIDTH_MM, _TITLE_MM, True
    )
    lines = [(line, _TITLE_MM, True) for line in named]
    lines += [(made_on, _TEXT_MM, False), ("", _TEXT_MM, False)]
    for sentence, is_bold in ((PRINT_RIGHT, True), *((sentence, False) for sentence in sentences)):
        lines += [(line, _TEXT_MM, is_bold) for line in break_words(sentence, BLOCK_WIDTH_MM, _TEXT_MM, is_bold)]
    return lines


def _draw_block(
    surface: PdfSurface, top_left_mm: tuple[float, float], lines: Sequence[tuple[str, float, bool]], where: str
) -> None:
    left, y = top_left_mm
    for words, size, is_bold in lines:
        y -= size * _LEADING
        surface.text(words or where, (left, y + 0.3 * size), Lettering(size, is_bold))
    draw_check_block(surface, (left, y - 3))
