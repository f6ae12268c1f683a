"""Softness: where the photo changes slowly across a ring, as it never does where cloth ends.

Cloth ends within a pixel or two at working scale. What a glossy floor mirrors (a window, a lamp) and what a distant
thing shades fades over a finger's width.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from ..arrays import Flags, Floats
from .looks import blur
from .masks import Reals, as_reals
from .stations import find_runs, measure_normals, resample_ring, sample_along, trace_level, turn_counter_clockwise

SPACING_PX = 2.0
"""From station to station [working px]."""
OFFSETS_PX = np.arange(-14.0, 14.1)
EASE = 4.0
"""Spread along the ring of the colours compared [stations]."""
STEP_PX, NEAR_PX = 3, 7.0
"""A cloth's edge is crossed within so many pixels, so far beside the ring at most. Within 4 px alone, a print's motif
that begins a little farther in made five times as many stations of true edges look soft."""
FAR_PX = slice(3, 7)
"""Places among `OFFSETS_PX`, from either end, that show what lies to both sides."""
SOFT_SHARE, LEAST_LAB = 0.45, 6.0
"""Where no such step is this share of the whole change, and that is large enough to be seen, the edge is soft. Of the
stations of 85 scenes that lay on the cloth's edge 0.3 % were, of those that lay beside it, on 13 scenes with mirrored
windows or lamps, 59 %, in the mean of the scenes."""
CLEAR_LAB = 5.0
"""A smaller step is no edge at all."""


@dataclass(frozen=True, eq=False)
class Softness:
    """How the photo changes across a ring.

    Attributes:
        stations: (N, 2) x, y along the ring, counter-clockwise [working px].
        step: (N,) largest change of colour within `STEP_PX` near the ring [Lab].
        change: (N,) change from one side to the other [Lab].
        usable: (N,) False where a reference lies near.
    """

    stations: Floats
    step: Floats
    change: Floats
    usable: Flags

    @property
    def is_soft(self) -> Flags:
        """(N,) True where the change is seen and is slow."""
        soft: Flags = self.usable & self._is_slow & (self.change > LEAST_LAB)
        return soft

    @property
    def is_edgeless(self) -> Flags:
        """(N,) True where there is no quick change to be seen."""
        edgeless: Flags = self.usable & (self._is_slow | (self.step < CLEAR_LAB))
        return edgeless

    @property
    def _is_slow(self) -> Flags:
        slow: Flags = self.step < SOFT_SHARE * self.change
        return slow


def measure_softness(lab: Reals, mask: Flags, blocked: Flags) -> Softness:
    """Return how a picture changes across the edge of a mask.

    Args:
        lab: (h, w, 3) CIE Lab.
        mask: (h, w) True on the garment, not empty.
        blocked: (h, w) True on references.
    """
    ring = turn_counter_clockwise(trace_level(blur(as_reals(mask), 1.0).astype(np.float64))[0])
    stations = resample_ring(ring, SPACING_PX)
    places = stations[:, None] + OFFSETS_PX[:, None] * measure_normals(stations, 2.0)[:, None]
    colours: NDArray[Any] = sample_along(lab, places).astype(np.float64)
    colours = gaussian_filter1d(colours, EASE, axis=0, mode="wrap")
    steps = np.linalg.norm(colours[:, STEP_PX:] - colours[:, :-STEP_PX], axis=2)
    near = np.abs(OFFSETS_PX[STEP_PX:] + OFFSETS_PX[:-STEP_PX]) <= 2 * NEAR_PX
    inner, outer = colours[:, FAR_PX].mean(axis=1), colours[:, ::-1][:, FAR_PX].mean(axis=1)
    usable: Flags = sample_along(as_reals(blocked), places).max(axis=1) < 0.5
    return Softness(stations, steps[:, near].max(axis=1), np.linalg.norm(outer - inner, axis=1), usable)


def keep_long_runs(flags: Flags, least: int) -> Flags:
    """Return flags (N,) along a closed ring, True on runs of `least` or more, or all round."""
    kept = flags.copy()
    for run in find_runs(flags):
        if len(run) < min(least, len(flags)):
            kept[run] = False
    return kept
