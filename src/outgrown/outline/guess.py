"""Guess: several answers to 'which patches are the garment', and the one whose outline holds best."""

from dataclasses import dataclass

import cv2
import numpy as np

from ..arrays import Flags
from .mincut import PatchGraph
from .patches import Patches, Reals

KERNELS = {"even": ((0.35, 0.25, 0.20), 2.5), "wide": ((0.50, 0.35, 0.30), 4.0)}
LEANINGS = (0.0, -0.5, -1.0, -1.5, -2.2, -3.0)
# (kernel, how strongly neighbours hold together)
MANNERS = (("even", 10.0), ("even", 4.0), ("wide", 6.0))
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


def measure_likeness(patches: Patches, palette_spread: tuple[float, float, float], colour_spread: float) -> Reals:
    """Return (n, n) how alike patches look, 0..1, times the size of the second; a patch is no witness for itself."""
    distance = sum(
        (
            part / np.float32(2 * spread**2)
            for part, spread in zip(patches.unlike, (*palette_spread, colour_spread), strict=True)
        ),
        start=np.zeros((), np.float32),
    )
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


def measure_hold(patches: Patches, likeness: Reals, garment: Flags) -> float:
    """Return how well an answer holds.

    Few stretches of outline without edge or change of look, few patches
    that look like the other side, a sensible size, little of the border taken.
    """
    share = float(patches.size[garment].sum() / patches.size.sum())
    if not 0.005 < share < 0.95:
        return -10.0
    crossing = garment[patches.pair[:, 0]] != garment[patches.pair[:, 1]]
    length = patches.length[crossing]
    bare = (patches.edge[crossing] < 1.0) & (patches.step[crossing] < 0.25)
    weak = float(length[bare].sum() / max(length.sum(), 1))
    ratio = measure_log_ratio(likeness, garment, ~garment, patches.size)
    area = float(patches.size[garment].sum())
    odd = float(patches.size[(ratio < 0) == garment].sum()) / area
    rim = float((patches.border * patches.size)[garment].sum() / max((patches.border * patches.size).sum(), 1))
    too_small, too_large = max(0.0, 0.06 - share) / 0.06, max(0.0, share - 0.7)
    return -weak - 0.5 * odd + 0.1 * share - 2 * too_small - 2 * too_large - max(0.0, rim - 0.1)


def find_guesses(patches: Patches, forced: Reals, ignored: Flags) -> list[Guess]:
    """Return different answers, the best first.

    Args:
        patches: the photo at working scale.
        forced: (n,) large positive where a patch is known to be garment, negative where it is not, else 0.
        ignored: (n,) patches of cards and sheets: they tell nothing of garment or floor.
    """
    known_floor = (patches.border > 0.3) | (forced < 0)
    seen = ~ignored
    lean = np.where(patches.border > 0.3, -4.0, np.clip((patches.inset - 0.08) * 4, -0.5, 0.5))
    likeness = {name: measure_likeness(patches, *spreads) for name, spreads in KERNELS.items()}
    guesses: dict[bytes, Guess] = {}
    for kernel, hold in MANNERS:
        ties = hold * patches.length * (0.15 + 0.85 * np.exp(-patches.edge)) * np.exp(-patches.step / 0.35)
        graph = PatchGraph(patches.pair, ties, patches.count)
        for extra in LEANINGS:
            garment: Flags = ~known_floor
            ratio = np.zeros(patches.count, np.float32)
            for _ in range(ROUNDS):
                ratio = measure_log_ratio(likeness[kernel], garment & seen, ~garment & seen, patches.size)
                last = garment
                garment = graph.cut((ratio + lean + extra) * patches.size * 0.5 + forced)
                if not garment.any() or (garment == last).all():
                    break
            garment = keep_largest(patches, garment)
            if not garment.any() or garment.tobytes() in guesses:
                continue
            score = measure_hold(patches, likeness["even"], garment) - 0.03 * abs(extra + 0.5)
            guesses[garment.tobytes()] = Guess(garment, ratio, score)
    return sorted(guesses.values(), key=lambda guess: -guess.score)
