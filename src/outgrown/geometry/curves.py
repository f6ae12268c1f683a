"""Curves: smooth lines as cubic Bezier segments, fitted to points within a permitted deviation."""

from dataclasses import dataclass

import numpy as np

from ..arrays import Floats, frozen
from ..errors import GeometryError
from .polylines import arc_lengths_mm, as_polyline, distances_to_line_mm, length_mm

_MOST_STEPS = 24
_SHORTEST_HANDLE = 0.02
"""Share of a segment's length."""


@dataclass(frozen=True, eq=False)
class Curve:
    """Cubic Bezier segments joined end to end.

    Attributes:
        segments_mm: (N, 4, 2) start, two handles, end of each segment.
        deviation_mm: the farthest that any fitted point lies from the curve [mm].
    """

    segments_mm: Floats
    deviation_mm: float = 0.0

    def points(self, step_mm: float = 1.0) -> Floats:
        """Return points along the curve, at most about `step_mm` apart, every segment's ends among them."""
        pieces = []
        for segment in self.segments_mm:
            hull = float(np.hypot(*np.diff(segment, axis=0).T).sum())
            count = max(2, int(np.ceil(hull / step_mm)) + 1)
            pieces.append(_on_segment(segment, np.linspace(0.0, 1.0, count))[:-1])
        pieces.append(self.segments_mm[-1, 3:])
        return np.vstack(pieces)

    def length_mm(self) -> float:
        """Return the length [mm], to better than 0.01 mm."""
        return length_mm(self.points(0.5))


def fit_curve(points_mm: Floats, max_deviation_mm: float, max_segments: int = 60) -> Curve:
    """Fit cubic Bezier segments to `points_mm`, no point farther than `max_deviation_mm` from the curve.

    Ends are met exactly; segments join with one common tangent. As few segments as halving finds.
    After Schneider, "An algorithm for automatically fitting digitized curves", Graphics Gems, 1990.

    Raises:
        GeometryError: the deviation cannot be kept, e.g. because the points are noisy.
    """
    points = as_polyline(points_mm)
    if max_deviation_mm <= 0:
        raise GeometryError("The permitted deviation must be more than nought.")
    along = arc_lengths_mm(points)
    start, end = _end_tangent(points, along), -_end_tangent(points[::-1], along[-1] - along[::-1])
    alone, deviation = _fit_alone(points)
    if deviation <= max_deviation_mm:
        return Curve(frozen(alone[None]), deviation)
    done: list[Floats] = []
    todo: list[tuple[int, int, Floats, Floats]] = [(0, len(points) - 1, start, end)]
    worst = 0.0
    while todo:
        first, last, out_of, into = todo.pop()
        segment, deviation, split = _fit_segment(points[first : last + 1], out_of, into, max_deviation_mm)
        if deviation <= max_deviation_mm:
            done.append(segment)
            worst = max(worst, deviation)
            continue
        if last - first < 4 or len(done) + len(todo) + 2 > max_segments:
            raise GeometryError(
                f"A smooth curve cannot keep within {max_deviation_mm:g} mm of these points: "
                f"one lies {deviation:.2f} mm away."
            )
        middle = first + min(max(split, 2), last - first - 2)
        tangent = _middle_tangent(points, along, middle)
        todo.append((middle, last, tangent, into))
        todo.append((first, middle, out_of, tangent))
    return Curve(frozen(np.array(done)), worst)


def fit_segment(points_mm: Floats, out_of: Floats, into: Floats, least_handle: float = _SHORTEST_HANDLE) -> Curve:
    """Return the one cubic segment from the first point to the last that lies nearest to all, whatever the deviation.

    Args:
        points_mm: (N, 2) in order.
        out_of: (2,) direction in which it leaves the first point.
        into: (2,) direction in which it arrives at the last.
        least_handle: its handles are at least this share of the line long. A short handle keeps its direction over
            a few millimetres only, where a hook follows.
    """
    out_of, into = out_of / np.hypot(*out_of), into / np.hypot(*into)
    segment, deviation, _ = _fit_segment(as_polyline(points_mm), out_of, into, least_handle=least_handle)
    return Curve(frozen(segment[None]), deviation)


def _end_tangent(points: Floats, along: Floats) -> Floats:
    """Return the unit tangent at the first point, from a parabola through the first few points."""
    reach = max(3, int(np.searchsorted(along, min(3.0, 0.2 * along[-1]))))
    t = along[: reach + 1]
    run = points[: reach + 1] - points[0]
    if len(t) < 3:
        direction = run[-1]
    else:
        basis = np.column_stack([t[1:], t[1:] ** 2])
        direction = np.linalg.lstsq(basis, run[1:], rcond=None)[0][0]
    return np.asarray(direction / max(float(np.hypot(*direction)), 1e-12))


def _middle_tangent(points: Floats, along: Floats, index: int) -> Floats:
    """Return the unit tangent at an inner point, from a parabola over its neighbourhood."""
    near = np.abs(along - along[index]) <= 3.0
    near[max(0, index - 1) : index + 2] = True
    t = along[near] - along[index]
    coefficients = np.linalg.lstsq(np.column_stack([np.ones_like(t), t, t**2]), points[near], rcond=None)[0]
    direction = coefficients[1]
    return np.asarray(direction / max(float(np.hypot(*direction)), 1e-12))


def _bernstein(u: Floats) -> Floats:
    v = 1.0 - u
    return np.column_stack([v**3, 3 * v**2 * u, 3 * v * u**2, u**3])


def _on_segment(segment: Floats, u: Floats) -> Floats:
    return np.asarray(_bernstein(u) @ segment)


def _fit_segment(
    points: Floats, out_of: Floats, into: Floats, enough_mm: float = 0.0, least_handle: float = _SHORTEST_HANDLE
) -> tuple[Floats, float, int]:
    """Return the best segment with given end tangents, its deviation, and where it is farthest off."""
    first, last = points[0], points[-1]
    along = arc_lengths_mm(points)
    u = along / along[-1]
    reach = float(along[-1])
    segment = np.stack([first, first + out_of * reach / 3, last - into * reach / 3, last])
    for _ in range(_MOST_STEPS):
        b = _bernstein(u)
        one, two = b[:, 1:2] * out_of, b[:, 2:3] * -into
        rest = points - (b[:, :2].sum(axis=1)[:, None] * first + b[:, 2:].sum(axis=1)[:, None] * last)
        system = np.array(
            [
                [np.sum(one * one), np.sum(one * two)],
                [np.sum(one * two), np.sum(two * two)],
            ]
        )
        right = np.array([np.sum(one * rest), np.sum(two * rest)])
        if abs(np.linalg.det(system)) > 1e-12 * max(1.0, float(np.trace(system)) ** 2):
            handles = np.linalg.solve(system, right)
        else:
            handles = np.array([reach / 3, reach / 3])
        handles = np.clip(handles, least_handle * reach, 1.5 * reach)
        segment = np.stack([first, first + out_of * handles[0], last - into * handles[1], last])
        u = _nearer(segment, points, u)
        if np.hypot(*(_on_segment(segment, u) - points).T).max() <= 0.8 * enough_mm:
            break
    gap = distances_to_line_mm(points, _on_segment(segment, np.linspace(0.0, 1.0, 96)))
    worst = int(np.argmax(gap))
    return segment, float(gap[worst]), worst


def _fit_alone(points: Floats) -> tuple[Floats, float]:
    """Return the best single segment with both handles free, and its deviation."""
    along = arc_lengths_mm(points)
    u = along / along[-1]
    segment = np.stack([points[0]] * 2 + [points[-1]] * 2)
    for _ in range(4):
        b = _bernstein(u)
        rest = points - b[:, :1] * points[0] - b[:, 3:] * points[-1]
        segment[1:3] = np.linalg.lstsq(b[:, 1:3], rest, rcond=None)[0]
        u = _nearer(segment, points, u)
    # From here only the distance across the curve counts, so that it settles in a few steps instead of hundreds;
    # Levenberg's damping keeps each step from going too far.
    damping, left = 0.1, _across(segment, points, u)[0]
    for _ in range(_MOST_STEPS):
        gap, across = left, _across(segment, points, u)[1]
        b = _bernstein(u)
        table = np.vstack([np.hstack([b[:, 1:2] * across, b[:, 2:3] * across]), damping * np.eye(4)])
        step = np.linalg.lstsq(table, np.concatenate([gap, np.zeros(4)]), rcond=None)[0].reshape(2, 2)
        tried = segment.copy()
        tried[1:3] += step
        tried_u = _nearer(tried, points, u)
        tried_left = _across(tried, points, tried_u)[0]
        if np.sum(tried_left**2) < np.sum(gap**2):
            segment, u, left, damping = tried, tried_u, tried_left, damping / 4.0
        else:
            damping *= 8.0
    gap = distances_to_line_mm(points, _on_segment(segment, np.linspace(0.0, 1.0, 96)))
    return segment, float(gap.max())


def _across(segment: Floats, points: Floats, u: Floats) -> tuple[Floats, Floats]:
    """Return how far each point is across the curve at its parameter, and the unit normals there."""
    v = 1.0 - u
    slope = np.column_stack([v**2, 2 * v * u, u**2]) @ np.diff(segment, axis=0)
    normals = np.column_stack([-slope[:, 1], slope[:, 0]]) / np.maximum(np.hypot(*slope.T), 1e-12)[:, None]
    return np.einsum("ij,ij->i", points - _on_segment(segment, u), normals), normals


def _nearer(segment: Floats, points: Floats, u: Floats) -> Floats:
    """Return parameters one Newton step nearer to the points' feet on the segment, still in order."""
    d1, d2 = 3.0 * np.diff(segment, axis=0), 6.0 * np.diff(segment, n=2, axis=0)
    v = 1.0 - u
    gap = _on_segment(segment, u) - points
    slope = np.column_stack([v**2, 2 * v * u, u**2]) @ d1
    bend = np.column_stack([v, u]) @ d2
    numerator = np.einsum("ij,ij->i", gap, slope)
    denominator = np.einsum("ij,ij->i", slope, slope) + np.einsum("ij,ij->i", gap, bend)
    step = np.where(np.abs(denominator) > 1e-12, numerator / np.where(denominator == 0, 1.0, denominator), 0.0)
    moved = np.clip(u - step, 0.0, 1.0)
    moved[0], moved[-1] = 0.0, 1.0
    return np.asarray(np.maximum.accumulate(moved))
