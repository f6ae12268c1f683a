"""Choices: the names a person picks from, without anything that draws."""

from enum import StrEnum

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
