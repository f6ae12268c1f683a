"""Cover: the first page, to check the printer by and to read before cutting."""

from collections.abc import Sequence

from ..pieces.piece import Pattern
from ..standards import INCH_MM
from . import styles
from .lettering import break_words, limit_lines
from .page_map import draw_map
from .pdf import PdfSurface
from .scale import BAR_LENGTH_MM, draw_scale_bar, draw_square
from .surface import Lettering
from .tiles import FOOT_MARGIN_MM, SIDE_MARGIN_MM, Tiling
from .words import CAUTION, PRINT_RIGHT, Units, allowance_lines, headline, write_length

_TOP_MARGIN_MM = 11.0
_TEXT_MM = 3.7
_LEADING = 1.34
_HEADING_MM = 4.6
_GAP_MM = 5.0


class CoverWriter:
    """Writes down a page, line by line, and begins the next page where one is full."""

    def __init__(self, surface: PdfSurface, size_mm: tuple[float, float]) -> None:
        self.surface = surface
        self.width, self.height = size_mm
        self.left = SIDE_MARGIN_MM
        self.right = self.width - SIDE_MARGIN_MM
        self.y = self.height - _TOP_MARGIN_MM

    def need(self, height_mm: float) -> None:
        """Begin another page if fewer than `height_mm` are left on this one."""
        if self.y - height_mm < FOOT_MARGIN_MM:
            self.surface.end_page()
            self.y = self.height - _TOP_MARGIN_MM

    def skip(self, height_mm: float) -> None:
        """Leave room."""
        self.y -= height_mm

    def heading(self, words: str, followed_by_mm: float = 8.0) -> None:
        """Write a heading over a thin rule, not alone at the foot of a page."""
        self.need(_HEADING_MM * 1.6 + followed_by_mm)
        self.y -= _HEADING_MM
        self.surface.text(words, (self.left, self.y), Lettering(_HEADING_MM, is_bold=True))
        self.y -= 1.6
        with self.surface.group("rule", styles.RULE):
            self.surface.polyline([(self.left, self.y), (self.right, self.y)])
        self.y -= 1.4

    def paragraph(self, words: str, size_mm: float = _TEXT_MM, is_bold: bool = False, most: int = 99) -> None:
        """Write words over as many lines as they need."""
        lines = break_words(words, self.right - self.left, size_mm, is_bold)
        for line in limit_lines(lines, most):
            self.need(size_mm * _LEADING)
            self.y -= size_mm * _LEADING
            self.surface.text(line, (self.left, self.y + size_mm * 0.25), Lettering(size_mm, is_bold))

    def table(self, rows: Sequence[tuple[str, ...]], shares: tuple[float, ...], has_head: bool = True) -> None:
        """Write rows in columns whose widths are `shares` of the page's."""
        whole = self.right - self.left
        starts = [self.left + whole * sum(shares[:i]) for i in range(len(shares))]
        for number, row in enumerate(rows):
            is_bold = has_head and number == 0
            cells = [
                break_words(words, whole * share - 3, _TEXT_MM, is_bold) or [""]
                for words, share in zip(row, shares, strict=True)
            ]
            high = max(map(len, cells)) * _TEXT_MM * _LEADING
            self.need(high)
            for start, lines in zip(starts, cells, strict=True):
                for depth, line in enumerate(lines, start=1):
                    y = self.y - depth * _TEXT_MM * _LEADING + _TEXT_MM * 0.25
                    self.surface.text(line, (start, y), Lettering(_TEXT_MM, is_bold))
            self.y -= high + 0.6


def draw_cover(
    surface: PdfSurface,
    size_mm: tuple[float, float],
    pattern: Pattern,
    tiling: Tiling,
    paper: str,
    units: Units,
) -> None:
    """Draw the first page (and another where much is to be said), and finish it."""
    writer = CoverWriter(surface, size_mm)
    surface.bookmark("First page: check, map, cut list")
    count = len(tiling.tiles)
    title = headline(pattern) or "Pattern"
    writer.paragraph(title, 8.0, is_bold=True, most=2)
    pages = "1 page" if count == 1 else f"{count} pages"
    way = "landscape" if tiling.page.is_landscape else "upright"
    writer.paragraph(f"{pattern.made_on} · this page and {pages} of pattern on {_paper_words(paper)}, {way}")
    writer.skip(3)
    _draw_check_and_map(writer, tiling)
    _write_joining(writer, tiling)
    _write_cut_list(writer, pattern, units)
    _write_allowances(writer, pattern, units)
    _write_measurements(writer, pattern, units)
    _write_findings(writer, pattern)
    writer.skip(_GAP_MM * 0.6)
    writer.heading("Take care")
    writer.paragraph(CAUTION, 3.2)
    surface.end_page()


def _paper_words(paper: str) -> str:
    return paper.upper() if len(paper) <= 2 else paper.capitalize()


def _draw_check_and_map(writer: CoverWriter, tiling: Tiling) -> None:
    surface = writer.surface
    writer.paragraph(PRINT_RIGHT, 4.2, is_bold=True)
    writer.skip(3)
    top = writer.y
    left = writer.left + 7
    bottom = top - BAR_LENGTH_MM - 7
    draw_scale_bar(surface, (left, bottom + 7), is_upright=True)
    draw_scale_bar(surface, (left + 7, bottom + 4))
    inch = 2 * INCH_MM.value
    draw_square(surface, (left + 9, top - 50), 50.0, "50 mm")
    draw_square(surface, (left + 9 + 50 + 5, top - inch), inch, "2 in")
    note_x, note_y = left + 9, top - inch - 6
    notes = (
        "Measure the squares and both bars, across and down. If the",
        "long bar is more than 0.5 mm (1/64 in) off, look for “100 %”,",
        "“actual size” or “none” under page scaling, and print again.",
    )
    for number, line in enumerate(notes):
        surface.text(line, (note_x, note_y - number * 4.6), Lettering(3.3))
    map_left = left + 7 + BAR_LENGTH_MM + 12
    draw_map(surface, tiling, (map_left, bottom), (writer.right, top))
    writer.y = bottom - 4


def _write_joining(writer: CoverWriter, tiling: Tiling) -> None:
    if not tiling.joins:
        return
    writer.heading("Joining the pages")
    writer.paragraph(
        "Lay the pages out by the map. Cut each page along the unbroken line at its left and at its upper edge, where "
        "it has one. Lay that edge on the dotted line of the page named there, so that the button with the same number "
        "is whole again, and glue. Join each row first, then the rows.",
        3.5,
    )
    writer.skip(_GAP_MM * 0.6)


def _write_cut_list(writer: CoverWriter, pattern: Pattern, units: Units) -> None:
    if not pattern.cut_list and not pattern.pieces:
        return
    rows: list[tuple[str, ...]] = [("piece", "how many", "length × width", "from", "note")]
    for row in pattern.cut_list:
        if row.length_mm is not None and row.width_mm is not None:
            size = f"{write_length(row.length_mm, units)} × {write_length(row.width_mm, units)}"
        elif row.length_mm is not None:
            size = write_length(row.length_mm, units)
        else:
            size = "as drawn"
        rows.append((row.name, str(row.quantity), size, row.material, row.note))
    writer.heading("Cut list")
    writer.table(rows, (0.16, 0.11, 0.29, 0.15, 0.29))
    writer.skip(_GAP_MM * 0.6)


def _write_allowances(writer: CoverWriter, pattern: Pattern, units: Units) -> None:
    writer.heading("Allowances used (included in the cut line)")
    rows = [(piece.name, "; ".join(allowance_lines(piece, units))) for piece in pattern.pieces]
    writer.table(rows, (0.16, 0.84), has_head=False)
    writer.skip(_GAP_MM * 0.6)


def _write_measurements(writer: CoverWriter, pattern: Pattern, units: Units) -> None:
    if not pattern.measurements:
        return
    writer.heading("Measured on the garment")
    rows = []
    for found in pattern.measurements:
        doubt = f"± {found.doubt_mm:.1f} mm" if found.doubt_mm is not None else ""
        rows.append((found.name, write_length(found.value_mm, units), doubt, found.how))
    writer.table(rows, (0.2, 0.24, 0.13, 0.43), has_head=False)
    median, p95 = pattern.expected_error_mm
    writer.paragraph(
        f"The outline is expected to be right within {median:.1f} mm for half of its points, "
        f"within {p95:.1f} mm for nineteen of twenty.",
        3.2,
    )
    writer.skip(_GAP_MM * 0.6)


def _write_findings(writer: CoverWriter, pattern: Pattern) -> None:
    if not pattern.findings:
        return
    writer.heading("Please note")
    for finding in pattern.findings:
        writer.paragraph(f"• {finding.sentence()}", 3.5)
    writer.skip(_GAP_MM * 0.6)
