"""Forms: what a kept pattern can be drawn as again, and which wishes go with which."""

from dataclasses import dataclass

from ..errors import PieceError
from ..pieces.piece import Pattern
from ..units import Units
from .big_sheet import ROLLS_MM, draw_sheet_pdf
from .choices import BIG_PAPERS, HOME_PAPERS, OVERLAP_MM, Form, Grid
from .correction import NO_CORRECTION, Correction
from .pages import draw_svg, draw_tiles_pdf
from .printing import Printing
from .projector import draw_projector_pdf


@dataclass(frozen=True)
class Drawing:
    """A form and the wishes that go with it; None, empty or False where nothing is wished.

    Attributes:
        form: what to draw.
        paper: one of `HOME_PAPERS` for tiles, of `BIG_PAPERS` for a sheet; None = as the pattern was made, or A0.
        overlap_mm: of tiles [mm].
        orientation: of tiles or sheets, one of `ORIENTATIONS`.
        is_untrimmed: tiles are laid over one another as they are.
        roll_mm: width of the roll that a sheet is printed on [mm].
        is_dark: the projector page has white lines on black.
        grid: of the projector page.
        correction: of the printer, for tiles and sheets.
        units: which unit leads in words; None for the one the pattern was made with.

    Raises:
        PieceError: a wish does not go with the form.
    """

    form: Form
    paper: str | None = None
    overlap_mm: float | None = None
    orientation: str = ""
    is_untrimmed: bool = False
    roll_mm: float | None = None
    is_dark: bool = False
    grid: Grid | None = None
    correction: Correction = NO_CORRECTION
    units: Units | None = None

    def __post_init__(self) -> None:
        self._check_companions()
        papers = {Form.TILES: HOME_PAPERS, Form.SHEET: BIG_PAPERS}.get(self.form, ())
        if self.paper is not None and self.paper.lower() not in papers:
            raise PieceError(
                f"“{self.paper}” is no paper for {self.form}.",
                f"Use one of {', '.join(papers)}.",
            )
        if self.roll_mm is not None:
            least, most = ROLLS_MM
            if self.paper is not None:
                raise PieceError("A sheet is printed on paper or on a roll.", "Say --paper or --roll, not both.")
            if self.orientation:
                raise PieceError("A roll is as long as it needs to be.", "Leave --orientation away.")
            if not least <= self.roll_mm <= most:
                raise PieceError(
                    f"A roll {self.roll_mm:g} mm wide is none this program can print on.",
                    f"Say its width, between {least:g} and {most:g} mm, e.g. --roll 914mm or --roll 36in.",
                )

    def _check_companions(self) -> None:
        paged = (Form.TILES, Form.SHEET)
        wishes: tuple[tuple[str, bool, tuple[Form, ...]], ...] = (
            ("--paper", self.paper is not None, paged),
            ("--orientation", bool(self.orientation), paged),
            ("--bar-across or --bar-down", self.correction != NO_CORRECTION, paged),
            ("--overlap", self.overlap_mm is not None, (Form.TILES,)),
            ("--untrimmed", self.is_untrimmed, (Form.TILES,)),
            ("--roll", self.roll_mm is not None, (Form.SHEET,)),
            ("--dark", self.is_dark, (Form.PROJECTOR,)),
            ("--grid", self.grid is not None, (Form.PROJECTOR,)),
            ("--units", self.units is not None, (*paged, Form.SVG)),
        )
        for option, is_said, forms in wishes:
            if is_said and self.form not in forms:
                meant = " or ".join(f"--as {form}" for form in forms)
                raise PieceError(f"{option} does not go with --as {self.form}.", f"It goes with {meant}.")


def draw_form(pattern: Pattern, drawing: Drawing) -> bytes:
    """Return the file of `pattern` drawn as wished.

    Raises:
        PieceError: there is no piece, or a piece does not fit.
    """
    units = drawing.units
    if drawing.form is Form.SVG:
        return draw_svg(pattern, units).encode("utf-8")
    if drawing.form is Form.DXF:
        from .dxf import draw_dxf  # its library takes half a second to load

        return draw_dxf(pattern)
    if drawing.form is Form.PROJECTOR:
        return draw_projector_pdf(pattern, is_dark=drawing.is_dark, grid=drawing.grid or Grid.NONE)
    if drawing.form is Form.SHEET:
        return draw_sheet_pdf(
            pattern,
            drawing.paper or BIG_PAPERS[0],
            units,
            roll_mm=drawing.roll_mm,
            orientation=drawing.orientation,
            correction=drawing.correction,
        )
    printing = Printing(
        drawing.paper or str(pattern.choices.get("paper") or HOME_PAPERS[0]),
        OVERLAP_MM if drawing.overlap_mm is None else drawing.overlap_mm,
        drawing.orientation,
        drawing.is_untrimmed,
        drawing.correction,
    )
    return draw_tiles_pdf(pattern, printing, units)
