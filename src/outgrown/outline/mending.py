"""Mending: what a person points at is taught to the picture, and changes the region it lies in, nothing else."""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra

from ..arrays import Flags
from .answers import Bench
from .apart import find_apart
from .band import LocalLooks, settle_mask
from .bridging import bridge, keep_said
from .masks import Reals, as_reals, dilate, keep_touched, measure_away, measure_depth, resize_mask
from .patches import Patches

OWN_SHARE = 0.04
"""What a hint says of its surroundings reaches at most over this share of the garment before the picture is asked."""
OWN_REACH = 6.0
"""Colour steps, in units of what floors vary by, that a hint's own surroundings may lie away from it."""
SMALL_SHARE = 0.01
"""The least that a hint turns, where nothing larger has an edge."""
ROUNDS, GROWING = 3, 1.05
"""What a hint has turned is taught again, until it grows no more by this much."""
BEYOND_REACH = 4.0
"""Each round believes, without teaching it, what lies so far beyond the last: a long band is not left half way."""
OLD_PX = 2.5
"""Only the edge this far from the old one is new."""
LARGE_SHARE = 0.1
"""A larger stage is preferred a little, up to this share of the garment."""
DEEPER, DEEPER_PX = 2.5, 3.0
"""A hint lies somewhere in the middle of what is wrong: it turns what lies at most so many times as far from the old
edge as itself, and so much more. Of 587 wrong regions of 14 photos and 220 composites of them, pointed at in their
middle, the stage chosen brought 0.0156 of overlap in the mean and spoiled 11 by more than 0.02; the best stage would
bring 0.020. With twice as far it is 0.0160, with three times 0.0133. Without this limit beyond 7 px from the edge it
was 0.0104, and 32 were spoiled: a dark joint beside dark jeans took a leg along."""
FARTHER, FARTHER_PX = 16.0, 24.0
"""And what lies so many times as far from the hint as that from the old edge, and so much more: a hint of cloth at the
edge of a gap between two legs had closed the gap's end 15 cm away."""
AGREEING = 0.9
"""A hint that says what is believed of this share of it already changes nothing."""
SEEN_PX = 48
"""What lies so far round it tells what cloth and floor look like there."""
REACHED_PX = 4
"""A part that lay apart from the garment belongs to it once a hint has brought the garment so near."""
SETTLE_PX = 9
"""The edge may move so far round what a hint changed."""


@dataclass(frozen=True, eq=False)
class Mended:
    """What hints have made of a mask.

    Attributes:
        mask: (h, w) True on the garment.
        told: (n,) patches that the hints are taken to speak of.
    """

    mask: Flags
    told: Flags


def mend_mask(
    bench: Bench,
    looks: LocalLooks,
    before: Mended,
    log_ratio: Reals,
    blocked: Flags,
    fixed: NDArray[np.int8],
    spot: Flags,
) -> Mended:
    """Return the mask with the region round a hint on the side it was said to be.

    The hint is taught to the picture together with the answer so far; of what then changes to the side that was said,
    only the piece that holds the hint is taken over, and the edge settles along that piece only.

    Args:
        bench: the picture made ready.
        looks: of the picture.
        before: the answer so far.
        log_ratio: (h, w) log-likelihood for garment that the picture taught before.
        blocked: (h, w) True on references.
        fixed: (h, w) 1 along all hints of garment, -1 along those of floor and on references, else 0.
        spot: (h, w) True along this hint.
    """
    spot = spot & ~blocked
    if not spot.any():
        return before
    is_garment = bool(fixed[spot].max() > 0)
    if (before.mask[spot] == is_garment).mean() > AGREEING:
        return before
    colours = bench.colours / looks.floor_spread
    mask, own = _mend_at(bench, colours, before, log_ratio, fixed, spot)
    if is_garment:
        mask = _with_parts(bench, looks, before.mask, mask)
    changed = mask != before.mask
    box = _find_box(changed, SETTLE_PX + SEEN_PX)
    wide_ratio = log_ratio[box] * ~changed[box]
    within = dilate(changed[box], SETTLE_PX)
    settled = mask.copy()
    settled[box] = settle_mask(looks.cut_out(box), mask[box], wide_ratio, blocked[box], fixed[box], within)
    return Mended(keep_said(looks, settled, fixed), before.told | own)


def _with_parts(bench: Bench, looks: LocalLooks, before: Flags, mask: Flags) -> Flags:
    """Return the mask with cloth that lay apart from it before and no longer does: a band between has become cloth."""
    new = dilate(mask & ~before, REACHED_PX)
    for part in find_apart(bench.holding, resize_mask(before, bench.holding.shape)):
        whole = resize_mask(part, mask.shape)
        if (whole & new).any():
            mask = bridge(looks, mask, whole)
    return mask


def _find_box(mask: Flags, margin: int) -> tuple[slice, slice]:
    """Return the rows and columns that hold all of a mask, and a margin."""
    rows, columns = (np.flatnonzero(mask.any(axis=axis)) for axis in (1, 0))
    down, across = (slice(max(int(at[0]) - margin, 0), int(at[-1]) + margin + 1) for at in (rows, columns))
    return down, across


def _mend_at(
    bench: Bench, colours: Reals, before: Mended, log_ratio: Reals, fixed: NDArray[np.int8], spot: Flags
) -> tuple[Flags, Flags]:
    """Return the mask mended at one hint, and the patches (n,) the hint is taken to speak of.

    What the hint says grows round by round, each a little beyond what the last was sure of. Of all stages the one is
    taken whose new edge is best seen: too small a one ends within cloth or floor, and so does one that ran over.
    """
    patches, mask = bench.patches, before.mask
    is_garment = bool(fixed[spot].max() > 0)
    garment = patches.mean_of(mask) > 0.5
    is_right = garment == is_garment
    area = float(patches.size[garment].sum())
    here = np.unique(patches.labels[spot])
    gap = _measure_gaps(bench.patches, colours, is_right)
    # What was said before of another place holds.
    wrong = _find_open(mask, spot, is_garment) & (fixed != (-1 if is_garment else 1))
    forced = as_reals(1e4 * patches.mean_of(fixed))
    forced[here] = 1e4 if is_garment else -1e4
    stages = [
        keep_touched(_find_own(bench, gap, here, share * area, OWN_REACH)[patches.labels] & wrong, spot)
        for share in (SMALL_SHARE, OWN_SHARE)
    ]
    own, beyond = _cover(bench, stages[-1], here), np.zeros(patches.count, bool)
    # What looks like it, without an edge between, may be as wrong: nothing is learned from it.
    likely = _find_own(bench, gap, here, np.inf, OWN_REACH)
    for _ in range(ROUNDS):
        believed = np.where(own | beyond, is_garment, garment)
        ratio = bench.lesson.teach(believed, before.told | own, likely & (believed != is_garment))
        if ratio is None:
            ratio = log_ratio
        cut = bench.lesson.cut(ratio, as_reals(np.where(believed, 2.0, -2.0)), forced)
        turned = ((cut != garment) & (cut == is_garment)) | own
        stages.append(keep_touched(turned[patches.labels] & wrong, spot))
        own = _cover(bench, stages[-1], here)
        if stages[-1].sum() < GROWING * stages[-2].sum():
            break
        beyond = _find_own(bench, gap, np.flatnonzero(own), OWN_SHARE * area, BEYOND_REACH) & ~own
    piece = _choose(bench, mask, stages)
    mended: Flags = np.where(piece, is_garment, mask)
    return mended, _cover(bench, piece, here)


def _cover(bench: Bench, piece: Flags, here: NDArray[np.integer[Any]]) -> Flags:
    """Return the patches (n,) that lie in a piece, and those `here`."""
    covered: Flags = bench.patches.mean_of(piece) > 0.5
    covered[here] = True
    return covered


def _choose(bench: Bench, mask: Flags, stages: list[Flags]) -> Flags:
    """Return the stage whose new edge runs along the clearest steps of colour, larger ones preferred a little."""
    clear = bench.clearness
    old = np.abs(measure_depth(mask)) > OLD_PX
    area = float(mask.sum())
    worths = []
    for stage in stages:
        rim = _find_rim(stage) & old
        seen = float(clear[rim].mean()) if rim.sum() >= 5 else 0.0
        worths.append(seen + min(float(stage.sum()) / max(area, 1.0), LARGE_SHARE))
    return stages[int(np.argmax(worths))]


def _find_rim(mask: Flags) -> Flags:
    """Return the pixels (h, w) to either side of a mask's edge."""
    cross = np.asarray(cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3)))
    rim: Flags = np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_GRADIENT, cross)) > 0
    return rim


def _find_open(mask: Flags, spot: Flags, is_garment: bool) -> Flags:
    """Return the pixels (h, w) on the wrong side that a hint may turn: not all that lies behind it."""
    wrong: Flags = mask != is_garment
    deep = np.abs(measure_depth(mask))
    at = float(np.median(deep[spot & wrong]))
    away = measure_away(spot)
    near: Flags = wrong & (deep < DEEPER * at + DEEPER_PX) & (away < FARTHER * at + FARTHER_PX)
    return near


def _measure_gaps(patches: Patches, colours: Reals, is_right: Flags) -> csr_matrix:
    """Return how far neighbouring patches look apart, an edge between them included, where neither is right yet.

    Args:
        patches: of the picture.
        colours: (n, 3) their mean colours, in units of how much the floor varies.
        is_right: (n,) True on those that are on the side they are said to be.
    """
    one, two = patches.pair.T
    gap = np.sqrt(((colours[one] - colours[two]) ** 2).sum(1)) + patches.edge + 0.05
    gap = np.where(is_right[one] | is_right[two], 1e3, gap)
    return csr_matrix((gap, (one, two)), shape=(patches.count, patches.count))


def _find_own(bench: Bench, gap: csr_matrix, here: NDArray[np.integer[Any]], area: float, reach: float) -> Flags:
    """Return the patches (n,) `here` and those nearest in look round them, without an edge between.

    Args:
        bench: the picture made ready.
        gap: between neighbours.
        here: patches to start from.
        area: so many pixels more at most.
        reach: so far away in look at most.
    """
    away = dijkstra(gap, directed=False, indices=here, min_only=True, limit=reach)
    order = np.argsort(away)
    taken = np.cumsum(bench.patches.size[order] * (away[order] > 0)) <= area
    own = np.zeros(bench.patches.count, bool)
    own[order[taken & (away[order] <= reach)]] = True
    own[here] = True
    return own
