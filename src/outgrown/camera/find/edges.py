"""Edges: the four sides of a candidate at full resolution, to a fraction of a pixel."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from ...arrays import Bytes, Floats

FIRST_SHARE, LAST_SHARE = 0.12, 0.88
FEWEST_STATIONS, MOST_STATIONS = 24, 96
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


def refine_sides(pixels: Bytes, corners_px: Floats, focal_px: float) -> tuple[list[Side], Floats]:
    """Measure the four sides and return them with the corners (4, 2) where their curves meet.

    Args:
        pixels: the photo, (H, W, 3) uint8.
        corners_px: (4, 2) counter-clockwise on the screen, right to about a pixel.
        focal_px: focal length, which says how much a lens can bow a side [px].
    """
    corners = np.asarray(corners_px, dtype=np.float64)
    sides = [_refine_side(pixels, corners[i], corners[(i + 1) % 4], focal_px) for i in range(4)]
    meeting = meet_corners(sides)
    # Once more from the better lines: the stations then lie where they should, and the curve is centred.
    sides = [_refine_side(pixels, meeting[i], meeting[(i + 1) % 4], focal_px) for i in range(4)]
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


def _refine_side(pixels: Bytes, start: Floats, stop: Floats, focal_px: float) -> Side:
    along = stop - start
    length = float(np.hypot(*along))
    unit = along / length
    normal = np.array([-unit[1], unit[0]])
    count = int(np.clip(length * 0.5, FEWEST_STATIONS, MOST_STATIONS))
    share = np.linspace(FIRST_SHARE, LAST_SHARE, count)
    base = start + along * share[:, None]
    u = 2 * share - 1
    # Two or three rows beside each station make its profile calmer, as far as rows are not shared.
    rows = np.clip(length * (LAST_SHARE - FIRST_SHARE) / count / 3, 0.3, 1.0) * np.array([-1.0, 0.0, 1.0])
    offsets = np.arange(-5.0, 5.01, 0.5)
    edge = np.zeros(count)
    blur = 0.9
    for turn in range(2):
        points = (
            (base + normal * edge[:, None])[:, None, None]
            + unit * rows[:, None, None]
            + normal * offsets[:, None]
        )
        profile, weight = _contrast_profile(sample(pixels, points, LIGHT).mean(axis=1), offsets)
        if turn == 0:
            blur = _fit_blur(profile, weight, offsets)
        moved, weight = _fit_steps(profile, weight, offsets, blur)
        measured = edge + moved
        coefficients, kept, sigma = _fit_curve(u, measured, weight, length, focal_px)
        edge = coefficients[0] + coefficients[1] * u + coefficients[2] * u * u
    tangent = (coefficients[1] + 2 * coefficients[2] * u) * 2 / length
    normals = normal - unit * tangent[:, None]
    normals /= np.hypot(normals[:, 0], normals[:, 1])[:, None]
    grey = sample(pixels, (base + normal * edge[:, None])[:, None] + normal * np.array([[-3.0], [3.0]]), PLAIN)
    contrast = np.sqrt(((grey[:, 0] - grey[:, 1]) ** 2).mean(axis=1))
    return Side(
        points_px=base + normal * measured[:, None],
        normals_px=normals,
        weights=kept,
        share_seen=float((kept > 0.2).mean()),
        contrast=float(np.median(contrast)),
        blur_px=blur,
        sigma_px=max(LEAST_SIGMA_PX, sigma),
        coefficients=coefficients,
        start=start,
        stop=stop,
    )


def _contrast_profile(colour: Floats, offsets: Floats) -> tuple[Floats, Floats]:
    """Project each station's colours (N, T, 3) on its own step from inside to outside.

    Returns:
        (N, T) light along the step, and (N,) the size of the step.
    """
    inside = colour[:, (offsets <= -1.5) & (offsets >= -4)].mean(axis=1)
    outside = colour[:, (offsets >= 1.5) & (offsets <= 4)].mean(axis=1)
    step = outside - inside
    # Neighbours share their direction of colour: noise in one station does not turn it.
    size = np.sqrt((step**2).sum(axis=1))
    direction = step / np.maximum(size, 1e-6)[:, None]
    return np.einsum("ntc,nc->nt", colour, direction), size


def _model(offsets: Floats, edge: Floats, blur: float) -> tuple[Floats, Floats]:
    """Return the basis (N, T, 4) level, step, ramp inside, ramp outside, and the step's slope (N, T)."""
    z = (offsets[None] - edge[:, None]) / blur
    step = ndtr(z)
    slope = np.exp(-0.5 * z * z) / (np.sqrt(2 * np.pi) * blur)
    ramp = z * blur
    basis = np.stack([np.ones_like(z), step, np.minimum(ramp, 0), np.maximum(ramp, 0)], axis=2)
    return basis, slope


def _window(offsets: Floats, edge: Floats, blur: float) -> Floats:
    reach = 1.5 + 2.0 * blur
    return np.clip((reach + 0.5 - np.abs(offsets[None] - edge[:, None])) / 0.5, 0.0, 1.0)


def _solve(basis: Floats, target: Floats, window: Floats, calm: Floats) -> tuple[Floats, Floats]:
    weighted = basis * window[..., None]
    normal = np.einsum("nti,ntj->nij", weighted, basis) + np.diag(calm)
    right = np.einsum("nti,nt->ni", weighted, target)
    solution = np.linalg.solve(normal, right[..., None])[..., 0]
    residual = target - np.einsum("nti,ni->nt", basis, solution)
    return solution, residual


# The ramps let a soft shadow or gloss beside the edge be what it is; held down, so that they do not eat the step.
RAMP_CALM = np.array([1e-6, 1e-6, 3.0, 3.0])


def _fit_blur(profile: Floats, size: Floats, offsets: Floats) -> float:
    """Return the blur under which steps explain the profiles best [px]."""
    best, best_cost = 0.9, np.inf
    good = size >= np.quantile(size, 0.4)
    data, scale = profile[good], np.maximum(size[good], 1e-4)
    data = (data - data.mean(axis=1, keepdims=True)) / scale[:, None]
    for blur in (0.4, 0.55, 0.7, 0.9, 1.15, 1.5, 1.9, 2.4):
        edge = np.zeros(len(data))
        for _ in range(2):
            edge = edge + _newton(data, offsets, edge, blur)[0]
        basis, _ = _model(offsets, edge, blur)
        window = _window(offsets, edge, 1.2)
        residual = _solve(basis, data, window, RAMP_CALM)[1]
        cost = float(np.median((window * residual**2).sum(axis=1)))
        if cost < best_cost:
            best, best_cost = blur, cost
    return best


def _newton(profile: Floats, offsets: Floats, edge: Floats, blur: float) -> tuple[Floats, Floats]:
    """Return one step of each station's edge [px], and its step's height."""
    basis, slope = _model(offsets, edge, blur)
    window = _window(offsets, edge, blur)
    height = _solve(basis, profile, window, RAMP_CALM)[0][:, 1]
    # Moving the edge by d changes the model by -height * slope * d.
    full = np.concatenate([basis, -(height[:, None] * slope)[..., None]], axis=2)
    calm = np.append(RAMP_CALM, 1e-9)
    move = _solve(full, profile, window, calm)[0][:, 4]
    return np.clip(move, -1.0, 1.0), height


def _fit_steps(profile: Floats, size: Floats, offsets: Floats, blur: float) -> tuple[Floats, Floats]:
    """Return where each station's step lies [px from its base], and a weight for it."""
    edge = np.zeros(len(profile))
    scale = max(float(np.median(size)), 1e-4)
    data = profile / scale
    height = np.ones(len(profile))
    for _ in range(5):
        move, height = _newton(data, offsets, edge, blur)
        edge = np.clip(edge + move, -3.5, 3.5)
    weight = np.where(np.abs(edge) > 3.0, 0.0, np.clip(np.abs(height), 0.02, 2.0) ** 2)
    return edge, weight


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
    coefficients = np.zeros(3)
    if usable.sum() < 4:
        return coefficients, np.zeros_like(u), 9.0
    # Start from the median line through halves, which a minority of wild stations cannot move.
    order = np.flatnonzero(usable)
    half = len(order) // 2
    left, right = order[:half], order[half:]
    low, high = np.median(measured[left]), np.median(measured[right])
    rise = (high - low) / max(float(np.mean(u[right]) - np.mean(u[left])), 1e-9)
    coefficients[:2] = (low + high) / 2 - rise * (np.mean(u[left]) + np.mean(u[right])) / 2, rise
    sigma = 1.0
    for turn in range(8):
        residual = measured - basis @ coefficients
        sigma = max(0.03, 1.4826 * float(np.median(np.abs(residual[usable]))))
        z = np.abs(residual) / (4.0 * sigma)
        kept = base * np.where(z < 1, (1 - np.minimum(z, 1) ** 2) ** 2, 0.0)
        held = np.diag([1e-9, 1e-9, (sigma / bow_px) ** 2])
        if turn == 0:
            held[2, 2] = 1e9
        weighted = basis * kept[:, None]
        coefficients = np.linalg.solve(weighted.T @ basis + held, weighted.T @ measured)
    near = np.abs(measured - basis @ coefficients) < 4.0 * sigma
    return coefficients, np.where(near, np.maximum(kept / np.maximum(base, 1e-9), 0.0), 0.0), sigma
