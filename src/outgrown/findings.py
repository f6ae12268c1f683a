"""Findings: what a person should know about a result, as data.

A finding never stops the work; an error does. Terminal, page and JSON show the same finding.
"""

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
        """Return text and advice as one line."""
        return f"{self.text} {self.advice}".strip()
