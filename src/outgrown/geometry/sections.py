"""Sections: where a ring is cut by a level line, and how wide it is there."""

import numpy as np

from ..arrays import Floats
from ..errors import GeometryError
from .rings import closed


def crossings_mm(line_mm: Floats, height_mm: float) -> Floats:
    """Return the x of every place where the open line crosses the level `height_mm`, in order along it."""
    y = line_mm[:, 1] - height_mm
    below, above = y[:-1], y[1:]
    cut = np.flatnonzero((below <= 0) != (above <= 0))
    share = below[cut] / (below[cut] - above[cut])
    return np.asarray(line_mm[cut, 0] + share * (line_mm[cut + 1, 0] - line_mm[cut, 0]))


def span_at_height(ring_mm: Floats, height_mm: float) -> tuple[float, float]:
    """Return the leftmost and rightmost x of the ring at a height [mm].

    Raises:
        GeometryError: the ring does not reach that height.
    """
    xs = crossings_mm(closed(ring_mm), height_mm)
    if len(xs) < 2:
        raise GeometryError(f"The shape does not reach the height of {height_mm:.1f} mm.")
    return float(xs.min()), float(xs.max())


def width_at_height(ring_mm: Floats, height_mm: float) -> float:
    """Return how wide the ring is at a height, outermost to outermost [mm].

    >>> width_at_height(np.array([[0.0, 0.0], [10.0, 0.0], [20.0, 10.0], [0.0, 10.0]]), 5.0)
    15.0
    """
    left, right = span_at_height(ring_mm, height_mm)
    return right - left
