"""Confidence: how sure it is, stretch by stretch, that the ring runs along the cloth's edge and not along another."""

import cv2
import numpy as np

from ..arrays import Flags, Floats
from ..findings import Finding
from .answers import Bench
from .masks import as_reals
from .segmentation import Segmentation

LEANINGS = ((3.0, 0.7), (2.0, 0.45), (1.0, 0.2))
"""(log-likelihood given to either side, confidence where the edge then jumps): an edge with another near by that
would do nearly as well jumps when a little is added."""
NEAR_PX = 4.0
"""What jumps within this distance of the ring, at working scale, speaks of it."""
SAID = 8.0
"""Log-likelihood of what a person said."""
UNSURE = 0.5
"""Below this a stretch is told and drawn as unsure."""
TOLD_SHARE = 0.05
"""A single unsure stretch of this share of the outline is worth a warning."""


def measure_stability(bench: Bench, seen: Segmentation, said: Flags, ring_px: Floats) -> Floats:
    """Return (N,) 0..1 how firmly the ring stays where it is when the picture is read a little differently.

    Args:
        bench: the cut-out made ready.
        seen: its segmentation.
        said: (h, w) True where a person's hint decided.
        ring_px: (N, 2) in the photo.
    """
    stability: Floats = np.ones(len(ring_px))
    if not seen.log_ratio.any():
        return stability
    patches = bench.patches
    garment = patches.mean_of(seen.mask) > 0.5
    ratio = np.where(said, np.where(seen.mask, SAID, -SAID), seen.log_ratio)
    first = as_reals(np.where(garment, 2.0, -2.0))
    at = ((ring_px - np.array(seen.origin_px) + 0.5) / np.array(seen.step_px) - 0.5).astype(np.float32)
    for leaning, confidence in LEANINGS:
        more, less = (bench.lesson.cut(as_reals(ratio + side * leaning), first) for side in (1, -1))
        jumped = ((more & ~garment) | (garment & ~less))[patches.labels]
        away = cv2.distanceTransform((~jumped).astype(np.uint8), cv2.DIST_L2, 5)
        near = np.asarray(cv2.remap(away, at[None, :, 0], at[None, :, 1], cv2.INTER_LINEAR))[0] < NEAR_PX
        stability[near] = confidence
    return stability


def find_unsure(ring_px: Floats, confidence: Floats) -> tuple[Finding, ...]:
    """Return a warning that names the longest stretch of the ring that is not sure, or nothing."""
    step = np.linalg.norm(np.roll(ring_px, -1, axis=0) - ring_px, axis=1)
    unsure = confidence < UNSURE
    if not unsure.any():
        return ()
    starts = np.flatnonzero(unsure & ~np.roll(unsure, 1))
    runs = []
    for start in starts if len(starts) else [0]:
        order = np.roll(np.arange(len(unsure)), -int(start))
        ends = np.flatnonzero(~unsure[order])
        runs.append(order[: ends[0]] if len(ends) else order)
    longest = max(runs, key=lambda run: float(step[run].sum()))
    if step[longest].sum() < TOLD_SHARE * step.sum():
        return ()
    place = f"outer edge near the {_name_place(ring_px, ring_px[longest].mean(axis=0))}"
    share = 100 * float(step[unsure].sum() / step.sum())
    return (
        Finding(
            "outline-unsure",
            f"The outline may be wrong along {share:.0f} % of its length, above all at the {place}.",
            "Look there in the check picture; where the line is wrong, point at the garment or at the floor there.",
            place=place,
        ),
    )


def _name_place(ring_px: Floats, at_px: Floats) -> str:
    """Return where a place lies within the ring's box, as seen in the photo: `top left`, `middle of the right side`."""
    low, high = ring_px.min(axis=0), ring_px.max(axis=0)
    x, y = np.clip((at_px - low) / np.maximum(high - low, 1.0), 0, 1)
    across = "left" if x < 0.36 else "right" if x > 0.64 else ""
    down = "top" if y < 0.36 else "bottom" if y > 0.64 else ""
    if across and down:
        return f"{down} {across}"
    if across:
        return f"middle of the {across} side"
    return f"middle of the {down}" if down else "middle"
