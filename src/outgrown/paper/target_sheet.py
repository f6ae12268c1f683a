"""Target sheet: pages of targets to cut out, a bar to measure, and the lens sheet."""

from collections.abc import Sequence

from ..camera.targets import (
    BAR_MM,
    SQUARES,
    STRIPS,
    Mark,
    Target,
    lens_sheet_marks_mm,
    lens_sheet_size_mm,
    rectangle_mm,
)
from ..errors import PieceError
from ..standards import SHEET_SIZES_MM
from .lettering import LINE_SHARE, break_words
from .pdf import PdfSurface
from .surface import Anchor, Lettering, Pen, Surface

TARGET_PAPERS = ("a4", "letter")
_MARGIN_MM = 10.0
_INK, _WHITE = Pen(0.1), Pen(0.1, grey=1.0)
_CUT = Pen(0.25, (3.0, 2.0), grey=0.45)
_HEAD_MM, _TEXT_MM, _LETTER_MM = 7.5, 4.0, 4.4
_BAR_HEIGHT_MM = 4.0

_STEPS = (
    "1. Print at 100 % (“actual size”) on plain, matt paper.",
    "2. Measure the black bar from end to end. If it is not 150.0 mm, give the length that it has with each photo.",
    "3. Cut along the dashed lines. The white border belongs to the target.",
    "4. Lay four or more of them, each letter once, flat on the floor close round the garment: one near every corner. "
    "Never on the cloth, and not creased.",
)
_BAR_WORDS = "150 mm (5.91 in) from end to end?"
_GAP_MM = 9.0
_STRIP_STEPS = "Strips measure best: lay one beside each end of the garment."
_SHEET_STEPS = (
    "Lens sheet. Fix it to something flat (or show it full screen, 100 % does not matter) and take 6 photos of it: 2 "
    "from straight above and 4 from a slant, one from each side. It must fill most of the picture and, taken "
    "together, reach into all its corners. Then give all six to the program at once: it learns the lens from them."
)


def draw_targets_pdf(paper: str = "a4") -> bytes:
    """Return the targets to cut out and the lens sheet at exactly 1:1 as a PDF of three pages.

    Args:
        paper: one of `TARGET_PAPERS`.

    Raises:
        PieceError: the paper is not known.
    """
    width, height = _paper_size_mm(paper)
    surface = PdfSurface(width, height, title="Printed targets", subject="Print at 100 %")
    surface.bookmark("Squares")
    _draw_squares(surface, width, height)
    surface.end_page()
    surface.bookmark("Strips")
    _draw_strips(surface, width, height)
    surface.end_page()
    surface.bookmark("Lens sheet")
    _draw_lens_sheet(surface, width, height)
    surface.end_page()
    return surface.write()


def draw_lens_sheet_pdf(paper: str = "a4") -> bytes:
    """Return the lens sheet alone as a PDF of one page.

    Args:
        paper: one of `TARGET_PAPERS`.

    Raises:
        PieceError: the paper is not known.
    """
    width, height = _paper_size_mm(paper)
    surface = PdfSurface(width, height, title="Lens sheet", subject="To print or to show on a screen")
    _draw_lens_sheet(surface, width, height)
    surface.end_page()
    return surface.write()


def _paper_size_mm(paper: str) -> tuple[float, float]:
    if paper.lower() not in TARGET_PAPERS:
        raise PieceError(f"Targets cannot be printed on “{paper}”.", f"Choose one of: {', '.join(TARGET_PAPERS)}.")
    short, long, _ = SHEET_SIZES_MM[paper.lower()]
    return short, long


def _draw_squares(surface: Surface, width: float, height: float) -> None:
    side = SQUARES[0].paper_mm[0]
    top = height - _MARGIN_MM
    surface.text("Printed targets", (_MARGIN_MM, top - 6.0), Lettering(_HEAD_MM, is_bold=True))
    below = _draw_bar(surface, width, _write_lines(surface, _STEPS, top - 15.0, width) - 3.0) - _GAP_MM
    left = (width - 2 * side) / 2
    _draw_cutting_lines(surface, [left, left + side, left + 2 * side], [below, below - side, below - 2 * side])
    for index, target in enumerate(SQUARES):
        at = (left + index % 2 * side, below - (1 + index // 2) * side)
        _draw_target(surface, target, at)
        inner = (at[0] + target.frame[0] + target.bar_mm, at[1] + target.frame[1] + target.bar_mm)
        surface.text(target.letter, (inner[0] + 3.5, inner[1] + 1.9), Lettering(_LETTER_MM, anchor=Anchor.MIDDLE))


def _draw_strips(surface: Surface, width: float, height: float) -> None:
    long, short = STRIPS[0].paper_mm
    left, top = (width - long) / 2, height - _MARGIN_MM
    surface.text(_STRIP_STEPS, (left, top - 4.0), Lettering(_TEXT_MM))
    below = _draw_bar(surface, width, top - 9.0) - min(_GAP_MM, height - 2 * _MARGIN_MM - 4 * short - 20.0)
    _draw_cutting_lines(surface, [left, left + long], [below - short * index for index in range(5)])
    for index, target in enumerate(STRIPS):
        at = (left, below - (1 + index) * short)
        _draw_target(surface, target, at)
        first, second = sorted(target.markers.values())[:2]
        middle = at[0] + (first[0] + target.marker_mm + second[0]) / 2
        surface.text(target.letter, (middle, at[1] + short / 2 - 1.6), Lettering(_LETTER_MM, anchor=Anchor.MIDDLE))


def _draw_lens_sheet(surface: Surface, width: float, height: float) -> None:
    wide, tall = lens_sheet_size_mm()
    size = 3.1
    lines = break_words(_SHEET_STEPS, wide, size)
    words = len(lines) * size * LINE_SHARE
    low = (height - tall - words - 2.0) / 2
    left = (width - wide) / 2
    _fill(surface, "lens sheet", lens_sheet_marks_mm(), (left, low))
    # The words stand outside a quarter of a square of white, so that the outermost corners stay clean.
    y = low + tall + 3.0 + words - size * LINE_SHARE
    for line in lines:
        surface.text(line, (left, y), Lettering(size))
        y -= size * LINE_SHARE


def _draw_target(surface: Surface, target: Target, at_mm: tuple[float, float]) -> None:
    _fill(surface, target.name, target.marks_mm(), at_mm)


def _draw_cutting_lines(surface: Surface, across: Sequence[float], up: Sequence[float]) -> None:
    with surface.group("cut", _CUT):
        for x in across:
            surface.polyline([(x, up[0]), (x, up[-1])])
        for y in up:
            surface.polyline([(across[0], y), (across[-1], y)])


def _fill(surface: Surface, name: str, marks: Sequence[Mark], at_mm: tuple[float, float]) -> None:
    for ring, is_black in marks:
        with surface.group(name, _INK if is_black else _WHITE):
            surface.ring(ring + at_mm, is_filled=True)


def _draw_bar(surface: Surface, width: float, top: float) -> float:
    """Draw the bar to measure, its upper edge at `top`; return where its words end."""
    left = (width - BAR_MM) / 2
    bar = rectangle_mm((left, top - _BAR_HEIGHT_MM, left + BAR_MM, top))
    _fill(surface, "bar", [(bar, True)], (0.0, 0.0))
    surface.text(_BAR_WORDS, (width / 2, top - _BAR_HEIGHT_MM - 4.2), Lettering(3.6, anchor=Anchor.MIDDLE))
    return top - _BAR_HEIGHT_MM - 5.2


def _write_lines(surface: Surface, words: Sequence[str], top: float, width: float) -> float:
    y = top
    for sentence in words:
        for line in break_words(sentence, width - 2 * _MARGIN_MM, _TEXT_MM):
            surface.text(line, (_MARGIN_MM, y), Lettering(_TEXT_MM))
            y -= _TEXT_MM * LINE_SHARE
        y -= 0.8
    return y + _TEXT_MM
