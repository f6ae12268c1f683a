"""Straight lines of the floor as measurements: board joints, grout, the edges of sheets and rugs.

They are straight in life, so how they bow in the photo tells the lens's distortion (the plumb-line method: F. Devernay
and O. Faugeras, "Straight lines have to be straight", Machine Vision and Applications 13, 2001), and those that are
parallel in life tell how the floor slants.
"""

import math
from collections.abc import Sequence

import cv2
import numpy as np

from ..arrays import Bytes, Floats
from .line_bow import FloorLine as FloorLine
from .line_bow import leave_out_bowed
from .line_candidates import MIN_SHARE, SMALL_PX, USUAL_FOCAL, find_candidates, keep_out_mask
from .line_tracing import ALONG_PX, Trace, trace

_MOST_LINES = 24
_USUAL_DIAGONAL_PX = 5040.0
_LARGEST_SIGMA_PX = 1.5
_LARGEST_WAVE_PX = 0.2
"""Joints leave 0.02 to 0.15 px after a smooth arc at 12 megapixels (measured on rendered floors); wide grout seen
from near 0.3; grain and cloth more."""
_LEAST_KEPT = 0.4
_VAIN = 14
"""Wooden grain offers candidates without end; after so many in vain no line is left."""
_APART_PX = 8.0
"""Nearer lines are the two sides of one joint."""


def find_floor_lines(photo_pixels: Bytes, *, keep_out_px: Sequence[Floats] = ()) -> list[FloorLine]:
    """Return up to two dozen long lines that are straight but for a lens's bow, spread over the photo.

    Lines are longer than 15 % of the diagonal; where something lies on one it is bridged. What is not known to be
    floor (a straight trouser edge) may be among them: use them robustly.

    Args:
        photo_pixels: (H, W, 3) uint8 RGB, upright.
        keep_out_px: rings (N, 2) within which and just round which nothing is measured: references, garment.
    """
    height, width = photo_pixels.shape[:2]
    grey = np.asarray(cv2.cvtColor(photo_pixels, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    candidates = find_candidates(grey, keep_out_px)
    shrink = max(max(height, width) / SMALL_PX, 1.0)
    blocked = np.zeros((0, 0), dtype=bool)
    if keep_out_px:
        blocked = keep_out_mask(keep_out_px, (round(height / shrink), round(width / shrink)), shrink, 5)
    levels = _levels(grey)
    diagonal = math.hypot(width, height)
    found: list[Trace] = []
    in_vain = 0
    for candidate in candidates:
        if in_vain >= _VAIN:
            break
        path, normals = candidate.path_px(ALONG_PX, beyond_px=0.05 * diagonal)
        line = trace(levels, path, normals, blocked, shrink)
        if line is not None and _is_good(line, diagonal):
            in_vain = 0
            if not any(_is_same(line, other) for other in found):
                found.append(line)
        else:
            in_vain += 1
    lines = [FloorLine(line.points_px, line.normals_px, line.sigma_px, line.length_px) for line in _spread(found)]
    return leave_out_bowed(lines, ((width - 1) / 2, (height - 1) / 2), USUAL_FOCAL * diagonal)


def _levels(grey: Bytes) -> list[Bytes]:
    levels = [grey]
    for _ in range(2):
        height, width = levels[-1].shape
        even = levels[-1][: height // 2 * 2, : width // 2 * 2]
        half = cv2.resize(even, (width // 2, height // 2), interpolation=cv2.INTER_AREA)
        levels.append(np.asarray(half, dtype=np.uint8))
    return levels


def _is_good(line: Trace, diagonal: float) -> bool:
    # Unevenness is millimetres in life: the finer the picture, the more pixels. Cloth is not straight for long.
    fineness = min(max(diagonal / _USUAL_DIAGONAL_PX, 0.4), 2.0)
    wave_px = (_LARGEST_WAVE_PX if line.length_px < 0.5 * diagonal else 2 * _LARGEST_WAVE_PX) * fineness
    return (
        line.length_px > MIN_SHARE * diagonal
        and line.sigma_px < _LARGEST_SIGMA_PX * max(fineness, 1.0)
        and line.wave_px < wave_px
        and line.kept > _LEAST_KEPT
    )


def _direction(line: Trace) -> Floats:
    along = line.points_px[-1] - line.points_px[0]
    unit: Floats = along / np.linalg.norm(along)
    return unit


def _is_same(line: Trace, other: Trace) -> bool:
    if abs(float(_direction(line) @ _direction(other))) < 0.999:
        return False
    shorter, longer = sorted((line, other), key=lambda one: one.length_px)
    probes = shorter.points_px[:: max(1, len(shorter.points_px) // 12)]
    away = np.linalg.norm(probes[:, None] - longer.points_px[None], axis=2)
    nearest = np.argmin(away, axis=1)
    across = np.abs(((probes - longer.points_px[nearest]) * longer.normals_px[nearest]).sum(axis=1))
    return bool(np.mean((across < _APART_PX) & (away.min(axis=1) < 200)) > 0.4)


def _spread(found: list[Trace]) -> list[Trace]:
    """Return the best, each next one valued by its length, its sharpness and its distance from those chosen."""
    left = list(found)
    chosen: list[Trace] = []
    worth = {id(line): line.length_px / math.hypot(1, line.sigma_px / 0.3) for line in found}
    while left and len(chosen) < _MOST_LINES:
        best = max(left, key=lambda line: worth[id(line)])
        chosen.append(best)
        left.remove(best)
        for line in left:
            if abs(float(_direction(line) @ _direction(best))) > 0.95:
                away = abs(float((line.points_px.mean(axis=0) - best.points_px.mean(axis=0)) @ _normal(best)))
                worth[id(line)] *= min(1.0, 0.5 + away / (0.1 * best.length_px))
    return chosen


def _normal(line: Trace) -> Floats:
    along = _direction(line)
    return np.array([-along[1], along[0]])
