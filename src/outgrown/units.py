"""Lengths as people read and type them. Inside the library everything is in millimetres."""

import re
from enum import StrEnum
from fractions import Fraction

from .standards import INCH_MM

_UNITS_MM = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": INCH_MM.value,
    "inch": INCH_MM.value,
    "inches": INCH_MM.value,
    '"': INCH_MM.value,
    "″": INCH_MM.value,
    "yd": 36 * INCH_MM.value,
}
_NUMBER = re.compile(
    r"^\s*(?P<whole>\d+(?:[.,]\d+)?|\.\d+)?\s*(?:(?P<num>\d+)\s*/\s*(?P<den>\d+))?\s*(?P<unit>[a-zA-Z\"″]*)\s*$"
)
_FRACTION_ONLY = re.compile(r"^\s*(?P<num>\d+)\s*/\s*(?P<den>\d+)\s*(?P<unit>[a-zA-Z\"″]*)\s*$")
_LONGEST_MM = 200_000.0
"""Twice a full bolt of 100 m (common practice, no source)."""


def read_length_mm(text: str, default_unit: str = "mm") -> float:
    """Return the length written in `text` [mm].

    >>> read_length_mm("6mm"), read_length_mm("2.5 cm"), read_length_mm("1/4in"), read_length_mm('1 1/2"')
    (6.0, 25.0, 6.35, 38.099999999999994)

    Raises:
        ValueError: not a length.
    """
    match = _FRACTION_ONLY.match(text) or _NUMBER.match(text)
    if not match:
        raise ValueError(f"“{text}” is not a length; write it like 6mm, 2.5cm or 1/4in.")
    parts = match.groupdict()
    if parts.get("whole") is None and parts.get("num") is None:
        raise ValueError(f"“{text}” is not a length; write it like 6mm, 2.5cm or 1/4in.")
    number = float((parts.get("whole") or "0").replace(",", "."))
    if parts.get("num"):
        if int(parts["den"]) == 0:
            raise ValueError(f"“{text}” divides by nought; write it like 1/4in.")
        number += int(parts["num"]) / int(parts["den"])
    unit = (parts["unit"] or default_unit).lower()
    if unit not in _UNITS_MM:
        raise ValueError(f"“{text}” has no unit known here; use mm, cm, m, in or yd.")
    length = number * _UNITS_MM[unit]
    if length > _LONGEST_MM:
        raise ValueError(f"“{text}” is longer than any cloth; check the number and its unit.")
    return length


_BARE_AGE = re.compile(r"^\d+(?:[.,]\d+)?$")
_AGE = re.compile(r"^(?:(?P<years>\d+(?:[.,]\d+)?)\s*(?:y|years?))?\s*(?:(?P<months>\d+)\s*(?:m|months?))?$")


def read_age_months(text: str) -> float:
    """Return the age written in `text` [months].

    >>> read_age_months("5"), read_age_months("5y6m"), read_age_months("66m"), read_age_months("5.5 years")
    (60.0, 66.0, 66.0, 66.0)

    Raises:
        ValueError: not an age.
    """
    words = text.strip().lower()
    match = _AGE.match(f"{words}y" if _BARE_AGE.match(words) else words)
    if not match or not any(match.groups()):
        raise ValueError(f"“{text}” is not an age; write it like 5, 5y6m or 66m.")
    years = (match["years"] or "0").replace(",", ".")
    return 12.0 * float(years) + float(match["months"] or 0)


def write_cm(length_mm: float) -> str:
    """Return centimetres with one decimal: `54.3 cm`."""
    return f"{length_mm / 10:.1f} cm"


def write_inch(length_mm: float, parts: int = 8) -> str:
    """Return inches to the nearest 1/`parts`, as sewists read them.

    >>> write_inch(38.1), write_inch(6.35), write_inch(25.4), write_inch(0)
    ('1 1/2 in', '1/4 in', '1 in', '0 in')
    """
    nearest = Fraction(round(length_mm / INCH_MM.value * parts), parts)
    whole, rest = divmod(nearest, 1)
    if rest and whole:
        return f"{whole} {rest} in"
    return f"{rest if rest else whole} in"


_NUMBERS = r"\d+(?:\.\d+)?(?:(?: to| to about| and| ×|,) \d+(?:\.\d+)?)*"
_METRIC = re.compile(
    rf"“[^”]*”|(?<![\d.,])(?P<numbers>{_NUMBERS})[ \u00a0](?P<unit>mm|cm)\b(?: \((?P<inches>[^()]+ in)\))?"
)
_LEAST_FRACTION_MM, _LEAST_EXACT_MM = 3.0, 10.0
"""Less is said in hundredths of an inch: the marks of a ruler lie too far apart for it. The second is for lengths given
in tenths of a millimetre, so that doubts below one another are all said alike."""


def in_inches(words: str) -> str:
    """Return a sentence with its millimetres and centimetres as inches.

    As finely as they were given: by 1/32 where they had decimals of a millimetre, else by 1/16; small ones in decimals.
    What is quoted, names and what was typed, stays as it is.

    >>> in_inches("In “Mika 110 cm.jpg” 0 to 50 mm are free.")
    'In “Mika 110 cm.jpg” 0 in to 1 15/16 in are free.'
    >>> in_inches("It strays 12 mm, at most 0.6 mm; from 41.0 to 52.5 cm."), in_inches("1.0 cm (3/8 in) free")
    ('It strays 1/2 in, at most 0.02 in; from 16 1/8 in to 20 11/16 in.', '3/8 in free')
    """
    return _METRIC.sub(_with_inches, words)


def _with_inches(match: re.Match[str]) -> str:
    if match["unit"] is None:
        return match[0]
    unit_mm = _UNITS_MM[match["unit"]]
    if match["inches"]:
        return match["inches"]
    return re.sub(r"\d+(?:\.\d+)?", lambda number: _inches_for(number[0], unit_mm), match["numbers"])


def _inches_for(number: str, unit_mm: float) -> str:
    if number == "0":
        return "0 in"
    length_mm = float(number) * unit_mm
    is_exact = unit_mm == 1.0 and "." in number
    if length_mm < (_LEAST_EXACT_MM if is_exact else _LEAST_FRACTION_MM):
        inches = length_mm / INCH_MM.value
        return f"{inches:.3f} in" if 0 < inches < 0.01 else f"{inches:.2f} in"
    return write_inch(length_mm, parts=32 if is_exact else 16)


class Units(StrEnum):
    """What lengths are written in where a person reads them."""

    MM = "mm"
    INCH = "inch"

    def said(self, words: str) -> str:
        """Return a sentence, which the library writes in millimetres, in these units."""
        return in_inches(words) if self is Units.INCH else words
