"""SvgSurface: a drawing in millimetres as SVG, with named groups."""

from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import svgwrite
from numpy.typing import ArrayLike

from .lettering import FAMILY, clean_words
from .surface import Anchor, Lettering, Pen, PenStack


class SvgSurface:
    """A surface that writes SVG: one user unit is one millimetre.

    Args:
        width_mm: width of the drawing [mm].
        height_mm: height of the drawing [mm].
        title: shown by viewers as the drawing's name.
        prefix: of every id, so that several drawings can stand in one document.
    """

    def __init__(self, width_mm: float, height_mm: float, title: str = "", prefix: str = "") -> None:
        self._prefix = prefix
        self._height_mm = height_mm
        self._drawing = svgwrite.Drawing(
            size=(f"{_number(width_mm)}mm", f"{_number(height_mm)}mm"),
            viewBox=f"0 0 {_number(width_mm)} {_number(height_mm)}",
            debug=False,
        )
        self._drawing.set_desc(title=clean_words(title))
        self._stack = PenStack()
        self._open = [self._drawing]
        self._ids: dict[str, int] = {}

    @contextmanager
    def group(self, name: str, pen: Pen | None = None) -> Iterator[None]:
        """Open a `<g>` with the name as its class, its title and (made unique) its id."""
        outer = "-".join([*self._stack.names, name])
        group = self._drawing.g(id=self._unique(outer))
        group["class"] = _slug(name)
        group["data-name"] = clean_words(name)
        if pen is not None:
            group["fill"] = "none"
            group["stroke"] = _grey(pen.grey)
            group["stroke-width"] = _number(pen.width_mm)
            group["stroke-linejoin"] = "round"
            group["stroke-linecap"] = "butt" if pen.dash_mm else "round"
            group["stroke-dasharray"] = ",".join(_number(d) for d in pen.dash_mm) if pen.dash_mm else "none"
        self._open[-1].add(group)
        self._open.append(group)
        with self._stack.open(name, pen):
            yield
        self._open.pop()

    @contextmanager
    def window(
        self, low_mm: tuple[float, float], high_mm: tuple[float, float], shift_mm: tuple[float, float]
    ) -> Iterator[None]:
        """Draw through a window: only what falls between the corners of the page shows, moved by `shift_mm`."""
        name = self._unique("window")
        clip = self._drawing.defs.add(self._drawing.clipPath(id=f"{name}-clip"))
        (x0, y0), (x1, y1) = low_mm, high_mm
        corner = (float(_number(x0)), float(_number(self._height_mm - y1)))
        clip.add(self._drawing.rect(corner, (float(_number(x1 - x0)), float(_number(y1 - y0)))))
        outer = self._drawing.g(id=name)
        outer["clip-path"] = f"url(#{name}-clip)"
        inner = self._drawing.g(transform=f"translate({_number(shift_mm[0])} {_number(-shift_mm[1])})")
        outer.add(inner)
        self._open[-1].add(outer)
        self._open.append(inner)
        yield
        self._open.pop()

    def polyline(self, points_mm: ArrayLike) -> None:
        """Draw an open line."""
        self._open[-1].add(self._drawing.path(d="M" + self._path(points_mm)))

    def ring(self, points_mm: ArrayLike, is_filled: bool = False) -> None:
        """Draw or fill a closed line."""
        path = self._drawing.path(d="M" + self._path(points_mm) + "Z")
        if is_filled:
            path["fill"] = _grey(self._stack.pen.grey)
            path["stroke"] = "none"
        self._open[-1].add(path)

    def curve(self, control_mm: ArrayLike) -> None:
        """Draw a cubic Bezier curve."""
        points = self._path(control_mm).split(" ")
        self._open[-1].add(self._drawing.path(d=f"M{points[0]} C{' '.join(points[1:])}"))

    def text(self, words: str, at_mm: tuple[float, float], lettering: Lettering) -> None:
        """Write a line of text."""
        x, y = _number(at_mm[0]), _number(self._height_mm - at_mm[1])
        line = self._drawing.text(clean_words(words), fill=_grey(lettering.grey), stroke="none")
        line["x"], line["y"] = x, y
        line["font-family"] = f"'{FAMILY}', Verdana, sans-serif"
        line["font-size"] = _number(lettering.size_mm)
        if lettering.is_bold:
            line["font-weight"] = "bold"
        if lettering.anchor is not Anchor.START:
            line["text-anchor"] = lettering.anchor.value
        if lettering.rotation_deg:
            line["transform"] = f"rotate({_number(-lettering.rotation_deg)} {x} {y})"
        self._open[-1].add(line)

    def write(self) -> str:
        """Return the SVG document."""
        return str(self._drawing.tostring())

    def _path(self, points_mm: ArrayLike) -> str:
        points = np.asarray(points_mm, dtype=np.float64)
        return " ".join(f"{_number(x)},{_number(self._height_mm - y)}" for x, y in points)

    def _unique(self, name: str) -> str:
        slug = self._prefix + (_slug(name) or "group")
        self._ids[slug] = self._ids.get(slug, 0) + 1
        return slug if self._ids[slug] == 1 else f"{slug}-{self._ids[slug]}"


def _slug(name: str) -> str:
    """Return `name` as an XML name: letters and digits of ASCII, joined by hyphens."""
    kept = "".join(c if c.isascii() and c.isalnum() else "-" for c in name.lower())
    joined = "-".join(part for part in kept.split("-") if part)
    return f"n{joined}" if joined[:1].isdigit() else joined


def _number(value: float) -> str:
    """Return `value` to a thousandth of a millimetre, without idle noughts."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _grey(grey: float) -> str:
    level = round(255 * min(max(grey, 0.0), 1.0))
    return f"#{level:02x}{level:02x}{level:02x}"
