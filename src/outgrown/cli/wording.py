"""What the terminal says of a result."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from ..findings import Finding, Severity
from ..garment.garment import Measurement
from ..paper.draw_difference import write_length, write_more
from ..paper.words import choose_units
from ..pieces.difference import Difference
from ..pieces.nesting import list_growths
from ..pieces.piece import Pattern
from ..pieces.unused import NOT_USED
from ..steps import Traced
from ..units import Units, write_cm, write_inch

_ALWAYS_TOLD = (
    "front-and-back-alike",
    "halves-averaged",
    "halves-not-alike",
    "rises-alike",
    NOT_USED,
    "no-waist-given",
    "waist-gathered",
    "not-yet-washed",
    "hem-turned-otherwise",
)
"""Notes that are worth a line in the terminal."""


def write_found(traced: Traced, units: Units = Units.MM) -> list[str]:
    """Return what was found in the photo, a few lines, lengths in `units`."""
    counts: dict[str, int] = {}
    for reference in traced.references:
        word = reference.kind.words
        counts[word] = counts.get(word, 0) + 1
    things = ", ".join(f"{n} {word}{'s' if n > 1 else ''}" for word, n in counts.items())
    median, p95 = traced.expected_error_mm
    lines = [
        f"Measured with {things}; camera {write_cm(traced.camera.height_above_floor_mm())} above the floor, "
        f"{traced.camera.tilt_deg:.0f}° off straight down.",
        f"Expected error of the outline: {median:.1f} mm, at most {p95:.1f} mm along 95 % of it.",
    ]
    return [*map(units.said, lines)]


def write_measurements(measurements: Sequence[Measurement], units: Units = Units.MM) -> list[str]:
    """Return the measurements as a table, cm and inch, their doubt in `units`."""
    rows = [
        (
            m.name,
            write_cm(m.value_mm),
            write_inch(m.value_mm),
            "" if m.doubt_mm is None else units.said(f"± {m.doubt_mm:.1f} mm"),
        )
        for m in measurements
    ]
    widths = [max(len(row[i]) for row in rows) for i in range(4)] if rows else []
    return [
        f"  {row[0]:<{widths[0]}}  {row[1]:>{widths[1]}}  {row[2]:>{widths[2]}}  {row[3]:>{widths[3]}}".rstrip()
        for row in rows
    ]


def write_walked(pattern: Pattern) -> list[str]:
    """Return what truing did to front and back: seams walked, corners joined, rises; empty for one photo."""
    walked = pattern.provenance.get("walked", [])
    if not walked:
        return []
    rises = pattern.provenance.get("rise_mm", {})
    lines = ["Front and back walked along each other:"]
    lines += [
        f"  {seam['seam']}: front {seam['front_mm']:.1f} mm, back {seam['back_mm']:.1f} mm; "
        f"both {seam['front_after_mm']:.1f} mm after truing ({seam['where']})"
        for seam in walked
    ]
    if rises:
        lines.append(f"  rise: front {rises['front']:.1f} mm, back {rises['back']:.1f} mm")
    lines = [*map(choose_units(pattern).said, lines)]
    lines.append("Corners of front + back, 180° together is smooth:")
    lines += [
        f"  {c['place']}: {c['front_before_deg']:.0f}° + {c['back_before_deg']:.0f}° before, "
        f"{c['front_deg']:.0f}° + {c['back_deg']:.0f}° after"
        for c in pattern.provenance.get("joined_corners", [])
    ]
    return [*lines, ""]


def write_cut_list(pattern: Pattern) -> list[str]:
    """Return the cut list, a line a row."""
    said = _one_unit(pattern.choices.get("units"))
    lines = []
    for row in pattern.cut_list:
        size = (
            "" if row.length_mm is None or row.width_mm is None else (f", {said(row.length_mm)} x {said(row.width_mm)}")
        )
        note = f" ({choose_units(pattern).said(row.note)})" if row.note else ""
        lines.append(f"  {row.quantity} x {row.name}{size}, {row.material}{note}")
    return lines


def write_difference(difference: Difference, units: Units = Units.MM) -> list[str]:
    """Return lengths and edges of two patterns side by side."""
    many = len(difference.shapes) > 1
    lines = [f"{difference.second_name[0].upper()}{difference.second_name[1:]} beside {difference.first_name}:"]
    rows = [
        (
            f"{row.what}, {row.shape}" if many or row in difference.strips else row.what,
            write_length(row.first_mm, units),
            write_length(row.second_mm, units),
            write_more(row.more_mm, units),
            units.said(f"less than the doubt of ± {row.doubt_mm:.1f} mm") if row.is_doubtful else "",
        )
        for row in (*difference.lengths, *difference.strips)
    ]
    lines += _aligned(rows)
    lines.append("Its edges lie outside (+) or inside (−) by:")
    lines += _aligned(
        [
            (
                f"{row.edge}, {row.shape}" if many else row.edge,
                f"mean {write_more(row.mean_mm, units)}",
                f"most {write_more(row.worst_mm, units)}",
            )
            for row in difference.edges
        ]
    )
    if difference.missing:
        lines.append(f"Only one of the two has: {', '.join(difference.missing)}.")
    return lines


def _aligned(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Return rows as lines, the first column and the last to the left, those between to the right."""
    if not rows:
        return []
    last = len(rows[0]) - 1
    widths = [max(len(row[i]) for row in rows) for i in range(last + 1)]
    return [
        "  "
        + "  ".join(
            f"{cell:<{width}}" if (i in (0, last) and last > 2) or i == 0 else f"{cell:>{width}}"
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def write_findings(findings: Iterable[Finding], units: Units = Units.MM) -> list[str]:
    """Return the warnings and what the way of laying loses, a line each, lengths in `units`."""
    told = [f for f in findings if f.severity is Severity.WARNING or f.code in _ALWAYS_TOLD]
    return list(
        dict.fromkeys(f"{'!' if f.severity is Severity.WARNING else '-'} {units.said(f.sentence())}" for f in told)
    )


def write_files(folder: Path, names: Iterable[str]) -> list[str]:
    """Return where the results are."""
    what = {
        "pattern.pdf": "print this at 100 %, and measure the test square first",
        "pattern.svg": "the pattern as a drawing, 1:1",
        "pattern.json": "the pattern to keep",
        "check.png": "look at this first: does the line follow the cloth?",
        "check-back.png": "the same of the second photo",
        "sewn.png": "the photo with the pattern's seam line on it",
        "sewn-back.png": "the same of the second photo",
        "difference.pdf": "both lines laid on one another, and the tables",
        "difference.svg": "the same lines at true size",
    }
    width = max(len(name) for name in names)
    return [f"In {folder}:"] + [f"  {name:<{width}}  {what.get(name, '')}".rstrip() for name in names]


def write_fabric(pattern: Pattern) -> list[str]:
    """Return what the cloth makes of the pattern as a table, empty where nothing was said of it."""
    rows = (pattern.choices.get("fabric") or {}).get("sizes") or []
    if not rows:
        return []
    said = _one_unit(pattern.choices.get("units"))
    head = ("", "garment", "body", "finished", "ease", "cut")
    table = [head]
    for row in rows:
        body = row["body_mm"]
        ease = "" if body is None else _signed(row["finished_mm"] - body, said)
        girths = (row["garment_mm"], body, row["finished_mm"])
        table.append((row["what"], *("" if g is None else said(g) for g in girths), ease, said(row["cut_mm"])))
    widths = [max(len(line[i]) for line in table) for i in range(len(head))]
    lines = ["What the new cloth makes of it:"]
    for line, why in zip(table, ["", *(row["why"] for row in rows)], strict=True):
        cells = [
            f"{cell:>{width}}" if i else f"{cell:<{width}}"
            for i, (cell, width) in enumerate(zip(line, widths, strict=True))
        ]
        lines.append(f"  {'  '.join(cells)}  {why}".rstrip())
    return [*lines, ""]


def write_growth(pattern: Pattern) -> list[str]:
    """Return the size table before and after, and the published body table beside it, for each size grown."""
    lines = []
    for name, grown in list_growths(pattern):
        lines += _growth_lines(pattern, grown, f"{name}, " if name else "")
    return lines


def _growth_lines(pattern: Pattern, grown: Mapping[str, Any], whose: str) -> list[str]:
    said = _one_unit(pattern.choices.get("units"))
    lines = []
    titles = (
        (f"{whose}the pattern, before and after:", "sizes"),
        (f"{whose}bodies of these heights, published:", "body"),
    )
    for title, key in titles:
        rows = grown.get(key) or []
        if not rows:
            continue
        wide = max(len(row["what"]) for row in rows)
        lines.append(f"{title[0].upper()}{title[1:]}")
        for row in rows:
            more = _signed(row["after_mm"] - row["before_mm"], said)
            lines.append(
                f"  {row['what']:<{wide}}  {said(row['before_mm']):>9}  {said(row['after_mm']):>9}"
                f"  {more:>9}  {row['why']}".rstrip()
            )
        lines.append("")
    walked = grown.get("walked") or {}
    if walked:
        apart = choose_units(pattern).said(", ".join(f"{name} {amount:.1f} mm" for name, amount in walked.items()))
        lines += [f"{whose}{'s' if whose else 'S'}eams sewn together differ by: {apart}.", ""]
    return lines


def _one_unit(units: str | None) -> Callable[[float], str]:
    """Return how lengths of a table are written in these units; None for millimetres."""
    return write_inch if units == Units.INCH else write_cm


def _signed(length_mm: float, said: Callable[[float], str]) -> str:
    words = said(abs(length_mm))
    return ("+" if length_mm >= 0 or words == said(0.0) else "-") + words
