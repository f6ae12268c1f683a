"""How far a measured ring lies from the true one, after the best rigid move. Never scaled."""

from __future__ import annotations

import numpy as np
from shapely import distance, points
from shapely.geometry import LinearRing


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
    for _ in range(rounds):
        feet = _feet(best, line)
        here, there = best - best.mean(axis=0), feet - feet.mean(axis=0)
        turn = np.arctan2((here[:, 0] * there[:, 1] - here[:, 1] * there[:, 0]).sum(), (here * there).sum())
        moved = _turned(here, turn) + feet.mean(axis=0)
        if np.abs(moved - best).max() < 1e-4:
            return moved
        best = moved
    return best


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
    corners = np.asarray(line.coords)
    start, way = corners[:-1], np.diff(corners, axis=0)
    length = (way**2).sum(axis=1)
    feet = np.empty_like(ring)
    for index in range(0, len(ring), 400):
        part = ring[index : index + 400]
        share = ((part[:, None] - start) * way).sum(axis=2) / np.where(length > 0, length, 1)
        foot = start + np.clip(share, 0, 1)[..., None] * way
        nearest = ((foot - part[:, None]) ** 2).sum(axis=2).argmin(axis=1)
        feet[index : index + 400] = foot[np.arange(len(part)), nearest]
    return feet
