"""SvgPages: a drawing of several pages, each as an SVG of its own, to look at before it is printed."""

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager

from numpy.typing import ArrayLike

from .surface import Lettering, Pen
from .svg import SvgSurface


class SvgPages:
    """A surface of several pages that writes an SVG for each.

    Args:
        width_mm: width of the first page [mm].
        height_mm: height of the first page [mm].
        title: shown by viewers as the drawing's name.
    """

    def __init__(self, width_mm: float, height_mm: float, title: str = "") -> None:
        self._size = (width_mm, height_mm)
        self._title = title
        self._done: list[str] = []
        self._page: SvgSurface | None = None

    def group(self, name: str, pen: Pen | None = None) -> AbstractContextManager[None]:
        """Open a group on the page begun."""
        return self._surface().group(name, pen)

    @contextmanager
    def window(
        self, low_mm: tuple[float, float], high_mm: tuple[float, float], shift_mm: tuple[float, float]
    ) -> Iterator[None]:
        """Draw through a window of the page begun."""
        with self._surface().window(low_mm, high_mm, shift_mm):
            yield

    def polyline(self, points_mm: ArrayLike) -> None:
        """Draw an open line."""
        self._surface().polyline(points_mm)

    def ring(self, points_mm: ArrayLike, is_filled: bool = False) -> None:
        """Draw or fill a closed line."""
        self._surface().ring(points_mm, is_filled)

    def curve(self, control_mm: ArrayLike) -> None:
        """Draw a cubic Bezier curve."""
        self._surface().curve(control_mm)

    def text(self, words: str, at_mm: tuple[float, float], lettering: Lettering) -> None:
        """Write a line of text."""
        self._surface().text(words, at_mm, lettering)

    def end_page(self) -> None:
        """Finish the page; what follows is drawn on the next."""
        self._done.append(self._surface().write())
        self._page = None

    def set_page_size(self, width_mm: float, height_mm: float, stretch: tuple[float, float] = (1.0, 1.0)) -> None:
        """Give the page begun, and those after it, another size [mm]; what a printer stretches is not shown."""
        self._size = (width_mm, height_mm)

    def bookmark(self, words: str) -> None:
        """Name the page begun; a page to look at has no table of contents."""

    def write(self) -> list[str]:
        """Return the pages as SVG documents."""
        return list(self._done)

    def _surface(self) -> SvgSurface:
        if self._page is None:
            self._page = SvgSurface(*self._size, self._title, f"page-{len(self._done) + 1}-")
        return self._page
