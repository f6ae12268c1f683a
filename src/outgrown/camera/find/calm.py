"""Calm: areas without any edge, as a sheet or a plain card on a restless floor."""

import cv2
import numpy as np

from ...arrays import Floats
from .levels import Level, Singles
from .regions import outline_quads, scale_up

# Slopes steeper than this say no more than this one [grey levels per px of the 800 px level].
ENOUGH_SLOPE = 20.0
SMOOTH_PX = 1.5
# The blurred edge of a thing ends it this much too early [px of the 800 px level].
LOST_PX = 2
THRESHOLDS = 10
# Of all places: where the calmest and the most restless threshold lie, and the least of either.
LOW_PERCENT, HIGH_PERCENT = 2.0, 80.0
LEAST_LOW, LEAST_HIGH = 0.3, 0.5


def find_calm_regions(levels: list[Level]) -> Floats:
    """Return quads (M, 4, 2), in px of the first level, round areas that are calmer than their surroundings.

    White paper on a white floor with sparkles or motifs is cut out by no threshold of lightness or colour, and its
    edge is broken by every motif.
    """
    level = levels[1]
    restless: Singles = np.asarray(np.minimum(np.hypot(level.slope_x, level.slope_y), ENOUGH_SLOPE), dtype=np.float32)
    restless = np.asarray(cv2.GaussianBlur(restless, (0, 0), SMOOTH_PX), dtype=np.float32)
    low, high = np.percentile(restless[::4, ::4], [LOW_PERCENT, HIGH_PERCENT])
    shape = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * LOST_PX + 1, 2 * LOST_PX + 1))
    quads: list[Floats] = []
    for threshold in np.geomspace(max(low, LEAST_LOW), max(high, LEAST_HIGH), THRESHOLDS):
        calm = cv2.dilate((restless < threshold).view(np.uint8), shape)
        quads.extend(outline_quads(np.asarray(calm, dtype=np.uint8)))
    return scale_up(quads, levels[0].scale / level.scale)
