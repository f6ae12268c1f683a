"""Findings: what a person should know about a result, as data.

A finding never stops the work; an error does. Terminal, page, paper and JSON show the same finding. An option of the
command line stands in brackets behind plain words that say as much (`give the waist too (--waist)`): the page puts its
own name for it there, and paper, which may be read by somebody else a year later, leaves the brackets out.
"""

import re
from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding matters."""

    NOTE = "note"
    WARNING = "warning"


@dataclass(frozen=True)
class Finding:
    """One thing seen.

    Attributes:
        code: stable, lower case with hyphens, e.g. `no-focal-length`.
        text: what was seen, one sentence.
        advice: what to do about it, one sentence, or empty.
        severity: note or warning.
        place: where, in words (`hem`, `left edge`), or empty.
        amount_mm: its size where it has one [mm].
    """

    code: str
    text: str
    advice: str = ""
    severity: Severity = Severity.WARNING
    place: str = ""
    amount_mm: float | None = None

    def sentence(self) -> str:
        """Return text and advice as one line, for the terminal."""
        return f"{self.text} {self.advice}".strip()

    def plain(self) -> str:
        """Return text and advice as one line for paper, without options of the command line."""
        return without_options(self.sentence())


_BRACKETS = re.compile(r"\s*\([^()]*(?<![\w-])--[a-z][^()]*\)")
_OPTION = re.compile(r"(?<![\w-])--([a-z]+(?:-[a-z]+)*)")


def without_options(words: str) -> str:
    """Return a sentence without options of the command line in brackets.

    One that stands elsewhere, as in patterns kept long ago, becomes words in quotes.

    >>> without_options("Give the waist too (--waist)."), without_options("Say --waist-flat.")
    ('Give the waist too.', 'Say “waist flat”.')
    """
    return _OPTION.sub(lambda match: f"“{match[1].replace('-', ' ')}”", _BRACKETS.sub("", words))
