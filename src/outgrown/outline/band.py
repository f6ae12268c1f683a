"""Band: the edge settled pixel by pixel at working scale, by what lies near it on either side."""

from copy import copy

import cv2
import numpy as np
from numpy.random import default_rng
from numpy.typing import NDArray

from ..arrays import Flags
from .looks import blend_looks, blur, find_looks, measure_floor_spread, name_looks
from .masks import Reals, as_reals, keep_largest, measure_depth
from .mincut import Graph
from .threads import share_out

PIXEL_LOOKS = 72
COARSE = 4
# (half width of the band, reach of the local looks, colours this close to the edge are not learned from) [px]
PASSES = ((10.0, 32.0, 3.0), (6.0, 22.0, 2.0))
HOLD = 8.0
WIDE_SHARE = 0.25
"""Weight of what the whole photo taught beside what lies near by."""
STEPS = ((0, 1, 1.0), (1, 0, 1.0), (1, 1, 0.7), (1, -1, 0.7))


class LocalLooks:
    """Colours of the photo as few looks, and how often each occurs near a place, inside and outside."""

    def __init__(self, lab: Reals) -> None:
        """See the looks of a picture (h, w, 3) CIE Lab."""
        self.lab = as_reals(cv2.bilateralFilter(lab, 5, 10, 1.5))
        features = as_reals((self.lab / measure_floor_spread(lab)).reshape(-1, 3))
        looks = find_looks(features, PIXEL_LOOKS, default_rng(2))
        self.look = name_looks(features, looks).reshape(lab.shape[:2])
        self.blend = blend_looks(looks, 1.2)
        self.count = len(looks)

    def cut_out(self, box: tuple[slice, slice]) -> "LocalLooks":
        """Return the looks of a part of the picture."""
        part = copy(self)
        part.lab, part.look = self.lab[box], self.look[box]
        return part

    def usual_step(self) -> float:
        """Return the colour step between neighbouring pixels that is nothing special in this photo [Lab]."""
        step = np.sqrt(((self.lab[:, 1:] - self.lab[:, :-1]) ** 2).sum(2))
        return max(2.5, 1.5 * float(np.median(step)) + 1.0)

    def _density(self, where: Flags, reach: float | None) -> Reals:
        """Return p(look of the pixel | near it, within `where`), (h, w); without `reach` wherever it is."""
        if reach is None:
            found = as_reals(np.bincount(self.look[where], minlength=self.count))
            return as_reals((found / max(float(found.sum()), 1) @ self.blend)[self.look])
        height, width = where.shape
        rows, columns = -(-height // COARSE), -(-width // COARSE)
        y, x = np.nonzero(where)
        cell = (y // COARSE) * columns + x // COARSE
        listed = np.bincount(cell * self.count + self.look[y, x], minlength=rows * columns * self.count)
        counts = as_reals(listed.reshape(rows, columns, self.count))
        everywhere = counts.sum((0, 1))
        everywhere = everywhere / max(float(everywhere.sum()), 1)
        near = np.dstack([blur(counts[..., k], reach / COARSE) for k in range(self.count)])
        total = near.sum(2, keepdims=True)
        # where little is near, the whole photo's looks speak
        share = total / (total + 0.02 * COARSE**2)
        local = share * near / np.maximum(total, 1e-6) + (1 - share) * everywhere
        mixed = (0.75 * local + 0.25 * everywhere) @ self.blend
        yy, xx = np.mgrid[:height, :width] // COARSE
        return as_reals(mixed[yy, xx, self.look])

    def measure_log_ratio(self, inside: Flags, outside: Flags, reach: float | None) -> Reals:
        """Return log p(look | cloth) - log p(look | floor), (h, w), of what lies about `reach` px near or all."""
        cloth, floor = share_out(lambda where: self._density(where, reach), (inside, outside))
        return as_reals(np.log((cloth + 2e-4) / (floor + 2e-4)))


def cut_band(start: Flags, band: Flags, lean: Reals, colour: Reals, usual: float) -> Flags:
    """Return the mask cut anew within a band; outside it stays as it is.

    Args:
        start: (h, w) mask believed so far.
        band: (h, w) pixels that may change.
        lean: (h, w) log-likelihood for garment.
        colour: (h, w, 3) Lab.
        usual: colour step at which the cost of cutting has fallen to 1/e.
    """
    count = int(band.sum())
    number = np.full(start.shape, -1, np.int64)
    number[band] = np.arange(count)
    height, across = start.shape
    push = lean[band].astype(np.float64)
    pairs, ties = [], []
    for down, right, share in STEPS:
        here = (slice(0, height - down), slice(max(0, -right), across - max(0, right)))
        there = (slice(down, height), slice(max(0, -right) + right, across - max(0, right) + right))
        a, b = number[here].ravel(), number[there].ravel()
        gap = ((colour[here] - colour[there]) ** 2).sum(2).ravel()
        tie = share * HOLD * (0.08 + np.exp(-gap / (2 * usual**2)))
        both = (a >= 0) & (b >= 0)
        pairs.append(np.column_stack([a[both], b[both]]))
        ties.append(tie[both])
        # a neighbour beyond the band pulls to its own side
        for mine, other, outside in ((a, b, start[there].ravel()), (b, a, start[here].ravel())):
            beside = (mine >= 0) & (other < 0)
            push += np.bincount(mine[beside], np.where(outside[beside], tie[beside], -tie[beside]), minlength=count)
    mask = start.copy()
    mask[band] = Graph(np.concatenate(pairs), np.concatenate(ties), count).cut(push)
    return mask


def settle_mask(
    looks: LocalLooks,
    mask: Flags,
    wide_ratio: Reals,
    blocked: Flags,
    fixed: NDArray[np.int8],
    within: Flags | None = None,
) -> Flags:
    """Return the mask with its edge moved to where the looks near by change.

    Args:
        looks: of the picture.
        mask: (h, w) believed so far.
        wide_ratio: (h, w) log-likelihood for garment that the whole picture taught, or zeros.
        blocked: (h, w) True on references.
        fixed: (h, w) 1 garment, -1 floor, 0 open.
        within: (h, w) pixels that may change; None for all.
    """
    usual = looks.usual_step()
    for half, reach, margin in PASSES:
        depth = measure_depth(mask)
        ratio = looks.measure_log_ratio((depth < -margin) & ~blocked, (depth > margin) & ~blocked, reach)
        lean = as_reals(np.clip(ratio, -4, 4) + WIDE_SHARE * wide_ratio + 1e3 * fixed)
        band = (np.abs(depth) < half) | (fixed != 0)
        if within is not None:
            band &= within
        moved = cut_band(mask, band, lean, looks.lab, usual)
        if within is None:
            moved = keep_largest(moved)
        if not moved.any():
            break
        mask = moved
    return mask
