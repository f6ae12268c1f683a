"""Choose: of many candidates, the ones that are references."""

import logging
from collections.abc import Sequence

import numpy as np

from ...arrays import Flags, Floats
from ...photo import Photo
from ..reference import SURE_ENOUGH, Kind
from .judge import Judged, judge_first, judge_last
from .marks import SILENT_CORNERS, find_white
from .shape import Pose, find_size_mm, measure_apart, meet_floor

log = logging.getLogger(__name__)

# On 90 rendered photos true cards in deep pile fell to 0.15. Rectangles of joints, patterns and shadow reached 0.24,
# but none whose corners spoke for a card. So a lone faint one whose corners do is taken, and a person asked to look.
FAINT_SCORE = 0.12
# Product of its marks for a card's proportions and for the tilt that they mean: a phone, a side of which was taken too
# far out, came to 0.18 as a card seen 31 degrees aslant.
FAINT_SHAPE = 0.3
LEAST_POINTED_SCORE = 0.12
OUTSTANDING = 2.0
SURE_SCORE = 0.85
WORTH_A_LOOK = 0.6
MOST_MEASURED, MOST_AT_A_SPOT = 20, 5
# Natural logarithm. A card's own tilt is known to a few degrees: its floor's distance to some 5 %.
MOST_HEIGHT_RATIO = 0.14
# Natural logarithm. By the floor that one lies on another's size comes out right to 2 % (50 drawn and rendered ones).
MOST_SIZE_RATIO = 0.3
# A sheet that is so much less sure than another thing, and off by more than that, is most likely none: a patch of a
# quilt and the upper half of pale leggings were read as Letter paper beside a clear sheet of A4, with 0.42 and 0.54 of
# its score and 10 and 4 % off. Cards are not judged so: true ones come to as little in dark or deep pile.
FAR_LESS_SURE, RIGHT_SIZE_RATIO = 0.625, 0.025
# Of answers for one thing that score nearly alike the one of the truest shape is taken: a line of the wood's grain
# beside a short side scored a little better than the side itself, 3 % off.
ALIKE_SCORES = 0.9
# Nobody lays out more cards or sheets than this; more of one kind are a pattern of the floor or the cloth.
MOST_OF_A_KIND = 5
CARD_WORTH = 1.5
PLAIN_SCORE = 0.75


def choose_references(
    photo: Photo,
    quads: Floats,
    reach_px: float,
    kinds: tuple[Kind, ...],
    *,
    is_pointed: bool = False,
    least_score: float | None = None,
) -> list[Judged]:
    """Return those of `quads` (M, 4, 2; px of the photo, best first) that are references, the surest first.

    Args:
        photo: upright.
        quads: candidates, counter-clockwise on the screen.
        reach_px: how far their sides may be off.
        kinds: what is looked for.
        is_pointed: somebody says that one is there: weaker ones are taken, and a card's corners need not speak for it.
        least_score: what is taken at least; None for the usual.
    """
    white = find_white(photo)
    first: list[Judged] = []
    last: list[Judged] = []
    known: list[Floats] = []
    for quad in quads:
        if any(_is_variant(quad, sure) for sure in last if sure.score > SURE_SCORE):
            continue
        possible = judge_first(photo, white, quad, reach_px, kinds, known)
        first.extend(possible)
        # A good one is measured at once: what looks like it with a side elsewhere needs no look then.
        best = max(possible, key=lambda j: j.score, default=None)
        if best is not None and best.score > WORTH_A_LOOK:
            measured = judge_last(photo, white, best, is_pointed=is_pointed)
            if measured is not None and measured.score > SURE_SCORE:
                last.append(measured)
    first.sort(key=lambda j: -j.score)
    tried: list[Judged] = []
    for candidate in first:
        corners = candidate.pose.corners_px
        if any(_is_variant(corners, sure) for sure in last if sure.score > SURE_SCORE):
            continue
        if any(t.pose.kind is candidate.pose.kind and measure_apart(corners, t.pose.corners_px) < 2.0 for t in tried):
            continue
        # One thing with much artwork or a rough edge must not keep the others from being looked at.
        # Nor must looks at it as a sheet use up those at it as a card: on a rough floor its corners speak for neither.
        alike = [t for t in tried if (t.pose.kind is Kind.CARD) is (candidate.pose.kind is Kind.CARD)]
        if sum(_is_at_the_spot_of(corners, t) for t in alike) >= MOST_AT_A_SPOT:
            continue
        tried.append(candidate)
        measured = judge_last(photo, white, candidate, is_pointed=is_pointed)
        if measured is not None:
            last.append(measured)
        if len(tried) >= MOST_MEASURED:
            break
    for j in last:
        log.debug("%s at %s: %.2f %s", j.pose.kind, j.pose.corners_px.mean(axis=0).round(), j.score, j.marks)
    if least_score is None:
        least_score = LEAST_POINTED_SCORE if is_pointed else SURE_ENOUGH
    kept = _without_overlaps([j for j in last if j.score >= least_score])
    return _on_one_floor(_without_patterns(kept), photo) if kept else _take_lone_card(last)


def _take_lone_card(judged: list[Judged]) -> list[Judged]:
    """Return the one thing that is most likely a card, if nothing elsewhere is nearly as likely of known size."""
    apart = _without_overlaps(judged)
    if not apart or apart[0].pose.kind is not Kind.CARD or apart[0].score < FAINT_SCORE:
        return []
    marks = apart[0].marks
    if marks["corners"] <= SILENT_CORNERS or marks["shape"] * marks["upright"] < FAINT_SHAPE:
        return []
    return apart[:1] if len(apart) == 1 or apart[0].score > OUTSTANDING * apart[1].score else []


def _is_at_the_spot_of(corners_px: Floats, other: Judged) -> bool:
    here, there = corners_px.mean(axis=0), other.pose.corners_px
    return bool(np.hypot(*(there.mean(axis=0) - here)) < 0.3 * np.hypot(*(there[1] - there[0])))


def _is_variant(corners_px: Floats, sure: Judged) -> bool:
    """Whether corners are those of a thing already found, with a side or two elsewhere."""
    size = float(np.hypot(*(sure.pose.corners_px[1] - sure.pose.corners_px[0])))
    return measure_apart(corners_px, sure.pose.corners_px) < 0.1 * size


def _without_overlaps(judged: list[Judged]) -> list[Judged]:
    kept: list[Judged] = []
    for candidate in sorted(judged, key=lambda j: -_measure_worth(j.score, j.pose.kind)):
        box = candidate.pose.corners_px
        if all(_disjoint(box, other.pose.corners_px) for other in kept):
            kept.append(_choose_truest(candidate, judged))
    return kept


def _choose_truest(best: Judged, judged: list[Judged]) -> Judged:
    """Return, of what scores nearly as `best` at its place, the one that fits its kind's shape best."""
    alike = [
        j
        for j in judged
        if j.pose.kind is best.pose.kind
        and j.score >= ALIKE_SCORES * best.score
        and _is_at_the_spot_of(j.pose.corners_px, best)
    ]
    return min(alike, key=lambda j: j.pose.misfit)


def _without_patterns(judged: list[Judged]) -> list[Judged]:
    """Drop the less clear of a kind of which there are too many: bricks, tiles, prints."""
    kept = judged
    for kind in {j.pose.kind for j in judged}:
        if sum(j.pose.kind is kind for j in kept) >= MOST_OF_A_KIND:
            kept = [j for j in kept if j.pose.kind is not kind or j.score >= PLAIN_SCORE]
    return kept


def _on_one_floor(judged: list[Judged], photo: Photo) -> list[Judged]:
    """Keep those that put the lens at one height above the floor; others are prints, labels or tiles."""
    if len(judged) < 2:
        return judged
    height = np.array([j.pose.height_mm for j in judged])
    agreeing = choose_floor(height, np.array([j.score for j in judged]), [j.pose.kind for j in judged])
    kept = [j for j, agrees in zip(judged, agreeing, strict=True) if agrees]
    surest = max(kept, key=lambda j: _measure_worth(j.score, j.pose.kind))
    return [j for j in kept if abs(np.log(_measure_size_on(surest.pose, j.pose, photo))) < _most_off(j, surest)]


def _most_off(judged: Judged, surest: Judged) -> float:
    is_doubtful = judged.pose.kind is not Kind.CARD and judged.score < FAR_LESS_SURE * surest.score
    return RIGHT_SIZE_RATIO if is_doubtful else MOST_SIZE_RATIO


def _measure_worth(score: float, kind: Kind) -> float:
    return score * (CARD_WORTH if kind is Kind.CARD else 1.0)


def _measure_size_on(floor: Pose, other: Pose, photo: Photo) -> float:
    """Return the size of a thing, were it on the floor that another lies on, as a share of what it should be."""
    places = meet_floor(floor, other.corners_px, photo)
    area = 0.5 * np.linalg.norm(np.cross(places[2] - places[0], places[3] - places[1]))
    long, short = find_size_mm(other.kind)
    return float(np.sqrt(area / (long * short)))


def choose_floor(height_mm: Floats, score: Floats, kinds: Sequence[Kind]) -> Flags:
    """Return (N,) which of the things found lie on one floor, at the height for which most speaks.

    Half a sheet, a booklet and a notebook have a sheet's proportions; nothing else has a card's round corners, so
    that a card is believed before a sheet.

    Args:
        height_mm: (N,) of the lens above the floor, by each of them.
        score: (N,) how sure each is, 0..1.
        kinds: N of them.
    """
    worth = np.array([_measure_worth(float(one), kind) for one, kind in zip(score, kinds, strict=True)])
    height = np.log(height_mm)
    agree = np.abs(height[:, None] - height) < MOST_HEIGHT_RATIO
    best: Flags = agree[int(np.argmax(agree @ worth + 1e-3 * worth))]
    return best


def _disjoint(a: Floats, b: Floats) -> bool:
    """Whether two convex quads share nothing: some side of one has the other wholly outside."""
    for one, other in ((a, b), (b, a)):
        side = np.roll(one, -1, axis=0) - one
        normal = np.stack([-side[:, 1], side[:, 0]], axis=1)
        distance = np.einsum("ijk,ik->ij", other[None] - one[:, None], normal)
        if (distance > 0).all(axis=1).any():
            return True
    return False
