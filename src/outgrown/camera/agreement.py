"""Which references agree: one that lies crooked, is bent, or is not what it seems must not spoil the others."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from ..arrays import Floats
from .adjust import Adjustment
from .camera import Camera
from .reference import Reference

_SIZE_LIMIT = 0.008
"""Sizes nearer than this are never called in disagreement: a shadow at an edge or a curled sheet does as much."""
_ODD, _QUARREL = 15.0, 25.0
"""How much the weighted squares must fall when one reference goes its own way, for it to be the odd one of several, and
when two do, for neither to be believed; more where edges are rougher than was thought (carpet). By their root mean
square, not their mean square, which would be the ratio of variances: of two cards 3 % apart with rippled edges it
would then find none, so 12 of 30, while 1 of 30 right pairs is called wrong (4 without any of this). Of three or four
invented cards 5 of 315 sets of right ones lose one (16 while what a card misses of its own edges alone counted as
well), and 147 of 156 cards that are 3 % too large are left out (96)."""

Adjuster = Callable[[Sequence[Reference]], Adjustment]


@dataclass(frozen=True, eq=False)
class Agreement:
    """The adjustment of those that agree.

    Attributes:
        adjustment: of `used`.
        used: references that agree.
        left_out: those that do not, each with its size as measured by the others, as a share of what it should be.
        quarrel: where only two are left and they disagree: the second's size by the first, else None.
    """

    adjustment: Adjustment
    used: tuple[Reference, ...]
    left_out: tuple[tuple[Reference, float], ...] = ()
    quarrel: float | None = None


def find_agreement(references: Sequence[Reference], adjuster: Adjuster) -> Agreement:
    """Return the adjustment of the references that agree, the odd ones left out one by one.

    Args:
        references: one or more.
        adjuster: adjusts some of them.
    """
    used = list(references)
    alone = cache(lambda reference: adjuster([reference]))
    left_out: list[tuple[Reference, float]] = []
    joint = adjuster(used)
    while len(used) > 2:
        # What a reference misses of its own edges it misses alone as well: that is no disagreement.
        tries = [(adjuster([*used[:i], *used[i + 1 :]]), i) for i in _suspects(joint)]
        best, index = min(tries, key=lambda attempt: attempt[0].chi2 + alone(used[attempt[1]]).chi2)
        share = measure_size_share(best.camera, used[index])
        own = alone(used[index])
        excess = joint.chi2 - best.chi2 - own.chi2
        if excess < _ODD * _roughness(best, own) or abs(math.log(share)) < _SIZE_LIMIT:
            return Agreement(joint, tuple(used), tuple(left_out))
        left_out.append((used.pop(index), share))
        joint = best
    if len(used) == 2:
        first, second = map(alone, used)
        share = measure_size_share(first.camera, used[1])
        excess = joint.chi2 - first.chi2 - second.chi2
        if excess > _QUARREL * _roughness(first, second) and abs(math.log(share)) > _SIZE_LIMIT:
            return Agreement(joint, tuple(used), tuple(left_out), quarrel=share)
    return Agreement(joint, tuple(used), tuple(left_out))


def _roughness(*adjustments: Adjustment) -> float:
    """Return the root mean square of how references that need not agree miss their own edges, 1 if less."""
    return max(1.0, float(np.sqrt(np.mean(np.square([one for each in adjustments for one in each.misfit])))))


def _suspects(joint: Adjustment, most: int = 4) -> list[int]:
    """Return the references that fit worst: with many, not each need be tried."""
    return [int(i) for i in np.argsort(joint.misfit)[::-1][:most]]


def measure_size_share(camera: Camera, reference: Reference) -> float:
    """Return the reference's size as `camera` measures it, as a share of what it should be."""
    measured = camera.to_mm(reference.corners_px, reference.thickness_mm)
    share = math.sqrt(_area(measured) / _area(reference.corners_mm))
    return share if math.isfinite(share) and share > 0 else 1.0


def _area(ring: Floats) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return abs(float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))
