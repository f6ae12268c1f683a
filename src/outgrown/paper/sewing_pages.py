"""Sewing pages: what is needed, the steps with their sketches, and what to take care of; after the pattern's tiles."""

from collections.abc import Sequence

from ..findings import Finding
from ..pieces.piece import Pattern
from ..pieces.sewing import CAUTIONS, Step, list_notions, list_steps
from ..units import Units
from .cover_writer import LEADING, TEXT_MM, CoverWriter, ProofPages
from .lettering import break_words
from .notes import write_findings
from .sketches import HEIGHT_MM, WIDTH_MM, draw_sketch
from .surface import Lettering, PagedSurface, Pages
from .words import headline

_SHARES = (1.0, 0.92, 0.84, 0.82)
_GAP_MM = 3.5
_TITLE_MM = 4.0


def has_sewing_pages(pattern: Pattern) -> bool:
    """Tell whether steps are known for the pattern and wished for."""
    return bool(pattern.choices.get("has_steps", True)) and bool(list_steps(pattern))


def draw_sewing_pages(
    surface: Pages, size_mm: tuple[float, float], pattern: Pattern, units: Units, notes: Sequence[Finding] = ()
) -> None:
    """Draw the sewing pages, text a little smaller where that saves one, and finish them.

    Args:
        surface: to draw on.
        size_mm: width and height of the page [mm].
        pattern: with steps, see `has_sewing_pages`.
        units: which lengths are written in.
        notes: findings for which the first page had no room.
    """
    counts = {share: _write(ProofPages(), size_mm, pattern, units, share, notes) for share in _SHARES}
    share = next(share for share in _SHARES if counts[share] == min(counts.values()))
    surface.bookmark("Sewing")
    _write(surface, size_mm, pattern, units, share, notes)
    surface.end_page()


def _write(
    surface: PagedSurface,
    size_mm: tuple[float, float],
    pattern: Pattern,
    units: Units,
    share: float,
    notes: Sequence[Finding],
) -> int:
    writer = CoverWriter(surface, size_mm, f"Sewing · {headline(pattern)}", share, bar_from=1)
    writer.paragraph(f"Sewing · {headline(pattern)}", 6.0, is_bold=True, most=2)
    writer.heading("You need, beside the cut pieces")
    writer.paragraph(" · ".join(list_notions(pattern)))
    writer.heading("Step by step (numbers after stitches: ISO 4915)")
    writer.skip(1.5)
    for number, step in enumerate(list_steps(pattern), start=1):
        _write_step(writer, number, step)
    writer.keep_together(_write_care)
    writer.keep_together(lambda on: write_findings(on, notes, units, "How this pattern was drawn"))
    return writer.pages


def _write_step(writer: CoverWriter, number: int, step: Step) -> None:
    """Write a step to the right of its sketch, never broken over pages."""
    size, title = TEXT_MM * writer.share, _TITLE_MM * writer.share
    wide, tall = WIDTH_MM * writer.share, HEIGHT_MM * writer.share
    left = writer.left + wide + 6.0
    lines = break_words(step.text, writer.right - left, size)
    if step.stitches:
        lines += break_words(f"Stitch: {step.stitch_words()}", writer.right - left, size)
    high = max(tall, title * 1.5 + len(lines) * size * LEADING)
    writer.need(high + _GAP_MM)
    top = writer.y
    draw_sketch(writer.surface, step.sketch, (writer.left, top - tall), writer.share)
    y = top - title
    writer.surface.text(f"{number}  {step.title}", (left, y), Lettering(title, is_bold=True))
    y -= 0.5 * title
    for line in lines:
        y -= size * LEADING
        writer.surface.text(line, (left, y + 0.25 * size), Lettering(size))
    writer.y = top - high - _GAP_MM


def _write_care(writer: CoverWriter) -> None:
    writer.heading("Take care")
    for caution in CAUTIONS:
        writer.paragraph(f"• {caution}", 3.0)
