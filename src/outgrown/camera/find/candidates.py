"""Candidates: the quads worth a look at full resolution, best first."""

import numpy as np

from ...arrays import Floats
from .levels import Level
from .quads import distinct, find_quads, merge_segments
from .regions import find_regions
from .segments import find_segments
from .shape import find_convex
from .support import measure_support, tighten

# A card's short side at working size, at 3 m: 14 px. Shorter things are not measured well enough to scale by.
LEAST_SIDE_PX = 13.0
MOST_TIGHTENED = 700
MOST_KEPT = 120
LEAST_WORTH = 0.62


def find_candidates(levels: list[Level]) -> tuple[Floats, Floats]:
    """Return quads (M, 4, 2) in photo px, counter-clockwise on the screen, and their worth (M,), best first."""
    segments = merge_segments(find_segments(levels))
    quads = np.concatenate([find_regions(levels), find_quads(segments, levels)])
    return choose_candidates(quads, levels)


def choose_candidates(quads: Floats, levels: list[Level]) -> tuple[Floats, Floats]:
    """Return the best of `quads` (M, 4, 2; px of the first level) in photo px, and their worth."""
    quads = _inside(find_convex(quads, LEAST_SIDE_PX), levels[0])
    quads = quads[distinct(_key(quads) / 3.0)]
    quads = quads[np.argsort(-_worth(measure_support(quads, levels[0])))[:MOST_TIGHTENED]]
    quads = tighten(tighten(quads, levels[0]), levels[0], 2)
    quads = _inside(find_convex(quads, LEAST_SIDE_PX), levels[0])
    worth = _worth(measure_support(quads, levels[0], stations=24))
    order = np.argsort(-worth)
    order = order[worth[order] >= LEAST_WORTH]
    quads, worth = quads[order], worth[order]
    first = _first_of_each(quads)[:MOST_KEPT]
    return levels[0].to_photo(quads[first]), worth[first]


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


def _first_of_each(quads: Floats, apart_px: float = 1.6) -> list[int]:
    """Return the indices of quads that differ from every earlier one by more than `apart_px` at some corner."""
    keys = _key(quads)
    kept: list[int] = []
    for i in range(len(keys)):
        if not kept or np.abs(keys[kept] - keys[i]).max(axis=1).min() > apart_px:
            kept.append(i)
        if len(kept) >= MOST_KEPT:
            break
    return kept
