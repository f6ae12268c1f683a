"""Surface: what a drawing is drawn on, whatever the file will be.

A drawing is written once against `Surface`; the surfaces write SVG, PDF, or keep what was drawn for tests and for
measuring. Everything is in millimetres with y up, and the origin at the lower left.
"""

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from numpy.typing import ArrayLike


class Anchor(StrEnum):
    """Which end of a line of text stands at its point."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


@dataclass(frozen=True)
class Pen:
    """A line style.

    Attributes:
        width_mm: how thick [mm].
        dash_mm: lengths drawn and left out in turn [mm]; empty for an unbroken line.
        grey: 0 black .. 1 white.
    """

    width_mm: float
    dash_mm: tuple[float, ...] = ()
    grey: float = 0.0


@dataclass(frozen=True)
class Lettering:
    """How text looks.

    Attributes:
        size_mm: height of the line [mm]; capitals are 0.73 of it.
        is_bold: bold or regular.
        rotation_deg: counter-clockwise from the x axis [degrees].
        anchor: which end stands at the point given; the point lies on the baseline.
        grey: 0 black .. 1 white.
    """

    size_mm: float
    is_bold: bool = False
    rotation_deg: float = 0.0
    anchor: Anchor = Anchor.START
    grey: float = 0.0


class Surface(Protocol):
    """Receives a drawing. Lines take the pen of the group they are drawn in; every line needs a group."""

    def group(self, name: str, pen: Pen | None = None) -> AbstractContextManager[None]:
        """Open the group `name`; lines drawn inside take `pen`, or the outer group's pen where it is None."""

    def polyline(self, points_mm: ArrayLike) -> None:
        """Draw an open line through (N, 2) points [mm]."""

    def ring(self, points_mm: ArrayLike, is_filled: bool = False) -> None:
        """Draw a closed line through (N, 2) points [mm], first point not repeated; or fill it with the pen's grey."""

    def curve(self, control_mm: ArrayLike) -> None:
        """Draw one cubic Bezier curve from its (4, 2) control points [mm]."""

    def text(self, words: str, at_mm: tuple[float, float], lettering: Lettering) -> None:
        """Write one line of text, its baseline starting, centred or ending at `at_mm` [mm]."""


class PagedSurface(Surface, Protocol):
    """Receives a drawing of several pages, one after the other."""

    def end_page(self) -> None:
        """Finish the page; what follows is drawn on the next."""


class Pages(PagedSurface, Protocol):
    """Pages of any size that show windows of a larger drawing."""

    def window(
        self, low_mm: tuple[float, float], high_mm: tuple[float, float], shift_mm: tuple[float, float]
    ) -> AbstractContextManager[None]:
        """Draw through a window: only what falls between the corners of the page shows, moved by `shift_mm`."""

    def set_page_size(self, width_mm: float, height_mm: float, stretch: tuple[float, float] = (1.0, 1.0)) -> None:
        """Give the page begun, and those after it, another size."""

    def bookmark(self, words: str) -> None:
        """Name the page begun."""


class PenStack:
    """The pen in force and the names of the open groups; shared by the surfaces."""

    def __init__(self) -> None:
        self._pens: list[Pen] = []
        self.names: list[str] = []

    @property
    def pen(self) -> Pen:
        """The pen in force.

        Raises:
            RuntimeError: nothing gave one.
        """
        if not self._pens:
            raise RuntimeError("a line is drawn outside of any group with a pen")
        return self._pens[-1]

    @contextmanager
    def open(self, name: str, pen: Pen | None) -> Iterator[None]:
        """Hold `name` and `pen` while the group is open."""
        self.names.append(name)
        if pen is not None:
            self._pens.append(pen)
        try:
            yield
        finally:
            self.names.pop()
            if pen is not None:
                self._pens.pop()
