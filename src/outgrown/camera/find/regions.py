"""Regions: areas of one tone with four corners, cut out at many thresholds of lightness and colour."""

import cv2
import numpy as np
from numpy.typing import NDArray

from ...arrays import Bytes, Floats
from .levels import Level

LIGHTNESS_STEP = 10.0
COLOUR_STEP = 4.0
# In the 800 px level a card's short side is at least 12 px long.
SHORTEST_CONTOUR_PX = 45
LEAST_AREA_PX2 = 150.0
LEAST_FILLED = 0.8
MOST_RAGGED = 1.25


def find_regions(levels: list[Level]) -> Floats:
    """Return quads (M, 4, 2), in px of the first level, round areas that stand out in one channel."""
    level = levels[1]
    up = levels[0].scale / level.scale
    quads: list[Floats] = []
    for channel, step in enumerate((LIGHTNESS_STEP, COLOUR_STEP, COLOUR_STEP)):
        plane = cv2.medianBlur(np.ascontiguousarray(level.planes[..., channel]), 3)
        if channel == 0:
            plane = cv2.medianBlur(plane, 3)
        low, high = np.percentile(plane[::4, ::4], [0.2, 99.8])
        for threshold in np.arange(low + step / 2, high, step):
            quads.extend(outline_quads((plane > threshold).view(np.uint8)))
    return scale_up(quads, up)


def outline_quads(area: Bytes) -> list[Floats]:
    """Return the corners (4, 2) of every piece, and every hole, of `area` (h, w) that is nearly a convex quad."""
    contours = cv2.findContours(area, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)[0]
    return [quad for c in contours if (quad := _four_corners(np.asarray(c))) is not None]


def scale_up(quads: list[Floats], up: float) -> Floats:
    """Return quads as (M, 4, 2) in px of a level `up` times as fine."""
    return (np.array(quads).reshape(-1, 4, 2) + 0.5) * up - 0.5


def _four_corners(contour: NDArray[np.int32]) -> Floats | None:
    if len(contour) < SHORTEST_CONTOUR_PX:
        return None
    hull = cv2.convexHull(contour)
    around = cv2.arcLength(hull, True)
    if len(contour) > MOST_RAGGED * around:
        return None
    area = cv2.contourArea(hull)
    if area < LEAST_AREA_PX2 or cv2.contourArea(contour) < LEAST_FILLED * area:
        return None
    for share in (0.02, 0.03, 0.045, 0.06, 0.08):
        corners = cv2.approxPolyDP(hull, share * around, True)
        if len(corners) == 4:
            return np.asarray(corners[:, 0], dtype=np.float64)
    return None
