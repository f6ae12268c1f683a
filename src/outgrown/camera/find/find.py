"""Find: references anywhere in a photo, or at a place somebody points to."""

import logging
from collections.abc import Collection

import numpy as np

from ...arrays import Floats, frozen
from ...photo import Photo
from ...progress import Progress, silent
from ..reference import EdgeSamples, Kind, Reference
from .candidates import find_candidates
from .judge import Judged, judge_first, judge_last, measure_last
from .levels import make_levels
from .shape import find_corners_mm, find_thickness_mm

log = logging.getLogger(__name__)

# What is found by its four edges; printed targets have a finder of their own.
KINDS = (Kind.CARD, Kind.A4, Kind.LETTER)
LEAST_SCORE = 0.3
MOST_MEASURED = 14
SURE_SCORE = 0.85
# Natural logarithm. A card's own tilt is known to a few degrees: its floor's distance to some 5 %.
MOST_HEIGHT_RATIO = 0.14
# 1 standard deviation. Card: ISO/IEC 7810 allows 0.15 % when new; sheets are cut to 2 mm, offices' far better.
SIZE_DOUBT = {Kind.CARD: 0.0008, Kind.A4: 0.002, Kind.LETTER: 0.002}


def find_references(
    photo: Photo, *, kinds: Collection[Kind] | None = None, progress: Progress = silent
) -> list[Reference]:
    """Return every card and sheet of known size lying flat in `photo`, the surest first.

    Args:
        photo: upright, with its focal length if known.
        kinds: what to look for; default: all.
        progress: told how far the work is.
    """
    wanted = tuple(kinds) if kinds is not None else tuple(SIZE_DOUBT)
    progress("Looking for the card or sheet", 0.0)
    levels = make_levels(photo.pixels)
    progress("Looking for the card or sheet", 0.15)
    quads, _ = find_candidates(levels, photo, wanted)
    progress("Looking for the card or sheet", 0.6)
    judged = _judge(photo, quads, 2.5 / levels[0].scale, wanted)
    progress("Looking for the card or sheet", 1.0)
    return [make_reference(measure_last(photo, j)) for j in judged]


def _judge(photo: Photo, quads: Floats, reach_px: float, kinds: tuple[Kind, ...]) -> list[Judged]:
    first: list[Judged] = []
    seen: list[Floats] = []
    for quad in quads:
        first.extend(judge_first(photo, quad, reach_px, kinds, seen))
    first.sort(key=lambda j: -j.score)
    chosen: list[Judged] = []
    for candidate in first:
        same = [c for c in chosen if c.pose.kind is candidate.pose.kind and _apart(c, candidate) < 2.0]
        if not same:
            chosen.append(candidate)
        if len(chosen) >= MOST_MEASURED:
            break
    last: list[Judged] = []
    for candidate in chosen:
        if any(_is_variant(candidate, sure) for sure in last if sure.score > SURE_SCORE):
            continue
        measured = judge_last(photo, candidate)
        if measured is not None:
            last.append(measured)
    for j in last:
        log.debug("%s at %s: %.2f %s", j.pose.kind, j.pose.corners_px.mean(axis=0).round(), j.score, j.marks)
    return _on_one_floor(_without_overlaps([j for j in last if j.score >= LEAST_SCORE]))


def _is_variant(candidate: Judged, sure: Judged) -> bool:
    """Whether a candidate is the same thing with a side or two elsewhere."""
    size = float(np.hypot(*(sure.pose.corners_px[1] - sure.pose.corners_px[0])))
    return _apart(candidate, sure) < 0.1 * size


def _apart(a: Judged, b: Judged) -> float:
    turns = [np.abs(np.roll(a.pose.corners_px, k, axis=0) - b.pose.corners_px).max() for k in range(4)]
    return float(min(turns))


def _without_overlaps(judged: list[Judged]) -> list[Judged]:
    kept: list[Judged] = []
    for candidate in sorted(judged, key=lambda j: -j.score):
        box = candidate.pose.corners_px
        if all(_disjoint(box, other.pose.corners_px) for other in kept):
            kept.append(candidate)
    return kept


def _on_one_floor(judged: list[Judged]) -> list[Judged]:
    """Keep those that put the floor at one distance from the lens; others are prints, labels or tiles."""
    if len(judged) < 2:
        return judged
    height = np.log([abs(float(j.pose.normal @ j.pose.middle_mm)) for j in judged])
    score = np.array([j.score for j in judged])
    agree = np.abs(height[:, None] - height) < MOST_HEIGHT_RATIO
    best = int(np.argmax(agree @ score + 1e-3 * score))
    return [j for j, kept in zip(judged, agree[best], strict=True) if kept]


def _disjoint(a: Floats, b: Floats) -> bool:
    """Whether two convex quads share nothing: some side of one has the other wholly outside."""
    for one, other in ((a, b), (b, a)):
        side = np.roll(one, -1, axis=0) - one
        normal = np.stack([-side[:, 1], side[:, 0]], axis=1)
        distance = np.einsum("ijk,ik->ij", other[None] - one[:, None], normal)
        if (distance > 0).all(axis=1).any():
            return True
    return False


def make_reference(judged: Judged) -> Reference:
    """Return what was measured as a `Reference`."""
    kind = judged.pose.kind
    return Reference(
        kind=kind,
        corners_px=frozen(judged.pose.corners_px),
        corners_mm=frozen(find_corners_mm(kind)),
        edges=tuple(_samples(judged, i) for i in range(4)),
        size_doubt=SIZE_DOUBT[kind],
        thickness_mm=find_thickness_mm(kind),
        score=judged.score,
    )


def _samples(judged: Judged, index: int) -> EdgeSamples:
    side = judged.sides[index]
    start, stop = judged.pose.corners_px[index], judged.pose.corners_px[(index + 1) % 4]
    kept = side.weights > 0.2
    along = stop - start
    share = (side.points_px[kept] - start) @ along / float(along @ along)
    return EdgeSamples(frozen(side.points_px[kept]), frozen(side.normals_px[kept]), frozen(share), side.sigma_px)
