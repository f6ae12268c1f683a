"""Guess: several answers to 'which patches are the garment', and the one whose outline holds best."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from ..arrays import Flags
from .mincut import PatchGraph
from .patches import Patches, Reals

KERNELS = {"even": (0.35, 0.25, 0.20, 2.5, 0.5), "wide": (0.50, 0.35, 0.30, 4.0, 0.7)}
LEANINGS = (0.0, -0.5, -1.0, -1.5, -2.2, -3.0)
# (kernel, how strongly neighbours hold together)
CORE_LEANINGS = (0.0, -0.5)
MANNERS = (("even", 10.0), ("wide", 6.0))
ROUNDS = 8
TRACE = 3e-5
BOUND = 5.0


@dataclass(frozen=True, eq=False)
class Guess:
    """One answer.

    Attributes:
        garment: (n,) patches of the garment (its largest piece).
        log_ratio: (n,) log p(look | garment) - log p(look | floor), each patch judged by all others.
        score: how well it holds; higher is better.
    """

    garment: Flags
    log_ratio: Reals
    score: float


def measure_likeness(patches: Patches, spreads: Sequence[float]) -> Reals:
    """Return (n, n) how alike patches look, 0..1, times the size of the second; a patch is no witness for itself."""
    distance = np.zeros((patches.count, patches.count), np.float32)
    for part, spread in zip(patches.unlike, spreads, strict=True):
        distance += part / np.float32(2 * spread**2)
    gap = patches.centre[:, None] - patches.centre[None]
    nearness = 0.7 + 0.3 * np.exp(-(gap**2).sum(2) / (2 * 0.3**2))
    likeness: Reals = (np.exp(-distance) * nearness * patches.size[None]).astype(np.float32)
    np.fill_diagonal(likeness, 0)
    return likeness


def measure_log_ratio(likeness: Reals, garment: Flags, floor: Flags, size: Reals) -> Reals:
    """Return log p(look | garment) - log p(look | floor) of every patch, bounded."""
    sides = np.stack([garment, floor], 1).astype(np.float32)
    density = (likeness @ sides) / np.maximum(size @ sides, 1)
    ratio: Reals = np.log((density[:, 0] + TRACE) / (density[:, 1] + TRACE))
    return np.clip(ratio, -BOUND, BOUND)


def keep_largest(patches: Patches, garment: Flags) -> Flags:
    """Return the patches of the largest connected piece."""
    mask = garment[patches.labels].astype(np.uint8)
    count, pieces, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    if count < 2:
        return np.zeros_like(garment)
    largest = pieces == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    return patches.mean_of(largest) > 0.5


def _measure_holes(patches: Patches, garment: Flags) -> float:
    """Return the area of the holes as a share of the garment's."""
    rest = (~garment)[patches.labels].astype(np.uint8)
    count, _, stats, _ = cv2.connectedComponentsWithStats(rest, connectivity=4)
    right = stats[:, cv2.CC_STAT_LEFT] + stats[:, cv2.CC_STAT_WIDTH]
    below = stats[:, cv2.CC_STAT_TOP] + stats[:, cv2.CC_STAT_HEIGHT]
    within = (stats[:, cv2.CC_STAT_LEFT] > 0) & (stats[:, cv2.CC_STAT_TOP] > 0)
    within &= (right < rest.shape[1]) & (below < rest.shape[0]) & (np.arange(count) > 0)
    return float(stats[within, cv2.CC_STAT_AREA].sum() / patches.size[garment].sum())


def measure_hold(patches: Patches, likeness: Reals, garment: Flags) -> float:
    """Return how well an answer holds.

    Little of its outline runs where there is neither edge nor change of look; few patches look like the other
    side; what is left as floor is of one look; few holes; a sensible size; little of the photo's border taken.
    """
    share = float(patches.size[garment].sum() / patches.size.sum())
    if not 0.005 < share < 0.95:
        return -10.0
    sides = garment[patches.pair]
    crossing, floor = sides[:, 0] != sides[:, 1], ~sides.any(1)
    length = patches.length[crossing]
    bare = (patches.edge[crossing] < 1.0) & (patches.step[crossing] < 0.25)
    weak = float(length[bare].sum() / max(length.sum(), 1))
    ratio = measure_log_ratio(likeness, garment, ~garment, patches.size)
    area = float(patches.size[garment].sum())
    odd = float(patches.size[(ratio < 0) == garment].sum()) / area
    unrest = float((patches.length * patches.step)[floor].sum() / max(patches.length[floor].sum(), 1))
    rim = float((patches.border * patches.size)[garment].sum() / max((patches.border * patches.size).sum(), 1))
    too_small, too_large = max(0.0, 0.06 - share) / 0.06, max(0.0, share - 0.7)
    return (
        0.1 * share
        - weak
        - 0.5 * odd
        - 0.7 * unrest
        - _measure_holes(patches, garment)
        - 2 * (too_small + too_large)
        - max(0.0, rim - 0.1)
    )


def _find_core(patches: Patches, likeness: Reals, floor: Flags) -> tuple[Flags, Flags]:
    """Return the patches least like the known floor (an eighth of the photo) and those most like it (half)."""
    density = (likeness @ floor.astype(np.float32)) / max(float(patches.size[floor].sum()), 1.0)
    strange = np.where(floor, -np.inf, -np.log(density + 1e-6) + 2 * patches.inset)
    order = np.argsort(strange)
    rank = np.empty(patches.count)
    rank[order] = np.cumsum(patches.size[order]) / patches.size.sum()
    return rank > 0.88, rank < 0.5


def find_guesses(patches: Patches, forced: Reals, ignored: Flags) -> list[Guess]:
    """Return different answers, the best first.

    Each starts either from everything but the border, or from a core least like the border; looks are learned from
    the last answer and patches cut anew until nothing changes.

    Args:
        patches: the photo at working scale.
        forced: (n,) large positive where a patch is known to be garment, negative where it is not, else 0.
        ignored: (n,) patches of cards and sheets: they tell nothing of garment or floor.
    """
    border = patches.border > 0.3
    seen = ~ignored
    lean = np.where(border, -4.0, np.clip((patches.inset - 0.08) * 4, -0.5, 0.5))
    likeness = {name: measure_likeness(patches, spreads) for name, spreads in KERNELS.items()}
    guesses: dict[bytes, Guess] = {}
    for kernel, hold in MANNERS:
        like = likeness[kernel]
        ties = hold * patches.length * (0.15 + 0.85 * np.exp(-patches.edge)) * np.exp(-patches.step / 0.35)
        graph = PatchGraph(patches.pair, ties, patches.count)
        known_floor = (border | (forced < 0)) & seen
        starts = [(~known_floor & seen, known_floor, extra) for extra in LEANINGS]
        starts += [(*_find_core(patches, like, known_floor), extra) for extra in CORE_LEANINGS]
        for start, floor, extra in starts:
            garment, rest = start | (forced > 0), floor
            ratio = np.zeros(patches.count, np.float32)
            for _ in range(ROUNDS):
                ratio = measure_log_ratio(like, garment & seen, rest & seen, patches.size)
                last = garment
                garment = graph.cut((ratio + lean + extra) * patches.size * 0.5 + forced)
                rest = ~garment
                if not garment.any() or (garment == last).all():
                    break
            garment = keep_largest(patches, garment)
            if not garment.any() or garment.tobytes() in guesses:
                continue
            score = measure_hold(patches, likeness["even"], garment) - 0.03 * abs(extra + 0.5)
            guesses[garment.tobytes()] = Guess(garment, ratio, score)
    return sorted(guesses.values(), key=lambda guess: -guess.score)
