"""Polylines: open lines of points in mm. Lengths, places along them, and even spacing."""

import numpy as np
import shapely

from ..arrays import Floats
from ..errors import GeometryError


def as_polyline(points_mm: Floats) -> Floats:
    """Return `points_mm` as a clean (N, 2) float array with no point repeated in a row.

    Raises:
        GeometryError: not (N, 2), not finite, or fewer than two different points.
    """
    points = np.asarray(points_mm, dtype=np.float64)
    if points.ndim != 2 or points.shape[1] != 2:
        raise GeometryError(f"A line needs points of two numbers each, not an array of shape {points.shape}.")
    if not np.isfinite(points).all():
        where = int(np.flatnonzero(~np.isfinite(points).all(axis=1))[0])
        raise GeometryError(f"Point {where} of the line is not a number.")
    if len(points) > 1:
        moved = np.any(np.diff(points, axis=0) != 0.0, axis=1)
        points = points[np.concatenate([[True], moved])]
    if len(points) < 2:
        raise GeometryError("A line needs at least two different points.")
    return points


def arc_lengths_mm(points_mm: Floats) -> Floats:
    """Return the (N,) distance of every point from the first, measured along the line [mm]."""
    steps = np.hypot(*np.diff(points_mm, axis=0).T)
    return np.concatenate([[0.0], np.cumsum(steps)])


def length_mm(points_mm: Floats) -> float:
    """Return the length of the line [mm].

    >>> length_mm(np.array([[0.0, 0.0], [3.0, 4.0], [3.0, 10.0]]))
    11.0
    """
    return float(np.hypot(*np.diff(np.asarray(points_mm, dtype=np.float64), axis=0).T).sum())


def points_at(points_mm: Floats, distances_mm: Floats) -> Floats:
    """Return the (M, 2) points lying `distances_mm` along the line from its start (clipped to its ends)."""
    along = arc_lengths_mm(points_mm)
    wanted = np.asarray(distances_mm, dtype=np.float64)
    return np.column_stack([np.interp(wanted, along, points_mm[:, i]) for i in range(2)])


def point_at(points_mm: Floats, distance_mm: float) -> Floats:
    """Return the (2,) point lying `distance_mm` along the line from its start (clipped to its ends)."""
    point: Floats = points_at(points_mm, np.array([distance_mm]))[0]
    return point


def resample(points_mm: Floats, step_mm: float) -> Floats:
    """Return evenly spaced points along the line, at most `step_mm` apart, both ends kept."""
    total = length_mm(points_mm)
    count = max(2, int(np.ceil(total / step_mm)) + 1)
    return points_at(points_mm, np.linspace(0.0, total, count))


def part_between(points_mm: Floats, from_mm: float, to_mm: float) -> Floats:
    """Return the stretch of the line between two distances along it, its own points kept.

    >>> part_between(np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]]), 5.0, 12.0).tolist()
    [[5.0, 0.0], [10.0, 0.0], [10.0, 2.0]]
    """
    along = arc_lengths_mm(points_mm)
    start, stop = max(0.0, from_mm), min(float(along[-1]), to_mm)
    if stop - start < 1e-9:
        raise GeometryError(f"No line is left between {from_mm:.2f} and {to_mm:.2f} mm along it.")
    inside = (along > start + 1e-9) & (along < stop - 1e-9)
    ends = points_at(points_mm, np.array([start, stop]))
    return np.vstack([ends[:1], points_mm[inside], ends[1:]])


def meet_lines(one: Floats, way: Floats, other: Floats, other_way: Floats) -> Floats:
    """Return where the straight line through `one` along `way` meets another, both (2,); they are not parallel.

    >>> meet_lines(np.array([0.0, 0.0]), np.array([1.0, 0.0]), np.array([3.0, 5.0]), np.array([0.0, 2.0])).tolist()
    [3.0, 0.0]
    """
    share = np.linalg.solve(np.column_stack([way, -other_way]), other - one)
    there: Floats = one + share[0] * way
    return there


def thin_line(points_mm: Floats, within_mm: float) -> Floats:
    """Return the line through some of its points, none of it farther than `within_mm` from where it was."""
    return np.asarray(shapely.LineString(points_mm).simplify(within_mm, preserve_topology=False).coords)


def distances_to_line_mm(points_mm: Floats, line_mm: Floats) -> Floats:
    """Return the (N,) distance of each point from the polyline `line_mm` [mm]."""
    return np.asarray(shapely.distance(shapely.points(points_mm), shapely.LineString(line_mm)), dtype=np.float64)


def tangent_at_start(points_mm: Floats, over_mm: float = 2.0) -> Floats:
    """Return the (2,) unit direction in which the line leaves its start, taken over `over_mm`."""
    ahead = point_at(points_mm, min(over_mm, length_mm(points_mm))) - points_mm[0]
    direction: Floats = ahead / np.hypot(*ahead)
    return direction


def tangent_at_end(points_mm: Floats, over_mm: float = 2.0) -> Floats:
    """Return the (2,) unit direction in which the line arrives at its end, taken over `over_mm`."""
    return -tangent_at_start(points_mm[::-1], over_mm)


def tangents(points_mm: Floats) -> Floats:
    """Return (N, 2) unit tangents at the points, by central differences."""
    along = arc_lengths_mm(points_mm)
    run = np.gradient(points_mm, along, axis=0)
    return np.asarray(run / np.maximum(np.hypot(*run.T), 1e-12)[:, None])
