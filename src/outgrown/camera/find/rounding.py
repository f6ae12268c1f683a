"""Rounding: whether a candidate's corners are round like a card's or sharp like a sheet's."""

import cv2
import numpy as np

from ...arrays import Bytes, Floats
from .edges import PLAIN, sample
from .shape import Pose, find_corners_mm

# Radii tried [mm on the candidate]. ISO/IEC 7810 allows 2.88 to 3.48.
RADII_MM = np.array([0.0, 0.8, 1.6, 2.4, 3.2, 4.0, 5.0, 6.5, 8.5])
SPAN_MM = 8.0
GRID = 21
BLUR_PX = 0.9


def measure_rounding(pixels: Bytes, pose: Pose) -> tuple[float, Floats]:
    """Return the best corner radius [mm, if the candidate has the pose's size] and how badly each radius fits.

    At each corner inside and outside colour are fitted under each radius, and the radius that leaves the least
    is the corner's; corners with little contrast say little.

    Args:
        pixels: (H, W, 3) uint8.
        pose: the candidate with its corners.

    Returns:
        radius [mm], and (len(RADII_MM),) the share of the colour variance left unexplained, over all corners.
    """
    corners_mm = find_corners_mm(pose.kind)
    long, short = corners_mm[2]
    to_px = cv2.getPerspectiveTransform(
        corners_mm.astype(np.float32), np.asarray(pose.corners_px, dtype=np.float32)
    ).astype(np.float64)
    left_over = np.zeros(len(RADII_MM))
    total = 0.0
    for corner in range(4):
        points_px, x, y, per_mm = _around_corner(corner, long, short, to_px)
        colour = sample(pixels, points_px, PLAIN)
        residual, spread = _fit_radii(colour.reshape(-1, 3), x, y, per_mm)
        left_over += residual
        total += spread
    left = left_over / max(total, 1e-9)
    best = int(np.argmin(left))
    radius = float(RADII_MM[best])
    if 0 < best < len(RADII_MM) - 1:
        # Parabola through three costs, on the radii's own spacing.
        curve = np.polyfit(RADII_MM[best - 1 : best + 2], left[best - 1 : best + 2], 2)
        if curve[0] > 0:
            radius = float(np.clip(-curve[1] / (2 * curve[0]), RADII_MM[best - 1], RADII_MM[best + 1]))
    return radius, left


def _around_corner(
    corner: int, long: float, short: float, to_px: Floats
) -> tuple[Floats, Floats, Floats, float]:
    """Return points in the photo round a corner, and their distances inward from its two sides [mm]."""
    step = np.linspace(-2.5, SPAN_MM - 2.5, GRID)
    x, y = np.meshgrid(step, step)
    own_x = x if corner in (0, 3) else long - x
    own_y = y if corner in (0, 1) else short - y
    flat = np.stack([own_x, own_y, np.ones_like(own_x)], axis=-1).reshape(-1, 3) @ to_px.T
    points = flat[:, :2] / flat[:, 2:]
    grid = points.reshape(GRID, GRID, 2)
    per_mm = float(np.sqrt(abs(np.linalg.det(np.stack([grid[0, 1] - grid[0, 0], grid[1, 0] - grid[0, 0]])))))
    return points, x.ravel(), y.ravel(), per_mm / (step[1] - step[0])


def _fit_radii(colour: Floats, x: Floats, y: Floats, per_mm: float) -> tuple[Floats, float]:
    """Return the squared colour left over under each radius, and the squared contrast it could explain."""
    near = (np.minimum(x, y) < 3.0) & (np.maximum(x, y) < 5.0)
    x, y, colour = x[near], y[near], colour[near]
    residual = np.zeros(len(RADII_MM))
    for k, radius in enumerate(RADII_MM):
        inside = _share_inside(x, y, radius, per_mm)
        basis = np.stack([inside, 1 - inside, inside * (x - y)], axis=1)
        # Solve for the two colours; the third column lets artwork differ along the two sides.
        normal = basis.T @ basis + np.diag([1e-6, 1e-6, 1.0])
        solution = np.linalg.solve(normal, basis.T @ colour)
        residual[k] = ((colour - basis @ solution) ** 2).sum()
    spread = float(((colour - colour.mean(axis=0)) ** 2).sum())
    return residual, spread


def _share_inside(x: Floats, y: Floats, radius: float, per_mm: float) -> Floats:
    """Return how far a blurred pixel at (x, y) mm inward of two sides is covered by a corner of `radius`."""
    depth = np.minimum(x, y)
    if radius > 0:
        in_corner = (x < radius) & (y < radius)
        round_depth = radius - np.hypot(radius - x, radius - y)
        depth = np.where(in_corner, round_depth, depth)
    z = depth * per_mm / BLUR_PX
    return 0.5 * (1 + np.tanh(0.8 * z))
