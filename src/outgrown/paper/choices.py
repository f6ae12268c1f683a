"""Choices: the names a person picks from, without anything that draws."""

import re
from enum import StrEnum

from ..units import read_length_mm

HOME_PAPERS = ("a4", "letter", "a3", "tabloid")
"""Those of home and office printers."""
BIG_PAPERS = ("a0", "a1", "a2")
"""Those of large printers, for one sheet."""
ORIENTATIONS = ("portrait", "landscape")
OVERLAP_MM = 12.0
"""Strip shown on two neighbouring tiles and glued [mm]."""
CORRECTED_BAR_MM = 100.0
"""What is measured of a printed bar: from its 0 to its 10 cm [mm]."""

WHOLE_BAR_MM = 101.6
"""The bar's whole length, 4 in [mm]."""


def is_whole_bar(length_mm: float) -> bool:
    """Tell whether a length typed for 10 cm is more likely that of the whole bar."""
    return abs(length_mm - WHOLE_BAR_MM) < 0.3


def read_printed_bar_mm(text: str) -> float:
    """Return what 10 cm of a printed bar became, measured from 0 to 10 cm, or in inches from 0 to 4 in [mm].

    Raises:
        ValueError: not a length, or that of the whole bar in another unit.
    """
    length = read_length_mm(text)
    if re.search(r"(in|inch|inches|\"|″)\s*$", text.lower()):
        return length * CORRECTED_BAR_MM / WHOLE_BAR_MM
    if is_whole_bar(length):
        raise ValueError(
            f"{length:g} mm is the whole bar, 4 in long; measure from its 0 to its 10 cm, or type inches from 0 to 4 in"
        )
    return length


class Form(StrEnum):
    """What a pattern is drawn as."""

    TILES = "tiles"
    SHEET = "sheet"
    PROJECTOR = "projector"
    SVG = "svg"
    DXF = "dxf"

    @property
    def suffix(self) -> str:
        """The ending of its files."""
        return self.value if self in (Form.SVG, Form.DXF) else "pdf"


class Grid(StrEnum):
    """Lines over a whole projector page, to see that it is nowhere distorted."""

    NONE = "none"
    CM = "cm"
    INCH = "inch"
