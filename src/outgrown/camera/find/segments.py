"""Segments: straight pieces of edge at working size, on lightness and on colour."""

import cv2
import numpy as np
from numpy.typing import NDArray

from ...arrays import Floats
from .levels import Level

Ints = NDArray[np.intp]

SHORTEST_PX = 8.0
# More segments than this come from carpets and gravel; the longest are kept, sides of a card are longer than their grain.
MOST_SEGMENTS = 2500


def find_segments(levels: list[Level]) -> Floats:
    """Return straight edge pieces as (N, 4): x0, y0, x1, y1 in px of the first level, longest first."""
    fine, coarse = levels[0], levels[1]
    found = [
        _detect(fine.lab[..., 0], 2.0),
        _detect(coarse.lab[..., 0], 1.0) * _up(fine, coarse),
        *(_detect(coarse.lab[..., channel], 1.0) * _up(fine, coarse) for channel in (1, 2)),
    ]
    segments = np.concatenate(found)
    length = np.hypot(segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1])
    order = np.argsort(-length)
    order = order[length[order] >= SHORTEST_PX][:MOST_SEGMENTS]
    return segments[order]


def _up(fine: Level, coarse: Level) -> float:
    return fine.scale / coarse.scale


def _detect(plane: NDArray[np.uint8], quantum: float) -> Floats:
    detector = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD, 0.8, 0.6, quantum)
    lines = detector.detect(np.ascontiguousarray(plane))[0]
    if lines is None:
        return np.zeros((0, 4))
    return lines.reshape(-1, 4).astype(np.float64)
