"""Lattice: at which points of a square lattice a shape would meet another one.

Two shapes A and B meet, when B is moved by d, where d lies in the Minkowski sum of A and -B. The edges of both are
merged by direction into one closed line, the convolution of A and -B; its winding number at d counts the pieces of
the common area (L. J. Guibas, L. Ramshaw, J. Stolfi, "A kinetic framework for computational geometry", FOCS 1983).
So shapes need not be convex, nothing is cut into triangles, and at the lattice's points the answer is exact.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from ..arrays import Flags, Floats

_SAME = 1e-7
Reals = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Window:
    """Values at the lattice's points (column, row) from `first` on; what lies beyond is nought.

    Attributes:
        first: column and row of the first value.
        values: (rows, columns).
    """

    first: tuple[int, int]
    values: Reals


def outer_ring(shape: Polygon, grow_mm: float, tolerance_mm: float = 0.4) -> Floats:
    """Return a ring of few points round `shape` grown by `grow_mm`: never inside it, at most `2 * tolerance_mm` beyond.

    Counter-clockwise, first point not repeated.
    """
    grown = shape.buffer(grow_mm + tolerance_mm, quad_segs=4, join_style="mitre", mitre_limit=1.5)
    rough = Polygon(grown.exterior).simplify(tolerance_mm)
    return exact_ring(rough)


def exact_ring(shape: Polygon) -> Floats:
    """Return the outer ring of `shape`, counter-clockwise, first point not repeated."""
    ring = np.asarray(shape.exterior.coords)[:-1]
    return ring if shape.exterior.is_ccw else ring[::-1].copy()


def merge_edges(first: Floats, second: Floats) -> Floats:
    """Return the edges (K, 2, 2) of the convolution of two counter-clockwise rings.

    At each corner of one ring every edge of the other whose direction is passed while turning is walked: forwards
    where the corner turns left, backwards where it turns right. Of parallel edges one ring takes the start of a
    corner and the other its end, so that each pair is met once.
    """
    return np.concatenate([_walked(first, second, False), _walked(second, first, True)])


def _walked(corners: Floats, edges: Floats, takes_end: bool) -> Floats:
    ahead = np.roll(corners, -1, axis=0) - corners
    behind = np.roll(ahead, 1, axis=0)
    into = np.arctan2(behind[:, 1], behind[:, 0])
    turned = np.arctan2(behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0], (behind * ahead).sum(axis=1))
    way = np.roll(edges, -1, axis=0) - edges
    angle = np.arctan2(way[:, 1], way[:, 0])
    rest = np.mod(angle[None, :] - into[:, None], 2.0 * np.pi)
    rest[rest > 2.0 * np.pi - 1e-9] = 0.0
    left = turned[:, None]
    low, high = (1e-9, 1e-9) if takes_end else (-1e-9, -1e-9)
    forwards = (left > 0) & (rest > low) & (rest < left + high)
    back = rest - 2.0 * np.pi
    back = np.where(rest < 1e-9, 0.0, back)
    backwards = (left < 0) & (back > left + low) & (back < high)
    i, j = np.nonzero(forwards)
    k, m = np.nonzero(backwards)
    plus = np.stack([corners[i] + edges[j], corners[i] + edges[j] + way[j]], axis=1)
    minus = np.stack([corners[k] + edges[m] + way[m], corners[k] + edges[m]], axis=1)
    return np.concatenate([plus, minus])


def wind(edges: Floats, low: tuple[float, float], step: float, columns: int, rows: int) -> NDArray[np.int32]:
    """Return the winding number (rows, columns) of closed lines round the lattice's points."""
    turns = np.zeros((rows, columns + 1), dtype=np.int32)
    (x0, y0), (x1, y1) = edges[:, 0].T, edges[:, 1].T
    # Ends that meet differ by rounding: both are taken to the same side of a row they lie on.
    from_row = np.ceil((np.minimum(y0, y1) - low[1]) / step - _SAME).astype(int)
    to_row = np.ceil((np.maximum(y0, y1) - low[1]) / step - _SAME).astype(int)
    from_row, to_row = np.clip(from_row, 0, rows), np.clip(to_row, 0, rows)
    counts = to_row - from_row
    which = np.repeat(np.arange(len(edges)), counts)
    row = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts) + from_row[which]
    share = (low[1] + row * step - y0[which]) / (y1 - y0)[which]
    x = x0[which] + share * (x1 - x0)[which]
    column = np.clip(np.ceil((x - low[0]) / step).astype(int), 0, columns)
    np.add.at(turns, (row, column), np.where(y1 < y0, 1, -1)[which])
    return np.cumsum(turns, axis=1, dtype=np.int32)[:, :columns]


def meets(fixed: Floats, moved: Floats, low: tuple[float, float], step: float, columns: int, rows: int) -> Flags:
    """Return (rows, columns): whether `moved`, put down at each lattice point, meets `fixed`."""
    return np.asarray(wind(merge_edges(fixed, -moved), low, step, columns, rows) != 0)


def depth_between(fixed: Floats, moved: Floats, step: float) -> Window:
    """Return how far `moved` at each lattice point must be shifted along x or y to be free of `fixed` [mm].

    Nought where it is free. Only points where they meet are kept, with a rim of noughts.
    """
    low = np.floor((fixed.min(axis=0) - moved.max(axis=0)) / step).astype(int) - 1
    high = np.ceil((fixed.max(axis=0) - moved.min(axis=0)) / step).astype(int) + 1
    columns, rows = (high - low + 1).tolist()
    mask = meets(fixed, moved, (low[0] * step, low[1] * step), step, columns, rows)
    depth = np.minimum(_runs(mask), _runs(mask.T).T).astype(np.float32) * np.float32(step)
    return Window((int(low[0]), int(low[1])), depth)


def _runs(mask: Flags) -> NDArray[np.int32]:
    """Return how many steps along its row each flag is from the nearest that is down; nought where it is down."""
    columns = np.arange(mask.shape[1], dtype=np.int32)
    before = np.maximum.accumulate(np.where(mask, np.int32(0), columns), axis=1)
    after = np.minimum.accumulate(np.where(mask, np.int32(mask.shape[1] - 1), columns)[:, ::-1], axis=1)[:, ::-1]
    steps: NDArray[np.int32] = np.minimum(columns - before, after - columns)
    return steps
