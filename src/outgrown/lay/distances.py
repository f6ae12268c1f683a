"""Distances: from a placed piece straight to the cloth's edge, to place it by with a tape."""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Point

from ..arrays import Floats
from .cloth import Leftover
from .lay import Lay

_EDGES = {"right": (1.0, 0.0), "upper": (0.0, 1.0), "left": (-1.0, 0.0), "lower": (0.0, -1.0)}


@dataclass(frozen=True, eq=False)
class Distance:
    """One straight way from a piece to the cloth's edge, along the grain or across it.

    Attributes:
        piece: its place in the lay.
        towards: `left`, `right`, `upper` or `lower`, as the plan is drawn.
        start_mm: (2,) on the piece.
        end_mm: (2,) on the edge of the cloth, or of a hole.
    """

    piece: int
    towards: str
    start_mm: Floats
    end_mm: Floats

    @property
    def length_mm(self) -> float:
        """Return its length [mm]."""
        return float(np.hypot(*(self.end_mm - self.start_mm)))


def measure_distances(lay: Lay) -> tuple[Distance, ...]:
    """Return for each piece the shortest way along the grain and across it that meets no other piece.

    Together with its grain they tell where it lies. A piece shut in by others has fewer.
    """
    cloth = lay.cloth
    assert isinstance(cloth, Leftover)
    edge = cloth.whole().boundary
    shapes = [one.shape for one in lay.placed]
    a = np.radians(cloth.grain_deg)
    along = np.array([np.cos(a), np.sin(a)])
    found = []
    for number, one in enumerate(lay.placed):
        others = shapely.union_all([s for n, s in enumerate(shapes) if n != number])
        for axis in (along, np.array([-along[1], along[0]])):
            ways = [_shortest(one.ring_mm, way, edge, others, shapes[number]) for way in (axis, -axis)]
            known = [way for way in ways if way is not None]
            if known:
                start, end = min(known, key=lambda way: float(np.hypot(*(way[1] - way[0]))))
                found.append(Distance(number, _name(end - start), start, end))
    return tuple(found)


def _name(way: Floats) -> str:
    return max(_EDGES, key=lambda name: float(np.dot(way, _EDGES[name])))


def _shortest(
    ring: Floats, way: Floats, edge: shapely.Geometry, others: shapely.Geometry, own: shapely.Geometry
) -> tuple[Floats, Floats] | None:
    """Return the way from that corner of the ring which is furthest out in its direction."""
    start = ring[int(np.argmax(ring @ way))]
    low_x, low_y, high_x, high_y = edge.bounds
    far = start + way * (high_x - low_x + high_y - low_y)
    meets = edge.intersection(LineString([start, far]))
    points = [np.asarray(part.coords)[0] for part in getattr(meets, "geoms", [meets]) if not part.is_empty]
    if not points:
        return None
    end = min(points, key=lambda point: float(np.hypot(*(point - start))))
    line = LineString([start, end]) if np.any(end != start) else Point(start)
    return None if line.intersects(others) or line.intersection(own).length > 0.5 else (start, end)
