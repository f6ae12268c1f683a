"""Edges: the four sides of a candidate at full resolution, to a fraction of a pixel."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from ...arrays import Bytes, Floats

FIRST_SHARE, LAST_SHARE = 0.12, 0.88
LEAST_SIGMA_PX = 0.05


def _light_table() -> Floats:
    values = np.arange(256) / 255.0
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


# sRGB, IEC 61966-2-1: a lens blurs light, not the numbers in the file, so edges are placed in light.
LIGHT = _light_table()
PLAIN = np.arange(256, dtype=np.float64)


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
    coefficients: Floats
    start: Floats
    stop: Floats

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


def sample(pixels: Bytes, points: Floats, table: Floats) -> Floats:
    """Return colours (..., 3) at `points` (..., 2), bilinear between the `table` values of the pixels around."""
    height, width = pixels.shape[:2]
    x = np.clip(points[..., 0], 0, width - 1.001)
    y = np.clip(points[..., 1], 0, height - 1.001)
    column, row = x.astype(np.intp), y.astype(np.intp)
    fx, fy = (x - column)[..., None], (y - row)[..., None]
    upper = table[pixels[row, column]] * (1 - fx) + table[pixels[row, column + 1]] * fx
    lower = table[pixels[row + 1, column]] * (1 - fx) + table[pixels[row + 1, column + 1]] * fx
    mixed: Floats = upper * (1 - fy) + lower * fy
    return mixed


def refine_sides(
    pixels: Bytes, corners_px: Floats, focal_px: float, *, stations: int = 96, rows: int = 3
) -> tuple[list[Side], Floats]:
    """Measure the four sides and return them with the corners (4, 2) where their curves meet.

    Args:
        pixels: the photo, (H, W, 3) uint8.
        corners_px: (4, 2) counter-clockwise on the screen, right to about a pixel.
        focal_px: focal length, which says how much a lens can bow a side [px].
        stations: places measured along each side.
        rows: parallel profiles averaged at each station.
    """
    start = np.asarray(corners_px, dtype=np.float64)
    stop = np.roll(start, -1, axis=0)
    along = stop - start
    length = np.hypot(along[:, 0], along[:, 1])
    unit = along / length[:, None]
    normal = np.stack([-unit[:, 1], unit[:, 0]], axis=1)
    share = np.linspace(FIRST_SHARE, LAST_SHARE, stations)
    u = 2 * share - 1
    base = start[:, None] + along[:, None] * share[:, None]
    beside = np.linspace(-1, 1, rows) if rows > 1 else np.zeros(1)
    spread = np.clip(length * (LAST_SHARE - FIRST_SHARE) / stations / 3, 0.3, 1.0)[:, None] * beside
    edge = np.zeros((4, stations))
    measured, weight = edge, edge
    fits: list[tuple[Floats, Floats, float]] = []
    blur = 0.0
    for turn in range(2):
        at = base + normal[:, None] * edge[..., None]
        points = at[:, :, None] + unit[:, None, None] * spread[:, None, :, None]
        points = points[:, :, :, None] + normal[:, None, None, None] * OFFSETS[:, None]
        light = sample(pixels, points, LIGHT).mean(axis=2)
        profile, size = _contrast_profile(light)
        if turn == 0:
            blur = _fit_blur(profile, size)
        # First close by, so that edges next to the right one are not mixed in.
        moved, weight = _fit_steps(profile, size, blur, NARROW_PX if turn == 0 else WIDE_PX)
        measured = edge + moved
        fits = [_fit_curve(u, measured[i], weight[i], float(length[i]), focal_px) for i in range(4)]
        edge = np.stack([c[0] + c[1] * u + c[2] * u * u for c, _, _ in fits])
    near = sample(
        pixels, (base + normal[:, None] * edge[..., None])[:, :, None] + normal[:, None, None] * BESIDE, PLAIN
    )
    contrast = np.sqrt(((near[:, :, 0] - near[:, :, 1]) ** 2).mean(axis=2))
    sides = []
    for i, (coefficients, kept, sigma) in enumerate(fits):
        slope = (coefficients[1] + 2 * coefficients[2] * u) * 2 / length[i]
        normals = normal[i] - unit[i] * slope[:, None]
        sides.append(
            Side(
                points_px=base[i] + normal[i] * measured[i][:, None],
                normals_px=normals / np.hypot(normals[:, 0], normals[:, 1])[:, None],
                weights=kept,
                share_seen=float((kept * (np.abs(measured[i] - edge[i]) < NEAR_PX) > 0).mean()),
                contrast=float(np.median(contrast[i])),
                blur_px=blur,
                sigma_px=max(LEAST_SIGMA_PX, sigma),
                coefficients=coefficients,
                start=start[i],
                stop=stop[i],
            )
        )
    return sides, meet_corners(sides)


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


# A station agrees with its side when it is this near; those on noise alone are with a chance of one in five.
NEAR_PX = 0.6
NARROW_PX, WIDE_PX = 2.0, 3.0
OFFSETS = np.arange(-4.5, 4.51, 0.5)
BESIDE = np.array([[-3.0], [3.0]])
BLURS_PX = (0.5, 0.62, 0.75, 0.87, 1.0, 1.2, 1.45, 1.8, 2.3)
# The ramps let a soft shadow or gloss beside the edge be what it is; held down, so that they do not eat the step.
# Measured on rendered sheets and cards: 0.05 leaves the least bias, both under sharpening and beside shadows.
RAMP_CALM = 0.05


def _contrast_profile(light: Floats) -> tuple[Floats, Floats]:
    """Project each station's light (4, N, T, 3) on its own step from inside to outside.

    Returns:
        (4, N, T) light along the step, and (4, N) the size of the step.
    """
    inside = light[:, :, (OFFSETS <= -1.5) & (OFFSETS >= -4)].mean(axis=2)
    outside = light[:, :, (OFFSETS >= 1.5) & (OFFSETS <= 4)].mean(axis=2)
    step = outside - inside
    size = np.sqrt((step**2).sum(axis=2))
    direction = step / np.maximum(size, 1e-6)[..., None]
    return (light * direction[:, :, None]).sum(axis=3), size


def _basis(edge: Floats, blur: float, reach_px: float) -> tuple[Floats, Floats, Floats]:
    """Return the blurred shapes (..., T, 4) level, step, ramp inside, ramp outside; the step's slope; the window."""
    t = OFFSETS - edge[..., None]
    z = t / blur
    step = ndtr(z)
    bell = np.exp(-0.5 * z * z) * (1 / np.sqrt(2 * np.pi))
    outside = blur * (z * step + bell)
    inside = t - outside
    window = np.clip((reach_px + 0.25 - np.abs(t)) / 0.5, 0.0, 1.0)
    return np.stack([np.ones_like(t), step, inside, outside], axis=-1), bell / blur, window


def _newton(profile: Floats, edge: Floats, blur: float, reach_px: float = WIDE_PX) -> tuple[Floats, Floats, Floats]:
    """Return one improvement of each edge [px], the height of its step, and what it leaves unexplained."""
    basis, slope, window = _basis(edge, blur, reach_px)
    calm = np.diag([1e-6, 1e-6, RAMP_CALM, RAMP_CALM])
    weighted = np.swapaxes(basis * window[..., None], -1, -2)
    first = np.asarray(np.linalg.solve(weighted @ basis + calm, weighted @ profile[..., None]), dtype=np.float64)
    residual = profile - (basis @ first)[..., 0]
    step = basis[..., 1]
    # How the model changes when the edge moves outward: step and both ramps move with it.
    change = -(first[..., 1, :] * slope + first[..., 2, :] * (1 - step) + first[..., 3, :] * step)
    full = np.concatenate([basis, change[..., None]], axis=-1)
    weighted = np.swapaxes(full * window[..., None], -1, -2)
    calm = np.diag([1e-6, 1e-6, RAMP_CALM, RAMP_CALM, 1e-4])
    move: Floats = np.linalg.solve(weighted @ full + calm, weighted @ profile[..., None])[..., 4, 0]
    return np.clip(move, -0.8, 0.8), first[..., 1, 0], (window * residual**2).sum(axis=-1)


def _fit_blur(profile: Floats, size: Floats) -> float:
    """Return the blur that explains the mean profiles of the four sides (4, N, T) best [px]."""
    level = profile - profile[..., :4].mean(axis=-1, keepdims=True)
    mean = level.mean(axis=1) / np.maximum(size.mean(axis=1), 1e-5)[:, None]
    costs: list[float] = []
    edge = np.zeros(4)
    for blur in BLURS_PX:
        for _ in range(4 if not costs else 2):
            move, _, cost = _newton(mean, edge, blur)
            edge = np.clip(edge + move, -2.5, 2.5)
        costs.append(float(np.log(cost + 1e-5).sum()))
    return BLURS_PX[int(np.argmin(costs))]


def _fit_steps(profile: Floats, size: Floats, blur: float, reach_px: float) -> tuple[Floats, Floats]:
    """Return where each station's step lies [px from its base], and a weight for it, both (4, N)."""
    scale = np.maximum(np.median(size, axis=1), 1e-4)
    data = profile / scale[:, None, None]
    edge = np.zeros(size.shape)
    height = np.ones(size.shape)
    for _ in range(4):
        move, height, _ = _newton(data, edge, blur, reach_px)
        edge = np.clip(edge + move, -3.2, 3.2)
    weight = np.where(np.abs(edge) > 2.8, 0.0, np.clip(np.abs(height), 0.02, 2.0) ** 2)
    return edge, weight


STARTS = np.stack(np.meshgrid(np.arange(-2.5, 2.51, 0.25), np.arange(-1.5, 1.51, 0.25)), axis=-1).reshape(-1, 2)


def _fit_curve(
    u: Floats, measured: Floats, weight: Floats, length: float, focal_px: float
) -> tuple[Floats, Floats, float]:
    """Fit offset, slope and a bow no larger than a lens makes; return coefficients, weights kept and scatter.

    A lens with k1 = 0.05 bows a side of length L halfway out by up to 0.004 L^2 / f; the bow is held to that.
    """
    basis = np.stack([np.ones_like(u), u, u * u], axis=1)
    bow_px = max(0.02, 0.005 * length * length / focal_px)
    base = weight / max(float(weight.max()), 1e-9)
    usable = base > 0
    kept = base.copy()
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
        sigma = max(0.03, 1.03 * float(np.quantile(off, 0.67)))
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
    return coefficients, np.where(near, np.maximum(kept / np.maximum(base, 1e-9), 0.0), 0.0), sigma
