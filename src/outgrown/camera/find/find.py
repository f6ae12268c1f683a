"""Find: references anywhere in a photo, or at a place somebody points to."""

from collections.abc import Collection

import numpy as np

from ...arrays import Floats, frozen
from ...photo import Photo
from ...progress import Progress, silent
from ...standards import CARD_SIZE_TOLERANCE
from ..reference import SURE_ENOUGH, EdgeSamples, Kind, Reference
from .candidates import find_candidates, find_candidates_by
from .choose import choose_references
from .judge import Judged, measure_last
from .levels import make_levels
from .shape import find_convex, find_corners_mm, find_thickness_mm, measure_apart

# What is found by its four edges; printed targets have a finder of their own.
KINDS = (Kind.CARD, Kind.A4, Kind.LETTER)
# 1 standard deviation. A new card's limits are taken for two; sheets are cut to 2 mm, offices' far better.
SIZE_DOUBT = {Kind.CARD: CARD_SIZE_TOLERANCE.value / 2, Kind.A4: 0.002, Kind.LETTER: 0.002}
# How far a whole side may be off. A sheet's curls, and its light runs over: 0.19 px (rms) on eight drawn and rendered
# photos, 0.37 on those in physical light. A card's is weighed with its shadow later.
CARD_SHIFT_PX, SHEET_SHIFT_PX = 0.15, 0.25
# How far a side found at working size may be off there.
REACH_PX = 2.5
# Around a place pointed to: how much of the photo's long side is looked at, the smaller cut finer.
CUTS = (1.0, 0.55, 0.28)
LEAST_PHOTO_PX = 64
# Around four corners pointed to: how much more than they span is looked at, of their longest side.
ROOM = 0.35
# How far each may be off, of their shortest side; and at least [px], for a card that is small in the photo.
CORNER_SLACK, LEAST_SLACK_PX = 0.3, 8.0
# A thing whose four corners a person has set needs its edges there, and little else.
LEAST_FRAMED_SCORE = 0.02
STEP = "Looking for the card or sheet"


def find_references(
    photo: Photo, *, kinds: Collection[Kind] | None = None, progress: Progress = silent
) -> list[Reference]:
    """Return every card and sheet of known size lying flat in `photo`, the surest first.

    Args:
        photo: upright, with its focal length if known.
        kinds: what to look for; default: all.
        progress: told how far the work is.
    """
    wanted = tuple(kind for kind in KINDS if kinds is None or kind in kinds)
    if not wanted or min(photo.width_px, photo.height_px) < LEAST_PHOTO_PX:
        return []
    progress(STEP, 0.0)
    levels = make_levels(photo.pixels)
    progress(STEP, 0.15)
    quads = find_candidates(levels, photo, wanted)
    progress(STEP, 0.6)
    judged = choose_references(photo, quads, REACH_PX / levels[0].scale, wanted)
    references = [make_reference(measure_last(photo, j)) for j in judged]
    progress(STEP, 1.0)
    return references


def find_rectangle_at(photo: Photo, kind: Kind, near_px: Floats | tuple[float, float]) -> Reference | None:
    """Return the reference of `kind` around the place somebody points to, or None if none is seen there.

    Weaker evidence is accepted than where nobody points, and the neighbourhood is looked at more finely: a person who
    calls a thing a card has seen its corners, which dark artwork and a restless floor may hide from us.

    Args:
        photo: upright.
        kind: what lies there.
        near_px: (2,) a place on it.
    """
    point = np.asarray(near_px, dtype=np.float64)
    size = np.array([photo.width_px, photo.height_px])
    for share in CUTS:
        half = share * size.max() / 2
        low = np.floor(np.clip(point - half, 0, size - 1)).astype(int) if share < 1 else np.zeros(2, int)
        high = np.ceil(np.clip(point + half, 1, size)).astype(int) if share < 1 else size
        if (high - low).min() < LEAST_PHOTO_PX:
            continue
        levels = make_levels(photo.pixels[low[1] : high[1], low[0] : high[0]], (float(low[0]), float(low[1])))
        quads = find_candidates(levels, photo, (kind,), point)
        found = choose_references(photo, quads, REACH_PX / levels[0].scale, (kind,), is_pointed=True)
        around = [j for j in found if _contains(j.pose.corners_px, point)]
        if around and (around[0].score >= SURE_ENOUGH or share == CUTS[-1]):
            return make_reference(measure_last(photo, around[0]))
    return None


def find_rectangle_by(photo: Photo, kinds: Collection[Kind], corners_px: Floats) -> Reference | None:
    """Return the reference whose corners somebody has set by hand, drawn onto its edges; None where none are.

    Of several that lie there within the slack of a hand, the surest is taken; of which kind it is, its shape says.

    Args:
        photo: upright.
        kinds: what may lie there.
        corners_px: (4, 2) about where its corners are, in any order.
    """
    wanted = tuple(kind for kind in KINDS if kind in kinds)
    quads = find_convex(_go_round(np.asarray(corners_px, dtype=np.float64))[None], 1.0)
    if not len(quads) or not wanted:
        return None
    quad = quads[0]
    sides = np.hypot(*(np.roll(quad, -1, axis=0) - quad).T)
    slack_px = max(CORNER_SLACK * float(sides.min()), LEAST_SLACK_PX)
    size = np.array([photo.width_px, photo.height_px])
    room = ROOM * float(sides.max()) + slack_px
    low = np.floor(np.clip(quad.min(axis=0) - room, 0, size - 1)).astype(int)
    high = np.ceil(np.clip(quad.max(axis=0) + room, 1, size)).astype(int)
    if (high - low).min() < LEAST_PHOTO_PX:
        return None
    levels = make_levels(photo.pixels[low[1] : high[1], low[0] : high[0]], (float(low[0]), float(low[1])))
    near = find_candidates_by(levels, photo, wanted, quad, slack_px)
    reach_px = REACH_PX / levels[0].scale
    found = choose_references(photo, near, reach_px, wanted, is_pointed=True, least_score=LEAST_FRAMED_SCORE)
    there = [j for j in found if measure_apart(j.pose.corners_px, quad) < slack_px]
    return make_reference(measure_last(photo, max(there, key=lambda j: j.score))) if there else None


def _go_round(corners_px: Floats) -> Floats:
    """Return four points in the order in which they are met going round their middle."""
    away = corners_px - corners_px.mean(axis=0)
    return corners_px[np.argsort(np.arctan2(away[:, 1], away[:, 0]))]


def _contains(corners_px: Floats, point: Floats) -> bool:
    """Whether `point` lies within a quad going counter-clockwise on the screen."""
    side = np.roll(corners_px, -1, axis=0) - corners_px
    away = point - corners_px
    return bool((side[:, 0] * away[:, 1] - side[:, 1] * away[:, 0] <= 0).all())


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
    kept = side.kept
    along = stop - start
    share = (side.points_px[kept] - start) @ along / float(along @ along)
    points, normals = frozen(side.points_px[kept]), frozen(side.normals_px[kept])
    shift_px = CARD_SHIFT_PX if judged.pose.kind is Kind.CARD else SHEET_SHIFT_PX
    return EdgeSamples(points, normals, frozen(share), side.sigma_px, shift_px)
