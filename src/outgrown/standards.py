"""Published constants, each with its source. Nothing here is a matter of taste."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Sourced:
    """A number somebody published (or common practice, in `practice`).

    Attributes:
        value: the number.
        unit: its unit.
        source: who says so: edition and clause, or `common practice`, with `from memory` where unread.
    """

    value: float
    unit: str
    source: str


_ID1 = "ISO/IEC 7810:2019, ID-1"
CARD_LONG_MM = Sourced(85.60, "mm", _ID1)
CARD_SHORT_MM = Sourced(53.98, "mm", _ID1)
CARD_THICKNESS_MM = Sourced(0.76, "mm", _ID1 + ", allowed 0.68 to 0.84")
CARD_SIZE_TOLERANCE = Sourced(0.0015, "share of a side", "ISO/IEC 7810:2003, 5.1 (from memory)")

_ISO216 = "ISO 216:2007"
SHEET_SIZES_MM: dict[str, tuple[float, float, str]] = {
    "a0": (841.0, 1189.0, _ISO216),
    "a1": (594.0, 841.0, _ISO216),
    "a2": (420.0, 594.0, _ISO216),
    "a3": (297.0, 420.0, _ISO216),
    "a4": (210.0, 297.0, _ISO216),
    "a5": (148.0, 210.0, _ISO216),
    "letter": (215.9, 279.4, "ANSI/ASME Y14.1, 8.5 x 11 in"),
    "legal": (215.9, 355.6, "8.5 x 14 in"),
    "tabloid": (279.4, 431.8, "ANSI/ASME Y14.1, 11 x 17 in (from memory)"),
}
"""Short side, long side [mm], source."""

FILM_DIAGONAL_MM = Sourced(
    43.2666, "mm", "36 x 24 mm frame, ISO 1007; 35 mm equivalent by diagonal: CIPA DCG-001 (from memory)"
)
INCH_MM = Sourced(25.4, "mm", "international inch, 1959")
LUMA = (0.299, 0.587, 0.114)
"""What red, green and blue add to lightness: ITU-T T.871 (JFIF), section 7."""
