"""Room: where a box of text fits between lines.

A raster of the ring marks what is taken; sums over it tell for every place at once whether the box is free. A box is
asked for a cell larger than it is, so that a place found is free in truth.
"""

import numpy as np
import shapely
from numpy.typing import ArrayLike

from ..arrays import Flags, Floats

_CELL_MM = 2.0
_MOST_CELLS = 1000
"""Along one side; a longer ring gets coarser cells."""


class RoomFinder:
    """Finds free boxes between lines inside a ring, any number of times.

    Args:
        ring_mm: (N, 2) closed ring, first point not repeated; boxes lie wholly inside.
        segments_mm: (M, 2, 2) lines which boxes must not touch.
    """

    def __init__(self, ring_mm: ArrayLike, segments_mm: ArrayLike) -> None:
        ring = np.asarray(ring_mm, dtype=np.float64)
        self._low, self._high = ring.min(axis=0), ring.max(axis=0)
        size = self._high - self._low
        self._cell = max(min(_CELL_MM, float(size.min()) / 20), float(size.max()) / _MOST_CELLS)
        self._columns, self._rows = (np.ceil(size / self._cell).astype(int) + 1).tolist()
        self._taken = self._outside(ring)
        self.take(np.stack([ring, np.roll(ring, -1, axis=0)], axis=1))
        self.take(segments_mm)

    def take(self, segments_mm: ArrayLike) -> None:
        """Mark (M, 2, 2) more lines as taken."""
        segments = np.asarray(segments_mm, dtype=np.float64).reshape(-1, 2, 2)
        lengths = np.hypot(*(segments[:, 1] - segments[:, 0]).T)
        counts = np.maximum(np.ceil(lengths / (self._cell / 2)).astype(int), 1) + 1
        which = np.repeat(np.arange(len(segments)), counts)
        step = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)
        share = (step / (counts[which] - 1))[:, None]
        points = segments[which, 0] * (1 - share) + segments[which, 1] * share
        column, row = np.floor((points - self._low) / self._cell).astype(int).T
        keep = (column >= 0) & (column < self._columns) & (row >= 0) & (row < self._rows)
        self._taken[row[keep], column[keep]] = True

    def find(
        self, width_mm: float, height_mm: float, clear_mm: float = 2.0, near_mm: ArrayLike | None = None
    ) -> tuple[float, float] | None:
        """Return the middle of a free upright box, or None where there is no room.

        Args:
            width_mm: box width [mm].
            height_mm: box height [mm].
            clear_mm: kept free round the box [mm].
            near_mm: the place wished for; the free place nearest to it is taken. None: the middle of the ring.
        """
        across = int(np.ceil((width_mm + 2 * clear_mm) / self._cell)) + 1
        up = int(np.ceil((height_mm + 2 * clear_mm) / self._cell)) + 1
        if across > self._columns or up > self._rows:
            return None
        sums = np.zeros((self._rows + 1, self._columns + 1), dtype=np.int64)
        sums[1:, 1:] = self._taken.cumsum(axis=0).cumsum(axis=1)
        filled = sums[up:, across:] - sums[:-up, across:] - sums[up:, :-across] + sums[:-up, :-across]
        rows, columns = np.nonzero(filled == 0)
        if not len(rows):
            return None
        middles = self._low + np.column_stack([columns + across / 2, rows + up / 2]) * self._cell
        wish = (self._low + self._high) / 2 if near_mm is None else np.asarray(near_mm, dtype=np.float64)
        x, y = middles[np.argmin(np.hypot(*(middles - wish).T))]
        return float(x), float(y)

    def _outside(self, ring: Floats) -> Flags:
        """Mark the cells whose middle lies outside of the ring."""
        polygon = shapely.Polygon(ring)
        shapely.prepare(polygon)
        x = self._low[0] + (np.arange(self._columns) + 0.5) * self._cell
        y = self._low[1] + (np.arange(self._rows) + 0.5) * self._cell
        grid_x, grid_y = np.meshgrid(x, y)
        inside: Flags = shapely.contains_xy(polygon, grid_x, grid_y)
        return ~inside


def find_room(
    ring_mm: ArrayLike,
    segments_mm: ArrayLike,
    width_mm: float,
    height_mm: float,
    clear_mm: float = 2.0,
    near_mm: ArrayLike | None = None,
) -> tuple[float, float] | None:
    """Return the middle of a free upright box inside a ring, or None; see `RoomFinder`.

    >>> square = [(0, 0), (100, 0), (100, 100), (0, 100)]
    >>> find_room(square, [[(50, 0), (50, 100)]], 60, 10) is None
    True
    """
    return RoomFinder(ring_mm, segments_mm).find(width_mm, height_mm, clear_mm, near_mm)


def meets_box(
    segments_mm: ArrayLike, middle_mm: ArrayLike, width_mm: float, height_mm: float, rotation_deg: float = 0.0
) -> bool:
    """Tell whether any of (M, 2, 2) segments touches a box turned by `rotation_deg` about its middle.

    >>> meets_box([[(0, 0), (10, 0)]], (5, 1), 4, 1), meets_box([[(0, 0), (10, 0)]], (5, 1), 1, 4)
    (False, True)
    """
    return bool(np.any(find_meeting(segments_mm, middle_mm, width_mm, height_mm, rotation_deg)))


def find_meeting(
    segments_mm: ArrayLike, middle_mm: ArrayLike, width_mm: float, height_mm: float, rotation_deg: float = 0.0
) -> Flags:
    """Return for each of (M, 2, 2) segments whether it touches a box turned by `rotation_deg` about its middle."""
    segments = np.asarray(segments_mm, dtype=np.float64).reshape(-1, 2, 2)
    if not len(segments):
        return np.zeros(0, dtype=bool)
    turn = np.deg2rad(rotation_deg)
    rotation = np.array([(np.cos(turn), -np.sin(turn)), (np.sin(turn), np.cos(turn))])
    starts, ends = np.moveaxis((segments - np.asarray(middle_mm)) @ rotation, 1, 0)
    ways = ends - starts
    half = np.array([width_mm, height_mm]) / 2
    # Where along each segment it enters and leaves the box's two strips; it meets the box if these overlap.
    with np.errstate(divide="ignore", invalid="ignore"):
        first, second = (-half - starts) / ways, (half - starts) / ways
    is_still = np.abs(ways) < 1e-12
    is_within = np.abs(starts) <= half
    enters = np.where(is_still, np.where(is_within, -np.inf, np.inf), np.minimum(first, second)).max(axis=1)
    leaves = np.where(is_still, np.where(is_within, np.inf, -np.inf), np.maximum(first, second)).min(axis=1)
    meeting: Flags = np.maximum(enters, 0.0) <= np.minimum(leaves, 1.0)
    return meeting
