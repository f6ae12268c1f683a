"""Vouching: parts of a mask that look like floor, and that nothing but themselves speaks for.

What was once taken for cloth teaches what cloth looks like, so a wrong part vouches for itself wherever its own
surroundings are asked. Asked of the whole picture it does not: of all that is cloth a narrow gap between two legs is a
small share, of the floor its colour is a large one.
"""

import cv2
import numpy as np

from ..arrays import Flags
from .band import LocalLooks
from .masks import Reals, as_reals, dilate, fill_holes, find_pieces, keep_largest, keep_touched, measure_depth

BOUND = 4.0
LIKE_FLOOR, MEAN_LIKE_FLOOR, LONG_LIKE_FLOOR = -0.5, -1.2, -0.8
"""Log-likelihood for cloth below which a pixel, a slit on the whole, and a long one look like floor."""
LONG_SLIT, UNLIKE_ELSEWHERE = 0.3, 0.3
"""A slit is long from this share of the garment's extent, if no more than so much of it has its like in the cloth."""
SHORTEST_SLIT, WIDEST_SLIT = 0.12, 0.2
"""A slit is at least this long as a share of the garment's extent; and at most so wide as a share of its length."""
LARGEST_SLIT = 0.15
LEADS_IN = 2.5
"""It leads so many times its own width into the garment; a stripe along the edge does not."""
MOUTH_PX, LONG_MOUTH = 4.0, 0.1
"""A slit comes so near to the garment's edge: it is open there, though at its narrowest that is not seen. A long one
ends this share of its length before it at most: a motif or a shadow bars it."""
RIM_PX = 4.0
WHOLE = 0.97
"""Taken out, a slit leaves this share of the garment in one piece: a stripe from edge to edge would cut it in two."""
ELSEWHERE, ELSEWHERE_PLAIN = 0.5, 0.9
"""Where as much looks like floor elsewhere in the cloth, as a share of the slit, it is a colour of the cloth. On plain
cloth more of it may be other parts of the floor; not as much as a second stripe."""
LOBE_RADII = (0.1, 0.06, 0.03)
"""A lobe hangs on the garment and is thinner than twice this share of its extent."""
SMALLEST_LOBE, LARGEST_LOBE = 0.0008, 0.15
LOBE_LIKE_FLOOR = -1.0
CLEAR_CLOTH, UNCLEAR, ALL_UNCLEAR = 2.5, 1.5, 0.9
"""Where three quarters of a garment are so clearly cloth, a lobe that is nowhere as clear as the second number, in the
mean below it and over this share of its pixels, is no part of it, if the floor has its like: a motif in lamplight is
not quite the colour that its like has farther off. Found on one rug, whose lobes came to 0.6 to 0.9 in
the mean; of the other lobes of 164 scenes no cloth is so, the nearest over 0.88 of its pixels."""
HAS_ITS_LIKE = 0.5
"""So much of the floor, as a share of the lobe, looks like it. What neither has its like in is a cuff or a pocket."""
MOST_BUMPS, LARGEST_BUMP, HIGHEST_BUMP_PX = 12, 0.004, 10.0
"""A bump is no larger, as a share of the garment, and reaches no deeper into it: a cuff or a waistband does."""
STANDS_OUT, BESIDE_PX, OFTEN = 14.0, (1.5, 4.0), 20.0
"""Colour step from a bump to the cloth beside it, and how many times as much of the floor looks like it. Two motifs of
one rug, on which this rests, came to 18 and 35; of 200 composites rims in the light to 6, labels and ribs of the
garment itself to 12 and 16, three of which a step of 8 alone would have taken."""
CLEAR_PX, CLEAR_WINDOW_PX = 5.0, 9
PLAIN_SHARE = 0.95
"""A garment is plain where so much of it is clearly cloth: little of it is of the floor's colours."""
SMALLEST_PX = 40


def find_slits(looks: LocalLooks, mask: Flags, blocked: Flags) -> Flags:
    """Return the pixels (h, w) of narrow gaps that lead into a mask from its edge and look like the floor outside.

    Of 173 scenes (drawn, rendered, photos) 13 had the gap between open legs closed, or its tip: it opened them all, and
    took nothing from the others.

    Args:
        looks: of the picture.
        mask: (h, w) the garment so far.
        blocked: (h, w) True on references.
    """
    filled = fill_holes(mask)
    depth = measure_depth(filled)
    ratio = _measure_ratio(looks, mask & (depth < -2), (depth > 2) & ~blocked)
    like = _smooth_like(ratio) & filled & (depth < -1)
    # Along the rim floor and shade are mixed in.
    inner = mask & (depth < -RIM_PX)
    is_plain = _is_clear(ratio, filled & (depth < -CLEAR_PX), PLAIN_SHARE)
    most_elsewhere = ELSEWHERE_PLAIN if is_plain else ELSEWHERE
    extent, area = _measure_extent(filled), int(filled.sum())
    count, labels, stats, _ = cv2.connectedComponentsWithStats(like.astype(np.uint8), connectivity=8)
    found = np.zeros(mask.shape, bool)
    for number in range(1, count):
        size = int(stats[number, cv2.CC_STAT_AREA])
        length = float(np.hypot(stats[number, cv2.CC_STAT_WIDTH], stats[number, cv2.CC_STAT_HEIGHT]))
        if size < SMALLEST_PX or size > LARGEST_SLIT * area:
            continue
        if length < SHORTEST_SLIT * extent or size > WIDEST_SLIT * length**2:
            continue
        slit = labels == number
        elsewhere = float((like & inner & ~dilate(slit, 3)).sum()) / size
        is_long = length >= LONG_SLIT * extent and elsewhere <= UNLIKE_ELSEWHERE
        if depth[slit].max() < -(max(MOUTH_PX, LONG_MOUTH * length) if is_long else MOUTH_PX):
            continue
        if float(ratio[slit].mean()) > (LONG_LIKE_FLOOR if is_long else MEAN_LIKE_FLOOR):
            continue
        if -float(depth[slit].min()) < LEADS_IN * size / length or elsewhere > most_elsewhere:
            continue
        slit |= _open_mouth(slit, depth, max(2, round(size / length)))
        rest = find_pieces(filled & ~dilate(slit, 2), 2)
        if rest and rest[0].sum() >= WHOLE * sum(int(piece.sum()) for piece in rest):
            found |= slit
    return found


def find_lobes(looks: LocalLooks, mask: Flags, blocked: Flags) -> Flags:
    """Return the pixels (h, w) of parts that hang on a mask and look like the floor and like nothing else of the mask.

    A motif of a rug that touches the hem. Arguments as of `find_slits`.
    """
    extent, area = _measure_extent(mask), int(mask.sum())
    depth = measure_depth(mask)
    outside = (depth > 2) & ~blocked
    found = np.zeros(mask.shape, bool)
    for share in LOBE_RADII:
        radius = max(2.0, share * extent)
        left = mask & ~found
        core = (measure_depth(left) if found.any() else depth) < -radius
        if not core.any():
            continue
        body = keep_largest(measure_depth(core) <= radius)
        if body.sum() < 0.5 * area:
            continue
        for lobe in find_pieces(left & ~dilate(body, 2), 12):
            inner = lobe & (depth < -1.5)
            if not max(SMALLEST_PX, SMALLEST_LOBE * area) < lobe.sum() < LARGEST_LOBE * area or inner.sum() < 20:
                continue
            ratio = _measure_ratio(looks, left & ~lobe & (depth < -2), outside)
            limit = LIKE_FLOOR if float(ratio[inner].mean()) < LOBE_LIKE_FLOOR else None
            is_unclear = limit is None and _is_unclear(ratio, inner, body & (depth < -CLEAR_PX))
            if is_unclear and looks.count_alike(inner, outside) >= HAS_ITS_LIKE * inner.sum():
                limit = UNCLEAR
            if limit is not None:
                # Its root lies within the rounded body: what is of the lobe's kind there goes with it.
                root = dilate(lobe, round(radius)) & left & _smooth_like(ratio, limit)
                found |= keep_touched(root | lobe, lobe)
    return found


def find_bumps(looks: LocalLooks, mask: Flags, blocked: Flags) -> Flags:
    """Return the pixels (h, w) of small flat parts along the edge of a plain garment that look like the floor.

    A motif of a rug that ends under the garment; found on one render of a rug, and on none of 299 other scenes (drawn,
    rendered, photos, composites), from which nothing is taken. Arguments as of `find_slits`.
    """
    depth = measure_depth(mask)
    outside = (depth > 2) & ~blocked
    ratio = _measure_ratio(looks, mask & (depth < -2), outside)
    found = np.zeros(mask.shape, bool)
    if not _is_clear(ratio, mask & (depth < -CLEAR_PX), PLAIN_SHARE):
        return found
    like = _smooth_like(ratio) & mask
    for bump in find_pieces(like, MOST_BUMPS):
        size = int(bump.sum())
        if size < SMALLEST_PX or size > LARGEST_BUMP * mask.sum() or depth[bump].max() < -MOUTH_PX:
            continue
        if -float(depth[bump].min()) > HIGHEST_BUMP_PX or float(ratio[bump].mean()) > LOBE_LIKE_FLOOR:
            continue
        # A rim in the light has no edge towards the cloth.
        if _measure_step(looks, mask, bump) < STANDS_OUT:
            continue
        if looks.count_alike(bump, outside) >= OFTEN * size:
            found |= bump
    return found


def _measure_step(looks: LocalLooks, mask: Flags, part: Flags) -> float:
    """Return how far a part's colour lies from that of the mask beside it, in units of how much the floor varies."""
    depth = measure_depth(part)
    sides = part & (depth < -1), mask & (depth > BESIDE_PX[0]) & (depth < BESIDE_PX[1])
    if not all(side.any() for side in sides):
        return 0.0
    own, beside = (looks.lab[side].mean(axis=0) / looks.floor_spread for side in sides)
    return float(np.linalg.norm(own - beside))


def _open_mouth(slit: Flags, depth: Reals, width: int) -> Flags:
    """Return the pixels (h, w) that lead from a slit's outer end on to the garment's edge, the way it runs."""
    way = np.zeros(slit.shape, np.uint8)
    y, x = np.nonzero(slit)
    outer = int(np.argmax(depth[slit]))
    mouth = np.array([x[outer], y[outer]], float)
    if depth[slit].max() < -MOUTH_PX:
        away = np.hypot(x - mouth[0], y - mouth[1])
        near = np.argsort(away)[: max(8, len(x) // 3)]
        heading = mouth - np.array([x[near].mean(), y[near].mean()])
        reach = -2.0 * float(depth[slit].max()) / max(float(np.hypot(*heading)), 1e-6)
        ends = [tuple(round(value) for value in place) for place in (mouth, mouth + reach * heading)]
        cv2.line(way, ends[0], ends[1], 1, width)
    opened: Flags = (way > 0) & (depth < 0)
    return opened


def _measure_ratio(looks: LocalLooks, cloth: Flags, floor: Flags) -> Reals:
    return as_reals(np.clip(looks.measure_wide_ratio(cloth, floor), -BOUND, BOUND))


def _smooth_like(ratio: Reals, limit: float = LIKE_FLOOR) -> Flags:
    like: Flags = as_reals(cv2.GaussianBlur(ratio, (0, 0), 1.0)) < limit
    return like


def _is_unclear(ratio: Reals, lobe: Flags, body: Flags) -> bool:
    """Whether a lobe is not clearly cloth anywhere, where nearly all of the body is."""
    if (ratio[lobe] < UNCLEAR).mean() < ALL_UNCLEAR or ratio[lobe].mean() >= UNCLEAR:
        return False
    return _is_clear(ratio, body, 0.75)


def _is_clear(ratio: Reals, body: Flags, share: float) -> bool:
    """Whether so much of the body is clearly cloth."""
    clear = as_reals(cv2.blur(ratio, (CLEAR_WINDOW_PX, CLEAR_WINDOW_PX)))[body]
    return len(clear) > 0 and float(np.quantile(clear, 1 - share)) >= CLEAR_CLOTH


def _measure_extent(mask: Flags) -> float:
    y, x = np.nonzero(mask)
    return float(max(np.ptp(x), np.ptp(y))) if len(x) else 0.0
