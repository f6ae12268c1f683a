"""BoldSurface: draws with thicker lines, and white on black where wished, for reading from afar."""

from contextlib import AbstractContextManager
from dataclasses import replace

from numpy.typing import ArrayLike

from .surface import Lettering, Pen, Surface

_WIDTH_SHARE = 3.0
_THINNEST_MM = 1.1
"""About a pixel of a projector whose picture is two metres wide."""
_DASH_SHARE = 2.2


class BoldSurface:
    """A surface that hands everything on to another one, bolder.

    Args:
        surface: to draw on.
        is_dark: black and white change places.
    """

    def __init__(self, surface: Surface, is_dark: bool) -> None:
        self._surface = surface
        self._is_dark = is_dark

    def group(self, name: str, pen: Pen | None = None) -> AbstractContextManager[None]:
        """Open a group with a bolder pen."""
        return self._surface.group(name, None if pen is None else self._bold(pen))

    def polyline(self, points_mm: ArrayLike) -> None:
        """Draw an open line."""
        self._surface.polyline(points_mm)

    def ring(self, points_mm: ArrayLike, is_filled: bool = False) -> None:
        """Draw or fill a closed line."""
        self._surface.ring(points_mm, is_filled)

    def curve(self, control_mm: ArrayLike) -> None:
        """Draw a cubic Bezier curve."""
        self._surface.curve(control_mm)

    def text(self, words: str, at_mm: tuple[float, float], lettering: Lettering) -> None:
        """Write a line of text."""
        self._surface.text(words, at_mm, replace(lettering, grey=self._shade(lettering.grey)))

    def _bold(self, pen: Pen) -> Pen:
        width = max(_THINNEST_MM, pen.width_mm * _WIDTH_SHARE)
        # A dash no longer than its line is thick would be a row of dots.
        dash = tuple(max(length * _DASH_SHARE, 1.6 * width) for length in pen.dash_mm)
        return Pen(width, dash, self._shade(pen.grey))

    def _shade(self, grey: float) -> float:
        return 1.0 - grey if self._is_dark else grey
