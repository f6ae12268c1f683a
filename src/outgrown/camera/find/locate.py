"""Locate: at full resolution, which of the edges near a candidate's side may be its silhouette."""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from ...arrays import Bytes, Floats
from .sampling import sample_roughly
from .side import FIRST_SHARE, LAST_SHARE
from .support import intersect_sides

Ints = NDArray[np.intp]

STATIONS = 32
STEP_PX = 0.5
# Steps larger than this say no more than this one [grey levels per px]: one glaring part must not outvote the rest.
ENOUGH_SLOPE = 12.0
LEAST_SLOPE = 1.0
# The stripe of a card begins 4 to 6 mm inside its long side, so the side may lie that far outside a strong edge.
OUTWARD_SHARE = 0.08
LEAST_OUTER_SEEN = 0.7
APART_PX = 1.5


def locate_sides(pixels: Bytes, corners_px: Floats, reach_px: float) -> list[tuple[Floats, Floats]]:
    """Return corners (4, 2) moved onto edges nearby, and the share of each side seen (4,).

    The first takes the strongest edge along each side; others take, at one side or at all, a weaker edge further
    out (artwork may be stronger than the silhouette), or the edge just inside where the strongest is a shadow's rim.

    Args:
        pixels: the photo, (H, W, 3) uint8.
        corners_px: (4, 2) counter-clockwise on the screen.
        reach_px: how far off the sides may be [px].
    """
    start, stop = corners_px, np.roll(corners_px, -1, axis=0)
    along = stop - start
    length = np.hypot(along[:, 0], along[:, 1])
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1) / length[:, None]
    outward_px = max(reach_px, OUTWARD_SHARE * float(length.max()))
    # Where the reach is long, coarser steps.
    step = max(STEP_PX, reach_px / 14, outward_px / 36)
    inner, outer = round(reach_px / step), round(outward_px / step)
    spare = int(np.ceil(reach_px * 0.6 / step)) + 4
    offsets = np.arange(-inner - spare, outer + spare + 1) * step
    share = np.linspace(FIRST_SHARE, LAST_SHARE, STATIONS)
    base = start[:, None] + along[:, None] * share[:, None]
    colour = sample_roughly(pixels, base[:, :, None] + normal[:, None, None] * offsets[:, None])
    worth = _worth(colour, step)
    moves = np.arange(-inner, outer + 1)
    tilts = np.arange(-4, 5) * 0.5 * max(1.0, inner / 8)
    u = np.linspace(-1, 1, STATIONS)
    lines = np.rint(moves[:, None, None] + tilts[None, :, None] * u).astype(np.intp) + inner + spare
    lines = np.clip(lines, 0, len(offsets) - 1)
    choices = [_choose(worth[i], colour[i], lines, moves, inner, step) for i in range(4)]
    found = []
    for picks in _combinations([len(c) for c in choices]):
        a, b = np.zeros((4, 2)), np.zeros((4, 2))
        seen = np.zeros(4)
        for i, pick in enumerate(picks):
            move, tilt = choices[i][pick]
            seen[i] = (worth[i][np.arange(STATIONS), lines[move, tilt]] > 0).mean()
            middle = float(moves[move]) * step
            turn = float(tilts[tilt]) * step / (LAST_SHARE - FIRST_SHARE)
            a[i] = start[i] + normal[i] * (middle - turn)
            b[i] = stop[i] + normal[i] * (middle + turn)
        found.append((intersect_sides(a[None], b[None])[0], seen))
    return found


def _worth(colour: Floats, step: float) -> Floats:
    """Return (4, N, T) how much of an edge lies at each place; 0 off the tops of the slopes."""
    smooth = colour.copy()
    smooth[:, :, 1:-1] = (colour[:, :, :-2] + 2 * colour[:, :, 1:-1] + colour[:, :, 2:]) / 4
    smooth[:, 1:-1] = (smooth[:, :-2] + smooth[:, 1:-1] + smooth[:, 2:]) / 3
    slope = np.zeros(colour.shape[:3])
    width = max(1, round(1.0 / step))
    change = smooth[:, :, 2 * width :] - smooth[:, :, : -2 * width]
    slope[:, :, width:-width] = np.sqrt((change**2).mean(axis=3)) / (2 * width * step)
    # Only the top of each hill counts, so that a broad slope cannot stand for an edge.
    top = np.zeros(slope.shape, bool)
    top[:, :, 1:-1] = (slope[:, :, 1:-1] >= slope[:, :, :-2]) & (slope[:, :, 1:-1] >= slope[:, :, 2:])
    worth = np.where(top, np.minimum(slope, ENOUGH_SLOPE), 0.0)
    worth[:, :, 1:-1] = np.maximum(worth[:, :, 1:-1], 0.7 * np.maximum(worth[:, :, :-2], worth[:, :, 2:]))
    return np.where(slope > LEAST_SLOPE, worth, 0.0)


def _choose(worth: Floats, colour: Floats, lines: Ints, moves: Ints, inner: int, step: float) -> list[tuple[int, int]]:
    """Return (move, tilt) indices of the likeliest line of one side, then of at most one other."""
    votes = worth[np.arange(STATIONS), lines]
    score = votes.mean(axis=2)
    seen = (votes > 0).mean(axis=2)
    near = np.abs(moves) <= inner
    held = np.where(near, 1 - 0.012 * np.abs(moves), 0.0)
    move, tilt = (int(k) for k in np.unravel_index(int(np.argmax(score * held[:, None])), score.shape))
    by_move = score.max(axis=1)
    apart = max(2, round(APART_PX / step))
    peaks = np.flatnonzero(by_move >= maximum_filter1d(by_move, 2 * apart + 1, mode="nearest"))
    best_tilt = score.argmax(axis=1)
    choices = [(move, tilt)]
    # The strongest may be the outer rim of the shadow: then the silhouette is just inside.
    inside = peaks[(peaks <= move - apart) & (peaks > move - round(8 / step)) & (by_move[peaks] >= 0.4 * by_move[move])]
    if len(inside):
        other = int(inside[-1])
        if _is_shadow(colour, lines[other, best_tilt[other]], lines[move, tilt], step):
            return [(other, int(best_tilt[other])), (move, tilt)]
    # Artwork may be stronger than the silhouette outside it.
    outside = peaks[(peaks >= move + apart) & (seen[peaks, best_tilt[peaks]] >= LEAST_OUTER_SEEN)]
    for other in outside[np.argsort(-by_move[outside])]:
        if not _is_shadow(colour, lines[move, tilt], lines[other, best_tilt[other]], step):
            choices.append((int(other), int(best_tilt[other])))
            break
    return choices


def _combinations(counts: list[int]) -> list[tuple[int, ...]]:
    """Return picks: the likeliest at all sides, then the other at one side each, then at all that have one."""
    picks: list[tuple[int, ...]] = [(0, 0, 0, 0)]
    swappable = [i for i, count in enumerate(counts) if count > 1]
    picks.extend(tuple(int(i == k) for i in range(4)) for k in swappable)
    if len(swappable) > 1:
        picks.append(tuple(int(i in swappable) for i in range(4)))
    return picks


def _is_shadow(colour: Floats, inner: Ints, outer: Ints, step: float) -> bool:
    """Whether the stripe between two lines is the floor outside it, only darker."""
    stations = np.arange(len(inner))
    last = colour.shape[1] - 1
    between = colour[stations, np.clip(np.rint((inner + outer) / 2).astype(np.intp), 0, last)]
    beyond = colour[stations, np.clip(outer + round(2.5 / step), 0, last)]
    light_between = np.median((between / 255.0) ** 2.2, axis=0)
    light_beyond = np.median((beyond / 255.0) ** 2.2, axis=0)
    ratio = (light_between + 0.004) / (light_beyond + 0.004)
    return bool(0.15 < ratio.mean() < 0.93 and ratio.max() < 1.35 * ratio.min())
