"""Cuff: a ribbed cuff at the hem, told from the leg by the step in its width."""

import numpy as np
from scipy.ndimage import median_filter

from ..arrays import Floats
from ..geometry.polylines import distances_to_line_mm, length_mm, resample
from ..geometry.smoothing import SmoothLine, smooth_line

LOWEST_MM, HIGHEST_MM = 18.0, 130.0
"""Cuffs are this high: babies' from 20 mm, adults' rarely over 120 mm (common practice, no source)."""
LEAST_STEP_MM = 6.0
"""A narrower step in the leg's width (both sides together) is taken for a ripple, which has up to 3 mm a side."""
STEP_HEIGHT_MM = 0.05
"""Half the height given to the level step, so that leg and cuff are told apart by their height."""


def find_cuff_height(side_mm: Floats, inseam_mm: Floats) -> float | None:
    """Return how high above the hem's outer corner a cuff ends [mm], or None when the leg has no step.

    A cuff shows as a step outward within 10 mm, at the same height on both sides of the leg.

    Args:
        side_mm: the side as photographed, upright, from waist to hem.
        inseam_mm: the inseam as photographed, upright, from hem to crotch.
    """
    zero = float(side_mm[-1, 1])
    top = float(inseam_mm[-1, 1]) - zero
    levels = np.arange(4.0, min(HIGHEST_MM + 40.0, 0.6 * top))
    if len(levels) < 60:
        return None
    out_left = -median_filter(_x_at(side_mm, levels + zero), 5, mode="nearest")
    out_right = median_filter(_x_at(inseam_mm, levels + zero), 5, mode="nearest")
    best: tuple[float, float] | None = None
    for k in range(20, len(levels) - 30):
        if not LOWEST_MM <= levels[k] <= min(HIGHEST_MM, 0.4 * top):
            continue
        left, right = _step(out_left, k), _step(out_right, k)
        leg = float(out_left[k + 6] + out_right[k + 6])
        step = left + right
        is_both = min(left, right) > max(1.5, 0.2 * step)
        if is_both and step > max(LEAST_STEP_MM, 0.05 * leg) and (best is None or step > best[0]):
            best = (step, float(levels[k]))
    if best is None:
        return None
    # The step lies where the width is halfway between cuff and leg.
    width = out_left + out_right
    k = int(np.argmin(np.abs(levels - best[1])))
    near = slice(max(0, k - 12), k + 13)
    halfway = 0.5 * (float(np.median(width[max(0, k - 20) : max(1, k - 8)])) + float(np.median(width[k + 8 : k + 16])))
    return float(levels[near][int(np.argmin(np.abs(width[near] - halfway)))])


def _step(outward: Floats, k: int) -> float:
    """Return how far the edge steps outward at level `k`, the slope above it taken off; 0 when it is gradual."""
    if outward[k + 5] - outward[k - 5] < 1.0:
        return 0.0
    above, below = outward[k + 5 : k + 30], outward[max(0, k - 20) : k - 4]
    slope = max(0.0, float(np.polyfit(np.arange(len(above)), above, 1)[0]))
    whole = float(np.median(above[:10]) - np.median(below[-10:])) - 19.0 * slope
    sharp = float(outward[k + 5] - outward[k - 5]) - 10.0 * slope
    return whole if sharp > 0.6 * whole else 0.0


def smooth_with_step(
    points_mm: Floats, start_mm: Floats, end_mm: Floats, height_mm: float, *, ripple_mm: float, skip_mm: float
) -> tuple[SmoothLine, SmoothLine]:
    """Return two smooth lines through a stepped edge: before and after the step, ending near `height_mm`.

    Args:
        points_mm: side or inseam as photographed, upright, in order.
        start_mm: its first corner.
        end_mm: its last corner.
        height_mm: where the step is.
        ripple_mm: see `smooth_line`.
        skip_mm: see `smooth_line`.
    """
    even = resample(points_mm, 1.0)
    is_rising = end_mm[1] > start_mm[1]
    gap = (even[:, 1] - height_mm) * (1.0 if is_rising else -1.0)
    # 5 mm to either side of the step is neither leg nor cuff.
    before = even[: int(np.flatnonzero(gap < -5.0)[-1]) + 1]
    after = even[int(np.flatnonzero(gap > 5.0)[0]) :]
    up = STEP_HEIGHT_MM if is_rising else -STEP_HEIGHT_MM
    meet_before = np.array([_continued_x(before[-25:], height_mm), height_mm - up])
    meet_after = np.array([_continued_x(after[:25], height_mm), height_mm + up])
    return (
        smooth_line(before, start_mm, meet_before, ripple_mm=ripple_mm, step_mm=2.0, skip_mm=skip_mm),
        smooth_line(after, meet_after, end_mm, ripple_mm=ripple_mm, step_mm=2.0, skip_mm=skip_mm),
    )


def length_without_step_mm(line_mm: Floats, cuff_height_mm: float | None) -> float:
    """Return the length of an inseam or side, the level step of its cuff left out [mm]."""
    if cuff_height_mm is None:
        return length_mm(line_mm)
    at_step = line_mm[np.abs(line_mm[:, 1] - cuff_height_mm) < 2.0 * STEP_HEIGHT_MM]
    return length_mm(line_mm) - (length_mm(at_step) if len(at_step) > 1 else 0.0)


def _continued_x(line_mm: Floats, height_mm: float) -> float:
    """Return where a steep stretch of edge, continued straight, is at a height."""
    slope, start = np.polyfit(line_mm[:, 1] - height_mm, line_mm[:, 0], 1)
    return float(start) if abs(slope) < 0.7 else float(np.median(line_mm[:, 0]))


def join_step(before: SmoothLine, after: SmoothLine, points_mm: Floats) -> SmoothLine:
    """Return both lines as one, with the step between them, and how far `points_mm` lie from it."""
    line = np.vstack([before.points_mm, after.points_mm])
    gap = distances_to_line_mm(resample(points_mm, 1.0), line)
    return SmoothLine(line, float(np.sqrt(np.mean(gap**2))), float(gap.max()), before.spans + after.spans)


def _x_at(line_mm: Floats, heights_mm: Floats) -> Floats:
    """Return the line's mean x in level bands of 1 mm, bridged where it has no point."""
    even = resample(line_mm, 0.25)
    band = np.round(even[:, 1] - heights_mm[0]).astype(int)
    inside = (band >= 0) & (band < len(heights_mm))
    total = np.bincount(band[inside], even[inside, 0], minlength=len(heights_mm))
    count = np.bincount(band[inside], minlength=len(heights_mm))
    known = count > 0
    return np.asarray(np.interp(heights_mm, heights_mm[known], total[known] / count[known]))
