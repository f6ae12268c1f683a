"""PngSurface: a drawing in millimetres as a picture, for a screen."""

from contextlib import AbstractContextManager
from functools import cache
from io import BytesIO

import numpy as np
from numpy.typing import ArrayLike
from PIL import Image, ImageDraw, ImageFont

from ..arrays import Floats
from .lettering import clean_words, measure_words_mm, read_font
from .surface import Anchor, Lettering, Pen, PenStack

_FINE = 2
"""Drawn so much larger and then reduced: smooth lines."""
_CURVE_POINTS = 16


class PngSurface:
    """A surface that writes a grey picture.

    Args:
        width_mm: of the drawing [mm].
        height_mm: of the drawing [mm].
        px_per_mm: of the picture.
    """

    def __init__(self, width_mm: float, height_mm: float, px_per_mm: float = 8.0) -> None:
        self._height_mm, self._scale = height_mm, px_per_mm * _FINE
        size = (round(width_mm * px_per_mm) * _FINE, round(height_mm * px_per_mm) * _FINE)
        self._picture = Image.new("L", size, 255)
        self._draw = ImageDraw.Draw(self._picture)
        self._stack = PenStack()

    def group(self, name: str, pen: Pen | None = None) -> AbstractContextManager[None]:
        """Open a group; a picture keeps its pen and forgets its name."""
        return self._stack.open(name, pen)

    def polyline(self, points_mm: ArrayLike) -> None:
        """Draw an open line."""
        pen = self._stack.pen
        line = np.asarray(points_mm, dtype=np.float64)
        for run in _dashes(line, pen.dash_mm) if pen.dash_mm else [line]:
            width = max(1, round(pen.width_mm * self._scale))
            self._draw.line(self._px(run), fill=_grey(pen), width=width, joint="curve")

    def ring(self, points_mm: ArrayLike, is_filled: bool = False) -> None:
        """Draw or fill a closed line."""
        points = np.asarray(points_mm, dtype=np.float64)
        if is_filled:
            self._draw.polygon(self._px(points), fill=_grey(self._stack.pen))
        else:
            self.polyline(np.vstack([points, points[:2]]))

    def curve(self, control_mm: ArrayLike) -> None:
        """Draw a cubic Bezier curve."""
        a, b, c, d = np.asarray(control_mm, dtype=np.float64)
        t = np.linspace(0.0, 1.0, _CURVE_POINTS)[:, None]
        self.polyline((1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d)

    def text(self, words: str, at_mm: tuple[float, float], lettering: Lettering) -> None:
        """Write a line of text."""
        words = clean_words(words)
        if not words:
            return
        font = _font(max(6, round(lettering.size_mm * self._scale)), lettering.is_bold)
        width = measure_words_mm(words, lettering.size_mm, lettering.is_bold)
        back = {Anchor.START: 0.0, Anchor.MIDDLE: width / 2, Anchor.END: width}[lettering.anchor]
        fill = round(255 * lettering.grey)
        if lettering.rotation_deg % 360.0 == 0.0:
            place = self._px(np.array([[at_mm[0] - back, at_mm[1]]]))[0]
            self._draw.text(place, words, font=font, fill=fill, anchor="ls")
            return
        reach = round((width + 2 * lettering.size_mm) * self._scale)
        plate = Image.new("L", (2 * reach, 2 * reach), 0)
        ImageDraw.Draw(plate).text((reach - back * self._scale, reach), words, font=font, fill=255, anchor="ls")
        plate = plate.rotate(lettering.rotation_deg, Image.Resampling.BICUBIC)
        x, y = self._px(np.array([at_mm]))[0]
        self._picture.paste(fill, (round(x) - reach, round(y) - reach), plate)

    def write(self) -> bytes:
        """Return the picture as PNG."""
        buffer = BytesIO()
        self._picture.reduce(_FINE).save(buffer, "PNG", compress_level=6)
        return buffer.getvalue()

    def _px(self, points: Floats) -> list[tuple[float, float]]:
        return [(float(x) * self._scale, (self._height_mm - float(y)) * self._scale) for x, y in points]


def _dashes(line: Floats, lengths: tuple[float, ...]) -> list[Floats]:
    """Return the drawn stretches of a dashed line."""
    lengths = lengths if len(lengths) % 2 == 0 else lengths * 2
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    stops = np.cumsum(np.tile(lengths, int(run[-1] / sum(lengths)) + 1))
    starts = np.concatenate([[0.0], stops])[::2]
    dashes = []
    for start, end in zip(starts, stops[::2], strict=False):
        if start >= run[-1]:
            break
        at = np.concatenate([[start], run[(run > start) & (run < end)], [min(end, run[-1])]])
        dashes.append(np.column_stack([np.interp(at, run, line[:, 0]), np.interp(at, run, line[:, 1])]))
    return dashes


def _grey(pen: Pen) -> int:
    return round(255 * pen.grey)


@cache
def _font(size: int, is_bold: bool) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(BytesIO(read_font(is_bold)), size)
