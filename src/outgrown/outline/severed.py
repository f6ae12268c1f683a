"""Severed parts: cloth beyond a stripe of the floor's colour, which looks like an edge all along.

Where a garment is striped across, and one of its colours is the floor's, every stripe may be its end. What lies beyond
looks like the cloth and not like the floor, and lies no farther off than a stripe is wide.
"""

import cv2
import numpy as np

from ..arrays import Flags
from .masks import Reals, dilate, disc, measure_away

LIKE_CLOTH = 1.0
"""Log-likelihood from which a place looks like cloth."""
SMALLEST = 0.0015
"""The smallest part, as a share of the garment's area."""
REACH, LEAST_REACH_PX = 0.03, 3.0
"""How far off a part may lie, as a share of the garment's extent: a stripe 3 cm wide on a garment of 1 m."""
MOST_PARTS = 40


def join_severed(mask: Flags, ratio: Reals, blocked: Flags) -> Flags:
    """Return the mask with severed parts and the stripes between them.

    Args:
        mask: (h, w) True on the garment so far.
        ratio: (h, w) log-likelihood for cloth, from what looks occur within the mask and beyond it.
        blocked: (h, w) True on references.
    """
    y, x = np.nonzero(mask)
    if not len(x):
        return mask
    reach = max(LEAST_REACH_PX, REACH * float(max(np.ptp(x), np.ptp(y))))
    least = SMALLEST * len(x)
    like = (np.asarray(cv2.GaussianBlur(ratio, (0, 0), 0.7)) > LIKE_CLOTH) & ~blocked
    joined = mask
    for _ in range(MOST_PARTS):
        near = measure_away(joined) <= reach
        rest = (like & ~dilate(joined, 1)).astype(np.uint8)
        count, parts, stats, _ = cv2.connectedComponentsWithStats(rest, connectivity=4)
        within = np.bincount(parts[near], minlength=count) > 0
        chosen = within & (stats[:, cv2.CC_STAT_AREA] >= least)
        chosen[0] = False
        if not chosen.any():
            break
        joined = _bridge(joined, chosen[parts], int(np.ceil(reach / 2)) + 1) & ~blocked
    return joined


def _bridge(mask: Flags, parts: Flags, radius: int) -> Flags:
    """Return mask and parts with what lies between them, but not what was open within the mask already."""
    bridged: Flags = mask | parts | (_close(mask | parts, radius) & ~_close(mask, radius))
    return bridged


def _close(mask: Flags, radius: int) -> Flags:
    rim = radius + 2
    padded = np.pad(mask.astype(np.uint8), rim)
    closed: Flags = np.asarray(cv2.morphologyEx(padded, cv2.MORPH_CLOSE, disc(radius)))[rim:-rim, rim:-rim] > 0
    return closed
