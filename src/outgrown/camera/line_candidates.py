"""Candidates for straight lines of the floor: short straight bits of edge gathered into long arcs.

The lens bows what is straight, by up to tens of pixels, so bits are not gathered along straight lines but along the
arcs that straight lines become under a radial distortion. Its strength is first guessed from all bits together: it is
the one under which they gather into the fewest lines. The guess only tells where to look.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from ..arrays import Bytes, Flags, Floats
from .lens import Lens

SMALL_PX = 1000
"""Long side of the picture in which bits are sought: joints of 1 mm still show, and it takes a tenth of a second."""
MIN_SHARE = 0.15
"""Shortest line worth having, as a share of the picture's diagonal."""
_SHORTEST_BIT_PX = 9.0
_GUESSES = np.linspace(-0.075, 0.075, 11)
"""Radial distortions tried; wider than corrected phone pictures (-0.05..0.05) have."""
USUAL_FOCAL = 0.6
"""Focal length over the diagonal for 26 mm equivalent. Only scales `_GUESSES`."""
_TURNS = 720
_OFFSET_PX = 3.0
_NEAR_PX = 3.0
_MOST = 45
_VOTERS = 500
"""The longest bits suffice to guess the distortion."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """Where a long line may run: straight in the undistorted picture of `lens`.

    Attributes:
        lens: a usual focal length and the guessed distortion, in full-size pixels.
        first: (2,) one end as a ray.
        last: (2,) the other end as a ray.
        covered: share of the length on which bits of edge lie.
    """

    lens: Lens
    first: Floats
    last: Floats
    covered: float

    def path_px(self, step_px: float, beyond_px: float = 0.0) -> tuple[Floats, Floats]:
        """Return (N, 2) points of the arc about `step_px` apart, and their unit normals."""
        along = self.last - self.first
        length = float(np.linalg.norm(along)) * self.lens.focal_px
        more = beyond_px / length
        count = max(int(length * (1 + 2 * more) / step_px), 8)
        share = np.linspace(-more, 1 + more, count)[:, None]
        points = self.lens.to_px(self.first + share * along)
        tangents = np.gradient(points, axis=0)
        tangents /= np.linalg.norm(tangents, axis=1, keepdims=True)
        return points, np.column_stack([-tangents[:, 1], tangents[:, 0]])


def find_candidates(grey: Bytes, keep_out_px: Sequence[Floats] = ()) -> list[Candidate]:
    """Return candidates, longest first.

    Args:
        grey: (H, W) picture.
        keep_out_px: rings in which nothing is sought.
    """
    height, width = grey.shape
    shrink = max(max(height, width) / SMALL_PX, 1.0)
    size = (round(width / shrink), round(height / shrink))
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    found = cv2.createLineSegmentDetector(cv2.LSD_REFINE_NONE, 1.0).detect(small)[0]
    if found is None:
        return []
    bits = found.reshape(-1, 2, 2).astype(np.float64)
    bits = bits[np.linalg.norm(bits[:, 1] - bits[:, 0], axis=1) >= _SHORTEST_BIT_PX]
    if keep_out_px:
        blocked = keep_out_mask(keep_out_px, (size[1], size[0]), shrink, 3)
        middle = np.clip(np.rint(bits.mean(axis=1)).astype(int), 0, np.array(size) - 1)
        bits = bits[~blocked[middle[:, 1], middle[:, 0]]]
    if len(bits) < 2:
        return []
    bits = (bits + 0.5) * shrink - 0.5
    diagonal = math.hypot(width, height)
    centre = ((width - 1) / 2, (height - 1) / 2)
    lenses = [Lens(USUAL_FOCAL * diagonal, centre, (float(k1), 0.0, 0.0, 0.0, 0.0)) for k1 in _GUESSES]
    order = np.argsort(-np.linalg.norm(bits[:, 1] - bits[:, 0], axis=1))
    ballots = [_vote(bits[order[:_VOTERS]], lens, shrink, diagonal) for lens in lenses]
    # Squares prefer few full cells to many half-full ones.
    best = lenses[int(np.argmax([float((ballot**2).sum()) for ballot in ballots]))]
    return _gather(bits, best, _vote(bits, best, shrink, diagonal), shrink, diagonal)


def keep_out_mask(rings_px: Sequence[Floats], shape: tuple[int, int], shrink: float, margin: int) -> Flags:
    """Return (h, w) flags of the pixels of a picture `shrink` times smaller within the rings or `margin` round them."""
    mask = np.zeros(shape, dtype=np.uint8)
    rings = [np.rint((np.asarray(ring) + 0.5) / shrink - 0.5).astype(np.int32) for ring in rings_px]
    cv2.fillPoly(mask, rings, 1)
    wider = cv2.dilate(mask, np.ones((2 * margin + 1, 2 * margin + 1), np.uint8))
    flags: Flags = np.asarray(wider) > 0
    return flags


def _flat(bits: Floats, lens: Lens) -> Floats:
    """Return (N, 2, 2) the bits' ends without distortion, in pixels from the centre."""
    rays = lens.to_rays(bits.reshape(-1, 2)).reshape(-1, 2, 2)
    flat: Floats = rays * lens.focal_px
    return flat


def _vote(bits: Floats, lens: Lens, shrink: float, diagonal: float) -> Floats:
    """Return (turns, offsets) summed lengths of bits that lie on each straight line (Hough's transform)."""
    flat = _flat(bits, lens)
    along = flat[:, 1] - flat[:, 0]
    length = np.linalg.norm(along, axis=1)
    middle = flat.mean(axis=1)
    # A bit's direction is uncertain by about a (small) pixel over its length; it votes for all lines within.
    turn = np.arctan2(along[:, 0], -along[:, 1]) / math.pi * _TURNS
    spread = np.clip(shrink / length / math.pi * _TURNS, 0.5, 8)
    steps = np.arange(-8, 9)
    cells = np.rint(turn)[:, None] + steps
    weight = np.where(np.abs(cells - turn[:, None]) <= spread[:, None] + 0.5, 1.0, 0.0)
    weight *= (length / weight.sum(axis=1).clip(1))[:, None]
    angle = cells * (math.pi / _TURNS)
    offset = middle[:, :1] * np.cos(angle) + middle[:, 1:] * np.sin(angle)
    wrapped = np.mod(cells, _TURNS).astype(int)
    offset = np.where(np.mod(cells, 2 * _TURNS) >= _TURNS, -offset, offset)
    bin_px = _OFFSET_PX * shrink
    count = int(diagonal / bin_px) + 3
    place = np.clip(np.rint(offset / bin_px).astype(int) + count // 2, 0, count - 1)
    used = weight > 0
    cells_used = (wrapped * count + place)[used]
    ballot: Floats = np.bincount(cells_used, weight[used], minlength=_TURNS * count).astype(np.float64)
    return ballot.reshape(_TURNS, count)


def _gather(bits: Floats, lens: Lens, ballot: Floats, shrink: float, diagonal: float) -> list[Candidate]:
    flat = _flat(bits, lens)
    lengths = np.linalg.norm(flat[:, 1] - flat[:, 0], axis=1)
    free = np.ones(len(bits), dtype=bool)
    tally = cv2.blur(ballot, (3, 3), borderType=cv2.BORDER_REPLICATE) * 9
    bin_px = _OFFSET_PX * shrink
    least = 0.3 * MIN_SHARE * diagonal
    found: list[Candidate] = []
    for _ in range(3 * _MOST):
        turn, place = np.unravel_index(int(np.argmax(tally)), tally.shape)
        if tally[turn, place] < least or len(found) >= _MOST:
            break
        tally[max(turn - 2, 0) : turn + 3, max(place - 1, 0) : place + 2] = 0
        angle = float(turn) * math.pi / _TURNS
        normal = np.array([math.cos(angle), math.sin(angle)])
        offset = (float(place) - ballot.shape[1] // 2) * bin_px
        near, chosen = 2.2 * _NEAR_PX * shrink, np.zeros(0, dtype=int)
        for _ in range(4):
            chosen = _on_line(flat, lengths, normal, offset, near, shrink) & free
            if lengths[chosen].sum() < least:
                break
            normal, offset = _line_through(flat[chosen], lengths[chosen])
            near = _NEAR_PX * shrink
        if lengths[chosen].sum() < least:
            continue
        free &= ~chosen
        tangent = np.array([-normal[1], normal[0]])
        reach = np.sort(flat[chosen] @ tangent, axis=1)
        first, last = _longest_run(reach, 0.35 * diagonal)
        if last - first < MIN_SHARE * diagonal:
            continue
        covered = _covered(reach, first, last)
        if covered < 0.25:
            continue
        ends = [(normal * offset + tangent * end) / lens.focal_px for end in (first, last)]
        found.append(Candidate(lens, ends[0], ends[1], covered))
    return sorted(found, key=lambda one: -float(np.linalg.norm(one.last - one.first)) * one.covered)


def _on_line(flat: Floats, lengths: Floats, normal: Floats, offset: float, near: float, shrink: float) -> Flags:
    away = flat @ normal - offset
    slant = np.abs(away[:, 1] - away[:, 0])
    on: Flags = (np.abs(away.mean(axis=1)) < near) & (slant < 1.5 * shrink + 0.035 * lengths)
    return on


def _line_through(flat: Floats, lengths: Floats) -> tuple[Floats, float]:
    points = flat.reshape(-1, 2)
    weight = np.repeat(lengths, 2)
    mean = (points * weight[:, None]).sum(axis=0) / weight.sum()
    spread = ((points - mean) * weight[:, None]).T @ (points - mean)
    normal = np.linalg.eigh(spread)[1][:, 0]
    return normal, float(normal @ mean)


def _longest_run(reach: Floats, widest_gap: float) -> tuple[float, float]:
    """Return the longest stretch of (N, 2) intervals without a gap wider than `widest_gap`."""
    best, first, last = (0.0, 0.0), None, 0.0
    for start, end in reach[np.argsort(reach[:, 0])]:
        if first is None or start > last + widest_gap:
            first, last = start, end
        last = max(last, end)
        if last - first > best[1] - best[0]:
            best = (float(first), float(last))
    return best


def _covered(reach: Floats, first: float, last: float) -> float:
    total, done = 0.0, first
    for start, end in reach[np.argsort(reach[:, 0])]:
        total += max(0.0, min(end, last) - max(start, done))
        done = max(done, end)
    return total / max(last - first, 1e-9)
