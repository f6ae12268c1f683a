"""Guess: several answers to 'which patches are the garment', and how well the outline of each holds."""

from dataclasses import dataclass

import cv2
import numpy as np

from ..arrays import Flags
from .kinship import Kinship, measure_likeness
from .masks import Reals, as_reals, find_pieces
from .mincut import Graph
from .patches import Patches

# Distances at which two looks count as little alike: palette, near, wider surroundings, colour, grain.
KERNELS = {"even": (0.35, 0.25, 0.20, 2.5, 0.5), "wide": (0.50, 0.35, 0.30, 4.0, 0.7)}
LEANINGS = (0.0, -0.5, -1.0, -1.5, -2.2, -3.0)
"""What calling a patch garment costs beforehand: a restless floor needs more of it than a plain one."""
CORE_LEANINGS = (0.0, -0.5)
# (kernel, how strongly neighbours hold together)
MANNERS = (("even", 10.0), ("wide", 6.0))
ROUNDS = 8
TRACE = 3e-5
BOUND = 5.0
BORDER = 0.3
SMALL, LARGE = 0.02, 0.7
"""Shares of the photo below and above which a garment is less likely."""


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


def _measure_log_ratio(likeness: Reals, garment: Flags, floor: Flags, size: Reals) -> Reals:
    """Return log p(look | garment) - log p(look | floor) of every patch, bounded."""
    sides = np.stack([garment, floor], 1).astype(np.float32)
    density = (likeness @ sides) / np.maximum(size @ sides, 1)
    return as_reals(np.clip(np.log((density[:, 0] + TRACE) / (density[:, 1] + TRACE)), -BOUND, BOUND))


def keep_largest_patches(patches: Patches, garment: Flags) -> Flags:
    """Return the patches of the largest connected piece."""
    pieces = find_pieces(garment[patches.labels], 1)
    if not pieces:
        return np.zeros_like(garment)
    largest: Flags = patches.mean_of(pieces[0]) > 0.5
    return largest


def _measure_holes(patches: Patches, garment: Flags) -> float:
    """Return the area of the holes as a share of the garment's."""
    rest = (~garment)[patches.labels].astype(np.uint8)
    count, _, stats, _ = cv2.connectedComponentsWithStats(rest, connectivity=4)
    right = stats[:, cv2.CC_STAT_LEFT] + stats[:, cv2.CC_STAT_WIDTH]
    below = stats[:, cv2.CC_STAT_TOP] + stats[:, cv2.CC_STAT_HEIGHT]
    within = (stats[:, cv2.CC_STAT_LEFT] > 0) & (stats[:, cv2.CC_STAT_TOP] > 0)
    within &= (right < rest.shape[1]) & (below < rest.shape[0]) & (np.arange(count) > 0)
    return float(stats[within, cv2.CC_STAT_AREA].sum() / patches.size[garment].sum())


class GuessJudge:
    """Judges answers as patches.

    Little of the outline runs where there is neither edge nor change of look; few patches look like the other side;
    what is left as floor is of one look; few holes; a sensible size; little of the photo's border taken.
    The weights were chosen by hand on 14 photos and 56 composites of them, and checked on 31 rendered scenes.
    """

    def __init__(self, patches: Patches, kinship: Kinship) -> None:
        self._patches, self._kinship = patches, kinship
        self._likeness = measure_likeness(kinship, patches, KERNELS["even"])

    def measure(self, garment: Flags) -> float:
        """Return how well an answer (n,) holds; higher is better, about 0 is good."""
        patches, kinship = self._patches, self._kinship
        share = float(patches.size[garment].sum() / patches.size.sum())
        if not 0.003 < share < 0.95:
            return -10.0
        sides = garment[patches.pair]
        crossing, floor = sides[:, 0] != sides[:, 1], ~sides.any(1)
        length = patches.length[crossing]
        bare = (patches.edge[crossing] < 1.0) & (kinship.step[crossing] < 0.25)
        weak = float(length[bare].sum() / max(length.sum(), 1))
        ratio = _measure_log_ratio(self._likeness, garment, ~garment, patches.size)
        odd = float(patches.size[(ratio < 0) == garment].sum() / patches.size[garment].sum())
        unrest = float((patches.length * kinship.step)[floor].sum() / max(patches.length[floor].sum(), 1))
        taken = patches.border * patches.size
        rim = float(taken[garment].sum() / max(taken.sum(), 1))
        return (
            0.1 * share
            - weak
            - 0.5 * odd
            - 0.7 * unrest
            - _measure_holes(patches, garment)
            - 2 * max(0.0, SMALL - share) / SMALL
            - 2 * max(0.0, share - LARGE)
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


def find_guesses(patches: Patches, kinship: Kinship, forced: Reals, ignored: Flags) -> list[Guess]:
    """Return different answers, the best first.

    Each starts either from everything but the border, or from a core least like the border; looks are learned from
    the last answer and patches cut anew until nothing changes.

    Args:
        patches: the photo at working scale.
        kinship: how alike they look.
        forced: (n,) large positive where a patch is known to be garment, negative where it is not, else 0.
        ignored: (n,) patches of cards and sheets: they tell nothing of garment or floor.
    """
    border = patches.border > BORDER
    seen = ~ignored
    lean = np.where(border, -4.0, np.clip((patches.inset - 0.08) * 4, -0.5, 0.5))
    known_floor = (border | (forced < 0)) & seen
    likeness = {name: measure_likeness(kinship, patches, spreads) for name, spreads in KERNELS.items()}
    judge = GuessJudge(patches, kinship)
    guesses: dict[bytes, Guess] = {}
    for kernel, hold in MANNERS:
        like = likeness[kernel]
        ties = hold * patches.length * (0.15 + 0.85 * np.exp(-patches.edge)) * np.exp(-kinship.step / 0.35)
        graph = Graph(patches.pair, ties, patches.count)
        starts = [(~known_floor & seen, known_floor, extra) for extra in LEANINGS]
        starts += [(*_find_core(patches, like, known_floor), extra) for extra in CORE_LEANINGS]
        for start, floor, extra in starts:
            garment, rest = start | (forced > 0), floor
            ratio = np.zeros(patches.count, np.float32)
            for _ in range(ROUNDS):
                ratio = _measure_log_ratio(like, garment & seen, rest & seen, patches.size)
                last = garment
                garment = graph.cut((ratio + lean + extra) * patches.size * 0.5 + forced)
                rest = ~garment
                if not garment.any() or (garment == last).all():
                    break
            garment = keep_largest_patches(patches, garment)
            if not garment.any() or garment.tobytes() in guesses:
                continue
            score = judge.measure(garment) - 0.03 * abs(extra + 0.5)
            guesses[garment.tobytes()] = Guess(garment, ratio, score)
    return sorted(guesses.values(), key=lambda guess: -guess.score)
