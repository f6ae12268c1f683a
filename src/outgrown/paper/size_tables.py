"""Size tables of the first page: what the new cloth makes of the pattern, and how it has grown."""

from typing import Any

from ..pieces.piece import Pattern
from ..units import Units, write_cm, write_inch
from .cover_writer import CoverWriter


def write_fabric(writer: CoverWriter, pattern: Pattern, units: Units) -> None:
    """Write the cloth's table where something was said of the cloth."""
    kept = pattern.choices.get("fabric") or {}
    rows: list[dict[str, Any]] = kept.get("sizes") or []
    if not rows:
        return
    writer.heading("What the new cloth makes of it")
    table: list[tuple[str, ...]] = [("", "garment", "body", "finished", "ease", "cut", "why")]
    for row in rows:
        body, finished = row["body_mm"], row["finished_mm"]
        ease = "" if body is None else _signed(finished - body, units)
        sizes = (row["garment_mm"], body, finished)
        words = ["" if size is None else _one(size, units) for size in sizes]
        table.append((row["what"], *words, ease, _one(row["cut_mm"], units), row["why"]))
    writer.table(table, (0.08, 0.1, 0.1, 0.1, 0.1, 0.1, 0.42))
    said = [
        f"{words} {100 * kept[name]:g} %"
        for name, words in (
            ("stretch_old", "stretch of the garment's cloth"),
            ("stretch_new", "stretch of the new cloth"),
            ("shrink_long", "shrinks along the grain by"),
            ("shrink_wide", "across by"),
        )
        if kept.get(name)
    ]
    writer.paragraph(f"Reckoned with: {', '.join(said)}. Cut sizes are without allowances.", 3.0)


def write_growth(writer: CoverWriter, pattern: Pattern, units: Units) -> None:
    """Write the size table before and after, and published bodies beside it, where the pattern was grown."""
    grown = pattern.choices.get("grown") or {}
    for heading, key in (("Grown: this pattern before and after", "sizes"), ("Bodies of these heights", "body")):
        rows: list[dict[str, Any]] = grown.get(key) or []
        if not rows:
            continue
        writer.heading(heading)
        table: list[tuple[str, ...]] = [("", "before", "after", "more", "why" if key == "sizes" else "published in")]
        for row in rows:
            before, after = row["before_mm"], row["after_mm"]
            more = _signed(after - before, units)
            table.append((row["what"], _one(before, units), _one(after, units), more, row["why"]))
        writer.table(table, (0.18, 0.12, 0.12, 0.12, 0.46))


def _one(length_mm: float, units: Units) -> str:
    return write_inch(length_mm) if units is Units.INCH else write_cm(length_mm)


def _signed(length_mm: float, units: Units) -> str:
    if round(length_mm) == 0:
        return "0"
    return ("+" if length_mm > 0 else "−") + _one(abs(length_mm), units)
