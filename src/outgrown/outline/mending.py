"""Mending: what a person points at is taught to the picture, and changes the region it lies in, nothing else."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra

from ..arrays import Flags
from .answers import Bench
from .band import LocalLooks, settle_mask
from .looks import measure_floor_spread
from .masks import Reals, as_reals, dilate

OWN_SHARE = 0.04
"""What a hint says of its surroundings reaches at most over this share of the garment before the picture is asked."""
OWN_REACH = 6.0
"""Colour steps, in units of what floors vary by, that a hint's own surroundings may lie away from it."""
SETTLE_PX = 9
"""The edge may move so far round what a hint changed."""


def mend_mask(
    bench: Bench, looks: LocalLooks, mask: Flags, log_ratio: Reals, blocked: Flags, fixed: NDArray[np.int8]
) -> Flags:
    """Return the mask with the region round each hint on the side it was said to be.

    Each hint in turn is taught to the picture together with the answer so far; of what then changes to the side
    that was said, only the piece that holds the hint is taken over, and the edge settles along that piece only.

    Args:
        bench: the picture made ready.
        looks: of the picture.
        mask: (h, w) believed so far.
        log_ratio: (h, w) log-likelihood for garment that the picture taught before.
        blocked: (h, w) True on references.
        fixed: (h, w) 1 round hints of garment, -1 round hints of floor (and on references), else 0.
    """
    patches = bench.patches
    told = np.zeros(patches.count, bool)
    before = mask
    for side in (1, -1):
        count, spots = cv2.connectedComponents(((fixed == side) & ~blocked).astype(np.uint8), connectivity=8)
        for number in range(1, count):
            spot = spots == number
            if (mask[spot] == (side > 0)).mean() > 0.9:
                continue
            mask, own = _mend_at(bench, mask, log_ratio, told, spot, side > 0)
            told |= own
    changed = mask != before
    if not changed.any():
        return mask
    within = dilate(changed, SETTLE_PX)
    settled = settle_mask(looks, mask, log_ratio * ~changed, blocked, fixed, within)
    return _keep_said(settled, fixed)


def _mend_at(
    bench: Bench, mask: Flags, log_ratio: Reals, told: Flags, spot: Flags, is_garment: bool
) -> tuple[Flags, Flags]:
    """Return the mask mended at one hint, and the patches (n,) the hint is taken to speak of."""
    patches = bench.patches
    garment = patches.mean_of(mask) > 0.5
    here = np.unique(patches.labels[spot])
    own = _find_own(bench, here, garment == is_garment, garment)
    believed = np.where(own, is_garment, garment)
    forced = np.zeros(patches.count, np.float32)
    forced[here] = 1e4 if is_garment else -1e4
    ratio = bench.lesson.teach(believed, told | own)
    if ratio is None:
        ratio = log_ratio
    cut = bench.lesson.cut(ratio, as_reals(np.where(believed, 2.0, -2.0)), forced)
    turned = ((cut != garment) & (cut == is_garment)) | own
    turned[here] = True
    _, pieces = cv2.connectedComponents(
        (turned[patches.labels] & (mask != is_garment)).astype(np.uint8), connectivity=4
    )
    numbers = np.unique(pieces[spot])
    piece = np.isin(pieces, numbers[numbers > 0]) | spot
    return np.where(piece, is_garment, mask), own


def _find_own(bench: Bench, here: NDArray[np.integer[Any]], is_right: Flags, garment: Flags) -> Flags:
    """Return the patches (n,) round a hint that look like it without an edge between, not yet on its side."""
    patches = bench.patches
    colour = np.stack([patches.mean_of(bench.lab[..., k]) for k in range(3)], 1) / measure_floor_spread(bench.lab)
    one, two = patches.pair.T
    gap = np.sqrt(((colour[one] - colour[two]) ** 2).sum(1)) + patches.edge + 0.05
    gap = np.where(is_right[one] | is_right[two], 1e3, gap)
    roads = csr_matrix((gap, (one, two)), shape=(patches.count, patches.count))
    away = dijkstra(roads, directed=False, indices=here, min_only=True, limit=OWN_REACH)
    order = np.argsort(away)
    taken = np.cumsum(patches.size[order]) <= OWN_SHARE * patches.size[garment].sum()
    own = np.zeros(patches.count, bool)
    own[order[taken & (away[order] <= OWN_REACH)]] = True
    own[here] = True
    return own


def _keep_said(mask: Flags, fixed: NDArray[np.int8]) -> Flags:
    """Return the largest piece that holds a hint of garment, or simply the largest."""
    count, pieces, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    if count < 2:
        return mask
    said = [number for number in np.unique(pieces[(fixed > 0) & mask]) if number > 0]
    if not said:
        said = list(range(1, count))
    kept: Flags = pieces == max(said, key=lambda number: int(stats[number, cv2.CC_STAT_AREA]))
    return kept
