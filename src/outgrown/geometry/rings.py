"""Rings: closed lines of points in mm, the first point not repeated, counter-clockwise when positive."""

import numpy as np
from scipy.ndimage import gaussian_filter1d
from shapely import LinearRing, Polygon

from ..arrays import Floats
from ..errors import GeometryError
from .polylines import distances_to_line_mm, length_mm, part_between, points_at


def signed_area_mm2(ring_mm: Floats) -> float:
    """Return the area inside the ring [mm²], positive when it runs counter-clockwise (y up).

    >>> signed_area_mm2(np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 5.0], [0.0, 5.0]]))
    50.0
    """
    x, y = ring_mm[:, 0] - ring_mm[0, 0], ring_mm[:, 1] - ring_mm[0, 1]
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def as_ring(points_mm: Floats) -> Floats:
    """Return a clean counter-clockwise ring: no point twice in a row, the first not repeated at the end.

    Raises:
        GeometryError: fewer than three points, not finite, or no area.
    """
    ring = np.asarray(points_mm, dtype=np.float64)
    if ring.ndim != 2 or ring.shape[1] != 2:
        raise GeometryError(f"A ring needs points of two numbers each, not an array of shape {ring.shape}.")
    if not np.isfinite(ring).all():
        where = int(np.flatnonzero(~np.isfinite(ring).all(axis=1))[0])
        raise GeometryError(f"Point {where} of the ring is not a number.")
    if len(ring):
        ring = ring[np.any(ring != np.roll(ring, 1, axis=0), axis=1)]
    if len(ring) < 3 or abs(signed_area_mm2(ring)) < 1e-9:
        raise GeometryError("A ring needs at least three points that enclose some area.")
    return ring if signed_area_mm2(ring) > 0 else ring[::-1].copy()


def perimeter_mm(ring_mm: Floats) -> float:
    """Return the length once round [mm]."""
    return length_mm(closed(ring_mm))


def closed(ring_mm: Floats) -> Floats:
    """Return the ring as a line that ends where it begins."""
    return np.vstack([ring_mm, ring_mm[:1]])


def resample_ring(ring_mm: Floats, count: int) -> Floats:
    """Return `count` evenly spaced points round the ring, starting at its first point."""
    line = closed(ring_mm)
    return points_at(line, np.linspace(0.0, length_mm(line), count, endpoint=False))


def smooth_ring(ring_mm: Floats, sigma_points: float) -> Floats:
    """Return the ring blurred along itself by a Gaussian of `sigma_points` points (evenly spaced rings)."""
    return np.asarray(gaussian_filter1d(ring_mm, sigma_points, axis=0, mode="wrap"))


def part_of_ring(ring_mm: Floats, from_mm: float, to_mm: float) -> Floats:
    """Return the stretch of the ring from one distance along it forward to another, over the start if need be."""
    line = closed(ring_mm)
    total = length_mm(line)
    start = from_mm % total
    stop = start + (to_mm - from_mm) % total
    twice = np.vstack([line, line[1:]])
    return part_between(twice, start, stop)


def is_simple(ring_mm: Floats) -> bool:
    """Return whether the ring nowhere crosses or touches itself."""
    return bool(LinearRing(ring_mm).is_simple)


def hull_depths_mm(ring_mm: Floats) -> Floats:
    """Return how deep each point lies below a band stretched round the ring [mm]; 0 on the band."""
    hull = Polygon(ring_mm).buffer(0).convex_hull.exterior
    return distances_to_line_mm(ring_mm, np.asarray(hull.coords))
