"""Compacting: what the lattice's step left between pieces is taken out, exactly."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import affinity

from ..arrays import frozen
from .placing import Placed

_HALVINGS = 7


def push_left(placed: Sequence[Placed], low_x: float, gap_mm: float, reach_mm: float, rounds: int = 4) -> list[Placed]:
    """Return the pieces moved left, each as far as the gap to the others allows, at most `reach_mm` in a round."""
    done = list(placed)
    for _ in range(rounds):
        before = max(p.shape.bounds[2] for p in done)
        for i in sorted(range(len(done)), key=lambda i: done[i].shape.bounds[0]):
            shape = done[i].shape
            others = shapely.union_all([p.shape for j, p in enumerate(done) if j != i]) if len(done) > 1 else None
            most = min(reach_mm, float(shape.bounds[0]) - low_x)
            way = _free_way(shape, others, most, gap_mm)
            if way > 1e-3:
                done[i] = replace(done[i], shift_mm=frozen(done[i].shift_mm - np.array([way, 0.0])))
        if before - max(p.shape.bounds[2] for p in done) < 0.05:
            break
    return done


def _free_way(shape: shapely.Geometry, others: shapely.Geometry | None, most: float, gap_mm: float) -> float:
    """Return how far left the shape may go [mm]; short ways only, so that it cannot jump over anything."""
    if most <= 0.0:
        return 0.0
    if others is None:
        return most

    def is_free(way: float) -> bool:
        moved = affinity.translate(shape, -way)
        return bool(moved.distance(others) >= gap_mm and not moved.intersects(others))

    if not is_free(0.0):
        return 0.0
    if is_free(most):
        return most
    low, high = 0.0, most
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if is_free(middle) else (low, middle)
    return low
