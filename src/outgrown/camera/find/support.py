"""Support: how much edge lies under a candidate's four sides at working size, and where it lies best."""

import numpy as np

from ...arrays import Floats
from .levels import Level

FIRST_SHARE, LAST_SHARE = 0.12, 0.88
# Slope that counts as edge [grey levels per px of the 1600 px level]: noise and JPEG leave 0.3 to 1 there.
LEAST_SLOPE = 1.5
# |cosine| between the slope and the side's normal; 0.87 is 30 degrees, met by chance one time in three.
LEAST_ALIGNED = 0.87
CHUNK = 4000


def measure_support(quads: Floats, level: Level, *, stations: int = 16, reach: int = 1) -> Floats:
    """Return the share of each side (M, 4) under which a slope across the side is seen within `reach` px.

    Args:
        quads: (M, 4, 2) corners in px of `level`.
        level: where to look.
        stations: places looked at on each side.
        reach: how far off the side the slope may lie [px].
    """
    along = np.linspace(FIRST_SHARE, LAST_SHARE, stations)
    parts = [
        _seen(*_slopes(quads[k : k + CHUNK], level, along, np.arange(-reach, reach + 1.0)))
        for k in range(0, len(quads), CHUNK)
    ]
    return np.concatenate(parts) if parts else np.zeros((0, 4))


def _seen(across: Floats, total: Floats) -> Floats:
    seen = (across > LEAST_SLOPE) & (across > LEAST_ALIGNED * total)
    share: Floats = seen.any(axis=3).mean(axis=2)
    return share


def count_running_on(quads: Floats, level: Level) -> Floats:
    """Return at how many of its eight ends a candidate's edges run on beyond the corner (M,), as joints do."""
    offsets = np.arange(-1.0, 2.0)
    count = np.zeros(len(quads))
    for share in (np.linspace(-0.30, -0.08, 8), np.linspace(1.08, 1.30, 8)):
        for k in range(0, len(quads), CHUNK):
            across, total = _slopes(quads[k : k + CHUNK], level, share, offsets)
            seen = (across > LEAST_SLOPE) & (across > LEAST_ALIGNED * total)
            count[k : k + CHUNK] += (seen.any(axis=3).mean(axis=2) > 0.8).sum(axis=1)
    return count


def _slopes(quads: Floats, level: Level, share: Floats, offsets: Floats) -> tuple[Floats, Floats]:
    """Return |slope across| and |slope| at (M, 4, shares, offsets)."""
    start, stop = quads, np.roll(quads, -1, axis=1)
    along = stop - start
    unit = along / np.maximum(np.hypot(along[..., 0], along[..., 1]), 1e-9)[..., None]
    normal = np.stack([unit[..., 1], -unit[..., 0]], axis=-1)
    on_side = start[:, :, None] + along[:, :, None] * share[:, None]
    points = on_side[:, :, :, None] + normal[:, :, None, None] * offsets[:, None]
    columns = np.clip(np.rint(points[..., 0]), 0, level.size_px[0] - 1).astype(np.intp)
    rows = np.clip(np.rint(points[..., 1]), 0, level.size_px[1] - 1).astype(np.intp)
    slope_x, slope_y = level.slope_x[rows, columns], level.slope_y[rows, columns]
    nx, ny = normal[:, :, None, None, 0], normal[:, :, None, None, 1]
    return np.abs(slope_x * nx + slope_y * ny), np.hypot(slope_x, slope_y)


def tighten(quads: Floats, level: Level, reach: int) -> Floats:
    """Return `quads` with each side moved and turned onto the strongest straight edge within `reach` px."""
    if not len(quads):
        return quads
    stations = 20
    offsets = np.arange(-reach - 2.0, reach + 3.0)
    across, total = _slopes(quads, level, np.linspace(FIRST_SHARE, LAST_SHARE, stations), offsets)
    worth = np.where(across > 0.8 * total, np.minimum(across, 10.0), 0.0)
    worth[..., 1:-1] = 0.25 * worth[..., :-2] + 0.5 * worth[..., 1:-1] + 0.25 * worth[..., 2:]
    share = np.linspace(-1, 1, stations)
    moves, turns = np.meshgrid(np.arange(-reach, reach + 1.0), np.arange(-2.0, 3.0), indexing="ij")
    best = np.full(worth.shape[:2], -1.0)
    move, turn = np.zeros(worth.shape[:2]), np.zeros(worth.shape[:2])
    at = np.arange(stations)
    for m, t in zip(moves.ravel(), turns.ravel(), strict=True):
        index = np.clip(np.rint(m + t * share).astype(np.intp) + reach + 2, 0, len(offsets) - 1)
        # Artwork and joints a few px off may be stronger: moving away needs a reason.
        score = worth[:, :, at, index].mean(axis=2) * (1 - 0.06 * abs(m) - 0.05 * abs(t))
        better = score > best
        best[better], move[better], turn[better] = score[better], m, t
    # Subpixel: the worth-weighted mean offset near the line found.
    middle = move[..., None] + turn[..., None] * share
    near = np.abs(offsets - middle[..., None]) < 1.6
    weight = worth * near + 1e-9
    mean = (weight * (offsets - middle[..., None])).sum(axis=3) / weight.sum(axis=3)
    mass = weight.sum(axis=3)
    shift = (mass * mean).sum(axis=2) / mass.sum(axis=2)
    span = (LAST_SHARE - FIRST_SHARE) / 2
    at_start = move + shift - turn / span * 0.5
    at_stop = move + shift + turn / span * 0.5
    return _shift_sides(quads, at_start, at_stop)


def _shift_sides(quads: Floats, at_start: Floats, at_stop: Floats) -> Floats:
    """Move the ends of each side outward by the given px and intersect neighbouring sides."""
    start, stop = quads, np.roll(quads, -1, axis=1)
    along = stop - start
    unit = along / np.maximum(np.hypot(along[..., 0], along[..., 1]), 1e-9)[..., None]
    normal = np.stack([unit[..., 1], -unit[..., 0]], axis=-1)
    a = start + normal * at_start[..., None]
    b = stop + normal * at_stop[..., None]
    return intersect_sides(a, b)


def intersect_sides(a: Floats, b: Floats) -> Floats:
    """Return corners (M, 4, 2) where side i - 1 meets side i, sides given by two points each (M, 4, 2)."""
    direction = b - a
    before, before_dir = np.roll(a, 1, axis=1), np.roll(direction, 1, axis=1)
    denominator = before_dir[..., 0] * direction[..., 1] - before_dir[..., 1] * direction[..., 0]
    safe = np.where(np.abs(denominator) < 1e-9, 1e-9, denominator)
    between = a - before
    t = (between[..., 0] * direction[..., 1] - between[..., 1] * direction[..., 0]) / safe
    corners: Floats = before + before_dir * t[..., None]
    return corners
