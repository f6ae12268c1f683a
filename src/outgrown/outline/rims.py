"""Rims: cloth beyond a seam along the edge, lost because the stitches stand out more than the edge itself.

A hem's or a pocket's stitching in another colour runs a few millimetres inside the edge. Cut off there, what lies
beyond is a strip that nobody learns cloth from, and whatever is asked of the neighbourhood takes it for floor: all that
is like it there is itself. So the floor is asked that begins farther off.
"""

import cv2
import numpy as np

from ..arrays import Flags
from .band import LocalLooks
from .masks import Reals, as_reals, dilate, find_pieces, measure_depth

WIDEST_PX = 10.0
"""A rim is no wider: with a pixel of 1 to 2 mm a hem's stitches lie so near the edge."""
FLOOR_PX = (14.0, 40.0)
"""So far from the edge lies the floor that is asked."""
REACH_PX = 32.0
STITCH_PX = 3.0
"""So wide are stitches, and the blur on both of their sides."""
PERHAPS, LIKE = 0.5, 1.0
"""Log-likelihood for cloth by which a rim looks like it in all of the picture, and its hue in the surroundings: a
shadow may look like dark cloth, and its hue is the floor's."""
LEAST_PX, SLENDER, MOST_RIMS = 60, 4.0, 12
"""A rim has so many pixels, and is so many times as long as it is wide."""


def find_rims(looks: LocalLooks, mask: Flags, blocked: Flags) -> Flags:
    """Return (h, w) True on strips along a mask's edge, and the stitches between, that are cloth and not floor.

    Args:
        looks: of the picture.
        mask: (h, w) the garment so far.
        blocked: (h, w) True on references.
    """
    depth = measure_depth(mask)
    none: Flags = np.zeros(mask.shape, bool)
    near = (depth > 0) & (depth <= WIDEST_PX) & ~blocked
    cloth, floor = depth < -2, (depth > FLOOR_PX[0]) & (depth < FLOOR_PX[1]) & ~blocked
    if not cloth.any() or not floor.any():
        return none
    # Quick, and on most photos the end of it.
    like = near & (_smooth(looks.measure_wide_ratio(cloth, floor)) > PERHAPS)
    if not _find_strips(like, depth):
        return none
    hues = looks.in_any_light()
    strips = _find_strips(like & (_smooth(hues.measure_log_ratio(cloth, floor, REACH_PX, near)) > LIKE), depth)
    if not strips:
        return none
    found: Flags = np.logical_or.reduce(strips)
    found |= dilate(found, round(STITCH_PX)) & near & (depth <= float(depth[found].max()))
    return found


def _find_strips(like: Flags, depth: Reals) -> list[Flags]:
    """Return the pieces that are long and narrow and begin at the edge, or just beyond stitches there."""
    strips = []
    for piece in find_pieces(like, MOST_RIMS):
        y, x = np.nonzero(piece)
        length = float(np.hypot(np.ptp(x), np.ptp(y)))
        if len(x) >= LEAST_PX and depth[piece].min() <= STITCH_PX + 1 and length**2 >= SLENDER * len(x):
            strips.append(piece)
    return strips


def _smooth(ratio: Reals) -> Reals:
    return as_reals(cv2.GaussianBlur(np.clip(ratio, -4, 4), (0, 0), 1.0))
