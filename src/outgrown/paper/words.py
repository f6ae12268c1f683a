"""Words: what is written on a piece and on the first page, in her units."""

from collections.abc import Iterable

from ..findings import Finding
from ..pieces.piece import CutListRow, Finish, Pattern, Piece
from ..units import Units, write_cm, write_inch
from .lettering import clean_words, missing_letters

CAUTION = (
    "For a child: no drawstring or cord at neck or waist in small sizes, and nothing small that can come off for the "
    "under-threes; sleepwear must be flame-resistant or tight-fitting. The rules where you live decide. Keep needles "
    "and blades away from small hands. A pattern taken from a bought garment is for your own use."
)
HOW_TO_JOIN = (
    "Joining: lay the pages out by the map. Cut each page along the unbroken line at its left and at its upper edge, "
    "where it has one. Lay that edge on the dotted line of the page named there, so that the button with that number "
    "is whole again, and glue. Join each row first, then the rows."
)
HOW_TO_LAY_OVER = (
    "Joining, no page is cut: lay the pages out by the map. The line at a page’s left and upper edge comes to lie on "
    "the same line of the page named there. Push a pin through the middle of each numbered cross of the upper page and "
    "into the cross with that number on the page below (or hold both against a window), then glue. The upper page’s "
    "blank margin hides a strip of the lines below it: draw them on with a ruler before you cut, or fold that margin "
    "under along its line first, and nothing is hidden."
)
ONE_SIZE = (
    "Each size is a layer of this file: in a viewer that lists layers, hide the sizes you do not need before printing."
)
IF_OFF = (
    "Measure both squares, and both bars from 0 to 10 cm or 4 in. More than 0.5 mm (1/64 in) off? Look for “100 %”, "
    "“actual size” or “scaling: none” and print again. Still off: have it drawn anew with what both bars measure here, "
    "and the next print is right."
)
PRINT_RIGHT = "Print at 100 % (“actual size”), no “fit to page”. Measure this square before cutting."


def write_length(length_mm: float, units: Units) -> str:
    """Return a length for a list: `54.3 cm (21 3/8 in)`, or the inches first."""
    cm, inch = write_cm(length_mm), write_inch(length_mm)
    return _solid(f"{inch} ({cm})" if units is Units.INCH else f"{cm} ({inch})")


def write_small(length_mm: float, units: Units) -> str:
    """Return an allowance: `6 mm (1/4 in)`, or the inches first."""
    mm = f"{length_mm:.1f}".rstrip("0").rstrip(".") + " mm"
    inch = write_inch(length_mm, parts=16)
    return _solid(f"{inch} ({mm})" if units is Units.INCH else f"{mm} ({inch})")


_FINISH_WORDS = {
    Finish.SEAM: "",
    Finish.CASING: "turned down",
    Finish.HEM: "turned up",
    Finish.MOCK_CUFF: "mock cuff",
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
            said = "none, left raw" if edge.finish is Finish.RAW else "none"
        else:
            how = _FINISH_WORDS[edge.finish]
            said = write_small(edge.allowance_mm, units)
            if how and how != edge.name.value:
                said = f"{said} {how}"
        names = edges.setdefault(said, [])
        if edge.name.value not in names:
            names.append(edge.name.value)
    return [f"{', '.join(names)}: {said}" for said, names in edges.items()]


def write_size(row: CutListRow, units: Units) -> str:
    """Return a cut list row's size: `49.2 × 9.2 cm (19 3/8 × 3 5/8 in)`, or the inches first."""
    lengths = [length for length in (row.length_mm, row.width_mm) if length is not None]
    if not lengths:
        return "as drawn"
    cm = " × ".join(write_cm(length).removesuffix(" cm") for length in lengths) + " cm"
    inch = " × ".join(write_inch(length).removesuffix(" in") for length in lengths) + " in"
    first, second = (inch, cm) if units is Units.INCH else (cm, inch)
    return f"{_solid(first)} {_solid(f'({second})')}"


def _solid(words: str) -> str:
    """Return `words` with spaces that do not break over lines."""
    return words.replace(" ", "\u00a0")


def choose_units(pattern: Pattern, units: Units | str | None = None) -> Units:
    """Return the units asked for, else those the pattern was made with."""
    return Units(units if units is not None else pattern.choices.get("units") or Units.MM)


def capitalised(words: str) -> str:
    """Return `words` with a capital first letter, the others as typed."""
    return words[:1].title() + words[1:]  # unlike upper case, leaves Georgian letters as they are written


def headline(pattern: Pattern) -> str:
    """Return garment and wearer on one line: `Leggings · for Zoë`."""
    return " · ".join(part for part in (capitalised(name_on_paper(pattern)), _for_words(pattern.for_whom)) if part)


def name_on_paper(pattern: Pattern) -> str:
    """Return the garment's name in letters that can be printed; its kind where it has none of them."""
    return _legible(pattern.title) or _legible(str((pattern.provenance.get("taken") or {}).get("kind") or ""))


def find_unprintable(pattern: Pattern) -> tuple[Finding, ...]:
    """Say which letters of the pattern's name, and of whom it is for, are left out on paper."""
    lost = missing_letters(f"{pattern.title} {pattern.for_whom}")
    if not lost:
        return ()
    heading = headline(pattern)
    return (
        Finding(
            "letters-not-printed",
            f"These letters of the name cannot be printed and are left out on paper: {' '.join(lost)}.",
            (f"It says “{heading}” there" if heading else "It has no name there")
            + "; for another name use Latin, Greek, Cyrillic, Armenian or Georgian letters.",
        ),
    )


def _legible(words: str) -> str:
    """Return `words` as printed, empty where letters are lost and no letter or number is left."""
    shown = clean_words(words)
    return "" if missing_letters(words) and not any(c.isalnum() for c in shown) else shown


def label_lines(pattern: Pattern, piece: Piece, units: Units) -> list[str]:
    """Return what is written on a piece below its name, in reading order."""
    heading = headline(pattern)
    own = [piece.quantity, "" if heading == capitalised(piece.name) else heading, pattern.made_on]
    lines = [*own, *_further(pattern, piece), "Allowances included:", *allowance_lines(piece, units)]
    return [line for line in lines if line.strip()]


def short_label_lines(pattern: Pattern, piece: Piece) -> list[str]:
    """Return what is written on a piece where name and date of the pattern stand elsewhere: no allowances either."""
    return [line for line in (piece.quantity, *_further(pattern, piece)) if line.strip()]


def _further(pattern: Pattern, piece: Piece) -> Iterable[str]:
    """Return the piece's own lines, but for those that repeat what the label says anyway."""
    said = {piece.quantity, pattern.title, pattern.for_whom, f"for {pattern.for_whom}", pattern.made_on}
    said_lower = {line.strip().lower() for line in said}
    begun = ("allowances included", *(f"{edge.name}:" for edge in piece.edges))
    for line in piece.labels:
        plain = line.strip().lower()
        if plain not in said_lower and not plain.startswith(begun):
            yield line


def _for_words(for_whom: str) -> str:
    """Return `for Zoë`, `size 98/104` or what was typed: `3 years`."""
    typed = _legible(for_whom)
    if not typed or typed.lower().startswith(("for ", "size ")):
        return typed
    if typed[0].isdigit():
        return f"size {typed}" if " " not in typed else typed
    return f"for {typed}"
