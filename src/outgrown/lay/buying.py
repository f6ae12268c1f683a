"""Buying: how much cloth to ask for in the shop."""

import math

from ..practice import SOLD_BY_INCH, SOLD_BY_MM
from ..standards import INCH_MM
from ..units import write_inch

_HAIR_MM = 0.5
"""A length this little over a whole step is still that step."""


def round_up_mm(length_mm: float, step_mm: float = SOLD_BY_MM.value) -> float:
    """Return the length as it is sold by the metre [mm].

    >>> round_up_mm(1421.0), round_up_mm(1400.2)
    (1500.0, 1400.0)
    """
    return math.ceil((length_mm - _HAIR_MM) / step_mm) * step_mm


def round_up_yard_mm(length_mm: float) -> float:
    """Return the length as it is sold by the yard [mm]: whole eighths.

    >>> round(round_up_yard_mm(900.0) / 914.4, 3), round(round_up_yard_mm(1000.0) / 914.4, 3)
    (1.0, 1.125)
    """
    return round_up_mm(length_mm, SOLD_BY_INCH.value * INCH_MM.value)


def write_to_buy(length_mm: float, step_mm: float = SOLD_BY_MM.value) -> str:
    """Return what to ask for: `1.50 m, or 1 5/8 yd`.

    >>> write_to_buy(1421.0)
    '1.50 m, or 1 5/8 yd'
    """
    yards = write_inch(round_up_yard_mm(length_mm) / 36.0).removesuffix(" in")
    return f"{round_up_mm(length_mm, step_mm) / 1000:.2f} m, or {yards} yd"
