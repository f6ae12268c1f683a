"""Drawing of a difference: two patterns laid on one another, where they part most, and tables of what differs."""

from collections.abc import Mapping, Sequence

import numpy as np

from ..arrays import Floats
from ..findings import Finding
from ..geometry.sections import span_at_height
from ..pieces.comparable import Shape
from ..pieces.difference import Difference, EdgeRow, LengthRow
from ..standards import SHEET_SIZES_MM
from ..units import Units, write_cm, write_inch
from .cover_writer import CoverWriter
from .lettering import measure_words_mm, shorten_words
from .notes import write_findings
from .pdf import PdfSurface
from .surface import Anchor, Lettering, Pen, Surface
from .svg import SvgSurface

FIRST = Pen(0.3, (2.4, 1.2))
SECOND = Pen(0.7)
MARK = Pen(0.3)
"""Dashed and thin, unbroken and thick: told apart in black and white."""
_SCALES = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0, 20.0)
_GAP_MM = 14.0
_MARK_MM = 3.0
_LINE_MM = 3.8
_WORDS_MM = 3.0
_SMALL_MM, _KEY_MM = 180.0, 170.0
_LEAST_MARKED_MM = 1.0
"""Edges nearer than this everywhere get no mark."""
_TALLEST = 0.5
"""Share of the page's height that the drawing may take."""


def draw_difference_pdf(
    differences: Sequence[Difference],
    findings: Sequence[Finding] = (),
    paper: str = "a4",
    units: Units | str | None = None,
) -> bytes:
    """Return the differences as a PDF: each drawn to a stated scale, its tables below.

    Args:
        differences: at least one.
        findings: written at the end.
        paper: a name in `SHEET_SIZES_MM`.
        units: which unit is written.
    """
    units = Units(units) if units else Units.MM
    short, long, _ = SHEET_SIZES_MM[paper]
    first = differences[0]
    title = f"{first.second_name} and {first.first_name}"
    surface = PdfSurface(short, long, title=title, subject="Two shapes laid on one another")
    writer = CoverWriter(surface, (short, long), title, 1.0)
    for number, difference in enumerate(differences):
        if number:
            writer.need(writer.height)
        writer.paragraph(
            f"{_capital(difference.second_name)} laid on {difference.first_name}", 5.0, is_bold=True, most=2
        )
        _draw_scaled(writer, difference, units)
        _write_tables(writer, difference, units)
    write_findings(writer, findings, units)
    surface.end_page()
    return surface.write()


def draw_difference_svg(difference: Difference, units: Units | str | None = None, *, is_small: bool = False) -> str:
    """Return the shapes laid on one another as SVG: at 1:1 in millimetres, or small enough to look at as a whole."""
    units = Units(units) if units else Units.MM
    width, height = _size(difference)
    scale = max(1.0, height / _SMALL_MM) if is_small else 1.0
    width, height, margin = max(width / scale, _KEY_MM), height / scale, 20.0
    surface = SvgSurface(width + 2 * margin, height + 2 * margin + 14.0, difference.second_name)
    _draw_shapes(surface, difference, (margin, margin), scale, units)
    _draw_key(surface, difference, (margin, height + 2 * margin + 2.0), width)
    return surface.write()


def _size(difference: Difference) -> tuple[float, float]:
    boxes = [_bounds(pair) for pair in difference.shapes]
    wide = sum(high[0] - low[0] for low, high in boxes) + _GAP_MM * (len(boxes) - 1)
    return float(wide), float(max(high[1] - low[1] for low, high in boxes))


def _bounds(pair: tuple[Shape, Shape]) -> tuple[Floats, Floats]:
    both = np.vstack([shape.ring_mm() for shape in pair])
    return both.min(axis=0), both.max(axis=0)


def _draw_scaled(writer: CoverWriter, difference: Difference, units: Units) -> None:
    """Draw the shapes as large as half a page allows, and say how large."""
    wide, tall = _size(difference)
    room, most = writer.right - writer.left - 16.0, _TALLEST * writer.height
    scale = next((s for s in _SCALES if wide <= room * s and tall <= most * s), _SCALES[-1])
    writer.skip(2.0)
    writer.need(tall / scale + 16.0)
    _draw_key(writer.surface, difference, (writer.left, writer.y - 4.0), writer.right - writer.left)
    writer.skip(11.0)
    low_y = writer.y - tall / scale
    _draw_shapes(writer.surface, difference, (writer.left + 8.0, low_y), scale, units)
    words = "drawn at true size" if scale == 1.0 else f"drawn at 1 : {scale:g}"
    writer.surface.text(words, (writer.right, low_y - 5.0), Lettering(3.0, anchor=Anchor.END))
    writer.skip(tall / scale + 6.0)


def _draw_key(surface: Surface, difference: Difference, at: tuple[float, float], width: float) -> None:
    x, y = at
    room = width / 2 - 18.0
    for pen, name in ((FIRST, difference.first_name), (SECOND, difference.second_name)):
        with surface.group("key", pen):
            surface.polyline([(x, y + 1.1), (x + 14.0, y + 1.1)])
        surface.text(shorten_words(name, room, 3.2), (x + 16.0, y), Lettering(3.2))
        x += width / 2


def _draw_shapes(surface: Surface, difference: Difference, at: tuple[float, float], scale: float, units: Units) -> None:
    """Draw pair beside pair, the lower left of all at `at`, a `scale`-th of true size."""
    x, boxes = at[0], [_bounds(pair) for pair in difference.shapes]
    lowest = min(low[1] for low, _ in boxes)
    for pair, (low, high) in zip(difference.shapes, boxes, strict=True):
        shift = np.array([x - low[0] / scale, at[1] - lowest / scale])
        for name, pen, shape in zip(("second", "first"), (SECOND, FIRST), reversed(pair), strict=True):
            with surface.group(f"{name} {shape.name}", pen):
                surface.ring(shape.ring_mm() / scale + shift)
        rows = [row for row in difference.edges if row.shape in (pair[0].name, pair[1].name)]
        middle = _middle(pair[1]) / scale + shift
        middles = {name: line.mean(axis=0) / scale + shift for name, line in pair[1].lines.items()}
        marked = [row for row in rows if abs(row.worst_mm) >= _LEAST_MARKED_MM]
        _draw_marks(surface, marked, scale, shift, middle, middles, units)
        name = max((shape.name for shape in pair), key=len)
        surface.text(name, (float(middle[0]), float(middle[1])), Lettering(3.4, anchor=Anchor.MIDDLE))
        x += float(high[0] - low[0]) / scale + _GAP_MM / scale


def _middle(shape: Shape) -> Floats:
    """Return the middle of the shape's width two thirds up, where a leg has room for its name."""
    ring = shape.ring_mm()
    low, high = float(ring[:, 1].min()), float(ring[:, 1].max())
    height = low + 0.62 * (high - low)
    left, right = span_at_height(ring, height)
    return np.array([0.5 * (left + right), height])


def _draw_marks(
    surface: Surface,
    rows: Sequence[EdgeRow],
    scale: float,
    shift: Floats,
    middle: Floats,
    middles: Mapping[str, Floats],
    units: Units,
) -> None:
    """Draw a small ring where edges part most, and how far, towards the inside of the shape, no words on others."""
    turn = np.linspace(0.0, 2.0 * np.pi, 25)[:-1]
    taken: list[tuple[float, float, float]] = []  # by words: left, right, base line
    along = ("hem", "waist")  # these run along their words, which have their place
    for row in sorted(rows, key=lambda one: one.edge not in along):
        place = np.asarray(row.worst_at_mm) / scale + shift
        with surface.group("where they part most", MARK):
            surface.ring(place + 0.5 * _MARK_MM * np.column_stack([np.cos(turn), np.sin(turn)]))
        words = write_more(row.worst_mm, units)
        wide = measure_words_mm(words, _WORDS_MM)
        if row.edge in along:
            edge = middles[row.edge]
            x, y = float(edge[0]), float(edge[1] + (_LINE_MM if edge[1] < middle[1] else -1.8 * _LINE_MM))
            left, anchor = x - 0.5 * wide, Anchor.MIDDLE
        else:
            is_left = place[0] < middle[0]
            x, y = float(place[0] + (2.4 if is_left else -2.4)), float(place[1] - 1.0)
            left, anchor = (x, Anchor.START) if is_left else (x - wide, Anchor.END)
            while any(
                left < high + 1.0 and low < left + wide + 1.0 and abs(y - base) < _LINE_MM for low, high, base in taken
            ):
                y += 0.5 if y < middle[1] else -0.5
        taken.append((left, left + wide, y))
        surface.text(words, (x, y), Lettering(_WORDS_MM, anchor=anchor))


def _write_tables(writer: CoverWriter, difference: Difference, units: Units) -> None:
    writer.heading("Lengths", 20.0)
    first, second = (
        shorten_words(_capital(n), 70.0, 3.4, True) for n in (difference.first_name, difference.second_name)
    )
    rows: list[tuple[str, ...]] = [("", first, second, "more", "")]
    rows += [
        (
            _named(row, difference),
            write_length(row.first_mm, units),
            write_length(row.second_mm, units),
            *_more(row, units),
        )
        for row in (*difference.lengths, *difference.strips)
    ]
    writer.table(rows, (0.28, 0.2, 0.2, 0.12, 0.2))
    writer.heading(f"Edges: how far {difference.second_name} lies outside (+) or inside (−)", 20.0)
    table: list[tuple[str, ...]] = [("", "mean", "95 % of it within", "most")]
    table += [
        (
            f"{row.edge}, {row.shape}" if len(difference.shapes) > 1 else row.edge,
            write_more(row.mean_mm, units),
            _small(row.p95_mm, units),
            write_more(row.worst_mm, units),
        )
        for row in difference.edges
    ]
    writer.table(table, (0.4, 0.2, 0.2, 0.2))
    how = "Half legs lie on one another at the side, with their crotch points at one height."
    if any(shape.is_leg for pair in difference.shapes for shape in pair):
        writer.paragraph(how, 3.0)
    if difference.missing:
        writer.paragraph(f"Only one of the two has: {', '.join(difference.missing)}.", 3.0)


def _named(row: LengthRow, difference: Difference) -> str:
    return f"{row.what}, {row.shape}" if len(difference.shapes) > 1 or row in difference.strips else row.what


def _more(row: LengthRow, units: Units) -> tuple[str, str]:
    return write_more(row.more_mm, units), "within the doubt" if row.is_doubtful else ""


def write_more(more_mm: float, units: Units) -> str:
    """Return a difference with its sign: `+3.2 mm`, `−1/8 in`, `0`."""
    if units is Units.INCH:
        words = write_inch(abs(more_mm), parts=16)
        return "0" if words == "0 in" else ("+" if more_mm > 0 else "−") + words
    return "0" if abs(more_mm) < 0.05 else f"{'+' if more_mm > 0 else '−'}{abs(more_mm):.1f} mm"


def _small(length_mm: float, units: Units) -> str:
    return write_inch(length_mm, parts=16) if units is Units.INCH else f"{length_mm:.1f} mm"


def write_length(length_mm: float, units: Units) -> str:
    """Return a length to compare: `48.6 cm` or, as finely as differences, `19 1/8 in`."""
    return write_inch(length_mm, parts=16) if units is Units.INCH else write_cm(length_mm)


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
