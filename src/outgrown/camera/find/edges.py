"""Edges: the four sides of a candidate at full resolution, to a fraction of a pixel.

Along each side the profiles across it look alike: the same blur, the same shadow. So their mean is the pattern, and
where each station's profile fits it best says how the side runs (its slope and bow, and the scatter). Where on the
pattern the side lies is settled once for the side.
"""

import numpy as np

from ...arrays import Bytes, Floats
from .sampling import LIGHT, PLAIN, sample
from .settle import BLURS_PX, FEW_BLURS_PX, OFFSETS, STEP_PX, find_moves
from .side import FIRST_SHARE, LAST_SHARE, Side, fit_curve, meet_corners

LEAST_SIGMA_PX = 0.05
TURNS = 3
# A station agrees with its side when it is this near; those on noise alone are with a chance of one in five.
NEAR_PX = 0.6
# Beside a rough floor, or at a faint step, even a true side scatters: by this much per floor's unevenness over step.
ROUGH_GAIN = 2.0
MOST_ROUGH_PX = 0.6
MOST_SHIFT_PX = 1.5
BESIDE = np.array([[-3.0], [3.0]])
NO_RIMS = np.zeros(4)


def refine_sides(
    pixels: Bytes,
    corners_px: Floats,
    focal_px: float,
    *,
    stations: int = 96,
    rows: int = 3,
    even_px: float = 1.0,
    rims_px: Floats = NO_RIMS,
    px_per_mm: float = 3.0,
) -> tuple[list[Side], Floats]:
    """Measure the four sides and return them with the corners (4, 2) where their curves meet.

    Args:
        pixels: the photo, (H, W, 3) uint8.
        corners_px: (4, 2) counter-clockwise on the screen, right to about a pixel.
        focal_px: focal length, which says how much a lens can bow a side [px].
        stations: places measured along each side.
        rows: parallel profiles averaged at each station.
        even_px: so far along the side, either way, they may be taken; a carpet's pile needs more of it.
        rims_px: (4,) how wide the rim shows beyond each side.
        px_per_mm: scale there, if it is of the size thought; on a small card less of the profile is looked at,
            since artwork is near.
    """
    reach_px = float(np.clip(1.5 * px_per_mm + 1.5, 3.0, 5.0))
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
    pace = length * (LAST_SHARE - FIRST_SHARE) / stations
    spread = np.clip(pace * (2.0 if even_px > 1 else 1 / 3), 0.3, even_px)[:, None] * beside
    edge, kept = np.zeros((4, stations)), np.ones((4, stations))
    measured, pattern = edge, np.zeros((4, len(OFFSETS)))
    fits: list[tuple[Floats, Floats, float]] = []
    for _ in range(TURNS):
        at = base + normal[:, None] * edge[..., None]
        points = at[:, :, None] + unit[:, None, None] * spread[:, None, :, None]
        points = points[:, :, :, None] + normal[:, None, None, None] * OFFSETS[:, None]
        profile, size = _contrast_profile(sample(pixels, points, LIGHT).mean(axis=2))
        pattern = _pattern(profile, size, kept)
        shift, weight = _match(profile, pattern, size, reach_px - 0.75)
        measured = edge + shift
        fits = [fit_curve(u, measured[i], weight[i], float(length[i]), focal_px) for i in range(4)]
        edge = np.stack([c[0] + c[1] * u + c[2] * u * u for c, _, _ in fits])
        kept = np.stack([k for _, k, _ in fits])
    # The pattern was taken before the last fit moved the curve a little.
    last = np.array([float(np.average(edge[i] - (measured - shift)[i])) for i in range(4)])
    moves, blur = find_moves(pattern, rims_px, reach_px, BLURS_PX if stations > 60 else FEW_BLURS_PX)
    moves = moves - last
    centre = base + normal[:, None] * (edge + moves[:, None])[..., None]
    near = sample(pixels, centre[:, :, None] + normal[:, None, None] * BESIDE, PLAIN)
    contrast = np.sqrt(((near[:, :, 0] - near[:, :, 1]) ** 2).mean(axis=2))
    uneven = np.sqrt(near[:, :, 1].var(axis=1).mean(axis=1))
    rough = np.minimum(ROUGH_GAIN * uneven / np.maximum(np.median(contrast, axis=1), 1.0), MOST_ROUGH_PX)
    sides = []
    for i, (coefficients, weights, sigma) in enumerate(fits):
        slope = (coefficients[1] + 2 * coefficients[2] * u) * 2 / length[i]
        normals = normal[i] - unit[i] * slope[:, None]
        sides.append(
            Side(
                points_px=base[i] + normal[i] * (measured[i] + moves[i])[:, None],
                normals_px=normals / np.hypot(normals[:, 0], normals[:, 1])[:, None],
                weights=weights,
                share_seen=float(((weights > 0) & (np.abs(measured[i] - edge[i]) < NEAR_PX + rough[i])).mean()),
                contrast=float(np.median(contrast[i])),
                blur_px=blur,
                sigma_px=max(LEAST_SIGMA_PX, sigma),
                rough_px=float(rough[i]),
                coefficients=coefficients + np.array([moves[i], 0.0, 0.0]),
                start=start[i],
                stop=stop[i],
            )
        )
    return sides, meet_corners(sides)


def _contrast_profile(light: Floats) -> tuple[Floats, Floats]:
    """Project each station's light (4, N, T, 3) on its own step from inside to outside.

    Returns:
        (4, N, T) light along the step, 0 inside, and (4, N) the size of the step.
    """
    inside = light[:, :, (OFFSETS <= -2) & (OFFSETS >= -5)].mean(axis=2)
    outside = light[:, :, (OFFSETS >= 2) & (OFFSETS <= 5)].mean(axis=2)
    step = outside - inside
    size = np.sqrt((step**2).sum(axis=2))
    direction = step / np.maximum(size, 1e-6)[..., None]
    return ((light - inside[:, :, None]) * direction[:, :, None]).sum(axis=3), size


def _pattern(profile: Floats, size: Floats, kept: Floats) -> Floats:
    """Return the mean profile of each side (4, T), its step scaled to 1."""
    weight = (kept > 0.2) + 1e-6
    total = (weight[..., None] * profile).sum(axis=1)
    pattern: Floats = total / np.maximum((weight * size).sum(axis=1), 1e-6)[:, None]
    return pattern


def _match(profile: Floats, pattern: Floats, size: Floats, reach_px: float) -> tuple[Floats, Floats]:
    """Return how far each station's profile lies outward of its side's pattern [px], and a weight, both (4, N)."""
    slope = np.zeros_like(pattern)
    slope[:, 1:-1] = (pattern[:, 2:] - pattern[:, :-2]) / (2 * STEP_PX)
    window = np.clip((reach_px + 0.25 - np.abs(OFFSETS)) / 0.5, 0.0, 1.0)
    # Level, the pattern, and the pattern moved: level + gain * pattern(t - shift).
    basis = np.stack([np.ones_like(pattern), pattern, -slope], axis=-1)
    weighted = np.swapaxes(basis * window[:, None], 1, 2)
    data = profile / np.maximum(np.median(size, axis=1), 1e-5)[:, None, None]
    solution = np.linalg.solve(weighted @ basis + np.diag([1e-6, 1e-3, 1e-3]), weighted @ np.swapaxes(data, 1, 2))
    gain, moved = solution[:, 1], solution[:, 2]
    shift = moved / np.where(np.abs(gain) < 0.1, 0.1, gain)
    weight = np.where(np.abs(shift) > MOST_SHIFT_PX, 0.0, np.clip(np.abs(gain), 0.02, 2.0) ** 2)
    return np.clip(shift, -MOST_SHIFT_PX, MOST_SHIFT_PX), weight
