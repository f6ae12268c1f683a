"""Lesson: what a first answer teaches of this cloth and this floor, and what it makes of every pixel.

A quadratic discriminant over colour, its change from the floor near by, roughness and grain at several scales is
fitted to the answer by ridge regression, anew in every photo. Each block of the photo is judged by what the other
blocks taught, so that a tile wrongly taken for cloth cannot vouch for itself.
"""

import cv2
import numpy as np
from numpy.random import default_rng
from numpy.typing import NDArray

from ..arrays import Flags
from .guess import BORDER, keep_largest_patches
from .looks import blur, measure_grain
from .masks import Reals, as_reals, measure_depth
from .mincut import Graph
from .patches import Patches
from .threads import share_out

SAMPLES = 3000
TOLD_SAMPLES = 1000
"""So many of them come from what a person pointed at, if anything."""
FOLDS = 5
BLOCK = 30
"""Side of a block at half the working scale: wider than a floor tile's or a print's usual repeat."""
RIDGE = 1e-2
STEEPNESS = 6.0
BOUND = 4.0
LESSONS = 2
HOLD = 8.0
FIRST_SHARE = 0.15
"""Weight of what the first answer rested on beside what the lesson says."""


class Features:
    """What every second pixel of a picture looks like, whatever the answer."""

    def __init__(self, lab: Reals) -> None:
        """See the features of a picture (h, w, 3) CIE Lab at working scale."""
        self.shape = (lab.shape[0] // 2, lab.shape[1] // 2)
        self._lab = self._halve(lab)
        parts = [blur(self._lab, sigma) for sigma in (0.5, 1.5, 3.5)]
        spread = blur(self._lab**2, 2) - blur(self._lab, 2) ** 2
        parts.append(as_reals(np.log(np.sqrt(np.maximum(spread, 0)) + 0.5)))
        for scale in (1.2, 3.0):
            parts.append(blur(self._halve(measure_grain(lab[..., 0], scale)), 2)[..., None])
        fixed = np.concatenate(parts, axis=2)
        self._near = fixed[..., :6]
        self._fixed = _standardise(fixed)

    def _halve(self, picture: Reals) -> Reals:
        size = (self.shape[1], self.shape[0])
        return as_reals(cv2.resize(picture, size, interpolation=cv2.INTER_AREA))

    def measure(self, floor: Flags) -> Reals:
        """Return (pixels, k) features, standardised, with the difference from the `floor` (h/2, w/2) near by."""
        weight = floor.astype(np.float32)
        near = blur(weight, 15)[..., None]
        ground = (blur(self._lab * weight[..., None], 15) + 1e-3 * self._lab[floor].mean(0)) / (near + 1e-3)
        beside = np.concatenate([self._near[..., :3] - ground, self._near[..., 3:] - ground], axis=2)
        return np.concatenate([self._fixed, _standardise(beside)], axis=1)


def _standardise(features: Reals) -> Reals:
    """Return features (h, w, k) as (pixels, k), each with mean 0 and spread 1, within sensible limits."""
    flat = features.reshape(-1, features.shape[2])
    return as_reals(np.clip((flat - flat.mean(0)) / (flat.std(0) + 1e-6), -4, 4))


def _expand(x: Reals, pairs: tuple[NDArray[np.intp], ...]) -> Reals:
    ones = np.ones((len(x), 1), np.float32)
    return np.concatenate([ones, x, x[:, pairs[0]] * x[:, pairs[1]]], axis=1)


def _judge(x: Reals, weights: Reals, pairs: tuple[NDArray[np.intp], ...]) -> Reals:
    """Return the fitted quadratic at every row of `x`, without writing its terms out."""
    width = x.shape[1]
    square = np.zeros((width, width), np.float32)
    square[pairs] = weights[1 + width :]
    return as_reals(weights[0] + x @ weights[1 : 1 + width] + ((x @ square) * x).sum(1))


def _fold_blocks(shape: tuple[int, int], draw: np.random.Generator) -> NDArray[np.intp]:
    """Return the fold (pixels,) of every pixel: whole blocks fall into one."""
    rows, columns = np.mgrid[: shape[0], : shape[1]] // BLOCK
    block = rows * (int(columns.max()) + 1) + columns
    fold: NDArray[np.intp] = (draw.permutation(int(block.max()) + 1) % FOLDS)[block].ravel()
    return fold


def learn(features: Features, cloth: Flags, floor: Flags, told: Flags | None = None) -> Reals | None:
    """Return a bounded log-likelihood (h/2, w/2) for cloth, or None where too little is known of either.

    Args:
        features: of the picture.
        cloth: (h/2, w/2) pixels taken for cloth.
        floor: (h/2, w/2) pixels taken for floor.
        told: (h/2, w/2) pixels among them that a person spoke of: they speak for themselves too, and louder.
    """
    draw = default_rng(5)
    inside, outside = np.flatnonzero(cloth), np.flatnonzero(floor)
    if min(len(inside), len(outside)) < 40:
        return None
    x = features.measure(floor)
    chosen = np.concatenate([draw.choice(inside, SAMPLES), draw.choice(outside, SAMPLES)])
    if told is not None:
        for side, first in ((cloth, 0), (floor, SAMPLES)):
            spoken = np.flatnonzero(side & told)
            if len(spoken):
                chosen[first : first + TOLD_SAMPLES] = draw.choice(spoken, TOLD_SAMPLES)
    target = np.repeat(np.array([1, -1], np.float32), SAMPLES)
    fold = _fold_blocks(features.shape, draw)
    of = fold[chosen]
    if told is not None:
        of = np.where(told.ravel()[chosen], FOLDS, of)
    pairs = np.triu_indices(x.shape[1])
    terms = _expand(x[chosen], pairs)
    parts = [terms[of == k] for k in range(FOLDS + 1)]
    squares = [part.T @ part for part in parts]
    sums = [part.T @ target[of == k] for k, part in enumerate(parts)]
    verdict = np.zeros(len(x), np.float32)

    def judge_fold(k: int) -> None:
        ridge = np.full(terms.shape[1], RIDGE * max(int((of != k).sum()), 1), np.float32)
        ridge[0] = 1e-3
        taught = np.sum([squares[j] for j in range(FOLDS + 1) if j != k], axis=0) + np.diag(ridge)
        weights = np.linalg.solve(taught, np.sum([sums[j] for j in range(FOLDS + 1) if j != k], axis=0))
        here = np.flatnonzero(fold == k)
        verdict[here] = _judge(x[here], as_reals(weights), pairs)

    share_out(judge_fold, range(FOLDS))
    middles, widths = [], []
    for part in (verdict[chosen[:SAMPLES]], verdict[chosen[SAMPLES:]]):
        middles.append(float(np.median(part)))
        widths.append(max(0.2, 1.48 * float(np.median(np.abs(part - middles[-1])))))
    # the threshold lies as many spreads from one side's median as from the other's
    threshold = (middles[0] * widths[1] + middles[1] * widths[0]) / (widths[0] + widths[1])
    return as_reals(np.clip(STEEPNESS * (verdict - threshold), -BOUND, BOUND).reshape(features.shape))


class Lesson:
    """One picture, ready to be taught by one answer after another."""

    def __init__(self, patches: Patches, lab: Reals, forced: Reals, blocked: Flags) -> None:
        """Make the picture ready.

        Args:
            patches: of the picture.
            lab: (h, w, 3) the picture.
            forced: (n,) large positive where a patch is known to be garment, negative where it is not, else 0.
            blocked: (h, w) True on references.
        """
        self.patches = patches
        self._forced = forced
        self._open = ~blocked
        self._features = Features(lab)
        ties = HOLD * patches.length * (0.15 + 0.85 * np.exp(-patches.edge))
        self._graph = Graph(patches.pair, ties, patches.count)
        self._rim = np.where(patches.border > BORDER, -3.0, 0.0)

    def teach(self, garment: Flags, told: Flags | None = None, doubted: Flags | None = None) -> Reals | None:
        """Return the log-likelihood (h, w) for garment that an answer (n,) teaches, or None where it teaches nothing.

        With `told` (n,), patches that a person spoke of, which `garment` agrees with, and `doubted` (n,), patches of
        which nothing is learned.
        """
        labels = self.patches.labels
        height, width = labels.shape
        every_second = (slice(0, height // 2 * 2, 2), slice(0, width // 2 * 2, 2))
        depth = measure_depth(garment[labels])
        usable = self._open if doubted is None else self._open & ~doubted[labels]
        learned = learn(
            self._features,
            ((depth < -2) & usable)[every_second],
            ((depth > 2) & usable)[every_second],
            None if told is None else told[labels][every_second],
        )
        if learned is None:
            return None
        return as_reals(cv2.resize(learned, (width, height), interpolation=cv2.INTER_LINEAR))

    def cut(self, ratio: Reals, first_ratio: Reals, forced: Reals | None = None) -> Flags:
        """Return the patches (n,) of the garment: the cheapest cut.

        Args:
            ratio: (h, w) log-likelihood for garment.
            first_ratio: (n,) of the patches before, worth a little.
            forced: (n,) added to what was known at first.
        """
        lean = self.patches.mean_of(ratio) + FIRST_SHARE * first_ratio + self._rim
        known = self._forced if forced is None else self._forced + forced
        return self._graph.cut(lean * self.patches.size * 0.5 + known)

    def learn_again(self, garment: Flags, first_ratio: Reals) -> tuple[Flags, Reals]:
        """Return the patches cut anew by what the picture itself teaches, and the (h, w) log ratio that rests on.

        Args:
            garment: (n,) the answer so far.
            first_ratio: (n,) what it rests on.
        """
        ratio = np.zeros(self.patches.labels.shape, np.float32)
        for _ in range(LESSONS):
            learned = self.teach(garment)
            if learned is None:
                break
            ratio = learned
            better = keep_largest_patches(self.patches, self.cut(ratio, first_ratio))
            if not better.any():
                break
            garment = better
        return garment, ratio
