"""Own hue: cuffs and waistbands beside a garment in a hue that the floor farther off does not have, however pale.

Light, shadow and folds change lightness much and hue little. Where a floor has few hues a cream cuff on a grey carpet
stands out by its hue alone, though among all the colours of the picture the two are one.
"""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Flags
from .looks import blur, even_light, measure_slopes, weigh_slopes
from .masks import Reals, as_reals, dilate, erode, fill_holes, find_pieces, measure_depth, open_mask

EASE_PX, EDGE_PX, OPEN_PX, AT_PX = 1.5, 1.2, 2, 4
BIN_LAB, REACH_LAB, SPREAD_LAB = 0.5, 80, 1.0
"""Hues are counted in so fine steps, up to so far from grey, and each stands for those so close to it."""
FAR, NEAR, LEAST_FAR, FARTHEST = 0.2, 0.25, 0.03, 0.4
"""From the first share of the garment's extent on the floor teaches its hues, if it is that much of the picture, else
its farthest part; up to the second parts of the garment are looked for."""
RARE, VERY_RARE, CALM_LAB = 0.03, 0.01, 8.0
"""A hue is rare where no more of the far floor has a rarer one; those of a part are so rare on average. Only a floor
whose hues spread no more than this is asked: on a rug some motif is always rare."""
APART = 2.7
"""So many standard deviations the hue of a part lies from the mean of the far floor's: one block of a parquet may have
the rarest hue of all, and is 2.3 off. Of 22 cloth parts in 374 scenes all but one are 3.1 off or more."""
HUE_NOISE_LAB = 0.5
MOST_PARTS, LEAST, MOST, THICKNESS = 6, 0.01, 0.25, 0.017
"""So many parts at most, from and up to such shares of the garment's area, and half as thick as this of its extent."""
USUAL_BESIDE = 0.25
"""So rare are the hues of what lies beyond a part, in the median: a cuff lies on usual floor, the edge of light does
not."""
MOST_RARE = 0.3
"""Where more of the floor near by has rare hues, it is another than the floor farther off."""
ADJOINING, STEEPER, MOST_CLOSED = 0.2, 1.3, 0.3
"""So much of its border lies at the garment; its edge is so much steeper than a tenth of the floor is anywhere; and it
shuts off no more floor, as a share of itself: one that does lies between two legs, or a sleeve and the body.

Of 464 scenes (300 composites of photos' garments and other photographed floors, 150 made to mislead, 14 photos) 18 got
26 such parts, not yet asked how far off their hue is: 23 are cloth, one is a third of it cloth, and two small ones are
floor, one the shadow of a fold."""
NO_WORSE = 0.8
"""The garment must hold at least this share of what it holds without them; contrast with the floor is slight there. A
patch of sun beside a garment wrongly found brought it to 0.4."""


def find_off_hue(lab: Reals, mask: Flags, blocked: Flags) -> Flags:
    """Return (h, w) True on parts beside a mask that are of it, since their hue occurs nowhere else.

    Args:
        lab: (h, w, 3) CIE Lab.
        mask: (h, w) True on the garment so far.
        blocked: (h, w) True on references.
    """
    found: Flags = np.zeros(mask.shape, bool)
    y, x = np.nonzero(mask)
    depth = measure_depth(mask)
    floor = ~blocked & (depth > 2)
    if not len(x) or not floor.any():
        return found
    extent = float(max(np.ptp(x), np.ptp(y)))
    far = floor & (depth > FAR * extent)
    if far.mean() < LEAST_FAR:
        far = floor & (depth >= np.quantile(depth[floor], 1 - FARTHEST))
    hue = _measure_hue(lab)
    if hue[far].std(axis=0).mean() > CALM_LAB:
        return found
    rarity = _measure_rarity(hue, far)
    rare = (rarity < RARE) & ~blocked & (depth > 0) & (depth < NEAR * extent)
    parts = [part for part in find_pieces(open_mask(rare, OPEN_PX), MOST_PARTS) if LEAST < part.sum() / len(x) < MOST]
    if not parts:
        return found
    judge = _Judge(mask, floor, far, hue, rarity, _measure_steepness(lab))
    reach = rare | (judge.at_mask & ~blocked)
    for part in parts:
        more = dilate(part, OPEN_PX + 1) & reach & ~mask
        is_thick = -float(measure_depth(part).min()) > THICKNESS * extent
        if is_thick and judge.is_part(part) and judge.count_closed(more) < MOST_CLOSED * part.sum():
            found |= more
    return found


class _Judge:
    """Tells parts of one garment from its floor."""

    def __init__(self, mask: Flags, floor: Flags, far: Flags, hue: Reals, rarity: Reals, steep: Reals) -> None:
        self.at_mask = dilate(mask, AT_PX)
        self._mask, self._filled = mask, fill_holes(mask)
        self._beside, self._near = floor & ~dilate(mask, 3), floor & ~far
        self._rarity, self._steep = rarity, steep
        self._least_steep = STEEPER * float(np.quantile(steep[far], 0.9))
        self._hue, self._usual_hue = hue, hue[far].mean(axis=0)
        self._unlike = np.linalg.inv(np.cov(hue[far].T) + HUE_NOISE_LAB**2 * np.eye(2))

    def is_part(self, part: Flags) -> bool:
        """Tell whether a part (h, w) lies at the garment, on usual floor, with a hue of its own and a clear edge."""
        border = part & ~erode(part, 1)
        outer = border & ~self.at_mask
        beside = self._rarity[dilate(part, 9) & ~dilate(part, 4) & self._beside]
        if border.sum() - outer.sum() < ADJOINING * border.sum() or not outer.any() or not len(beside):
            return False
        is_rare_near = self._rarity[self._near & ~dilate(part, 8)] < RARE
        is_usual = np.median(beside) > USUAL_BESIDE and is_rare_near.mean() < MOST_RARE
        is_own = self._rarity[part].mean() < VERY_RARE and np.median(self._steep[outer]) > self._least_steep
        off = np.median(self._hue[part], axis=0) - self._usual_hue
        return bool(is_usual and is_own and np.sqrt(off @ self._unlike @ off) > APART)

    def count_closed(self, part: Flags) -> int:
        """Return how many pixels of floor a part shuts off."""
        whole = self._mask | part
        return int((fill_holes(whole) & ~whole & ~self._filled).sum())


def _measure_steepness(lab: Reals) -> Reals:
    """Return (h, w) the steepest colour step near each place."""
    _, across, down = measure_slopes(lab, EDGE_PX)
    return as_reals(cv2.dilate(weigh_slopes(across, down), np.ones((5, 5), np.uint8)))


def _measure_hue(lab: Reals) -> Reals:
    """Return (h, w, 2) a* and b* of the picture eased, as if it were all lit alike."""
    eased = blur(lab, EASE_PX)
    return even_light(eased[..., 0], eased[..., 1:])


def _measure_rarity(hue: Reals, far: Flags) -> Reals:
    """Return (h, w) of each place the share of the `far` floor whose hue (h, w, 2) is rarer there still."""
    at = np.clip(np.round(hue / BIN_LAB).astype(int) + 2 * REACH_LAB, 0, 4 * REACH_LAB)
    size = 4 * REACH_LAB + 1
    number: NDArray[Any] = at[..., 0] * size + at[..., 1]
    counts = np.bincount(number[far], minlength=size * size).reshape(size, size).astype(np.float32)
    often = blur(as_reals(counts), SPREAD_LAB / BIN_LAB).ravel()[number]
    ranked = np.sort(often[far])
    # On a calm floor many places share one hue: each counts as in the middle of them.
    rank = np.searchsorted(ranked, often) + np.searchsorted(ranked, often, side="right")
    return as_reals(0.5 * rank / max(len(ranked), 1))
