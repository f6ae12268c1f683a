"""Coarse: the whole photo made small, and the garment found in it."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from ..arrays import Bytes, Flags, Floats
from ..errors import OutlineError
from .answers import Answer, Bench, find_answer
from .apart import find_apart
from .band import LocalLooks
from .covered import find_covered, is_touched
from .empty_floor import EmptyFloor, measure_change
from .hints import Hints
from .holding import Holding
from .looks import to_lab
from .masks import dilate, resize_mask
from .segmentation import Segmentation, nothing_there, paint_rings, paint_strokes

WORKING_SHORT_PX = 400
SMALL_STEP = 1.3
"""Photo pixels to a working pixel, below which the photo shows no more than is seen here: of 14 photos 400 px wide the
median overlap is 0.984 with the mask's own ring and 0.980 when it is followed once more."""
SMALLEST_PX = 48
SMALLEST_SHARE = 0.003
FREED_PX = 4
"""What is free of a card or sheet so far round the garment that lies on it belongs to the floor."""


@dataclass(frozen=True, eq=False)
class Coarse:
    """What the whole photo shows.

    Attributes:
        seen: where the garment lies, its edge running along patches.
        holding: of the photo made smaller yet, references blocked.
        apart: what looks like the cloth and lies apart from it, on the pixels of `holding`.
    """

    seen: Segmentation
    holding: Holding
    apart: tuple[Flags, ...]

    @property
    def step_px(self) -> tuple[float, float]:
        """Photo pixels per pixel of `holding`, across and down."""
        return self.seen.size_px[0] / self.holding.shape[1], self.seen.size_px[1] / self.holding.shape[0]

    def span_apart_px(self) -> Floats | None:
        """Return corners (2, 2) in the photo round all that lies apart, or None where nothing does."""
        if not self.apart:
            return None
        places = np.vstack([np.argwhere(part)[:, ::-1] for part in self.apart])
        span: Floats = np.array([places.min(axis=0), places.max(axis=0) + 1.0]) * np.array(self.step_px) - 0.5
        return span


def segment_coarsely(
    pixels: Bytes, reference_rings_px: Sequence[Floats], hints: Hints, floor: EmptyFloor | None = None
) -> Coarse:
    """Return where the garment lies in the whole photo.

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
    said = paint_strokes(hints.strokes, step, shape)

    def answer_beside(blocked: Flags) -> tuple[Bench, Answer | None]:
        fixed = np.where(blocked, -1, said).astype(np.int8)
        if floor is None:
            return find_answer(small, blocked, fixed)
        change = measure_change(small, floor.cut(0, 0, width, height, shape), blocked)
        bench = Bench(small, blocked, fixed)
        return bench, bench.cut_change(change)

    bench, answer = answer_beside(blocked)
    if answer is not None and is_touched(answer.mask, blocked):
        covered = find_covered(LocalLooks(to_lab(small)), answer.mask, blocked)
        if covered.any():
            # A sheet may part the garment in two, and what lies beyond it was taken for another thing.
            blocked &= ~dilate(covered, FREED_PX)
            bench, answer = answer_beside(blocked)
    if answer is None or answer.mask.mean() < SMALLEST_SHARE:
        raise nothing_there()
    is_small = step[0] < SMALL_STEP
    seen = Segmentation(
        answer.mask, answer.log_ratio, blocked, step, (0, 0), (width, height), own=answer.own, is_small=is_small
    )
    holding = bench.holding
    return Coarse(seen, holding, tuple(find_apart(holding, resize_mask(answer.mask, holding.shape))))
