"""Cut line: which stretches of a piece's ring are cut, which lie on a fold, which on a finished edge of the cloth."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from ..arrays import Flags, Floats, frozen
from ..geometry.polylines import tangent_at_end, tangent_at_start
from ..pieces.piece import Finish, Piece, SeamEdge
from .arrows import left_of, unit

_ON_LINE_MM = 0.05
"""Rings are drawn from the very points of the edges; this only covers rounding in archived files."""
_STRAIGHT_MM = 0.5
_PARALLEL = 0.02
"""Sine of the angle allowed between a fold and its run through the allowances."""


class StretchKind(StrEnum):
    """What happens along a stretch of the ring."""

    CUT = "cut line"
    FOLD = "fold line"
    FINISHED = "finished edge"


@dataclass(frozen=True, eq=False)
class Stretch:
    """A run of the piece's ring of one kind.

    Attributes:
        kind: what happens along it.
        points_mm: (N, 2) in the ring's order.
        is_closed: the run is the whole ring.
    """

    kind: StretchKind
    points_mm: Floats
    is_closed: bool = False


def split_ring(piece: Piece) -> tuple[Stretch, ...]:
    """Return the piece's ring as runs that are cut, folded or finished.

    Folds and finished edges run on through the allowances at their ends, where the ring follows them straight on.
    """
    ring = np.asarray(piece.cut_ring_mm, dtype=np.float64)
    following = np.roll(ring, -1, axis=0)
    is_fold, is_finished = np.zeros(len(ring), dtype=bool), np.zeros(len(ring), dtype=bool)
    for edge in piece.edges:
        if edge.finish is Finish.FOLD:
            is_fold |= _along_fold(edge, ring, following)
        elif edge.finish is Finish.FINISHED:
            line = _run_on(edge.points_mm)
            stops = (ring, 0.5 * (ring + following), following)
            is_finished |= np.all([distance_mm(points, line) <= _ON_LINE_MM for points in stops], axis=0)
    kinds = [
        StretchKind.FOLD if fold else StretchKind.FINISHED if finished else StretchKind.CUT
        for fold, finished in zip(is_fold, is_finished, strict=True)
    ]
    return tuple(_runs(ring, kinds))


def _run_on(points_mm: Floats) -> Floats:
    """Return the line continued straight at both ends, farther than any allowance."""
    far = 150.0
    start, end = points_mm[0] - far * tangent_at_start(points_mm), points_mm[-1] + far * tangent_at_end(points_mm)
    return np.vstack([start, points_mm, end])


def _along_fold(edge: SeamEdge, ring: Floats, following: Floats) -> Flags:
    points = np.asarray(edge.points_mm, dtype=np.float64)
    way = points[-1] - points[0]
    way = way / max(float(np.hypot(*way)), 1e-9)
    normal = np.array([-way[1], way[0]])
    if np.abs((points - points[0]) @ normal).max() <= _STRAIGHT_MM:
        off_start, off_end = np.abs((ring - points[0]) @ normal), np.abs((following - points[0]) @ normal)
    else:
        off_start = distance_mm(ring, points)
        off_end = np.roll(off_start, -1)
    step = following - ring
    sine = np.abs(step @ normal) / np.maximum(np.hypot(*step.T), 1e-9)
    limit = max(_ON_LINE_MM, float(np.abs((points - points[0]) @ normal).max()))
    along: Flags = (off_start <= limit) & (off_end <= limit) & (sine <= _PARALLEL)
    return along


def distance_mm(points: Floats, line: Floats) -> Floats:
    """Return the distance of each of (N, 2) points from an open line [mm]."""
    line = np.asarray(line, dtype=np.float64)
    starts, ways = line[:-1], np.diff(line, axis=0)
    squares = np.maximum((ways**2).sum(axis=1), 1e-18)
    offsets = points[:, None, :] - starts[None]
    share = np.clip((offsets * ways).sum(axis=2) / squares, 0, 1)
    distances: Floats = np.linalg.norm(offsets - share[..., None] * ways, axis=2).min(axis=1)
    return distances


def _runs(ring: Floats, kinds: list[StretchKind]) -> list[Stretch]:
    if len(set(kinds)) == 1:
        return [Stretch(kinds[0], frozen(ring), is_closed=True)]
    count = len(ring)
    first = next(i for i in range(count) if kinds[i] != kinds[i - 1])
    runs: list[Stretch] = []
    start = first
    for i in range(first + 1, first + count + 1):
        if i == first + count or kinds[i % count] != kinds[start % count]:
            runs.append(Stretch(kinds[start % count], frozen(ring[np.arange(start, i + 1) % count])))
            start = i
    return runs


def is_named(edge: SeamEdge, piece: Piece) -> bool:
    """Tell whether an inner line with its own words lies on the edge."""
    ends = np.asarray(edge.points_mm)[[0, -1]]
    for line in piece.inner_lines:
        others = np.asarray(line.points_mm)[[0, -1]]
        # An inner line may run on to the cut line at its ends.
        reach = 0.5 + 3 * max((e.allowance_mm for e in piece.edges if e.finish is Finish.SEAM), default=0.0)
        gap = min(np.abs(ends - others).max(), np.abs(ends - others[::-1]).max())
        if gap < reach and _on_line(np.asarray(edge.points_mm), np.asarray(line.points_mm)):
            return True
    return False


def _on_line(points: Floats, line: Floats) -> bool:
    """Tell whether points lie on a line within half a millimetre, its ends left out."""
    return bool(distance_mm(points[1:-1] if len(points) > 2 else points.mean(axis=0)[None], line).max() < 0.5)


def bracket_mm(fold: Floats, piece: Piece) -> Floats:
    """Return the (4, 2) corners of the bracket: fold, in, along, back to the fold."""
    first, last = fold[0], fold[-1]
    way = last - first
    length = float(np.hypot(*way))
    span = min(0.5 * length, 260.0)
    # The ring runs counter-clockwise, so the piece lies on the left.
    inward = left_of(unit(way))
    depth = min(13.0, 0.16 * float(((piece.cut_ring_mm - first) @ inward).max()))
    middle = (first + last) / 2
    a, b = middle - unit(way) * span / 2, middle + unit(way) * span / 2
    return np.array([a, a + inward * depth, b + inward * depth, b])
