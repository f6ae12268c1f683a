"""Printing: the paper, how pages are joined, and the printer's correction."""

from dataclasses import dataclass

from ..errors import PieceError
from ..standards import SHEET_SIZES_MM
from .choices import ORIENTATIONS, OVERLAP_MM
from .correction import NO_CORRECTION, Correction
from .tiles import Page

_NARROWEST_MM = 200.0
"""Squares, bars and map of the first page need so much."""
PAPERS = tuple(name for name, (short, _, _) in SHEET_SIZES_MM.items() if short >= _NARROWEST_MM)
"""Names of the paper sizes that can be printed on."""
OVERLAPS_MM = 8.0, 40.0
"""Narrower, nothing can be glued; wider, a page shows little new [mm]."""
A4 = "a4"


@dataclass(frozen=True)
class Printing:
    """How tiles are printed.

    Attributes:
        paper: one of `PAPERS`, e.g. `a4`, `letter`, `a3`.
        overlap_mm: strip shown on both neighbours [mm].
        orientation: of the tiles, one of `ORIENTATIONS`; empty for the one which needs fewer pages.
        is_untrimmed: pages are laid over one another as they are.
        correction: of the printer.

    Raises:
        PieceError: the paper or the orientation is not known, or the overlap makes no sense.
    """

    paper: str = A4
    overlap_mm: float = OVERLAP_MM
    orientation: str = ""
    is_untrimmed: bool = False
    correction: Correction = NO_CORRECTION

    def __post_init__(self) -> None:
        if self.paper.lower() not in PAPERS:
            raise PieceError(f"“{self.paper}” is not a paper size known here.", f"Use one of {', '.join(PAPERS)}.")
        if self.orientation and self.orientation not in ORIENTATIONS:
            raise PieceError(f"“{self.orientation}” is no way a page can lie.", f"Use {' or '.join(ORIENTATIONS)}.")
        least, most = OVERLAPS_MM
        if not least <= self.overlap_mm <= most:
            raise PieceError(
                f"Pages that overlap by {self.overlap_mm:g} mm cannot be joined well.",
                f"Choose an overlap between {least:g} and {most:g} mm.",
            )

    def upright_mm(self) -> tuple[float, float]:
        """Return width and height of the upright paper in the millimetres that the corrected printer prints."""
        short, long, _ = SHEET_SIZES_MM[self.paper.lower()]
        return short / self.correction.across, long / self.correction.down

    def pages(self) -> list[Page]:
        """Return the pages to choose from: upright, lying, or both."""
        short, long = self.upright_mm()
        upright = Page(short, long, self.overlap_mm, self.is_untrimmed)
        lying = Page(long, short, self.overlap_mm, self.is_untrimmed)
        return {"portrait": [upright], "landscape": [lying]}.get(self.orientation, [upright, lying])
