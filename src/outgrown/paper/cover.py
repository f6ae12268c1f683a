"""Cover: the first page, to check the printer by and to read before cutting."""

from collections.abc import Callable, Sequence
from typing import Protocol

from ..findings import Severity
from ..pieces.choices import Units
from ..pieces.piece import Pattern
from ..standards import INCH_MM
from . import styles
from .key import draw_key
from .lettering import break_words, limit_lines, shorten_words
from .page_map import draw_map
from .pdf import PdfSurface
from .recording import RecordingSurface
from .scale import BAR_LENGTH_MM, draw_scale_bar, draw_square
from .surface import Lettering, Surface
from .tiles import FOOT_MARGIN_MM, SIDE_MARGIN_MM, Tiling
from .words import (
    CAUTION,
    HOW_TO_JOIN,
    IF_OFF,
    PRINT_RIGHT,
    allowance_lines,
    capitalised,
    headline,
    write_length,
    write_size,
)

_TOP_MARGIN_MM = 10.0
_TEXT_MM = 3.4
_LEADING = 1.25
_HEADING_MM = 4.2
_GAP_MM = 2.6
_SHARES = (1.0, 0.95, 0.9, 0.85)
_TITLE_SIZES_MM = (7.5, 6.0, 5.0)


class PagedSurface(Surface, Protocol):
    """A surface of several pages."""

    def end_page(self) -> None:
        """Finish the page; what follows is drawn on the next."""


class ProofPages(RecordingSurface):
    """Pages drawn only to count them."""

    def end_page(self) -> None:
        """Go on as if on another page."""


class CoverWriter:
    """Writes down a page, line by line, and begins the next page where one is full.

    Args:
        surface: to draw on.
        size_mm: width and height of the page [mm].
        running_title: at the head of pages after the first.
        share: of their full size that text and gaps have.
    """

    def __init__(self, surface: PagedSurface, size_mm: tuple[float, float], running_title: str, share: float) -> None:
        self.surface = surface
        self.share = share
        self.pages = 1
        self.width, self.height = size_mm
        self.left = SIDE_MARGIN_MM
        self.right = self.width - SIDE_MARGIN_MM
        self.y = self.height - _TOP_MARGIN_MM
        self._running_title = running_title

    def need(self, height_mm: float) -> None:
        """Begin another page if fewer than `height_mm` are left on this one."""
        if self.y - height_mm < FOOT_MARGIN_MM:
            self.surface.end_page()
            self.pages += 1
            self.y = self.height - _TOP_MARGIN_MM
            words = shorten_words(self._running_title, self.right - self.left, _TEXT_MM)
            self.y -= _TEXT_MM
            self.surface.text(words, (self.left, self.y), Lettering(_TEXT_MM, grey=styles.TRIM_GREY))
            self.y -= 3

    def keep_together(self, write: Callable[["CoverWriter"], None]) -> None:
        """Write a section on one page, the next one if need be; a section longer than a page is broken."""
        size = self.width, self.height
        proof = CoverWriter(ProofPages(), size, self._running_title, self.share)
        proof.y = self.y
        write(proof)
        if proof.pages > 1:
            fresh = CoverWriter(ProofPages(), size, self._running_title, self.share)
            fresh.need(self.height)
            write(fresh)
            if fresh.pages == 2:
                self.need(self.height)
        write(self)

    def skip(self, height_mm: float) -> None:
        """Leave room."""
        self.y -= height_mm

    def heading(self, words: str, followed_by_mm: float = 6.0) -> None:
        """Write a heading over a thin rule, not alone at the foot of a page."""
        size = _HEADING_MM * self.share
        self.skip(_GAP_MM * self.share)
        self.need(size * 1.6 + followed_by_mm)
        self.y -= size
        self.surface.text(words, (self.left, self.y), Lettering(size, is_bold=True))
        self.y -= 1.5
        with self.surface.group("rule", styles.RULE):
            self.surface.polyline([(self.left, self.y), (self.right, self.y)])
        self.y -= 1.0

    def paragraph(self, words: str, size_mm: float = _TEXT_MM, is_bold: bool = False, most: int = 99) -> None:
        """Write words over as many lines as they need."""
        size_mm *= self.share
        lines = break_words(words, self.right - self.left, size_mm, is_bold)
        for line in limit_lines(lines, most):
            self.need(size_mm * _LEADING)
            self.y -= size_mm * _LEADING
            self.surface.text(line, (self.left, self.y + size_mm * 0.25), Lettering(size_mm, is_bold))

    def table(self, rows: Sequence[tuple[str, ...]], shares: tuple[float, ...], has_head: bool = True) -> None:
        """Write rows in columns whose widths are `shares` of the page's."""
        whole, size = self.right - self.left, _TEXT_MM * self.share
        starts = [self.left + whole * sum(shares[:i]) for i in range(len(shares))]
        for number, row in enumerate(rows):
            is_bold = has_head and number == 0
            cells = [
                break_words(words, whole * share - 2, size, is_bold) or [""]
                for words, share in zip(row, shares, strict=True)
            ]
            high = max(map(len, cells)) * size * _LEADING
            self.need(high)
            for start, lines in zip(starts, cells, strict=True):
                for depth, line in enumerate(lines, start=1):
                    y = self.y - depth * size * _LEADING + size * 0.25
                    self.surface.text(line, (start, y), Lettering(size, is_bold))
            self.y -= high + 0.25


def draw_cover(
    surface: PdfSurface,
    size_mm: tuple[float, float],
    pattern: Pattern,
    tiling: Tiling,
    paper: str,
    units: Units,
) -> None:
    """Draw the first page (and another where much is to be said), and finish it.

    Text is made a little smaller where that saves the second page.
    """
    job = (pattern, tiling, paper, units)
    share = next((share for share in _SHARES if _write(ProofPages(), size_mm, share, *job) == 1), 1.0)
    surface.bookmark("First page: check, map, cut list")
    _write(surface, size_mm, share, *job)
    surface.end_page()


def _write(
    surface: PagedSurface,
    size_mm: tuple[float, float],
    share: float,
    pattern: Pattern,
    tiling: Tiling,
    paper: str,
    units: Units,
) -> int:
    """Write the cover with text at a share of its size, and return the number of pages it takes."""
    title = headline(pattern) or "Pattern"
    writer = CoverWriter(surface, size_mm, title, share)
    wide = writer.right - writer.left
    size = next((s for s in _TITLE_SIZES_MM if len(break_words(title, wide, s, True)) <= 2), _TITLE_SIZES_MM[-1])
    writer.paragraph(title, size, is_bold=True, most=3)
    count = len(tiling.tiles)
    pages = "1 page" if count == 1 else f"{count} pages"
    way = "landscape" if tiling.page.is_landscape else "portrait"
    made = f"{pattern.made_on} · " if pattern.made_on else ""
    writer.paragraph(f"{made}this page and {pages} of pattern on {_paper_words(paper)}, {way}", 3.8)
    writer.skip(2)
    _draw_check_and_map(writer, tiling)
    if tiling.joins:
        writer.paragraph(HOW_TO_JOIN, _TEXT_MM)
    _write_cut_list(writer, pattern, units)
    _write_allowances(writer, pattern, units)
    _write_measurements(writer, pattern, units)
    writer.keep_together(lambda on: _write_findings(on, pattern))
    writer.keep_together(_write_care)
    return writer.pages


def _paper_words(paper: str) -> str:
    return paper.upper() if len(paper) <= 2 else paper.capitalize()


def _draw_check_and_map(writer: CoverWriter, tiling: Tiling) -> None:
    """Draw squares and bars to measure, the key to the lines, and the map to the right of them."""
    surface = writer.surface
    writer.paragraph(PRINT_RIGHT, 3.9 / writer.share, is_bold=True)
    writer.skip(3)
    top, left = writer.y, writer.left + 5
    inch = 2 * INCH_MM.value
    draw_scale_bar(surface, (left, top - BAR_LENGTH_MM), is_upright=True)
    inner, right = left + 9, left + 9 + 50 + 5 + inch
    draw_square(surface, (inner, top - 50), 50.0, "50 mm")
    draw_square(surface, (inner + 50 + 5, top - inch), inch, "2 in")
    y = top - inch - 3
    for line in break_words(IF_OFF, right - inner, 3.2):
        y -= 3.2 * _LEADING
        surface.text(line, (inner, y), Lettering(3.2))
    draw_key(surface, (inner, y - 5), right - inner)
    bottom = top - BAR_LENGTH_MM - 7.5
    draw_scale_bar(surface, (inner, bottom + 5.5))
    draw_map(surface, tiling, (right + 7, bottom), (writer.right, top))
    writer.y = bottom - 1


def _write_cut_list(writer: CoverWriter, pattern: Pattern, units: Units) -> None:
    if not pattern.cut_list:
        return
    rows: list[tuple[str, ...]] = [("what", "cut", "length × width", "from", "note")]
    for row in pattern.cut_list:
        rows.append((row.name, str(row.quantity), write_size(row, units), row.material, row.note))
    writer.heading("Cut list")
    writer.table(rows, (0.125, 0.055, 0.305, 0.13, 0.385))


def _write_allowances(writer: CoverWriter, pattern: Pattern, units: Units) -> None:
    writer.heading("Allowances used (inside the cut line)")
    rows = [(capitalised(piece.name), "; ".join(allowance_lines(piece, units))) for piece in pattern.pieces]
    writer.table(rows, (0.14, 0.86), has_head=False)


def _write_measurements(writer: CoverWriter, pattern: Pattern, units: Units) -> None:
    if not pattern.measurements:
        return
    writer.heading("Measured on the garment")
    rows = []
    for found in pattern.measurements:
        doubt = f"  ±\u00a0{found.doubt_mm:.1f}\u00a0mm" if found.doubt_mm is not None else ""
        rows.append((found.name, write_length(found.value_mm, units) + doubt, found.how))
    writer.table(rows, (0.14, 0.3, 0.56), has_head=False)
    median, p95 = pattern.expected_error_mm
    if p95 > 0:
        words = f"The outline should be right within {median:.1f} mm at half of its points, {p95:.1f} mm at 19 of 20."
        writer.paragraph(words, 3.0)


def _write_care(writer: CoverWriter) -> None:
    writer.heading("Take care")
    writer.paragraph(CAUTION, 3.0)


def _write_findings(writer: CoverWriter, pattern: Pattern) -> None:
    if not pattern.findings:
        return
    writer.heading("Please note")
    for finding in sorted(pattern.findings, key=lambda f: f.severity is not Severity.WARNING):
        writer.paragraph(f"• {finding.sentence()}", _TEXT_MM)
