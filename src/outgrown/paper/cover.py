"""Cover: the first page, to check the printer by and to read before cutting."""

from ..findings import Finding, Severity
from ..pieces.leg_shape import is_leg
from ..pieces.legs import MEAN_OF_BOTH
from ..pieces.piece import Pattern
from ..pieces.unused import NOT_USED
from ..units import Units
from .check_block import BLOCK_HEIGHT_MM, BLOCK_WIDTH_MM, draw_check_block
from .cover_writer import TEXT_MM, CoverWriter, ProofPages
from .lettering import break_words
from .notes import write_findings
from .page_map import draw_map
from .printing import Printing
from .sewing_pages import has_sewing_pages
from .size_lines import layer_names
from .size_tables import write_fabric, write_growth
from .surface import PagedSurface, Pages
from .tiles import Tiling
from .words import (
    CAUTION,
    HOW_TO_JOIN,
    HOW_TO_LAY_OVER,
    ONE_SIZE,
    PRINT_RIGHT,
    allowance_lines,
    capitalised,
    headline,
    write_length,
    write_size,
)

_SHARES = (1.0, 0.95, 0.9, 0.85)
_TITLE_SIZES_MM = (7.5, 6.0, 5.0)


def draw_cover(
    surface: Pages,
    size_mm: tuple[float, float],
    pattern: Pattern,
    tiling: Tiling,
    printing: Printing,
    units: Units,
) -> tuple[Finding, ...]:
    """Draw the first page and finish it. Text is made a little smaller where that saves a second page.

    Where that is not enough and sewing pages follow, notes that are no warnings are left to them.

    Returns:
        the findings left to the sewing pages.
    """
    findings = sort_findings(pattern)
    warnings = tuple(f for f in findings if f.severity is Severity.WARNING)
    wholes = [findings, warnings] if has_sewing_pages(pattern) else [findings]
    plans = [(share, said) for said in wholes for share in _SHARES]

    def write(on: PagedSurface, share: float, said: tuple[Finding, ...]) -> int:
        return _write(on, size_mm, share, pattern, tiling, printing, units, said)

    fitting = ((share, said) for share, said in plans if write(ProofPages(), share, said) == 1)
    share, said = next(fitting, (1.0, findings))
    surface.bookmark("First page: check, map, cut list")
    write(surface, share, said)
    surface.end_page()
    return tuple(f for f in findings if f not in said)


def sort_findings(pattern: Pattern) -> tuple[Finding, ...]:
    """Return the pattern's findings that matter on paper, warnings first."""
    told = (f for f in pattern.findings if f.code != NOT_USED)
    return tuple(sorted(told, key=lambda f: f.severity is not Severity.WARNING))


def _write(
    surface: PagedSurface,
    size_mm: tuple[float, float],
    share: float,
    pattern: Pattern,
    tiling: Tiling,
    printing: Printing,
    units: Units,
    findings: tuple[Finding, ...],
) -> int:
    """Write the cover with text at a share of its size, and return the number of pages it takes."""
    title = headline(pattern) or "Pattern"
    writer = CoverWriter(surface, size_mm, title, share, bar_from=2)
    wide = writer.right - writer.left
    size = next((s for s in _TITLE_SIZES_MM if len(break_words(title, wide, s, True)) <= 2), _TITLE_SIZES_MM[-1])
    writer.paragraph(title, size, is_bold=True, most=3)
    count = len(tiling.tiles)
    pages = "1 page" if count == 1 else f"{count} pages"
    way = "landscape" if tiling.page.is_landscape else "portrait"
    made = f"{pattern.made_on} · " if pattern.made_on else ""
    writer.paragraph(f"{made}this page and {pages} of pattern on {_paper_words(printing.paper)}, {way}", 3.8)
    writer.skip(2)
    _draw_check_and_map(writer, tiling)
    if printing.correction.sentence():
        writer.paragraph(printing.correction.sentence(), TEXT_MM, is_bold=True)
    if tiling.joins:
        writer.paragraph(HOW_TO_LAY_OVER if printing.is_untrimmed else HOW_TO_JOIN, TEXT_MM)
    if layer_names(pattern):
        writer.paragraph(ONE_SIZE, TEXT_MM)
    _write_cut_list(writer, pattern, units)
    _write_allowances(writer, pattern, units)
    _write_measurements(writer, pattern, units)
    writer.keep_together(lambda on: write_fabric(on, pattern, units))
    writer.keep_together(lambda on: write_growth(on, pattern, units))
    writer.keep_together(lambda on: write_findings(on, findings, units))
    if not has_sewing_pages(pattern):  # they say it at greater length
        writer.keep_together(_write_care)
    return writer.pages


def _paper_words(paper: str) -> str:
    return paper.upper() if len(paper) <= 2 else paper.capitalize()


def _draw_check_and_map(writer: CoverWriter, tiling: Tiling) -> None:
    """Draw squares and bars to measure, the key to the lines, and the map to the right of them."""
    surface = writer.surface
    writer.paragraph(PRINT_RIGHT, 3.9 / writer.share, is_bold=True)
    writer.skip(3)
    top, right = writer.y, writer.left + BLOCK_WIDTH_MM
    draw_check_block(surface, (writer.left, top))
    bottom = top - BLOCK_HEIGHT_MM
    if not isinstance(surface, ProofPages):  # the map takes the room that is left, whatever is in it
        draw_map(surface, tiling, (right + 7, bottom), (writer.right, top))
    writer.y = bottom - 1


def _write_cut_list(writer: CoverWriter, pattern: Pattern, units: Units) -> None:
    if not pattern.cut_list:
        return
    rows: list[tuple[str, ...]] = [("what", "cut", "length × width", "from", "note")]
    for row in pattern.cut_list:
        rows.append((row.name, str(row.quantity), write_size(row, units), row.material, units.said(row.note)))
    writer.heading("Cut list")
    writer.table(rows, (0.125, 0.055, 0.305, 0.13, 0.385))


def _write_allowances(writer: CoverWriter, pattern: Pattern, units: Units) -> None:
    writer.heading("Allowances used (inside the cut line)")
    rows = [(capitalised(piece.name), "; ".join(allowance_lines(piece, units))) for piece in pattern.pieces]
    writer.table(rows, (0.14, 0.86), has_head=False)


def measured_heading(pattern: Pattern) -> str:
    """Return what the measurements are of: legs' are renewed as they grow, others stay the first garment's."""
    if "grown" not in pattern.choices:
        return "Measured on the garment"
    is_renewed = any(is_leg(piece) for piece in pattern.pieces)
    return "This size, measured like the garment" if is_renewed else "Measured on the garment this was grown from"


def _write_measurements(writer: CoverWriter, pattern: Pattern, units: Units) -> None:
    if not pattern.measurements:
        return
    writer.heading(measured_heading(pattern))
    rows = []
    for found in pattern.measurements:
        doubt = units.said(f"  ±\u00a0{found.doubt_mm:.1f}\u00a0mm") if found.doubt_mm is not None else ""
        rows.append(
            (found.name, write_length(found.value_mm, units) + doubt, units.said(found.how.removesuffix(MEAN_OF_BOTH)))
        )
    writer.table(rows, (0.14, 0.3, 0.56), has_head=False)
    if any(found.how.endswith(MEAN_OF_BOTH) for found in pattern.measurements):
        writer.paragraph("Lengths that both photos show are the mean of both.", 3.0)
    median, p95 = pattern.expected_error_mm
    if p95 > 0:
        words = f"The outline should be right within {median:.1f} mm at half of its points, {p95:.1f} mm at 19 of 20."
        writer.paragraph(units.said(words), 3.0)


def _write_care(writer: CoverWriter) -> None:
    writer.heading("Take care")
    writer.paragraph(CAUTION, 3.0)
