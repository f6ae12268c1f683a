"""Labelling: the lines of text a piece carries besides its name."""

from collections.abc import Iterable, Mapping

from ..garment.garment import EdgeName
from .choices import Allowance, Choices
from .piece import Finish

_WORDS = {
    Finish.SEAM: "seam",
    Finish.FOLD: "fold, no allowance",
    Finish.CASING: "turned down",
    Finish.HEM: "turned up",
    Finish.MOCK_CUFF: "mock cuff",
    Finish.RAW: "raw edge, no allowance",
    Finish.FINISHED: "finished edge of the cloth, no allowance",
}


def write_labels(
    choices: Choices, allowances: Mapping[EdgeName, Allowance], edges: Iterable[EdgeName], own: Iterable[str]
) -> tuple[str, ...]:
    """Return title, wearer, date, the piece's `own` lines, and the allowances of its edges."""
    return (*write_headings(choices), *own, "allowances included:", *write_allowances(choices, allowances, edges))


def write_headings(choices: Choices) -> tuple[str, ...]:
    """Return title, wearer and date, those that are given."""
    lines = [choices.title]
    if choices.for_whom:
        lines.append(f"for {choices.for_whom}" if not choices.for_whom.lower().startswith("for ") else choices.for_whom)
    if choices.date:
        lines.append(choices.date)
    return tuple(lines)


def write_allowances(
    choices: Choices, allowances: Mapping[EdgeName, Allowance], edges: Iterable[EdgeName]
) -> tuple[str, ...]:
    """Return one line of text per edge: what is left beyond the seam line."""
    lines = []
    for name in dict.fromkeys(edges):
        allowance = allowances[name]
        word = _WORDS[allowance.finish]
        if allowance.amount_mm > 0:
            lines.append(f"{name}: {choices.length(allowance.amount_mm)}, {word}")
        else:
            lines.append(f"{name}: {word}" if "no allowance" in word else f"{name}: {word}, no allowance")
    return tuple(lines)
