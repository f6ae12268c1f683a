"""Marks: lines drawn inside a placed piece, at any scale."""

from collections.abc import Callable

import numpy as np
from shapely import LineString, Polygon

from ..arrays import Floats
from .placing import Placed

_SHORTEST_ARROW = 4.0
_BETTER = 1.35
"""An arrow further from the piece's side must be longer by this factor."""

Move = Callable[[Floats], Floats]


def hatch(ring: Floats, step: float) -> list[Floats]:
    """Return slanted strokes (2, 2) that fill the ring, `step` apart along x."""
    shape = Polygon(ring).buffer(0)
    low_x, low_y, high_x, high_y = shape.bounds
    high = high_y - low_y
    starts = np.arange(np.floor((low_x - high) / step) * step, high_x, step)
    return [stroke for x in starts for stroke in _inside(shape, np.array([(x, low_y), (x + high, high_y)]))]


def opened_middle(one: Placed) -> Floats | None:
    """Return the middle (2, 2) of a piece that was opened along its fold, on the cloth; None of any other."""
    part = one.item.part
    if one.item.on_fold or part.half_mm is None:
        return None
    x, y = part.ring_mm.T
    middle = 0.5 * (y.min() + y.max())
    return one.moved(np.array([[x.min(), middle], [x.max(), middle]]))


def grain_arrow(one: Placed, move: Move, clear: float) -> Floats | None:
    """Return a line (2, 2) along the grain inside the piece, ending towards its top; None where there is no room.

    It keeps off the middle so that words have room.

    Args:
        one: the piece.
        move: carries the cloth's millimetres to the drawing's.
        clear: kept from the piece's edge, in the drawing's units.
    """
    ring = one.item.ring_mm
    inner = Polygon(move(one.ring_mm)).buffer(0).buffer(-clear)
    low, high = ring.min(axis=0), ring.max(axis=0)
    best: Floats | None = None
    for share in (0.2, 0.8, 0.3, 0.7, 0.5):
        y = low[1] + share * (high[1] - low[1])
        for part in _inside(inner, move(one.moved(np.array([[low[0], y], [high[0], y]])))):
            if _long(part) > _SHORTEST_ARROW and (best is None or _long(part) > _BETTER * _long(best)):
                best = part
    if best is None:
        return None
    middle, half = best.mean(axis=0), 0.5 * (best[1] - best[0])
    half = half * min(0.85, max(20.0 / _long(best), 0.45))
    return np.array([middle - half, middle + half])


def _long(line: Floats) -> float:
    return float(np.hypot(*(line[-1] - line[0])))


def _inside(shape: Polygon, line: Floats) -> list[Floats]:
    common = shape.intersection(LineString(line))
    parts = [np.asarray(p.coords) for p in getattr(common, "geoms", [common]) if isinstance(p, LineString)]
    return [part for part in parts if len(part) == 2]
