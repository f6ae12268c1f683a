"""Segments: straight pieces of edge at working size, on lightness and on colour."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ...arrays import Flags, Floats
from .levels import Level

SHORTEST_PX = 8.0
# More segments than this come from carpets and gravel; the longest are kept, sides of a card are longer than
# their grain.
MOST_SEGMENTS = 2000
COLOUR_GAIN = 2.0


def find_segments(levels: list[Level]) -> Floats:
    """Return straight edge pieces as (N, 4): x0, y0, x1, y1 in px of the first level, longest first."""
    fine, coarse = levels[0], levels[1]
    found = _detect(fine.planes[..., 0], 2.0)
    for channel in range(3):
        plane: NDArray[Any] = coarse.planes[..., channel]
        # Colours differ by less than tones do, and carry less noise.
        plane = plane if channel == 0 else cv2.addWeighted(plane, COLOUR_GAIN, plane, 0, 128 * (1 - COLOUR_GAIN))
        more = _detect(plane, 1.0) * _up(fine, coarse)
        found = np.concatenate([found, more[~_is_known(more, found, fine.size_px)]])
    length = np.hypot(found[:, 2] - found[:, 0], found[:, 3] - found[:, 1])
    order = np.argsort(-length)
    order = order[length[order] >= SHORTEST_PX][:MOST_SEGMENTS]
    return found[order]


def _is_known(segments: Floats, known: Floats, size_px: tuple[int, int]) -> Flags:
    """Whether each of `segments` (N, 4) lies along one of `known`."""
    owner = np.full((size_px[1], size_px[0]), -1, np.int32)
    direction = np.arctan2(known[:, 3] - known[:, 1], known[:, 2] - known[:, 0])
    ends = np.rint(known).astype(int).tolist()
    for number, (x0, y0, x1, y1) in enumerate(ends):
        cv2.line(owner, (x0, y0), (x1, y1), number, 5)
    share = np.linspace(0.04, 0.96, 12)
    x = np.rint(segments[:, :1] + (segments[:, 2:3] - segments[:, :1]) * share).astype(np.intp)
    y = np.rint(segments[:, 1:2] + (segments[:, 3:] - segments[:, 1:2]) * share).astype(np.intp)
    under = owner[np.clip(y, 0, size_px[1] - 1), np.clip(x, 0, size_px[0] - 1)]
    own = np.arctan2(segments[:, 3] - segments[:, 1], segments[:, 2] - segments[:, 0])
    along = (
        (under >= 0) & (np.abs(np.sin(own[:, None] - direction[np.maximum(under, 0)])) < 0.1)
        if len(known)
        else under >= 0
    )
    middle = np.median(under, axis=1)
    alike: Flags = (along & (under == middle[:, None])).mean(axis=1) > 0.8
    return alike


def _up(fine: Level, coarse: Level) -> float:
    return fine.scale / coarse.scale


def _detect(plane: NDArray[Any], quantum: float) -> Floats:
    detector = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD, 0.8, 0.6, quantum)
    lines = detector.detect(np.ascontiguousarray(plane))[0]
    if lines is None:
        return np.zeros((0, 4))
    return lines.reshape(-1, 4).astype(np.float64)
