"""Searching: which of the kept patterns a person means."""

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from .entry import Entry

_NEAR_CM = 3
"""Body heights are sold six centimetres apart; half of it is the same size."""


@dataclass(frozen=True)
class Wanted:
    """What is looked for; everything said must hold.

    Attributes:
        words: each is somewhere in name, person, garment, pieces, photo, dates or notes.
        for_whom: in for whom, or empty.
        garment: start of the kind, or empty.
        since: made on this ISO date or later, or empty; the start of one will do, e.g. `2026-03`.
        until: made on this ISO date or before, or empty.
        sizes_cm: lowest and highest body height [cm], or None.
    """

    words: tuple[str, ...] = ()
    for_whom: str = ""
    garment: str = ""
    since: str = ""
    until: str = ""
    sizes_cm: tuple[int, int] | None = None


def find_entries(entries: Iterable[Entry], wanted: Wanted) -> list[Entry]:
    """Return the entries that are `wanted`, in the order given; letters' case and accents do not matter."""
    words = [simplify(word) for word in wanted.words]
    person, garment = simplify(wanted.for_whom), simplify(wanted.garment)
    found = []
    for entry in entries:
        made_on = entry.made_on or entry.kept_on
        if (
            (not wanted.since or made_on[: len(wanted.since)] >= wanted.since)
            and (not wanted.until or (made_on and made_on[: len(wanted.until)] <= wanted.until))
            and (wanted.sizes_cm is None or any(_is_size(n, wanted.sizes_cm) for n in entry.sizes))
            and (not garment or simplify(entry.garment).startswith(garment))
            and (not person or person in simplify(entry.for_whom))
            and (not words or _holds(entry, words))
        ):
            found.append(entry)
    return found


def simplify(text: str) -> str:
    """Return `text` without case and accents, for comparing."""
    folded = text.casefold()
    if folded.isascii():
        return folded
    return "".join(c for c in unicodedata.normalize("NFKD", folded) if not unicodedata.combining(c)).casefold()


def _is_size(size_cm: int, between: tuple[int, int]) -> bool:
    low, high = between
    return low - _NEAR_CM < size_cm < high + _NEAR_CM


def _holds(entry: Entry, words: list[str]) -> bool:
    text = simplify(
        "\n".join(
            (
                *(entry.id, entry.name, entry.for_whom, entry.garment, entry.made_on, entry.kept_on, entry.photo),
                *entry.pieces,
                entry.notes,
            )
        )
    )
    return all(word in text for word in words)
