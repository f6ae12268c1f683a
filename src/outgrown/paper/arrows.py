"""Arrows: heads and shafts for grainline, stretch and fold."""

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from .surface import Surface

_HEAD_LENGTH_MM = 6.0
_HEAD_HALF_WIDTH_MM = 1.7


def unit(vector: ArrayLike) -> Floats:
    """Return `vector` at length 1; (1, 0) where it has none."""
    v = np.asarray(vector, dtype=np.float64)
    length = float(np.hypot(*v))
    return v / length if length > 1e-9 else np.array([1.0, 0.0])


def left_of(vector: ArrayLike) -> Floats:
    """Return `vector` turned by a quarter, counter-clockwise."""
    x, y = np.asarray(vector, dtype=np.float64)
    return np.array([-y, x])


def draw_filled_head(surface: Surface, tip_mm: ArrayLike, way: ArrayLike, scale: float = 1.0) -> None:
    """Draw a slender filled head whose tip is at `tip_mm`, pointing along `way`."""
    tip, along = np.asarray(tip_mm, dtype=np.float64), unit(way)
    back = tip - along * _HEAD_LENGTH_MM * scale
    side = left_of(along) * _HEAD_HALF_WIDTH_MM * scale
    surface.ring([tip, back + side, back - side], is_filled=True)


def draw_open_head(surface: Surface, tip_mm: ArrayLike, way: ArrayLike, scale: float = 1.0) -> None:
    """Draw an open head whose tip is at `tip_mm`, pointing along `way`."""
    tip, along = np.asarray(tip_mm, dtype=np.float64), unit(way)
    back = tip - along * _HEAD_LENGTH_MM * 0.8 * scale
    side = left_of(along) * _HEAD_HALF_WIDTH_MM * 1.8 * scale
    surface.polyline([back + side, tip, back - side])


def draw_straight_arrow(surface: Surface, ends_mm: ArrayLike) -> None:
    """Draw a shaft with a filled head at both ends."""
    first, second = np.asarray(ends_mm, dtype=np.float64)
    way = second - first
    scale = min(1.0, float(np.hypot(*way)) / 30)
    inset = unit(way) * _HEAD_LENGTH_MM * 0.8 * scale
    surface.polyline([first + inset, second - inset])
    draw_filled_head(surface, second, way, scale)
    draw_filled_head(surface, first, -way, scale)


def draw_wavy_arrow(surface: Surface, ends_mm: ArrayLike) -> None:
    """Draw a shaft that waves in its middle, with an open head at both ends: it gives, like the cloth."""
    first, second = np.asarray(ends_mm, dtype=np.float64)
    way = second - first
    length = float(np.hypot(*way))
    scale = min(1.0, length / 30)
    along, side = unit(way), left_of(unit(way))
    waves, wave = 2, min(8.0, length * 0.12)
    start = (first + second) / 2 - along * waves * wave / 2
    surface.polyline([first, start])
    for number in range(waves):
        a = start + along * wave * number
        b = a + along * wave
        swing = side * wave * 0.75
        surface.curve([a, a + along * wave / 2 + swing, b - along * wave / 2 - swing, b])
    surface.polyline([start + along * waves * wave, second])
    draw_open_head(surface, second, way, scale)
    draw_open_head(surface, first, -way, scale)
