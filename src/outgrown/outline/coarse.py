"""Coarse: the whole photo made small, and the garment found in it."""

from collections.abc import Sequence

import cv2
import numpy as np

from ..arrays import Bytes, Floats
from ..errors import OutlineError
from .answers import Bench, find_answer
from .empty_floor import EmptyFloor, measure_change
from .hints import Hints
from .segmentation import Segmentation, nothing_there, paint_rings, paint_strokes

WORKING_SHORT_PX = 400
SMALLEST_PX = 48
SMALLEST_SHARE = 0.003


def segment_coarsely(
    pixels: Bytes, reference_rings_px: Sequence[Floats], hints: Hints, floor: EmptyFloor | None = None
) -> Segmentation:
    """Return where the garment lies in the whole photo, its edge running along patches.

    Args:
        pixels: (H, W, 3) uint8 RGB.
        reference_rings_px: rings (N, 2) of the cards and sheets in the photo: never garment.
        hints: an answer that agrees with them is preferred.
        floor: the empty floor laid over the photo, where there is a photo of it.

    Raises:
        OutlineError: nothing there that could be a garment.
    """
    height, width = pixels.shape[:2]
    if min(height, width) < SMALLEST_PX:
        raise OutlineError("This picture is too small to see a garment in.", "Use the photo as the camera took it.")
    scale = min(1.0, WORKING_SHORT_PX / min(height, width))
    shape = (max(1, round(height * scale)), max(1, round(width * scale)))
    small = pixels
    if scale < 1.0:
        small = np.asarray(cv2.resize(pixels, (shape[1], shape[0]), interpolation=cv2.INTER_AREA), dtype=np.uint8)
    step = (width / shape[1], height / shape[0])
    blocked = paint_rings(reference_rings_px, step, shape)
    fixed = paint_strokes(hints.strokes, step, shape)
    fixed[blocked] = -1
    if floor is None:
        answer = find_answer(small, blocked, fixed)
    else:
        change = measure_change(small, floor.cut(0, 0, width, height, shape), blocked)
        answer = Bench(small, blocked, fixed).cut_change(change)
    if answer is None or answer.mask.mean() < SMALLEST_SHARE:
        raise nothing_there()
    return Segmentation(answer.mask, answer.log_ratio, blocked, step, (0, 0), (width, height))
