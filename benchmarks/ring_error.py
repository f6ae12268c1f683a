"""How far a measured ring lies from the true one, after the best rigid move. Never scaled."""

from __future__ import annotations

import numpy as np
from shapely import distance, get_coordinates, line_interpolate_point, line_locate_point, points
from shapely.geometry import LinearRing

FEW = 500


def align_rigidly(ring: np.ndarray, truth: np.ndarray, rounds: int = 60) -> np.ndarray:
    """Return `ring` moved and turned so that its points lie nearest to the closed line `truth`.

    The first guess takes the frames as they are after removing the turn found by trying many.
    """
    line = LinearRing(truth)
    dense = np.array([line.interpolate(s).coords[0] for s in np.arange(0, line.length, 2.0)])
    best, best_cost = ring, np.inf
    for turn in np.arange(0, 360, 5.0):
        moved = _turned(ring - ring.mean(axis=0), np.deg2rad(turn)) + dense.mean(axis=0)
        trial = moved[:: max(1, len(ring) // 300)]
        cost = float(np.mean(distance(points(trial), line) ** 2))
        if cost < best_cost:
            best, best_cost = moved, cost
    # A few hundred points place the ring as well as all of them.
    chosen = slice(None, None, max(1, len(ring) // FEW))
    few = best[chosen]
    for _ in range(rounds):
        moved = _fitted(few, _feet(few, line))(few)
        done = np.abs(moved - few).max() < 1e-4
        few = moved
        if done:
            break
    return _fitted(best[chosen], few)(best)


def _fitted(here: np.ndarray, there: np.ndarray):
    """Return the rigid move that lays `here` nearest to `there`, point by point."""
    from_mm, to_mm = here.mean(axis=0), there.mean(axis=0)
    a, b = here - from_mm, there - to_mm
    turn = np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
    return lambda ring: _turned(ring - from_mm, turn) + to_mm


def measure_ring_error(ring: np.ndarray, truth: np.ndarray) -> np.ndarray:
    """Return the distances [mm] between the two lines, taken both ways, after the best rigid move."""
    moved = align_rigidly(ring, truth)
    there = distance(points(moved), LinearRing(truth))
    back = distance(points(truth), LinearRing(moved))
    return np.concatenate([there, back])


def _turned(ring: np.ndarray, turn: float) -> np.ndarray:
    cosine, sine = np.cos(turn), np.sin(turn)
    return ring @ np.array([[cosine, sine], [-sine, cosine]])


def _feet(ring: np.ndarray, line: LinearRing) -> np.ndarray:
    return get_coordinates(line_interpolate_point(line, line_locate_point(line, points(ring))))
