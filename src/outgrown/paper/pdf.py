"""PdfSurface: pages at exactly 1:1, one millimetre being 72 / 25.4 points."""

import math
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from io import BytesIO

import numpy as np
from numpy.typing import ArrayLike
from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas

from ..arrays import Floats
from ..standards import INCH_MM
from .lettering import clean_words, font_name, measure_words_mm
from .pdf_layers import PdfLayers
from .surface import Anchor, Lettering, Pen, PenStack

POINT_MM = INCH_MM.value / 72
"""One PDF point [mm]."""


class PdfSurface:
    """A surface that writes PDF pages, alike to the last byte for the same drawing.

    Args:
        width_mm: page width [mm].
        height_mm: page height [mm].
        title: title in the document's properties.
        subject: subject in the document's properties.
        stretch: length in the file per length drawn, along x and y; see `set_page_size`.
        layers: names of groups that a viewer can show or hide, in the order of its list.
    """

    def __init__(
        self,
        width_mm: float,
        height_mm: float,
        title: str = "",
        subject: str = "",
        *,
        stretch: tuple[float, float] = (1.0, 1.0),
        layers: Sequence[str] = (),
    ) -> None:
        self._bytes = BytesIO()
        size = (width_mm * stretch[0] / POINT_MM, height_mm * stretch[1] / POINT_MM)
        # `invariant` fixes the dates and the document's id.
        version = (1, 5) if layers else None
        self._canvas = Canvas(self._bytes, pagesize=size, invariant=1, pageCompression=1, pdfVersion=version)
        self._canvas.setTitle(clean_words(title))
        self._canvas.setSubject(clean_words(subject))
        self._canvas.setAuthor("outgrown")
        self._canvas.setCreator("outgrown")
        # Viewers which honour it offer "actual size" first.
        self._canvas.setViewerPreference("PrintScaling", "None")
        self._stack = PenStack()
        self._pen_in_force: Pen | None = None
        self._shift = np.zeros(2)
        self._stretch = stretch
        self._is_begun = False
        self._layers = PdfLayers(self._canvas, layers)

    def group(self, name: str, pen: Pen | None = None) -> AbstractContextManager[None]:
        """Open a group; PDF keeps its pen, and its name where it is that of a layer."""
        return self._open_layer(name, pen) if name in self._layers else self._stack.open(name, pen)

    @contextmanager
    def _open_layer(self, name: str, pen: Pen | None) -> Iterator[None]:
        self._begin()  # the page's own state belongs to no layer
        with self._layers.open(name), self._stack.open(name, pen):
            yield

    @contextmanager
    def window(
        self, low_mm: tuple[float, float], high_mm: tuple[float, float], shift_mm: tuple[float, float]
    ) -> Iterator[None]:
        """Draw through a window: only what falls between the corners of the page shows, moved by `shift_mm`."""
        (x0, y0), (x1, y1) = low_mm, high_mm
        self._begin()
        self._canvas.saveState()
        self._pen_in_force = None
        frame = self._canvas.beginPath()
        frame.rect(x0 / POINT_MM, y0 / POINT_MM, (x1 - x0) / POINT_MM, (y1 - y0) / POINT_MM)
        self._canvas.clipPath(frame, stroke=0, fill=0)
        self._shift = np.asarray(shift_mm, dtype=np.float64)
        yield
        self._shift = np.zeros(2)
        self._canvas.restoreState()
        self._pen_in_force = None

    def polyline(self, points_mm: ArrayLike) -> None:
        """Draw an open line."""
        self._draw(self._points(points_mm), is_closed=False, is_filled=False)

    def ring(self, points_mm: ArrayLike, is_filled: bool = False) -> None:
        """Draw or fill a closed line."""
        self._draw(self._points(points_mm), is_closed=True, is_filled=is_filled)

    def curve(self, control_mm: ArrayLike) -> None:
        """Draw a cubic Bezier curve."""
        self._set_pen()
        path = self._canvas.beginPath()
        a, b, c, d = self._points(control_mm)
        path.moveTo(*a)
        path.curveTo(*b, *c, *d)
        self._canvas.drawPath(path, stroke=1, fill=0)

    def text(self, words: str, at_mm: tuple[float, float], lettering: Lettering) -> None:
        """Write a line of text, its font embedded."""
        words = clean_words(words)
        if not words:
            return
        turn = math.radians(lettering.rotation_deg)
        width = measure_words_mm(words, lettering.size_mm, lettering.is_bold)
        back = {Anchor.START: 0.0, Anchor.MIDDLE: width / 2, Anchor.END: width}[lettering.anchor]
        x, y = self._points([at_mm])[0] - np.array([math.cos(turn), math.sin(turn)]) * back / POINT_MM
        line = self._canvas.beginText()
        line.setFont(font_name(lettering.is_bold), lettering.size_mm / POINT_MM)
        line.setFillGray(lettering.grey)
        line.setTextTransform(math.cos(turn), math.sin(turn), -math.sin(turn), math.cos(turn), x, y)
        line.textOut(words)
        self._canvas.drawText(line)

    def end_page(self) -> None:
        """Finish the page; what follows is drawn on the next."""
        self._canvas.showPage()
        self._pen_in_force = None
        self._is_begun = False

    def set_page_size(self, width_mm: float, height_mm: float, stretch: tuple[float, float] = (1.0, 1.0)) -> None:
        """Give the page begun, and those after it, another size.

        Args:
            width_mm: of the page, in the millimetres drawn in [mm].
            height_mm: the same [mm].
            stretch: length in the file per length drawn, along x and y: for a printer that prints too large or small.
        """
        self._stretch = stretch
        self._canvas.setPageSize((width_mm * stretch[0] / POINT_MM, height_mm * stretch[1] / POINT_MM))

    def bookmark(self, words: str) -> None:
        """Put the page begun into the document's table of contents."""
        key = f"page-{self._canvas.getPageNumber()}"
        self._canvas.bookmarkPage(key)
        self._canvas.addOutlineEntry(clean_words(words), key, 0)

    def write(self) -> bytes:
        """Return the PDF document."""
        self._layers.finish()
        was, rl_config.useA85 = rl_config.useA85, 0  # streams as bytes, not spelled out in letters: a fifth smaller
        try:
            self._canvas.save()
        finally:
            rl_config.useA85 = was
        return self._bytes.getvalue()

    def _begin(self) -> None:
        """Stretch the page before anything is drawn on it."""
        if not self._is_begun and self._stretch != (1.0, 1.0):
            self._canvas.scale(*self._stretch)
        self._is_begun = True

    def _points(self, points_mm: ArrayLike) -> Floats:
        self._begin()
        points: Floats = (np.asarray(points_mm, dtype=np.float64) + self._shift) / POINT_MM
        return points

    def _set_pen(self) -> None:
        pen = self._stack.pen
        if pen == self._pen_in_force:
            return
        self._pen_in_force = pen
        self._canvas.setLineWidth(pen.width_mm / POINT_MM)
        self._canvas.setStrokeGray(pen.grey)
        self._canvas.setLineJoin(1)
        self._canvas.setLineCap(0 if pen.dash_mm else 1)
        self._canvas.setDash([length / POINT_MM for length in pen.dash_mm])

    def _draw(self, points: Floats, is_closed: bool, is_filled: bool) -> None:
        if is_filled:
            self._canvas.setFillGray(self._stack.pen.grey)
        else:
            self._set_pen()
        path = self._canvas.beginPath()
        first, *others = points.tolist()
        path.moveTo(*first)
        for x, y in others:
            path.lineTo(x, y)
        if is_closed:
            path.close()
        self._canvas.drawPath(path, stroke=0 if is_filled else 1, fill=1 if is_filled else 0)
