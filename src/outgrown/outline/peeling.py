"""Peeling: light that a glossy floor mirrors, taken off a garment that it was held for a part of.

A mirrored window or lamp is bright floor with a slow rim; where it reaches under a garment it has the cloth's crisp
edge on that side. So what lies just inside a soft stretch of the edge is said to be floor, what lies just inside a
crisp one to be cloth, louder than the rest: the picture then says where the one turns into the other.
"""

import numpy as np
from numpy.typing import NDArray

from ..arrays import Flags, Floats
from .answers import Bench
from .band import LocalLooks, settle_mask
from .masks import Reals, as_reals, keep_largest, measure_away, measure_depth
from .softness import keep_long_runs, measure_softness

LEAST_RUN = 20
"""Stations of a soft stretch worth asking about: about a sixteenth of the garment's length, more than a stripe of the
floor's colour makes."""
NEAR_PX = 14.0
"""What lies so near inside a soft or crisp stretch is said to be what the stretch tells."""
ROUNDS, LESSONS = 6, 2
"""The middle of what was mirrored has no rim, soft or crisp, and falls away in a further round."""
NEW_PX = 4.0
"""Farther from the first edge than this an edge is new, and has to be seen."""
OPEN = 0.5
"""What nothing is said of is garment as far as the first answer goes, which is worth little."""
LEFT_SOFT, LEAST_LEFT = 0.25, 0.3
"""What is left has no soft stretch any more, of the soft stations no more than the first share, and is at least the
second of what there was. A garment whose own edge is blurred fails by the first: two small photos lost 0.01 and 0.07
of overlap without it. White leggings across which the panes of a window ran fell away all but a scrap without the
second."""


def peel(
    bench: Bench, looks: LocalLooks, mask: Flags, blocked: Flags, fixed: NDArray[np.int8]
) -> tuple[Flags, Reals] | None:
    """Return the mask without what lies behind soft stretches of its edge, and what that taught; None where none does.

    Args:
        bench: the picture made ready.
        looks: of the picture.
        mask: (h, w) the garment so far.
        blocked: (h, w) True on references.
        fixed: (h, w) 1 garment, -1 floor, 0 open.
    """
    first = np.abs(measure_depth(mask))
    seen = measure_softness(looks.lab, mask, blocked)
    soft_at_first, soft = seen.is_soft.sum(), keep_long_runs(seen.is_soft, LEAST_RUN)
    if not soft.any():
        return None
    left = mask
    for _ in range(ROUNDS):
        cut = _cut(bench, left, seen.stations, soft)
        if cut is None:
            return None
        left = keep_largest(settle_mask(looks, *cut, blocked, fixed))
        if left.sum() < LEAST_LEFT * mask.sum():
            return None
        seen = measure_softness(looks.lab, left, blocked)
        is_new = first[_find_pixels(seen.stations, mask.shape)] > NEW_PX
        soft = keep_long_runs(seen.is_soft | (seen.is_edgeless & is_new), LEAST_RUN)
        if not soft.any():
            return (left, cut[1]) if seen.is_soft.sum() <= LEFT_SOFT * soft_at_first else None
    return None


def _cut(bench: Bench, mask: Flags, stations: Floats, soft: Flags) -> tuple[Flags, Reals] | None:
    """Return a mask (h, w) cut anew by what its soft and its crisp edges say, and the log ratio that rests on."""
    patches = bench.patches
    from_soft, from_crisp = (_measure_away_from(mask.shape, stations[where]) for where in (soft, ~soft))
    inner = patches.mean_of(mask) > 0.5
    floor = patches.mean_of(mask & (from_soft < NEAR_PX) & (from_soft < from_crisp)) > 0.5
    crisp = mask & (from_crisp < NEAR_PX) & (from_soft > np.maximum(2 * from_crisp, NEAR_PX))
    cloth = (patches.mean_of(crisp) > 0.5) & ~floor
    garment = inner & ~floor
    known = as_reals(np.where(garment, 0.0, -1e4))
    before = as_reals(np.where(cloth, 2.0, np.where(garment, OPEN, -2.0)))
    ratio = np.zeros(mask.shape, np.float32)
    for _ in range(LESSONS):
        learned = bench.lesson.teach(garment, (floor | cloth) & (garment == cloth))
        if learned is None:
            return None
        ratio = learned
        garment = bench.lesson.cut(ratio, before, known) & inner
        if not garment.any():
            return None
    return keep_largest(garment[patches.labels]), ratio


def _measure_away_from(shape: tuple[int, ...], points: Floats) -> Reals:
    """Return (h, w) how far each pixel is from the nearest of `points` (N, 2) [px]; far, where there are none."""
    if not len(points):
        return np.full(shape, np.inf, np.float32)
    marked = np.zeros(shape, bool)
    marked[_find_pixels(points, shape)] = True
    return measure_away(marked)


def _find_pixels(points: Floats, shape: tuple[int, ...]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the rows and columns (N,) of the pixels that points (N, 2) lie in, those beyond the picture at its rim."""
    x, y = np.clip(np.round(points).astype(int), 0, np.array(shape[::-1]) - 1).T
    return y, x
