"""RecordingSurface: keeps what was drawn, to be measured, looked through, or drawn again elsewhere."""

from collections.abc import Iterable
from contextlib import AbstractContextManager, ExitStack
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats, frozen
from .lettering import ASCENT_SHARE, DESCENT_SHARE, measure_words_mm
from .surface import Anchor, Lettering, Pen, PenStack, Surface


@dataclass(frozen=True, eq=False)
class Stroke:
    """A line, ring or curve as drawn.

    Attributes:
        points_mm: (N, 2) points, or (4, 2) control points of a curve.
        pen: its style.
        names: the open groups, outermost first.
        is_closed: ring or open line.
        is_filled: filled with the pen's grey instead of drawn.
        is_curve: the points are control points.
    """

    points_mm: Floats
    pen: Pen
    names: tuple[str, ...]
    is_closed: bool = False
    is_filled: bool = False
    is_curve: bool = False

    def path_mm(self) -> Floats:
        """Return (M, 2) points of the line itself [mm]; closed rings end where they begin."""
        if self.is_curve:
            return curve_points_mm(self.points_mm)
        if self.is_closed:
            return np.vstack([self.points_mm, self.points_mm[:1]])
        return self.points_mm


@dataclass(frozen=True)
class Words:
    """A line of text as written."""

    words: str
    at_mm: tuple[float, float]
    lettering: Lettering
    names: tuple[str, ...]

    def path_mm(self) -> Floats:
        """Return (5, 2) points round the text's box [mm]."""
        corners = text_box_mm(self.words, self.at_mm, self.lettering)
        return np.vstack([corners, corners[:1]])

    def filled_mm(self) -> Floats:
        """Return (N, 2, 2) lines that fill the text's box, about a millimetre apart."""
        a, b, c, d = text_box_mm(self.words, self.at_mm, self.lettering)
        share = np.linspace(0.0, 1.0, 2 + int(self.lettering.size_mm))[:, None]
        return np.stack([a + (d - a) * share, b + (c - b) * share], axis=1)


Item = Stroke | Words


def curve_points_mm(control_mm: ArrayLike, count: int = 24) -> Floats:
    """Return (count, 2) points along a cubic Bezier curve."""
    t = np.linspace(0.0, 1.0, count)[:, None]
    a, b, c, d = np.asarray(control_mm, dtype=np.float64)
    points: Floats = (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d
    return points


def text_box_mm(words: str, at_mm: tuple[float, float], lettering: Lettering) -> Floats:
    """Return the (4, 2) corners of the box that a line of text fills [mm]."""
    width = measure_words_mm(words, lettering.size_mm, lettering.is_bold)
    start = {Anchor.START: 0.0, Anchor.MIDDLE: -width / 2, Anchor.END: -width}[lettering.anchor]
    low, high = -DESCENT_SHARE * lettering.size_mm, ASCENT_SHARE * lettering.size_mm
    box = np.array([(start, low), (start + width, low), (start + width, high), (start, high)])
    turn = np.deg2rad(lettering.rotation_deg)
    rotation = np.array([(np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))])
    corners: Floats = box @ rotation + np.asarray(at_mm)
    return corners


class RecordingSurface:
    """A surface that keeps what is drawn on it."""

    def __init__(self) -> None:
        self._stack = PenStack()
        self.items: list[Item] = []

    def group(self, name: str, pen: Pen | None = None) -> AbstractContextManager[None]:
        """Open a group."""
        return self._stack.open(name, pen)

    def polyline(self, points_mm: ArrayLike) -> None:
        """Keep an open line."""
        self._keep(points_mm)

    def ring(self, points_mm: ArrayLike, is_filled: bool = False) -> None:
        """Keep a closed line."""
        self._keep(points_mm, is_closed=True, is_filled=is_filled)

    def curve(self, control_mm: ArrayLike) -> None:
        """Keep a curve."""
        self._keep(control_mm, is_curve=True)

    def text(self, words: str, at_mm: tuple[float, float], lettering: Lettering) -> None:
        """Keep a line of text."""
        self.items.append(Words(words, at_mm, lettering, tuple(self._stack.names)))

    def strokes(self, name: str) -> list[Stroke]:
        """Return the strokes drawn anywhere inside the group `name`."""
        return [item for item in self.items if isinstance(item, Stroke) and name in item.names]

    def words(self) -> list[str]:
        """Return every line of text in the order written."""
        return [item.words for item in self.items if isinstance(item, Words)]

    def segments_mm(self) -> Floats:
        """Return (N, 2, 2) every straight piece drawn, text as its box [mm]."""
        return item_segments_mm(self.items)

    def _keep(
        self, points_mm: ArrayLike, is_closed: bool = False, is_filled: bool = False, is_curve: bool = False
    ) -> None:
        names = tuple(self._stack.names)
        self.items.append(Stroke(frozen(points_mm), self._stack.pen, names, is_closed, is_filled, is_curve))


def item_segments_mm(items: Iterable[Item]) -> Floats:
    """Return (N, 2, 2) every straight piece of `items`, text as its box [mm]."""
    paths = [item.path_mm() for item in items]
    segments = [np.stack([path[:-1], path[1:]], axis=1) for path in paths if len(path) > 1]
    return np.concatenate(segments) if segments else np.zeros((0, 2, 2))


def draw_items(surface: Surface, items: Iterable[Item]) -> None:
    """Draw kept items again, each in its groups, on another surface."""
    for item in items:
        pen = item.pen if isinstance(item, Stroke) else None
        with ExitStack() as groups:
            for name in item.names[:-1]:
                groups.enter_context(surface.group(name))
            groups.enter_context(surface.group(item.names[-1] if item.names else "", pen))
            if isinstance(item, Words):
                surface.text(item.words, item.at_mm, item.lettering)
            elif item.is_curve:
                surface.curve(item.points_mm)
            elif item.is_closed:
                surface.ring(item.points_mm, item.is_filled)
            else:
                surface.polyline(item.points_mm)
