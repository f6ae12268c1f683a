"""Bridging: a piece apart from the garment that belongs to it, and what lies between the two."""

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Flags
from .band import LocalLooks
from .masks import Reals, measure_away

OTHER_SHARE, ALIKE = 0.2, 0.3
"""A piece apart from the garment that holds a hint of garment is the garment instead, if it has this share of it and
the two look less alike than that (0 to 1); else it belongs to it, beyond a stripe of the floor's colour. Of two hints
on each of 260 composites six led to such a piece, both of them garment each time, 0.39 to 1 alike."""
FARTHEST, BRIDGE_TIMES, BRIDGE_MORE_PX = 0.5, 1.5, 4.0
"""It then lies no farther off than this share of the garment's breadth, and what lies between is garment as far as it
is so many times as wide as at its narrowest, and so much more."""


def keep_said(looks: LocalLooks, mask: Flags, fixed: NDArray[np.int8]) -> Flags:
    """Return the largest piece, and with it or instead of it those that hold a hint of garment."""
    count, pieces, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    if count < 2:
        return mask
    area = stats[:, cv2.CC_STAT_AREA]
    largest = 1 + int(np.argmax(area[1:]))
    kept: Flags = pieces == largest
    said = [int(number) for number in np.unique(pieces[(fixed > 0) & mask]) if number not in (0, largest)]
    for number in sorted(said, key=lambda number: -int(area[number])):
        piece = pieces == number
        if piece.sum() > OTHER_SHARE * kept.sum() and _measure_likeness(looks, kept, piece) < ALIKE:
            kept = piece
        else:
            kept = bridge(looks, kept, piece) & (fixed >= 0)
    return kept


def _measure_likeness(looks: LocalLooks, one: Flags, other: Flags) -> float:
    """Return how alike two parts of the picture look, 0 to 1."""
    own = [np.bincount(looks.look[part], minlength=looks.count) for part in (one, other)]
    met = [float(own[a] @ looks.blend @ own[b]) for a, b in ((0, 1), (0, 0), (1, 1))]
    return met[0] / max(float(np.sqrt(met[1] * met[2])), 1e-9)


def bridge(looks: LocalLooks, mask: Flags, piece: Flags) -> Flags:
    """Return a mask with a piece apart from it and what lies between them; without it where it lies far off."""
    away, beyond = measure_away(mask), measure_away(piece)
    narrowest = float(away[piece].min())
    if narrowest > FARTHEST * np.sqrt(float(mask.sum())):
        return mask
    reach = BRIDGE_TIMES * narrowest + BRIDGE_MORE_PX
    # Only what faces the other is joined: not a leg to the end of the other leg.
    count, shores = cv2.connectedComponents((mask & (beyond < reach)).astype(np.uint8))
    between = [_find_between(shores == number, piece, beyond, reach) for number in range(1, count)]
    if len(between) > 1:
        # Beside two legs it belongs to the one from which the floor does not part it.
        floor = ~mask & ~piece & (np.minimum(away, beyond) > reach)
        between = [min(between, key=lambda part: _measure_likeness(looks, part, floor))]
    bridged: Flags = mask | piece | between[0]
    return bridged


def _find_between(shore: Flags, piece: Flags, beyond: Reals, reach: float) -> Flags:
    """Return the pixels (h, w) between a part of the garment's edge and a piece that it faces."""
    away = measure_away(shore)
    facing = shore | (piece & (away < reach))
    hull = np.zeros(shore.shape, np.uint8)
    cv2.fillConvexPoly(hull, cv2.convexHull(cv2.findNonZero(facing.astype(np.uint8))), 1)
    between: Flags = (away + beyond < reach) & (hull > 0)
    return between
