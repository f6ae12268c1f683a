"""How blurred the photo is, judged where an edge is known to be sharp: at the references."""

from collections.abc import Sequence

import cv2
import numpy as np

from ..arrays import Bytes, Floats
from .reference import Kind, Reference

_REACH_PX = 16
_NEAR_PX = 6
_FROM_MIDDLE_PX = 14
"""A printed target is measured along the middles of its bars, whose sharp edges lie some pixels to both sides."""
_FINE = 4
_FEWEST = 20


def measure_edge_width_px(pixels: Bytes, references: Sequence[Reference]) -> float | None:
    """Return the typical width of a reference's edge in the photo [px]: contrast over steepest slope.

    A sharp edge of a phone photo is 1.5 to 3 px wide; None where there is too little contrast to say.

    Args:
        pixels: (H, W, 3) uint8 RGB.
        references: found in it.
    """
    widths: list[float] = []
    for reference in references:
        near = _FROM_MIDDLE_PX if reference.kind is Kind.TARGET else _NEAR_PX
        reach = _REACH_PX + near - _NEAR_PX
        offsets = np.arange(-reach, reach + 1e-9, 1 / _FINE)
        for edge in reference.edges:
            if len(edge.points_px) < _FEWEST:
                continue
            strips = edge.points_px[:, None] + offsets[None, :, None] * edge.normals_px[:, None]
            profiles = _sample(pixels, strips)
            # Means of neighbouring profiles: noise goes, and the blur stays since they lie on one straight edge.
            for part in np.array_split(profiles, max(1, len(profiles) // 12)):
                width = _width_of(part.mean(axis=0), near)
                if width is not None:
                    widths.append(width)
    return float(np.median(widths)) if len(widths) >= 4 else None


def _sample(pixels: Bytes, points: Floats) -> Floats:
    low = np.maximum(np.floor(points.min(axis=(0, 1))).astype(int) - 1, 0)
    high = np.ceil(points.max(axis=(0, 1))).astype(int) + 2
    patch = cv2.cvtColor(np.ascontiguousarray(pixels[low[1] : high[1], low[0] : high[0]]), cv2.COLOR_RGB2GRAY)
    local = (points - low).astype(np.float32)
    sampled = cv2.remap(
        patch.astype(np.float32), local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(sampled, dtype=np.float64)


def _width_of(profile: Floats, near_px: int) -> float | None:
    slope = np.abs(np.gradient(profile) * _FINE)
    middle = len(profile) // 2
    near = slice(middle - near_px * _FINE, middle + near_px * _FINE + 1)
    at = near.start + int(np.argmax(slope[near]))
    # The contrast of this very edge: from the foot to the head of the slope round its steepest point.
    steep = slope[at]
    start = at
    while start > 0 and slope[start - 1] > 0.1 * steep:
        start -= 1
    end = at
    while end < len(profile) - 1 and slope[end + 1] > 0.1 * steep:
        end += 1
    contrast = abs(profile[end] - profile[start])
    return None if contrast < 15 else float(contrast / steep)
