"""Ground: where on a cloth a shape may be put down, at the points of the lattice."""

import numpy as np
import shapely
from shapely import Polygon, box

from ..arrays import Flags, Floats
from .lattice import meets


class Ground:
    """Cloth as the search sees it.

    Args:
        area: where pieces may lie.
        step_mm: of the lattice.
        line_area: where those may lie whose own y = 0 is held on the cloth's fold or hem, y = 0; it reaches a
            little below.
    """

    def __init__(self, area: shapely.Geometry, step_mm: float, line_area: shapely.Geometry | None = None) -> None:
        self.step_mm = step_mm
        self._bounds = [np.reshape(place.bounds, (2, 2)) for place in (area, line_area or area)]
        self._walls = [_walls(place) for place in (area, line_area or area)]

    def free(self, ring: Floats, on_line: bool = False) -> tuple[tuple[int, int], Flags]:
        """Return the first column and row, and (rows, columns): where the ring stays on the cloth."""
        step = self.step_mm
        (least, most), walls = self._bounds[on_line], self._walls[on_line]
        low = np.ceil((least - ring.min(axis=0)) / step - 1e-9).astype(int)
        high = np.floor((most - ring.max(axis=0)) / step + 1e-9).astype(int)
        if on_line:
            low[1], high[1] = 0, 0
        columns, rows = (high - low + 1).tolist()
        if columns <= 0 or rows <= 0:
            return (int(low[0]), int(low[1])), np.zeros((0, 0), dtype=bool)
        start = (low[0] * step, low[1] * step)
        taken = np.zeros((rows, columns), dtype=bool)
        for wall in walls:
            taken |= meets(wall, ring, start, step, columns, rows)
        return (int(low[0]), int(low[1])), ~taken


def _walls(area: shapely.Geometry) -> list[Floats]:
    """Return rings without holes that together cover all that is not `area`, far enough round it."""
    low_x, low_y, high_x, high_y = area.bounds
    far = 10.0 + max(high_x - low_x, high_y - low_y)
    frame = box(low_x - far, low_y - far, high_x + far, high_y + far)
    # Cut through every part of the area, so that nothing left over has a hole.
    parts = [part for part in getattr(area, "geoms", [area]) if not part.is_empty]
    cuts = sorted({round(part.representative_point().x, 3) for part in parts})
    walls = []
    for left, right in zip([low_x - far, *cuts], [*cuts, high_x + far], strict=True):
        rest = box(left, low_y - far, right, high_y + far).intersection(frame).difference(area)
        for wall in getattr(rest, "geoms", [rest]):
            if isinstance(wall, Polygon) and wall.area > 1e-6:
                walls += _without_holes(wall)
    return walls


def _without_holes(wall: Polygon) -> list[Floats]:
    if wall.interiors:
        x = Polygon(wall.interiors[0]).representative_point().x
        low_x, low_y, high_x, high_y = wall.bounds
        halves = [wall.intersection(box(low_x, low_y, x, high_y)), wall.intersection(box(x, low_y, high_x, high_y))]
        parts = [part for half in halves for part in getattr(half, "geoms", [half])]
        return [ring for part in parts if isinstance(part, Polygon) for ring in _without_holes(part)]
    ring = np.asarray(wall.exterior.coords)[:-1]
    return [ring if wall.exterior.is_ccw else ring[::-1].copy()]
