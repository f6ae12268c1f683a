"""Path: the cheapest closed way along a strip, by dynamic programming."""

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats


def find_open_path(cost: Floats, stiffness: float, limit: int = 2) -> NDArray[np.intp]:
    """Return the column of every row of the cheapest path; a step of `j` columns costs `stiffness` * |j|."""
    rows, columns = cost.shape
    steps = range(-limit, limit + 1)
    came_from = np.zeros((rows, columns), np.int8)
    total = cost[0].astype(np.float64)
    padded = np.full(columns + 2 * limit, np.inf)
    windows = np.lib.stride_tricks.sliding_window_view(padded, columns)
    penalty = np.array([stiffness * abs(step) for step in steps])[:, None]
    at = np.arange(columns)
    for row in range(1, rows):
        padded[limit : limit + columns] = total
        options = windows + penalty
        best = options.argmin(axis=0)
        came_from[row] = best - limit
        total = options[best, at] + cost[row]
    path = np.empty(rows, np.intp)
    path[-1] = int(np.argmin(total))
    for row in range(rows - 1, 0, -1):
        path[row - 1] = path[row] + came_from[row, path[row]]
    return path


def find_closed_path(cost: Floats, stiffness: float, limit: int = 2) -> NDArray[np.intp]:
    """Return the column of every row of the cheapest closed path.

    The strip is walked once and a half; the seam then lies where both ends have settled.

    Args:
        cost: (N, K) cost of each place.
        stiffness: cost of one column's change from row to row.
        limit: the largest change from row to row.
    """
    count = len(cost)
    lead = min(count, max(20, count // 6))
    order = np.arange(-lead, count + lead) % count
    path = find_open_path(cost[order], stiffness, limit)
    return path[lead : lead + count]
