"""Trimming: what hangs on a garment and is too thin to be cloth, drawstrings, straps, joints of the floor."""

import numpy as np

from ..arrays import Flags
from .masks import dilate, find_pieces, open_mask

THREAD_PX = 3
"""Half the width below which nothing is cloth."""
ARM, LONG_ARM, SLENDER, MOST_ARMS = 0.02, 0.08, 4.0, 4
"""Nor is what is no wider than twice the first share of the garment's extent, longer than the second, and so many times
as long as wide: a painted joint between boards. Of 204 scenes one had such an arm, and no true garment has."""
MOST_GONE = 0.2
"""Where more of the garment would go, it is thin itself."""


def trim_thin(mask: Flags) -> Flags:
    """Return the mask (h, w) without what is too thin to be cloth."""
    pieces = find_pieces(open_mask(mask, THREAD_PX), 1)
    if not pieces or pieces[0].sum() < (1 - MOST_GONE) * mask.sum():
        return mask
    # Corners that the opening rounded come back; what hangs on by less than its width does not.
    mask = dilate(pieces[0], THREAD_PX) & mask
    y, x = np.nonzero(mask)
    extent = float(max(np.ptp(x), np.ptp(y)))
    radius = max(round(ARM * extent), THREAD_PX)
    bodies = find_pieces(open_mask(mask, radius), 1)
    if not bodies or bodies[0].sum() < (1 - MOST_GONE) * mask.sum():
        return mask
    for arm in find_pieces(mask & ~dilate(bodies[0], radius), MOST_ARMS):
        y, x = np.nonzero(arm)
        length = float(np.hypot(np.ptp(x) + 1, np.ptp(y) + 1))
        if length > LONG_ARM * extent and len(x) < length * min(2 * radius, length / SLENDER):
            mask = mask & ~arm
    return mask
