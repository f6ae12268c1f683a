"""Quads: candidate rectangles put together from straight pieces of edge.

Three kinds of evidence start a candidate: a side with two corners (then the fourth side is looked for), a corner
with two arms, and two opposite corners. So a reference is still proposed when one side, or two, cannot be seen.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ...arrays import Floats
from .levels import Level

Ints = NDArray[np.intp]

# Under 35 degrees of tilt a card's corners are seen between about 65 and 115 degrees; a sheet near the lens adds some.
NARROWEST_CORNER_DEG = 58.0
MOST_ARMS_PER_END = 5
MOST_UNIONS = 700
MOST_CORNERS = 700
MOST_THREE_SIDED = 2000
# Long side over short side in the photo: 1.29 to 1.59 in truth, foreshortened either way by up to 35 degrees.
LEAST_RATIO = 0.95
MOST_RATIO = 2.15


def merge_segments(segments: Floats) -> Floats:
    """Return `segments` together with the unions of pieces which lie on one line with a small gap between.

    Args:
        segments: (N, 4) x0, y0, x1, y1, longest first.
    """
    grown = segments
    for _ in range(2):
        union = _unions(grown)
        if not len(union):
            break
        grown = np.concatenate([grown, union])
    length = _lengths(grown)
    return grown[np.argsort(-length)]


def find_quads(segments: Floats, levels: list[Level]) -> Floats:
    """Return candidate quads (M, 4, 2) in px of the first level, corners going round, not yet judged."""
    if len(segments) < 2:
        return np.zeros((0, 4, 2))
    corners = _find_corners(segments)
    quads = [
        _from_three_sides(segments, corners, levels),
        _from_two_sides(corners),
        _from_opposite_corners(corners),
    ]
    return np.concatenate(quads)


def distinct(rows: Floats) -> Ints:
    """Return, in order, the indices of the first of every group of rows that round to the same whole numbers."""
    weights = np.random.default_rng(7).integers(1, 2**40, rows.shape[1])
    keys = (np.rint(rows).astype(np.int64) * weights).sum(axis=1)
    return np.sort(np.unique(keys, return_index=True)[1])


def _lengths(segments: Floats) -> Floats:
    return np.hypot(segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1])


def _cross(a: Floats, b: Floats) -> Floats:
    crossed: Floats = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return crossed


def _unions(segments: Floats) -> Floats:
    """Join pairs of pieces end to end: same direction, on one line, gap no longer than the longer piece."""
    length = _lengths(segments)
    ends = np.concatenate([segments[:, :2], segments[:, 2:]])
    owner = np.tile(np.arange(len(segments)), 2)
    which = np.repeat([0, 1], len(segments))
    pairs = []
    for least, radius in ((0.0, 8.0), (16.0, 24.0), (60.0, 60.0)):
        chosen = np.flatnonzero(length[owner] >= least)
        if len(chosen) > 1:
            found = cKDTree(ends[chosen]).query_pairs(radius, output_type="ndarray")
            pairs.append(chosen[found])
    if not pairs:
        return np.zeros((0, 4))
    pair = np.concatenate(pairs)
    first, second = owner[pair[:, 0]], owner[pair[:, 1]]
    far_first = np.where(which[pair[:, 0], None] == 0, segments[first, 2:], segments[first, :2])
    far_second = np.where(which[pair[:, 1], None] == 0, segments[second, 2:], segments[second, :2])
    near_first, near_second = ends[pair[:, 0]], ends[pair[:, 1]]
    along = far_second - far_first
    whole = np.hypot(along[:, 0], along[:, 1])
    sound = (first != second) & (whole > length[first] + length[second] - 3.0)
    unit = along / np.maximum(whole, 1e-9)[:, None]
    off_first = np.abs(_cross(unit, near_first - far_first))
    off_second = np.abs(_cross(unit, near_second - far_first))
    gap = np.einsum("ij,ij->i", unit, near_second - near_first)
    limit = 1.0 + 0.006 * whole
    sound &= (off_first < limit) & (off_second < limit)
    sound &= (gap > -4.0) & (gap < np.maximum(length[first], length[second]))
    union: Floats = np.concatenate([far_first, far_second], axis=1)[sound]
    if not len(union):
        return union
    # The same union is often reached from several pairs.
    turned = np.where((union[:, :1] < union[:, 2:3]), union, union[:, [2, 3, 0, 1]])
    kept = distinct(turned / 3.0)
    length = _lengths(union[kept])
    longest: Floats = union[kept[np.argsort(-length)[:MOST_UNIONS]]]
    return longest


class _Corners:
    """Places where an end of one piece meets an end of another at a likely angle.

    Each corner appears twice, once from each of its two pieces ("this" and "other").
    """

    def __init__(
        self, at: Floats, this: Ints, this_end: Ints, other: Ints, arm: Floats, other_arm: Floats, gap: Floats
    ) -> None:
        self.at, self.this, self.this_end, self.other = at, this, this_end, other
        self.arm, self.other_arm, self.gap = arm, other_arm, gap


def _find_corners(segments: Floats) -> _Corners:
    length = _lengths(segments)
    count = len(segments)
    ends = np.concatenate([segments[:, :2], segments[:, 2:]])
    outward = np.concatenate([segments[:, :2] - segments[:, 2:], segments[:, 2:] - segments[:, :2]])
    outward /= np.tile(np.maximum(length, 1e-9), 2)[:, None]
    pairs = []
    for least, radius in ((0.0, 8.0), (22.0, 20.0), (70.0, 60.0)):
        chosen = np.flatnonzero(np.tile(length, 2) >= least)
        if len(chosen) > 1:
            pairs.append(chosen[cKDTree(ends[chosen]).query_pairs(radius, output_type="ndarray")])
    pair = np.unique(np.concatenate(pairs), axis=0) if pairs else np.zeros((0, 2), np.intp)
    a, b = pair[:, 0], pair[:, 1]
    turn = _cross(outward[a], outward[b])
    right = np.abs(turn) > np.sin(np.radians(NARROWEST_CORNER_DEG))
    right &= (a % count) != (b % count)
    a, b, turn = a[right], b[right], turn[right]
    # Where the two lines meet, as a distance beyond each end along its own piece.
    between = ends[b] - ends[a]
    beyond_a = _cross(between, outward[b]) / turn
    beyond_b = _cross(between, outward[a]) / turn
    la, lb = length[a % count], length[b % count]
    reach_a, reach_b = np.maximum(5.0, 0.5 * la), np.maximum(5.0, 0.5 * lb)
    meets = (beyond_a > -np.maximum(3.0, 0.12 * la)) & (beyond_a < reach_a)
    meets &= (beyond_b > -np.maximum(3.0, 0.12 * lb)) & (beyond_b < reach_b)
    a, b, beyond_a, beyond_b = a[meets], b[meets], beyond_a[meets], beyond_b[meets]
    at = ends[a] + outward[a] * beyond_a[:, None]
    far_a = np.where((a < count)[:, None], segments[a % count, 2:], segments[a % count, :2])
    far_b = np.where((b < count)[:, None], segments[b % count, 2:], segments[b % count, :2])
    gap = np.abs(beyond_a) / np.maximum(length[a % count], 1) + np.abs(beyond_b) / np.maximum(length[b % count], 1)
    return _Corners(
        np.concatenate([at, at]),
        np.concatenate([a % count, b % count]),
        np.concatenate([a // count, b // count]),
        np.concatenate([b % count, a % count]),
        np.concatenate([far_a - at, far_b - at]),
        np.concatenate([far_b - at, far_a - at]),
        np.concatenate([gap, gap]),
    )


def _from_three_sides(segments: Floats, corners: _Corners, levels: list[Level]) -> Floats:
    """A middle side with an arm at both ends; the fourth side from the arms' ends and from the strongest edge."""
    order = np.lexsort((corners.gap, corners.this_end, corners.this))
    key = corners.this[order] * 2 + corners.this_end[order]
    rank = np.arange(len(key)) - np.searchsorted(key, key)
    order = order[rank < MOST_ARMS_PER_END]
    key = corners.this[order] * 2 + corners.this_end[order]
    starts = order[key % 2 == 0]
    stops = order[key % 2 == 1]
    # All pairs (start, stop) sharing the middle piece.
    low = np.searchsorted(corners.this[stops], corners.this[starts], "left")
    high = np.searchsorted(corners.this[stops], corners.this[starts], "right")
    repeat = high - low
    first = np.repeat(starts, repeat)
    offset = np.arange(repeat.sum()) - np.repeat(np.cumsum(repeat) - repeat, repeat)
    second = stops[np.repeat(low, repeat) + offset]
    p, q = corners.at[first], corners.at[second]
    arm_p, arm_q = corners.other_arm[first], corners.other_arm[second]
    middle = q - p
    width = np.hypot(middle[:, 0], middle[:, 1])
    side_p, side_q = _cross(middle, arm_p), _cross(middle, arm_q)
    gaps = 0.3 * (corners.gap[first] + corners.gap[second])
    sound = (side_p * side_q > 0) & (width > 14)
    p, q, arm_p, arm_q, width, gaps = (values[sound] for values in (p, q, arm_p, arm_q, width, gaps))
    long_p, long_q = np.hypot(*arm_p.T), np.hypot(*arm_q.T)
    unit_p, unit_q = arm_p / long_p[:, None], arm_q / long_q[:, None]
    near_parallel = np.abs(_cross(unit_p, unit_q)) < np.sin(np.radians(18))
    longer = np.maximum(long_p, long_q)
    sound = near_parallel & (longer > 0.25 * width / MOST_RATIO)
    shape = np.concatenate([p / 3, q / 3, unit_p * width[:, None] / 4, unit_q * width[:, None] / 4], axis=1)
    chosen = np.flatnonzero(sound)
    chosen = chosen[distinct(shape[chosen])]
    # Best first: both arms long against the middle side, neither much longer than a card could make it.
    part = np.minimum(np.minimum(long_p, long_q)[chosen] / width[chosen], 0.6)
    part += np.minimum(longer[chosen] / width[chosen], 0.6) - gaps[chosen]
    sound = chosen[np.argsort(-part)[:MOST_THREE_SIDED]]
    p, q, unit_p, unit_q, long_p, long_q, width = (
        values[sound] for values in (p, q, unit_p, unit_q, long_p, long_q, width)
    )
    quads = [_close(p, q, unit_p * long_p[:, None], unit_q * long_q[:, None])]
    for arm in (long_p, long_q):
        quads.append(_close(p, q, unit_p * arm[:, None], unit_q * arm[:, None]))
    quads.extend(_strongest_ends(p, q, unit_p, unit_q, width, levels))
    return np.concatenate(quads)


def _close(p: Floats, q: Floats, arm_p: Floats, arm_q: Floats) -> Floats:
    return np.stack([p, q, q + arm_q, p + arm_p], axis=1)


def _strongest_ends(
    p: Floats, q: Floats, unit_p: Floats, unit_q: Floats, width: Floats, levels: list[Level]
) -> list[Floats]:
    """Slide the fourth side along the arms; return the quads at its strongest places."""
    steps = np.linspace(1 / MOST_RATIO, MOST_RATIO, 70)
    across = np.linspace(0.15, 0.85, 10)
    found = []
    for index, level in enumerate(levels):
        ratio = level.scale / levels[0].scale
        # Steps of about a pixel: a wide side is looked at in a coarser level.
        chosen = width * ratio < 70
        if index > 0:
            chosen &= width * ratio * 2 >= 70
        if index == len(levels) - 1:
            chosen = width * ratio * 2 >= 70
        if not chosen.any():
            continue
        pc, qc = p[chosen], q[chosen]
        up, uq, w = unit_p[chosen], unit_q[chosen], width[chosen]
        t = w[:, None] * steps
        end_p = pc[:, None] + up[:, None] * t[..., None]
        end_q = qc[:, None] + uq[:, None] * t[..., None]
        points = end_p[:, :, None] + (end_q - end_p)[:, :, None] * across[:, None]
        points = (points + 0.5) * ratio - 0.5
        along = end_q - end_p
        along /= np.maximum(np.hypot(along[..., 0], along[..., 1]), 1e-9)[..., None]
        cols = np.clip(np.round(points[..., 0]).astype(np.intp), 0, level.size_px[0] - 1)
        rows = np.clip(np.round(points[..., 1]).astype(np.intp), 0, level.size_px[1] - 1)
        slope_x, slope_y = level.slope_x[rows, cols], level.slope_y[rows, cols]
        normal = np.abs(slope_x * -along[..., None, 1] + slope_y * along[..., None, 0])
        strength = np.minimum(normal, 12.0).mean(axis=-1)
        peak = strength.copy()
        peak[:, 1:] = np.where(strength[:, 1:] >= strength[:, :-1], peak[:, 1:], 0)
        peak[:, :-1] = np.where(strength[:, :-1] >= strength[:, 1:], peak[:, :-1], 0)
        best = np.argsort(-peak, axis=1)[:, :3]
        rows_index = np.arange(len(pc))
        for column in range(3):
            at = best[:, column]
            found.append(np.stack([pc, qc, end_q[rows_index, at], end_p[rows_index, at]], axis=1))
    return found


def _from_two_sides(corners: _Corners) -> Floats:
    """One corner and its two whole arms, closed to a parallelogram."""
    half = len(corners.at) // 2
    at, arm, other = corners.at[:half], corners.arm[:half], corners.other_arm[:half]
    a, b = np.hypot(*arm.T), np.hypot(*other.T)
    ratio = np.maximum(a, b) / np.maximum(np.minimum(a, b), 1e-9)
    sound = (ratio > LEAST_RATIO) & (ratio < MOST_RATIO) & (np.minimum(a, b) > 14)
    at, arm, other = at[sound], arm[sound], other[sound]
    return np.stack([at, at + arm, at + arm + other, at + other], axis=1)


def _from_opposite_corners(corners: _Corners) -> Floats:
    """Two corners that look at each other, each with parts of two sides."""
    half = len(corners.at) // 2
    at, arm, other = corners.at[:half], corners.arm[:half], corners.other_arm[:half]
    a, b = np.hypot(*arm.T), np.hypot(*other.T)
    least = np.minimum(a, b)
    found = []
    for low, high, radius in ((10.0, 30.0, 100.0), (30.0, 80.0, 260.0), (80.0, np.inf, 800.0)):
        chosen = np.flatnonzero((least >= low) & (least < high * 3))
        if len(chosen) > MOST_CORNERS:
            chosen = chosen[np.argsort(-least[chosen])[:MOST_CORNERS]]
        if len(chosen) < 2:
            continue
        pair = chosen[cKDTree(at[chosen]).query_pairs(radius, output_type="ndarray")]
        if len(pair):
            found.append(_opposite(at, arm, other, pair))
    return np.concatenate(found) if found else np.zeros((0, 4, 2))


def _opposite(at: Floats, arm: Floats, other: Floats, pair: Ints) -> Floats:
    i, j = pair[:, 0], pair[:, 1]
    diagonal = at[j] - at[i]
    span = np.hypot(*diagonal.T)
    sound = span > 22
    # The diagonal must leave each corner between its arms.
    for corner, sign in ((i, 1.0), (j, -1.0)):
        inside = _cross(arm[corner], diagonal * sign) * _cross(diagonal * sign, other[corner])
        ahead = np.einsum("ij,ij->i", arm[corner] + other[corner], diagonal * sign)
        sound &= (inside > 0) & (ahead > 0)
    i, j, diagonal, span = i[sound], j[sound], diagonal[sound], span[sound]
    ui, vi = _unit(arm[i]), _unit(other[i])
    uj, vj = _unit(arm[j]), _unit(other[j])
    straight = np.abs(_cross(ui, uj)) < np.abs(_cross(ui, vj))
    uj, vj = np.where(straight[:, None], uj, vj), np.where(straight[:, None], vj, uj)
    tolerance = np.sin(np.radians(15))
    sound = (np.abs(_cross(ui, uj)) < tolerance) & (np.abs(_cross(vi, vj)) < tolerance)
    i, j, ui, vi, uj, vj = i[sound], j[sound], ui[sound], vi[sound], uj[sound], vj[sound]
    between = at[j] - at[i]
    # Line (i, ui) meets line (j, vj), and line (i, vi) meets line (j, uj).
    s = _cross(between, vj) / _cross(ui, vj)
    t = _cross(between, uj) / _cross(vi, uj)
    longer, shorter = np.maximum(s, t), np.minimum(s, t)
    sound = (shorter > 14) & (longer < MOST_RATIO * shorter)
    i, j, ui, vi, s, t = i[sound], j[sound], ui[sound], vi[sound], s[sound], t[sound]
    return np.stack([at[i], at[i] + ui * s[:, None], at[j], at[i] + vi * t[:, None]], axis=1)


def _unit(vectors: Floats) -> Floats:
    unit: Floats = vectors / np.maximum(np.hypot(vectors[..., 0], vectors[..., 1]), 1e-9)[..., None]
    return unit
