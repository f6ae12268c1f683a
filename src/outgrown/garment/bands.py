"""Bands: a ribbed cuff at the hem or a waistband, told from the leg by the step where it is sewn on."""

from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import median_filter

from ..arrays import Floats
from ..geometry.polylines import resample

LOWEST_MM, HIGHEST_MM = 18.0, 130.0
"""Bands are this high: babies' cuffs from 20 mm, adults' rarely over 120 mm (common practice, no source)."""
LEAST_STEP_MM = 6.0
"""A narrower step in the leg's width (both sides together) is taken for a ripple, which has up to 3 mm a side."""
CLEAR_OF_STEP_MM = 5.0
"""Points this near to the step, up or down, are neither leg nor band."""


@dataclass(frozen=True, eq=False)
class LegOutline:
    """A half leg's outline between its corners, upright, as photographed.

    Attributes:
        parts_mm: side, hem, inseam, rise, waist; counter-clockwise; noisy.
        corners_mm: (5, 2) where each part begins, made sharp.
        cuff_mm: height of a cuff that was taken off, or None [mm].
        waistband_mm: height of a waistband that was taken off, or None [mm].
    """

    parts_mm: tuple[Floats, ...]
    corners_mm: Floats
    cuff_mm: float | None = None
    waistband_mm: float | None = None


def take_off_bands(leg: LegOutline) -> LegOutline:
    """Return the leg proper: without a cuff or a waistband narrower than the leg, if it has them.

    Hem and waist are moved to the seams where the bands are sewn on, their shape kept.
    """
    cuff = find_band_height(leg.parts_mm[0], leg.parts_mm[2])
    if cuff is not None:
        leg = replace(_without_band(leg, cuff), cuff_mm=cuff)
    turned = _upside_down(leg)
    band = find_band_height(turned.parts_mm[0], turned.parts_mm[2])
    if band is not None:
        leg = replace(_upside_down(_without_band(turned, band)), waistband_mm=band)
    return leg


def find_band_height(side_mm: Floats, other_mm: Floats) -> float | None:
    """Return how high above the hem's corners a band ends [mm], or None when the leg has no step.

    A band shows as a step outward within 10 mm, at the same height on both sides of the leg.

    Args:
        side_mm: the side, upright, ending at the hem.
        other_mm: the inseam, upright, beginning at the hem.
    """
    left_foot, right_foot = float(side_mm[-1, 1]), float(other_mm[0, 1])
    top = float(other_mm[-1, 1]) - right_foot
    levels = np.arange(4.0, min(HIGHEST_MM + 40.0, 0.6 * top))
    if len(levels) < 60:
        return None
    out_left = -median_filter(_x_at(side_mm, levels + left_foot), 5, mode="nearest")
    out_right = median_filter(_x_at(other_mm, levels + right_foot), 5, mode="nearest")
    best: tuple[float, int] | None = None
    for k in range(14, len(levels) - 30):
        if not LOWEST_MM <= levels[k] <= min(HIGHEST_MM, 0.4 * top):
            continue
        left = _step(out_left, k)
        right = _step(out_right, k) if left > 1.5 else 0.0
        step, width = left + right, float(out_left[k + 6] + out_right[k + 6])
        is_both = min(left, right) > max(1.5, 0.2 * step)
        if is_both and step > max(LEAST_STEP_MM, 0.05 * width) and (best is None or step > best[0]):
            best = (step, k)
    if best is None:
        return None
    # The step lies where the width is halfway between band and leg.
    k, across = best[1], out_left + out_right
    near = slice(max(0, k - 12), k + 13)
    narrow, wide = np.median(across[max(0, k - 20) : max(1, k - 8)]), np.median(across[k + 8 : k + 16])
    return float(levels[near][int(np.argmin(np.abs(across[near] - 0.5 * (narrow + wide))))])


def _step(outward: Floats, k: int) -> float:
    """Return how far the edge steps outward at level `k`, the slope above it taken off; 0 when it is gradual."""
    if outward[k + 5] - outward[k - 5] < 1.0:
        return 0.0
    above, below = outward[k + 5 : k + 30], outward[max(0, k - 20) : k - 4]
    steepness, rough_above = _straightness(above)
    slope = max(0.0, steepness)
    whole = float(np.median(above[:10]) - np.median(below[-10:])) - 19.0 * slope
    sharp = float(outward[k + 5] - outward[k - 5]) - 10.0 * slope
    ripple = max(rough_above, _straightness(below)[1])
    return whole if sharp > 0.6 * whole and whole > 2.5 * ripple else 0.0


def _straightness(outward: Floats) -> tuple[float, float]:
    """Return the slope of a stretch of edge's own straight line, and the standard deviation about it [mm]."""
    x = np.arange(len(outward)) - 0.5 * (len(outward) - 1)
    aside = outward - outward.mean()
    slope = float(x @ aside / (x @ x))
    return slope, float(np.sqrt(np.mean((aside - slope * x) ** 2)))


def _without_band(leg: LegOutline, height_mm: float) -> LegOutline:
    """Return the leg ending `height_mm` above its hem, the hem's shape moved up to there."""
    side, hem, inseam, rise, waist = leg.parts_mm
    new_side, outer = _upper_part(side[::-1], height_mm)
    new_inseam, inner = _upper_part(inseam, height_mm)
    corners = leg.corners_mm.copy()
    old_outer, old_inner = corners[1].copy(), corners[2].copy()
    corners[1], corners[2] = outer, inner
    share = (hem - old_outer) @ (old_inner - old_outer) / float((old_inner - old_outer) @ (old_inner - old_outer))
    aside = hem - (old_outer + share[:, None] * (old_inner - old_outer))
    moved = outer + share[:, None] * (inner - outer) + aside
    return replace(leg, parts_mm=(new_side[::-1], moved, new_inseam, rise, waist), corners_mm=corners)


def _upper_part(edge_mm: Floats, height_mm: float) -> tuple[Floats, Floats]:
    """Return an edge that begins at the hem from `height_mm` above it on, and where it begins, clear of the step."""
    even = resample(edge_mm, 1.0)
    level = float(edge_mm[0, 1]) + height_mm
    clear = even[int(np.flatnonzero(even[:, 1] < level + CLEAR_OF_STEP_MM)[-1]) + 1 :]
    slope, x = np.polyfit(clear[:25, 1] - level, clear[:25, 0], 1)
    start = np.array([x if abs(slope) < 0.7 else np.median(clear[:10, 0]), level])
    return np.vstack([start, clear]), start


def _upside_down(leg: LegOutline) -> LegOutline:
    """Return the leg turned over top to bottom: the waist becomes the hem, the rise the inseam."""
    turn = np.array([1.0, -1.0])
    side, hem, inseam, rise, waist = (part[::-1] * turn for part in leg.parts_mm)
    corners = leg.corners_mm * turn
    waist_side, hem_outer, hem_inner, crotch, waist_centre = corners
    return replace(
        leg,
        parts_mm=(side, waist, rise, inseam, hem),
        corners_mm=np.array([hem_outer, waist_side, waist_centre, crotch, hem_inner]),
    )


def _x_at(line_mm: Floats, heights_mm: Floats) -> Floats:
    """Return the line's mean x in level bands of 1 mm, bridged where it has no point."""
    even = resample(line_mm, 0.25)
    band = np.round(even[:, 1] - heights_mm[0]).astype(int)
    inside = (band >= 0) & (band < len(heights_mm))
    total = np.bincount(band[inside], even[inside, 0], minlength=len(heights_mm))
    count = np.bincount(band[inside], minlength=len(heights_mm))
    known = count > 0
    return np.asarray(np.interp(heights_mm, heights_mm[known], total[known] / count[known]))
