"""Smoothing: a quiet line through noisy points, as simple as the points allow, with fixed ends."""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BSpline

from ..arrays import Floats
from .polylines import arc_lengths_mm, distances_to_line_mm, resample

_HUBER = 1.345  # the usual constant: 95 % efficiency on normal errors
POINT_EVERY_MM = 1.5


@dataclass(frozen=True, eq=False)
class SmoothLine:
    """A line fitted through noisy points.

    Attributes:
        points_mm: (N, 2) the smooth line.
        typical_mm: root mean square distance of the points used from it [mm].
        worst_mm: the farthest point used [mm].
        spans: how many spline spans it took.
    """

    points_mm: Floats
    typical_mm: float
    worst_mm: float
    spans: int


def smooth_line(
    points_mm: Floats,
    start_mm: Floats,
    end_mm: Floats,
    *,
    ripple_mm: float,
    step_mm: float = 1.0,
    skip_mm: float = 0.0,
) -> SmoothLine:
    """Return the simplest smooth line from `start_mm` to `end_mm` through noisy `points_mm`.

    Cubic splines with evenly spread knots, least squares with Huber weights; as many spans as the Bayesian
    information criterion pays for when neighbouring points within `ripple_mm` are taken to err together.
    So waves shorter than about twice `ripple_mm` go and a real curve stays.

    Args:
        points_mm: (N, 2) in order along the line.
        start_mm: where the line begins, exactly.
        end_mm: where it ends, exactly.
        ripple_mm: length over which errors hang together [mm].
        step_mm: spacing of the returned points.
        skip_mm: leave out points this close to either end (rounded corners).
    """
    even = resample(points_mm, POINT_EVERY_MM)
    along = arc_lengths_mm(even)
    total = float(along[-1])
    chord = np.hypot(*(end_mm - start_mm))
    used = (along >= skip_mm) & (along <= total - skip_mm)
    if used.sum() < 8 or chord < 1e-9:
        used = np.ones(len(even), dtype=bool)
    share = along / total
    base = start_mm + share[:, None] * (end_mm - start_mm)
    rest = (even - base)[used]
    independent = max(4.0, total / ripple_mm)
    most = int(np.clip(total // (1.5 * ripple_mm), 1, 14))
    best: tuple[float, Floats, int] | None = None
    for spans in range(1, most + 1):
        design = _design(share, spans)
        coefficients, spread = _robust_solve(design[used], rest)
        cost = independent * np.log(max(spread, 1e-4)) + spans * np.log(independent)
        if best is None or cost < best[0] - 1e-9:
            best = (cost, coefficients, spans)
        elif spans > best[2] + 3:
            break
    assert best is not None
    _, coefficients, spans = best
    count = max(3, int(np.ceil(total / step_mm)) + 1)
    t = np.linspace(0.0, 1.0, count)
    line = start_mm + t[:, None] * (end_mm - start_mm) + _design(t, spans) @ coefficients
    line[0], line[-1] = start_mm, end_mm
    gap = distances_to_line_mm(even[used], line)
    return SmoothLine(line, float(np.sqrt(np.mean(gap**2))), float(gap.max()), spans)


def quiet_line(points_mm: Floats, *, ripple_mm: float, skip_mm: float = 0.0) -> Floats:
    """Return noisy points moved onto the simplest smooth line through them, its ends left free.

    A straight line, a parabola or a cubic spline, chosen as in `smooth_line`: with nothing to hold its ends, the
    whole line tells where they are.

    Args:
        points_mm: (N, 2) in order along the line.
        ripple_mm: length over which errors hang together [mm].
        skip_mm: leave out points this close to either end (rounded corners).
    """
    even = resample(points_mm, POINT_EVERY_MM)
    along = arc_lengths_mm(even)
    total = float(along[-1])
    used = (along >= skip_mm) & (along <= total - skip_mm)
    if used.sum() < 8:
        return even
    share = np.clip(along / total, 0.0, 1.0)
    independent = max(4.0, total / ripple_mm)
    most = int(np.clip(total // (1.5 * ripple_mm), 1, 14))
    best: tuple[float, Floats] | None = None
    for degree, spans in ((1, 1), (2, 1), *((3, spans) for spans in range(1, most + 1))):
        knots = np.concatenate([[0.0] * degree, np.linspace(0.0, 1.0, spans + 1), [1.0] * degree])
        design = BSpline.design_matrix(share, knots, degree).toarray()
        coefficients, spread = _robust_solve(design[used], even[used])
        cost = independent * np.log(max(spread, 1e-4)) + design.shape[1] * np.log(independent)
        if best is None or cost < best[0] - 1e-9:
            best = cost, design @ coefficients
    assert best is not None
    return best[1]


def _design(share: Floats, spans: int) -> Floats:
    """Return the (N, spans + 1) cubic B-spline table that is nought at both ends."""
    inner = np.linspace(0.0, 1.0, spans + 1)
    knots = np.concatenate([[0.0] * 3, inner, [1.0] * 3])
    table = BSpline.design_matrix(np.clip(share, 0.0, 1.0), knots, 3).toarray()
    return np.asarray(table[:, 1:-1])


def _robust_solve(design: Floats, rest: Floats) -> tuple[Floats, float]:
    """Return spline coefficients and the mean square of what is left, far points held back."""
    weights = np.ones(len(rest))
    coefficients: Floats = np.zeros((design.shape[1], 2))
    gap = np.hypot(*rest.T)
    for _ in range(4):
        root = np.sqrt(weights)[:, None]
        coefficients = np.asarray(np.linalg.lstsq(design * root, rest * root, rcond=None)[0])
        gap = np.hypot(*(rest - design @ coefficients).T)
        scale = max(1.4826 * float(np.median(gap)), 1e-3)
        weights = np.minimum(1.0, _HUBER * scale / np.maximum(gap, 1e-9))
    return coefficients, float(np.average(gap**2, weights=weights))
