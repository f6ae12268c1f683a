"""Words: what is written on a piece and on the first page, in her units."""

from collections.abc import Iterable
from enum import StrEnum

from ..pieces.piece import Finish, Pattern, Piece
from ..units import write_cm, write_inch


class Units(StrEnum):
    """Which unit leads; the other follows in brackets."""

    METRIC = "mm"
    INCH = "inch"


CAUTION = (
    "For a child: no drawstring or cord at neck or waist in small sizes, and nothing small that can come off for the "
    "under-threes; sleepwear must be flame-resistant or tight-fitting. The rules where you live decide. Keep needles "
    "and blades away from small hands. A pattern taken from a bought garment is for your own use."
)
PRINT_RIGHT = "Print at 100 % (“actual size”), no “fit to page”. Measure this square before cutting."


def write_length(length_mm: float, units: Units) -> str:
    """Return a length for a list: `54.3 cm (21 3/8 in)`, or the inches first."""
    if units is Units.INCH:
        return f"{write_inch(length_mm)} ({write_cm(length_mm)})"
    return f"{write_cm(length_mm)} ({write_inch(length_mm)})"


def write_small(length_mm: float, units: Units) -> str:
    """Return an allowance: `6 mm (1/4 in)`, or the inches first."""
    mm = f"{length_mm:.1f}".rstrip("0").rstrip(".") + " mm"
    inch = write_inch(length_mm, parts=16)
    return f"{inch} ({mm})" if units is Units.INCH else f"{mm} ({inch})"


_FINISH_WORDS = {
    Finish.SEAM: "",
    Finish.CASING: "casing",
    Finish.HEM: "hem",
    Finish.RAW: "left raw",
}


def allowance_lines(piece: Piece, units: Units) -> list[str]:
    """Return the allowances of a piece, edges with the same one on one line: `rise, inseam: 6 mm (1/4 in)`."""
    edges: dict[str, list[str]] = {}
    for edge in piece.edges:
        if edge.finish is Finish.FOLD:
            said = "on the fold, none"
        elif edge.finish is Finish.FINISHED:
            said = "finished edge of the cloth, none"
        elif edge.allowance_mm == 0:
            said = "none"
        else:
            how = _FINISH_WORDS[edge.finish]
            said = write_small(edge.allowance_mm, units)
            if how and how != edge.name.value:
                said = f"{said} {how}"
        names = edges.setdefault(said, [])
        if edge.name.value not in names:
            names.append(edge.name.value)
    return [f"{', '.join(names)}: {said}" for said, names in edges.items()]


def headline(pattern: Pattern) -> str:
    """Return garment and wearer on one line: `Leggings · for Zoë`."""
    return " · ".join(part for part in (pattern.title.strip(), _for_words(pattern.for_whom)) if part)


def label_lines(pattern: Pattern, piece: Piece, units: Units) -> list[str]:
    """Return what is written on a piece below its name, in reading order."""
    lines: Iterable[str] = [
        piece.quantity,
        headline(pattern),
        pattern.made_on,
        *piece.labels,
        "Allowances included:",
        *allowance_lines(piece, units),
    ]
    return [line for line in lines if line.strip()]


def _for_words(for_whom: str) -> str:
    typed = for_whom.strip()
    if not typed or typed.lower().startswith(("for ", "size ")):
        return typed
    return f"size {typed}" if typed[0].isdigit() else f"for {typed}"
