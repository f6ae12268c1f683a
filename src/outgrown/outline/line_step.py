"""Line step: whether the photo shows an edge just along a straight line, and not beside it."""

import cv2
import numpy as np

from ..arrays import Bytes, Floats
from .stations import sample_along

_CLEARANCE_PX = 3.0
"""From the line's ends, where other edges cross it."""
_CHUNK_PX = 4.0
SHORTEST_LINE_PX = 2 * _CLEARANCE_PX + _CHUNK_PX
"""Of a shorter line nothing can be said."""
_ACROSS_PX = np.array([-3.0, -2.0, 2.0, 3.0])
_OUTER_PX = (7.0, 10.0, 13.0)
"""Lines so far out show what the floor's own pattern comes to."""
_BESIDE_PX = (-4.0, -3.0, -2.0, 2.0, 3.0, 4.0)
"""Beside the true line the step is smaller."""
_STEP_LAB, _CLEARER = 4.0, 2.5
"""A step across the line that is more than the light's fall-off (CIE Lab), and so many times the floor's own."""


def measure_clearness(image: Bytes, start: Floats, end: Floats, inner: Floats) -> float:
    """Return how much clearer than it must be the step of colour across a line is, at its fainter half.

    Args:
        image: (H, W, 3) uint8 RGB.
        start: (2,) one end [px].
        end: (2,) the other, `SHORTEST_LINE_PX` away or more.
        inner: (2,) a place on the garment's side of the line.
    """
    length = float(np.linalg.norm(end - start))
    along = (end - start) / length
    normal = np.array([-along[1], along[0]])
    if (inner - start) @ normal > 0:
        normal = -normal
    # Two stations to a chunk, whose colours are taken together.
    chunks = int((length - 2 * _CLEARANCE_PX) / _CHUNK_PX)
    stations = start + (_CLEARANCE_PX + _CHUNK_PX / 2 * np.arange(2 * chunks))[:, None] * along
    offs = np.array([0.0, *_BESIDE_PX, *_OUTER_PX])
    places = stations[:, None, None] + (offs[:, None] + _ACROSS_PX)[None, :, :, None] * normal
    rgb = (sample_along(image, places) / 255.0).astype(np.float32)
    lab = cv2.cvtColor(rgb.reshape(1, -1, 3), cv2.COLOR_RGB2LAB).reshape(chunks, 2, *rgb.shape[1:]).mean(axis=1)
    steps = lab[:, :, 2:].mean(axis=2) - lab[:, :, :2].mean(axis=2)
    # A motif beside plain cloth may be lighter than the floor where the cloth is darker: steps are not averaged.
    sizes = np.linalg.norm(steps, axis=2)
    half = (chunks + 1) // 2
    halves = np.stack([np.median(sizes[:half], axis=0), np.median(sizes[chunks - half :], axis=0)])
    here, beside, floor = halves[:, 0], halves[:, 1 : 1 + len(_BESIDE_PX)], halves[:, 1 + len(_BESIDE_PX) :].max()
    above = here.min() / max(_STEP_LAB, _CLEARER * floor)
    return float(min(above, (here[:, None] / np.maximum(beside, 1e-6)).min()))
