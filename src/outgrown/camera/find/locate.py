"""Locate: at full resolution, which of the edges near a candidate's side is its silhouette."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...arrays import Bytes, Floats
from .edges import FIRST_SHARE, LAST_SHARE, PLAIN, sample
from .support import intersect_sides

STATIONS = 32
STEP_PX = 0.5
# Steps larger than this say no more than this one [grey levels per px]: one glaring part must not outvote the rest.
ENOUGH_SLOPE = 12.0


def locate_sides(pixels: Bytes, corners_px: Floats, reach_px: float) -> tuple[Floats, Floats]:
    """Return corners (4, 2) moved onto the silhouette within `reach_px`, and the share of each side seen (4,).

    Args:
        pixels: the photo, (H, W, 3) uint8.
        corners_px: (4, 2) counter-clockwise on the screen.
        reach_px: how far off the sides may be [px].
    """
    start, stop = corners_px, np.roll(corners_px, -1, axis=0)
    along = stop - start
    unit = along / np.hypot(along[:, 0], along[:, 1])[:, None]
    normal = np.stack([-unit[:, 1], unit[:, 0]], axis=1)
    # Coarse photos are sampled at every half px; where the reach is long, coarser, and blurred to match.
    step = max(STEP_PX, reach_px / 14)
    half = int(np.ceil((reach_px + 3 * step) / step))
    offsets = np.arange(-half, half + 1) * step
    share = np.linspace(FIRST_SHARE, LAST_SHARE, STATIONS)
    base = start[:, None] + along[:, None] * share[:, None]
    points = base[:, :, None] + normal[:, None, None] * offsets[:, None]
    colour = sample(pixels, points, PLAIN)
    smooth = colour.copy()
    smooth[:, :, 1:-1] = (colour[:, :, :-2] + 2 * colour[:, :, 1:-1] + colour[:, :, 2:]) / 4
    smooth[:, 1:-1] = (smooth[:, :-2] + smooth[:, 1:-1] + smooth[:, 2:]) / 3
    slope = np.zeros(colour.shape[:3])
    width = max(1, round(1.0 / step))
    step_colour = smooth[:, :, 2 * width :] - smooth[:, :, : -2 * width]
    slope[:, :, width:-width] = np.sqrt((step_colour**2).mean(axis=3)) / (2 * width * step)
    # Only the top of each hill counts, so that a broad slope cannot stand for an edge.
    hill = np.minimum(slope, ENOUGH_SLOPE)
    top = np.zeros(hill.shape, bool)
    top[:, :, 1:-1] = (slope[:, :, 1:-1] >= slope[:, :, :-2]) & (slope[:, :, 1:-1] >= slope[:, :, 2:])
    worth = np.where(top, hill, 0.0)
    worth[:, :, 1:-1] = np.maximum(worth[:, :, 1:-1], 0.7 * np.maximum(worth[:, :, :-2], worth[:, :, 2:]))
    worth = np.where(slope > 1.0, worth, 0.0)
    a, b = np.zeros((4, 2)), np.zeros((4, 2))
    seen = np.zeros(4)
    reach = round(reach_px / step)
    u = np.linspace(-1, 1, STATIONS)
    tilts = np.arange(-4, 5) * 0.5 * max(1.0, reach / 8)
    moves = np.arange(-reach, reach + 1)
    index = moves[:, None, None] + np.rint(tilts[None, :, None] * u).astype(np.intp) + half
    index = np.clip(index, 0, 2 * half)
    for side in range(4):
        votes = worth[side][np.arange(STATIONS), index]
        score = votes.mean(axis=2)
        top_move, top_tilt = np.unravel_index(int(np.argmax(score - 0.01 * np.abs(moves)[:, None])), score.shape)
        move, tilt = _choose(score, int(top_move), int(top_tilt), moves, colour[side], index, step)
        line = index[move, tilt]
        seen[side] = (votes[move, tilt] > 0).mean()
        span = (LAST_SHARE - FIRST_SHARE) / 2
        middle = (line - half)[STATIONS // 2 - 1 : STATIONS // 2 + 1].mean() * step
        turn = tilts[tilt] * step
        a[side] = start[side] + normal[side] * (middle - turn / span * 0.5)
        b[side] = stop[side] + normal[side] * (middle + turn / span * 0.5)
    return intersect_sides(a[None], b[None])[0], seen


def _choose(
    score: Floats, move: int, tilt: int, moves: NDArray[Any], colour: Floats, index: NDArray[Any], step: float
) -> tuple[int, int]:
    """Prefer an outer edge over a stronger inner one, unless what lies between is the thing's own shadow."""
    best = score[move, tilt]
    by_move = score.max(axis=1)
    apart = max(2, round(1.5 / step))
    for other in range(len(moves) - 1, move + apart - 1, -1):
        around = by_move[max(0, other - apart) : other + apart + 1]
        if by_move[other] < 0.55 * best or by_move[other] < around.max():
            continue
        other_tilt = int(np.argmax(score[other]))
        if not _is_shadow(colour, index[move, tilt], index[other, other_tilt], step):
            return other, other_tilt
    # The strongest may be the outer rim of the shadow: then the silhouette is just inside.
    for other in range(move - apart, max(-1, move - round(8 / step)), -1):
        around = by_move[max(0, other - apart) : other + apart + 1]
        if by_move[other] < 0.4 * best or by_move[other] < around.max():
            continue
        other_tilt = int(np.argmax(score[other]))
        if _is_shadow(colour, index[other, other_tilt], index[move, tilt], step):
            return other, other_tilt
        break
    return move, tilt


def _is_shadow(colour: Floats, inner: NDArray[Any], outer: NDArray[Any], step: float) -> bool:
    """Whether the stripe between two lines is the floor outside it, only darker."""
    stations = np.arange(len(inner))
    last = colour.shape[1] - 1
    between = colour[stations, np.clip(np.rint((inner + outer) / 2).astype(np.intp), 0, last)]
    beyond = colour[stations, np.clip(outer + round(2.5 / step), 0, last)]
    light_between = np.median((between / 255.0) ** 2.2, axis=0)
    light_beyond = np.median((beyond / 255.0) ** 2.2, axis=0)
    ratio = (light_between + 0.004) / (light_beyond + 0.004)
    return bool(0.15 < ratio.mean() < 0.93 and ratio.max() < 1.35 * ratio.min())
