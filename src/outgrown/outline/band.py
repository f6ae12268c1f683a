"""Band: the edge settled pixel by pixel at working scale, by what lies near it on either side."""

from copy import copy

import cv2
import numpy as np
from numpy.random import default_rng
from numpy.typing import NDArray

from ..arrays import Flags
from .looks import blend_looks, blur, compare_shares, even_light, find_looks, measure_floor_spread, name_looks
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
    """Colours of the photo as few looks, and how often each occurs near a place, inside and outside.

    Attributes:
        lab: (h, w, 3) CIE Lab, calmed.
        floor_spread: (3,) how much the floor varies, as of `measure_floor_spread`.
        look: (h, w) number of each pixel's look.
        blend: (count, count) lets looks stand for those like them.
        count: how many looks there are.
    """

    def __init__(self, lab: Reals) -> None:
        """See the looks of a picture (h, w, 3) CIE Lab."""
        self.lab = as_reals(cv2.bilateralFilter(lab, 5, 10, 1.5))
        self.floor_spread = measure_floor_spread(lab)
        features = as_reals((self.lab / self.floor_spread).reshape(-1, 3))
        looks = find_looks(features, PIXEL_LOOKS, default_rng(2))
        self.look = name_looks(features, looks).reshape(lab.shape[:2])
        self.blend = blend_looks(looks, 1.2)
        self.count = len(looks)

    def cut_out(self, box: tuple[slice, slice]) -> "LocalLooks":
        """Return the looks of a part of the picture."""
        part = copy(self)
        part.lab, part.look = self.lab[box], self.look[box]
        return part

    def in_any_light(self) -> "LocalLooks":
        """Return the looks of the picture's hues alone, as if it were all lit alike."""
        lightness = self.lab[..., 0]
        return LocalLooks(as_reals(np.dstack([np.zeros_like(lightness), even_light(lightness, self.lab[..., 1:])])))

    def usual_step(self) -> float:
        """Return the colour step between neighbouring pixels that is nothing special in this photo [Lab]."""
        step = np.sqrt(((self.lab[:, 1:] - self.lab[:, :-1]) ** 2).sum(2))
        return max(2.5, 1.5 * float(np.median(step)) + 1.0)

    def measure_wide_ratio(self, inside: Flags, outside: Flags) -> Reals:
        """Return log p(look | cloth) - log p(look | floor), (h, w), of what lies in all of `inside` and `outside`."""
        shares = []
        for where in (inside, outside):
            found = as_reals(np.bincount(self.look[where], minlength=self.count))
            shares.append(as_reals(found / max(float(found.sum()), 1) @ self.blend))
        return as_reals(compare_shares(*shares))[self.look]

    def count_alike(self, part: Flags, where: Flags) -> float:
        """Return how many pixels of `where` (h, w) look as those of `part` do, in the mean of its pixels."""
        own, other = (np.bincount(self.look[of], minlength=self.count) for of in (part, where))
        return float(other @ self.blend @ own) / max(int(own.sum()), 1)

    def measure_log_ratio(self, inside: Flags, outside: Flags, reach: float, wanted: Flags) -> Reals:
        """Return log p(look | cloth) - log p(look | floor) of what lies about `reach` px near.

        Args:
            inside: (h, w) pixels taken for cloth.
            outside: (h, w) pixels taken for floor.
            reach: standard deviation of what counts as near [px].
            wanted: (h, w) where it is asked; 0 elsewhere.
        """
        y, x = np.nonzero(wanted)
        columns = -(-wanted.shape[1] // COARSE)
        cells, at = np.unique((y // COARSE) * columns + x // COARSE, return_inverse=True)
        at = at * self.count + self.look[y, x]
        cloth, floor = share_out(lambda where: self._count_near(where, reach, cells).ravel()[at], (inside, outside))
        ratio = np.zeros(wanted.shape, np.float32)
        ratio[wanted] = compare_shares(cloth, floor)
        return ratio

    def _count_near(self, where: Flags, reach: float, cells: NDArray[np.intp]) -> Reals:
        """Return (n, looks) how often each look, or one like it, occurs near `cells` (n,) within `where`."""
        height, width = where.shape
        rows, columns = -(-height // COARSE), -(-width // COARSE)
        y, x = np.nonzero(where)
        cell = (y // COARSE) * columns + x // COARSE
        listed = np.bincount(cell * self.count + self.look[y, x], minlength=rows * columns * self.count)
        counts = as_reals(listed.reshape(rows, columns, self.count))
        everywhere = counts.sum((0, 1))
        everywhere = everywhere / max(float(everywhere.sum()), 1)
        near = blur(counts, reach / COARSE).reshape(-1, self.count)[cells]
        total = near.sum(1, keepdims=True)
        # where little is near, the whole photo's looks speak
        share = total / (total + 0.02 * COARSE**2)
        local = share * near / np.maximum(total, 1e-6) + (1 - share) * everywhere
        return as_reals((0.75 * local + 0.25 * everywhere) @ self.blend)


def cut_band(start: Flags, band: Flags, lean: Reals, colour: Reals, usual: float) -> Flags:
    """Return the mask cut anew within a band; outside it stays as it is.

    Args:
        start: (h, w) mask believed so far.
        band: (h, w) pixels that may change.
        lean: (h, w) log-likelihood for garment.
        colour: (h, w, 3) Lab.
        usual: colour step at which the cost of cutting has fallen to 1/e.
    """
    # Within a rim, so that the neighbour of every pixel can be asked: -1 beyond the band, -2 beyond the picture.
    number = np.pad(np.full(start.shape, -1), 1, constant_values=-2)
    across = number.shape[1]
    at = np.flatnonzero(np.pad(band, 1))
    count = len(at)
    number.flat[at] = np.arange(count)
    colours, inside = np.pad(colour, ((1, 1), (1, 1), (0, 0))).reshape(-1, 3), np.pad(start, 1).ravel()
    own = colours[at]
    push = lean[band].astype(np.float64)
    pairs, ties = [], []
    for down, right, share in STEPS:
        for way in (1, -1):
            beyond = at + way * (down * across + right)
            other = number.ravel()[beyond]
            # two pixels of the band are tied once, going on
            mine = np.flatnonzero(other >= -1 if way > 0 else other == -1)
            there, other = beyond[mine], other[mine]
            gap = ((own[mine] - colours[there]) ** 2).sum(1)
            tie = share * HOLD * (0.08 + np.exp(-gap / (2 * usual**2)))
            tied = other >= 0
            pairs.append(np.column_stack([mine[tied], other[tied]]))
            ties.append(tie[tied])
            # a neighbour beyond the band pulls to its own side
            pull = np.where(inside[there], tie, -tie)[~tied]
            push += np.bincount(mine[~tied], pull, minlength=count)
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
        band = (np.abs(depth) < half) | (fixed != 0)
        if within is not None:
            band &= within
        cloth, floor = ((side * depth > margin) & ~blocked for side in (-1, 1))
        ratio = looks.measure_log_ratio(cloth, floor, reach, band)
        lean = as_reals(np.clip(ratio, -4, 4) + WIDE_SHARE * wide_ratio + 1e3 * fixed)
        moved = cut_band(mask, band, lean, looks.lab, usual)
        if within is None:
            moved = keep_largest(moved)
        if not moved.any():
            break
        mask = moved
    return mask
