"""Covered: the part of a card or sheet that the garment lies on, and where the two touch.

What is found of a reference is its whole rectangle, a corner under the cloth included. That corner is garment all the
same: it looks like the cloth beside it and not like the rest of the reference.
"""

from collections.abc import Sequence

import cv2
import numpy as np

from ..arrays import Flags, Floats
from ..findings import Finding
from .band import LocalLooks
from .confidence import name_place
from .masks import as_reals, dilate, find_pieces, keep_touched, measure_depth, open_mask

MOST_REFERENCES = 12
TOUCH_PX = 2
"""The garment touches a reference where it comes so near, at working scale."""
LEAST_TOUCH, LEAST_COVERED = 4, 12
"""Fewer pixels than these are the blur between them."""
SEEN_PX = 60
"""Cloth so far round the reference tells what the cloth on it looks like."""
LIKE_CLOTH = 0.7
"""Log-likelihood for cloth, in the mean of a pixel's neighbours, from which it is cloth on the reference."""
MOST_COVERED = 0.5
"""A reference of which more looks like the cloth is a card of the cloth's colour."""
ROUNDS = 3
TOLD_PX = 3.0
"""An outline so near to a reference, in working pixels, runs along its edge or over it."""
TOLD_SHARE = 0.01
"""Of the outline, from which it is told."""
TOUCHING_CODE = "garment-touches-reference"


def is_touched(mask: Flags, blocked: Flags) -> bool:
    """Return whether the garment comes close to a reference; arguments as of `find_covered`."""
    return int(_find_touched(mask, blocked).sum()) >= LEAST_TOUCH


def _find_touched(mask: Flags, blocked: Flags) -> Flags:
    return dilate(mask, TOUCH_PX) & blocked


def find_covered(looks: LocalLooks, mask: Flags, blocked: Flags) -> Flags:
    """Return the pixels (h, w) of references that the garment lies on.

    Args:
        looks: of the picture.
        mask: (h, w) the garment so far.
        blocked: (h, w) True on references.
    """
    covered = np.zeros(mask.shape, bool)
    near = _find_touched(mask, blocked)
    if near.sum() < LEAST_TOUCH:
        return covered
    for reference in find_pieces(blocked, MOST_REFERENCES):
        touched = near & reference
        if touched.sum() < LEAST_TOUCH:
            continue
        cloth = mask & ~reference & (measure_depth(reference) < SEEN_PX)
        part = np.zeros(mask.shape, bool)
        for _ in range(ROUNDS):
            ratio = np.clip(looks.measure_wide_ratio(cloth, reference & ~part), -4, 4)
            like = (as_reals(cv2.GaussianBlur(as_reals(ratio), (0, 0), 1.0)) > LIKE_CLOTH) & reference
            part = keep_touched(open_mask(like, 1) | (like & touched), like & touched)
        if LEAST_COVERED <= part.sum() <= MOST_COVERED * reference.sum():
            covered |= part
    return covered


def find_touching(ring_px: Floats, reference_rings_px: Sequence[Floats], step_px: float) -> tuple[Finding, ...]:
    """Return a warning where an outline runs along a reference's edge or over it.

    Args:
        ring_px: (N, 2) the outline, in the photo.
        reference_rings_px: rings (N, 2) of the cards and sheets, in the photo.
        step_px: photo pixels per working pixel.
    """
    step = np.linalg.norm(np.roll(ring_px, -1, axis=0) - ring_px, axis=1)
    touching = np.zeros(len(ring_px), bool)
    for reference in reference_rings_px:
        line = np.asarray(reference, np.float32)[:, None]
        low, high = line[:, 0].min(axis=0) - TOLD_PX * step_px, line[:, 0].max(axis=0) + TOLD_PX * step_px
        for k in np.flatnonzero(((ring_px > low) & (ring_px < high)).all(axis=1)):
            x, y = (float(value) for value in ring_px[k])
            touching[k] |= cv2.pointPolygonTest(line, (x, y), True) > -TOLD_PX * step_px
    if step[touching].sum() < TOLD_SHARE * step.sum():
        return ()
    runs = np.flatnonzero(touching)
    place = name_place(ring_px, ring_px[runs[len(runs) // 2]])
    return (
        Finding(
            TOUCHING_CODE,
            f"The garment touches a card or sheet near the {place}, and the outline may follow the wrong one there.",
            "Look there in the check picture; next time lay them a hand's width apart.",
            place=f"outer edge near the {place}",
        ),
    )
