"""End bands: a waistband or cuff in a colour of its own that ends a garment, lost as a whole.

What is learned of the cloth does not know it, and on a floor of many colours neither its hue nor its lightness is rare.
But the garment's sides run on along it, it has an edge beyond, and within are hues that the floor has not.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Flags, Floats
from .band import LocalLooks
from .masks import Reals, erode, measure_depth

ROUGH, SHORTEST = 0.012, 0.1
"""The edge is taken as straight lines right to the first share of the garment's extent; those of the second end it."""
LOWEST_PX, HIGHEST, HIGHEST_PX = 9, 0.16, 70
"""A band is at least so high, and at most this share of the extent and so high."""
RUNS_ON, ENDS = 0.8, 0.2
"""Cosine between the end's normal and a side that runs on along the band; where it turns off more, the normal is taken,
and from the second on nothing ends there."""
BESIDE, APART_PX, ACROSS = 7, (2, 3), 2
"""So many px beside the band are seen, how far from a line both of its sides are compared, and how far the line may lie
from where it should."""
STEEP = 1.5
"""A line is an edge where the colours of both sides are so many times the usual step between neighbours apart."""
CLEAR = 0.6
"""So much of the outer line and of either side must be edge."""
STRANGE, STRANGE_NEAR = 2.0, 1.2
"""Log-likelihood against the floor, of all of the picture and of what lies near, that a band's hues have in the
mean. Of 244 drawn and rendered scenes four such quads were bands, or halves of one, and came to 2.5 and 1.8 or more;
all others, shadows of the end among them, to 0.7 and 0.5 at most."""
LEAST_PX, NEAR_PX = 60, 40.0


@dataclass(frozen=True, eq=False)
class _End:
    """A straight end of the edge.

    Attributes:
        corners: (2, 2) of it.
        ways: (2, 2) along which its sides run on beyond them, a pixel along the end's normal.
    """

    corners: Floats
    ways: Floats


def find_end_bands(looks: LocalLooks, mask: Flags, blocked: Flags) -> Flags:
    """Return (h, w) True on bands beyond straight ends of a mask that are cloth in a colour of their own.

    Args:
        looks: of the picture.
        mask: (h, w) the garment so far.
        blocked: (h, w) True on references.
    """
    found: Flags = np.zeros(mask.shape, bool)
    ends, extent = _find_ends(mask)
    steep = STEEP * looks.usual_step() if ends else 0.0
    hues: LocalLooks | None = None
    for end in ends:
        height = _find_height(looks.lab, end, min(HIGHEST * extent, HIGHEST_PX), steep)
        if height is None:
            continue
        band = np.zeros(mask.shape, np.uint8)
        quad = np.vstack([end.corners, (end.corners + height * end.ways)[::-1]])
        cv2.fillPoly(band, [np.round(quad * 16).astype(np.int32)], 1, cv2.LINE_8, 4)
        part: Flags = (band > 0) & ~mask
        if (part & blocked).any():
            continue
        hues = looks.in_any_light() if hues is None else hues
        if _is_strange(hues, mask, part, blocked):
            found |= part
    return found


def _find_ends(mask: Flags) -> tuple[list[_End], float]:
    """Return the straight stretches of a mask's edge that may end it, and the mask's extent [px]."""
    contours = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]
    if not contours:
        return [], 0.0
    contour: NDArray[np.int32] = np.asarray(max(contours, key=len))
    extent = float(np.ptp(contour[:, 0], axis=0).max())
    corners = np.asarray(cv2.approxPolyDP(contour, ROUGH * extent, True)[:, 0], dtype=np.float64)
    if len(corners) < 4:
        return [], extent
    if cv2.contourArea(corners.astype(np.float32), True) < 0:
        corners = corners[::-1]
    ends = []
    for i in range(len(corners)):
        before, start, stop, after = corners[(np.arange(4) + i - 1) % len(corners)]
        length = float(np.hypot(*(stop - start)))
        if length < SHORTEST * extent:
            continue
        along = (stop - start) / length
        outward = np.array([along[1], -along[0]])
        sides = np.stack([start - before, stop - after])
        rise = sides @ outward
        cosine = rise / np.maximum(np.hypot(*sides.T), 1e-6)
        if cosine.min() < ENDS:
            continue
        ways = np.where((cosine > RUNS_ON)[:, None], sides / rise[:, None], outward)
        ends.append(_End(np.stack([start, stop]), ways))
    return ends, extent


def _find_height(lab: Reals, end: _End, highest: float, steep: float) -> float | None:
    """Return how high a band beyond an end is, where three lines bound one [px].

    Args:
        lab: (h, w, 3) CIE Lab.
        end: of the garment.
        highest: as high at most [px].
        steep: colour step across an edge.
    """
    start, stop = end.corners
    along = (stop - start) / np.hypot(*(stop - start))
    heights = np.arange(-BESIDE, highest + BESIDE + 1)
    columns = np.linspace(0, 1, max(16, round(float(np.hypot(*(stop - start))))))
    low, high = (corner + heights[:, None] * way for corner, way in zip(end.corners, end.ways, strict=True))
    inner = low[:, None] + columns[:, None] * (high - low)[:, None]
    beside = np.arange(BESIDE, 0, -1)[:, None] * along
    places = np.concatenate([low[:, None] - beside, inner, high[:, None] + beside[::-1]], axis=1)
    within = ((places >= 1) & (places < np.array(lab.shape[1::-1]) - 2)).all(axis=(1, 2))
    colour = cv2.remap(lab, places.astype(np.float32), None, cv2.INTER_LINEAR)  # type: ignore[call-overload]
    outer = _step_across(colour, 0) > steep
    # A band may end a little askew.
    outer[1:-1] = outer[1:-1] | outer[:-2] | outer[2:]
    margin = BESIDE + max(1, round(0.06 * len(columns)))
    scores = outer[:, margin:-margin].mean(axis=1)
    aside = _step_across(colour, 1) > steep
    # From the first row beyond the end up to each: how much of either side is edge, were the line so far off.
    seen = np.cumsum(aside[BESIDE + 1 :], axis=0) / np.arange(1, len(heights) - BESIDE)[:, None]
    for first in (BESIDE, aside.shape[1] - BESIDE - 1):
        side = seen[:, first - ACROSS : first + ACROSS + 1].max(axis=1)
        scores[BESIDE + 1 :] = np.minimum(scores[BESIDE + 1 :], side)
    scores[~within | (heights < LOWEST_PX) | (heights > highest)] = 0
    best = int(np.argmax(scores))
    if scores[best] <= CLEAR:
        return None
    # Both sides of a line are compared a little off it, so that it is seen over some pixels.
    less = np.flatnonzero(scores[best:] < scores[best])
    last = best + int(less[0]) - 1 if len(less) else len(scores) - 1
    return float(heights[best] + heights[last]) / 2


def _step_across(colour: Floats, axis: int) -> Floats:
    """Return (H, W) how far apart the colours on both sides of each place are along an axis."""
    width = APART_PX[1]
    one, other = (sum(np.roll(colour, sign * off, axis=axis) for off in APART_PX) / len(APART_PX) for sign in (1, -1))
    step: Floats = np.linalg.norm(np.asarray(one) - np.asarray(other), axis=2)
    rim = [slice(None), slice(None)]
    for rim[axis] in (slice(0, width), slice(-width, None)):
        step[tuple(rim)] = 0
    return step


def _is_strange(hues: LocalLooks, mask: Flags, part: Flags, blocked: Flags) -> bool:
    """Whether a part beside a mask has hues that the floor has not."""
    core = erode(part, 2)
    if core.sum() < LEAST_PX:
        return False
    floor = (measure_depth(mask | part) > 3) & ~blocked
    near = floor & (measure_depth(part) < NEAR_PX)
    wide, close = (float(hues.measure_wide_ratio(core, where)[core].mean()) for where in (floor, near))
    return wide > STRANGE and close > STRANGE_NEAR
