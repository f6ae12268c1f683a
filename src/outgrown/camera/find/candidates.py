"""Candidates: the quads worth a look at full resolution, best first."""

import numpy as np

from ...arrays import Floats
from ...photo import Photo
from ..reference import Kind
from .calm import find_calm_regions
from .levels import Level
from .quads import distinct, find_quads, merge_segments
from .rarity import find_rare_regions
from .regions import find_regions
from .segments import find_segments
from .shape import find_convex, find_focal_px, find_size_mm, measure_apart, measure_lean
from .support import count_running_on, measure_support, tighten

# A card's short side at working size, at 3 m: 14 px. Shorter things are not measured well enough to scale by.
LEAST_SIDE_PX = 13.0
MOST_RANKED = 4000
MOST_TIGHTENED = 500
MOST_KEPT = 64
# Where there are more than that: how many more areas are looked at, and of one size, natural logarithm, how many.
MOST_OF_OTHER_SIZES, MOST_OF_A_SIZE, LIKE_SIZE = 24, 4, 0.15
APART_PX = 2.2
LEAST_WORTH = 0.62
MOST_LEAN_DEG = 46.0


def find_candidates(
    levels: list[Level], photo: Photo, kinds: tuple[Kind, ...], around_px: Floats | None = None
) -> Floats:
    """Return quads (M, 4, 2) in photo px, counter-clockwise on the screen, the likeliest first.

    Args:
        levels: the photo, or a part of it, made smaller.
        photo: gives size and focal length.
        kinds: what is looked for.
        around_px: (2,) a place that the quads must contain, or None.
    """
    segments = merge_segments(find_segments(levels))
    rough = np.concatenate([find_regions(levels), find_rare_regions(levels), find_calm_regions(levels)])
    fine = find_quads(segments, levels)
    if around_px is not None:
        rough, fine = (_containing(q, levels[0].to_level(around_px)) for q in (rough, fine))
    return choose_candidates(rough, fine, levels, photo, kinds)


def find_candidates_by(
    levels: list[Level], photo: Photo, kinds: tuple[Kind, ...], quad_px: Floats, slack_px: float
) -> Floats:
    """Return quads (M, 4, 2) in photo px whose corners lie near those of `quad_px`, itself among them.

    Args:
        levels: the part of the photo around it, made smaller.
        photo: gives size and focal length.
        kinds: what is looked for.
        quad_px: (4, 2) as set by hand.
        slack_px: how far each corner may be off.
    """
    level = levels[0]
    set_by_hand = level.to_level(quad_px)[None]
    slack = slack_px * level.scale
    rough = np.concatenate([find_regions(levels), find_rare_regions(levels), find_calm_regions(levels)])
    fine = find_quads(merge_segments(find_segments(levels)), levels)
    rough, fine = (_near(quads, set_by_hand[0], slack) for quads in (rough, fine))
    found = choose_candidates(np.concatenate([set_by_hand, rough]), fine, levels, photo, kinds)
    # What a hand has set is looked at, however little of its edges is seen at this size.
    drawn = [tighten(set_by_hand, level, reach) for reach in (2, max(2, min(9, round(slack))))]
    return np.concatenate([found, *(level.to_photo(quads) for quads in drawn), quad_px[None]])


def _near(quads: Floats, wanted: Floats, slack: float) -> Floats:
    quads = find_convex(quads, 1.0)
    near: Floats = quads[[measure_apart(quad, wanted) < slack for quad in quads]]
    return near


def _containing(quads: Floats, point: Floats) -> Floats:
    quads = find_convex(quads, 1.0)
    side = np.roll(quads, -1, axis=1) - quads
    away = point - quads
    return quads[(side[..., 0] * away[..., 1] - side[..., 1] * away[..., 0] <= 0).all(axis=1)]


def choose_candidates(
    rough: Floats, fine: Floats, levels: list[Level], photo: Photo, kinds: tuple[Kind, ...]
) -> Floats:
    """Return the best of `rough` and `fine` (M, 4, 2; px of the first level) in photo px.

    Args:
        rough: quads whose sides may be several px off.
        fine: quads whose sides lie on edges already, where a stronger edge nearby must not draw them away.
        levels: the photo made smaller.
        photo: gives the focal length.
        kinds: what is looked for.
    """
    level = levels[0]
    rough = tighten(_inside(find_convex(rough, LEAST_SIDE_PX), level), level, 5)
    quads = _inside(find_convex(np.concatenate([rough, fine]), LEAST_SIDE_PX), level)
    quads = quads[distinct(_key(quads) / 3.0)]
    lean = _least_lean(quads, level, photo, kinds)
    quads, lean = quads[lean < MOST_LEAN_DEG], lean[lean < MOST_LEAN_DEG]
    worth = _worth(measure_support(quads, level)) - 0.2 * (lean / 45) ** 2
    order = np.argsort(-worth)[:MOST_RANKED]
    quads, worth = quads[order], worth[order] - _running_on(quads[order], level)
    areas, area_worth = _rank(rough, level, photo, kinds)
    lines, line_worth = _rank(quads[np.argsort(-worth)[:MOST_TIGHTENED]], level, photo, kinds)
    quads, worth = np.concatenate([areas, lines]), np.concatenate([area_worth, line_worth])
    order = np.argsort(-worth, kind="stable")
    kept = quads[order][_first_of_each(quads[order])]
    if len(kept) == MOST_KEPT:
        kept = np.concatenate([kept, areas[_of_other_sizes(areas, kept)]])
    return level.to_photo(kept)


def _rank(quads: Floats, level: Level, photo: Photo, kinds: tuple[Kind, ...]) -> tuple[Floats, Floats]:
    """Return those of `quads` whose sides are seen once they are tightened, and their worth, best first."""
    quads = _inside(find_convex(tighten(quads, level, 2), LEAST_SIDE_PX), level)
    seen = _worth(measure_support(quads, level, stations=24))
    quads, seen = quads[seen >= LEAST_WORTH], seen[seen >= LEAST_WORTH]
    lean = _least_lean(quads, level, photo, kinds)
    worth = seen - 0.2 * (lean / 45) ** 2 - _running_on(quads, level)
    order = np.argsort(-worth)
    return quads[order], worth[order]


def _running_on(quads: Floats, level: Level) -> Floats:
    return 0.05 * np.maximum(count_running_on(quads, level) - 1, 0)


def _least_lean(quads: Floats, level: Level, photo: Photo, kinds: tuple[Kind, ...]) -> Floats:
    focal_px, factors = find_focal_px(photo)
    centre = level.to_level(np.array([(photo.width_px - 1) / 2, (photo.height_px - 1) / 2]))
    least = np.full(len(quads), 90.0)
    for kind in kinds:
        long, short = find_size_mm(kind)
        for factor in factors[:2]:
            least = np.minimum(least, measure_lean(quads, focal_px * factor * level.scale, centre, long / short))
    return least


def _worth(seen: Floats) -> Floats:
    """One side may be weak; two must not be."""
    worth: Floats = np.sort(seen, axis=1) @ np.array([0.25, 0.35, 0.2, 0.2])
    return worth


def _key(quads: Floats) -> Floats:
    """Corners, starting from the leftmost, so that the same quad has the same key however it was found."""
    if not len(quads):
        return np.zeros((0, 8))
    start = np.argmin(quads[..., 0] + 0.5 * quads[..., 1], axis=1)
    index = (start[:, None] + np.arange(4)) % 4
    return np.take_along_axis(quads, index[..., None], axis=1).reshape(-1, 8)


def _inside(quads: Floats, level: Level) -> Floats:
    if not len(quads):
        return quads
    width, height = level.size_px
    x, y = quads[..., 0], quads[..., 1]
    within = (x > 1) & (x < width - 2) & (y > 1) & (y < height - 2)
    return quads[within.all(axis=1)]


def _first_of_each(quads: Floats) -> list[int]:
    """Return the indices of quads that differ from every earlier one by more than `APART_PX` at some corner."""
    keys = _key(quads)
    kept: list[int] = []
    for i in range(len(keys)):
        if not kept or np.abs(keys[kept] - keys[i]).max(axis=1).min() > APART_PX:
            kept.append(i)
        if len(kept) >= MOST_KEPT:
            break
    return kept


def _of_other_sizes(quads: Floats, kept: Floats) -> list[int]:
    """Return the indices of the first of `quads` that differ from `kept`, few of each size, kept ones among them.

    A floor of many squares gives more good quads than can be looked at, all of its squares' size: a sheet on it is
    none of them.
    """
    keys, sizes = _key(quads), _log_size(quads)
    taken_keys, taken_sizes = list(_key(kept)), list(_log_size(kept))
    more: list[int] = []
    for i in range(len(quads)):
        if (np.abs(np.array(taken_sizes) - sizes[i]) < LIKE_SIZE).sum() >= MOST_OF_A_SIZE:
            continue
        if np.abs(np.array(taken_keys) - keys[i]).max(axis=1).min() > APART_PX:
            more.append(i)
            taken_keys.append(keys[i])
            taken_sizes.append(sizes[i])
        if len(more) >= MOST_OF_OTHER_SIZES:
            break
    return more


def _log_size(quads: Floats) -> Floats:
    """Return (M,) the natural logarithm of the root of their area."""
    one, other = quads[:, 2] - quads[:, 0], quads[:, 3] - quads[:, 1]
    area = 0.5 * np.abs(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0])
    return np.asarray(0.5 * np.log(np.maximum(area, 1.0)), dtype=np.float64)
