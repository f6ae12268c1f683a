"""Plain tables for the terminal, aligned whatever the script."""

import unicodedata
from collections.abc import Sequence


def width_of(text: str) -> int:
    """Return how many columns of a terminal `text` takes."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(c) or unicodedata.category(c) in ("Mn", "Me", "Cf") else
        2 if unicodedata.east_asian_width(c) in "WF" else 1
        for c in text
    )  # fmt: skip


def shorten(text: str, columns: int) -> str:
    """Return `text` in at most `columns` columns, its end replaced by `…` where it is longer."""
    if width_of(text) <= columns:
        return text
    while text and width_of(text) > columns - 1:
        text = text[:-1]
    return f"{text.rstrip()}…"


def write_table(
    head: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int] = (), indent: str = ""
) -> list[str]:
    """Return a line of heads and one a row; columns whose number is in `right` are aligned to the right."""
    table = [tuple(head), *map(tuple, rows)]
    lines = [indent] * len(table)
    for i in range(len(head)):
        widths = [width_of(row[i]) for row in table]
        widest = max(widths)
        for number, (row, width) in enumerate(zip(table, widths, strict=True)):
            room = " " * (widest - width)
            gap = "  " if i else ""
            lines[number] += gap + (room + row[i] if i in right else row[i] + room)
    return [line.rstrip() for line in lines]
