"""Side: one measured side of a candidate, and where sides meet."""

from dataclasses import dataclass

import numpy as np

from ...arrays import Flags, Floats

FIRST_SHARE, LAST_SHARE = 0.12, 0.88
KEPT_WEIGHT, LOST_SHARE = 0.2, 0.1


@dataclass(frozen=True, eq=False)
class Side:
    """One side of a candidate as measured.

    Attributes:
        points_px: (N, 2) where the edge crosses each station.
        normals_px: (N, 2) outward unit normals.
        weights: (N,) 0 for a station that does not belong, else up to 1.
        share_seen: share of the stations at which the edge is seen.
        contrast: median step across it [grey levels of the file].
        blur_px: standard deviation of the edge's blur.
        sigma_px: robust scatter of one station about the fitted curve.
        rough_px: scatter to be expected beside so uneven a floor at so faint a step.
        coefficients: (3,) offset, slope, bow over u in -1..1 along the side, outward [px].
        start: (2,) where u = -1, on the straight base line.
        stop: (2,) where u = +1.
    """

    points_px: Floats
    normals_px: Floats
    weights: Floats
    share_seen: float
    contrast: float
    blur_px: float
    sigma_px: float
    rough_px: float
    coefficients: Floats
    start: Floats
    stop: Floats

    @property
    def kept(self) -> Flags:
        """(N,) True for the stations that belong to it."""
        return self.weights > KEPT_WEIGHT

    @property
    def is_lost(self) -> bool:
        """Whether hardly any station belongs to it."""
        return bool(self.kept.mean() < LOST_SHARE)

    def curve(self, u: Floats) -> Floats:
        """Return points (..., 2) on the fitted curve at u (-1 at the start, 1 at the stop)."""
        along = (self.stop - self.start) / 2
        unit = along / np.hypot(*along)
        normal = np.array([-unit[1], unit[0]])
        offset = self.coefficients[0] + self.coefficients[1] * u + self.coefficients[2] * u * u
        points: Floats = (
            (self.start + self.stop) / 2 + along * np.asarray(u)[..., None] + normal * np.asarray(offset)[..., None]
        )
        return points


def meet_corners(sides: list[Side]) -> Floats:
    """Return (4, 2) where each side's curve, prolonged, meets the curve before it."""
    corners = np.zeros((4, 2))
    for i in range(4):
        before, after = sides[i - 1], sides[i]
        u, v = 1.0, -1.0
        for _ in range(4):
            p, q = before.curve(np.array([u, u + 1e-3])), after.curve(np.array([v, v + 1e-3]))
            dp, dq = (p[1] - p[0]) / 1e-3, (q[1] - q[0]) / 1e-3
            move = np.linalg.solve(np.column_stack([dp, -dq]), q[0] - p[0])
            u, v = u + float(np.clip(move[0], -0.2, 0.2)), v + float(np.clip(move[1], -0.2, 0.2))
        corners[i] = (before.curve(np.array([u]))[0] + after.curve(np.array([v]))[0]) / 2
    return corners


STARTS = np.stack(np.meshgrid(np.arange(-1.5, 1.51, 0.25), np.arange(-1.5, 1.51, 0.25)), axis=-1).reshape(-1, 2)


def fit_curve(
    u: Floats, measured: Floats, weight: Floats, length_px: float, focal_px: float
) -> tuple[Floats, Floats, float]:
    """Fit offset, slope and a bow no larger than a lens makes; return coefficients, weights kept and scatter.

    A lens with k1 = 0.05 bows a side of length L halfway out by up to 0.004 L^2 / f; the bow is held to that.

    Args:
        u: (N,) places along the side, -1..1.
        measured: (N,) offsets outward there [px].
        weight: (N,) how much each is worth; 0 leaves it out.
        length_px: of the side.
        focal_px: of the lens.
    """
    basis = np.stack([np.ones_like(u), u, u * u], axis=1)
    bow_px = max(0.02, 0.005 * length_px * length_px / focal_px)
    base = weight / max(float(weight.max()), 1e-9)
    usable = base > 0
    kept: Floats = base.copy()
    coefficients: Floats = np.zeros(3)
    if usable.sum() < 4:
        return coefficients, np.zeros_like(u), 9.0
    # Start from the line most stations agree on, which neighbouring edges cannot move.
    lines = STARTS[:, :1] + STARTS[:, 1:] * u
    near = np.maximum(0.0, 1.0 - np.abs(measured - lines) / 0.6) @ base - 0.01 * base.sum() * np.abs(STARTS[:, 0])
    coefficients[:2] = STARTS[int(np.argmax(near))]
    sigma = 1.0
    for turn in range(6):
        residual = measured - basis @ coefficients
        off = np.abs(residual[usable])
        # The nearer two thirds tell the scatter, so that a stretch gone to another edge does not.
        rank = int(0.67 * (len(off) - 1))
        sigma = max(0.03, 1.03 * float(np.partition(off, rank)[rank]))
        if turn == 0:
            sigma = min(sigma, 0.5)
        z = np.abs(residual) / (4.0 * sigma)
        kept = base * np.where(z < 1, (1 - np.minimum(z, 1) ** 2) ** 2, 0.0)
        held = np.diag([1e-9, 1e-9, (sigma / bow_px) ** 2])
        if turn == 0:
            held[2, 2] = 1e9
        weighted = basis * kept[:, None]
        coefficients = np.asarray(np.linalg.solve(weighted.T @ basis + held, weighted.T @ measured), dtype=np.float64)
    near = np.abs(measured - basis @ coefficients) < 4.0 * sigma
    return coefficients, np.where(near, kept / np.maximum(base, 1e-9), 0.0), sigma
