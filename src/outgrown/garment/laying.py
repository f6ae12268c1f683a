"""Laying: how a garment lies, told from its outline alone."""

import numpy as np

from ..arrays import Floats
from ..geometry.corners import turns_deg
from ..geometry.rings import as_ring, hull_depths_mm, perimeter_mm, resample_ring, smooth_ring
from ..geometry.symmetry import find_mirror_axis, halve
from ..outline.outline import Outline
from .garment import Laid
from .half_leg import WORST_COST, find_half_leg

NOTCH_TURN_DEG = -60.0
"""An inward turn this sharp, seen over 4 % of the way round to either side, is a gap between legs or sleeves.
Measured: 200 invented folded legs turned inward by 38 degrees at most, their ribbed cuffs included; eleven
photos of open trousers and shorts by 107 or more; tops at the armpit by 66 or more."""
NOTCH_DEPTH = 0.012
"""Notches are deeper than this share of the way round, measured from a line stretched over them."""
SURE_COST = 0.5
"""A half leg read at so little cost is not tried as a panel. Measured: no panel of 87 cost less than 1.8."""
_POINTS = 1200


def recognise_laid(outline: Outline) -> Laid:
    """Return how the garment seems to lie: folded, open, panel or other. The person's word outranks it.

    One gap between two legs: open. No gap and the shape of a half leg: folded. No gap and a half leg to either
    side of its middle line: a single panel. All else: other.
    """
    ring = as_ring(outline.ring_mm)
    notches = count_notches(ring)
    if notches == 1:
        return Laid.OPEN
    if notches > 1:
        return Laid.OTHER
    half = find_half_leg(ring)
    whole_cost = np.inf if half is None else half.cost
    if whole_cost < SURE_COST:
        return Laid.FOLDED
    halves = halve(ring, find_mirror_axis(ring))
    if halves is not None:
        readings = [find_half_leg(part) for part in halves]
        worst = max(np.inf if reading is None else reading.cost for reading in readings)
        if worst <= min(WORST_COST, whole_cost):
            return Laid.PANEL
    return Laid.FOLDED if whole_cost <= WORST_COST else Laid.OTHER


def count_notches(ring_mm: Floats) -> int:
    """Return how many gaps the outline has, like that between the legs or under a sleeve."""
    return len(find_notches(ring_mm))


def find_notches(ring_mm: Floats) -> Floats:
    """Return the (N, 2) innermost point of every gap, like that between the legs or under a sleeve, in order."""
    even = resample_ring(ring_mm, _POINTS)
    step = perimeter_mm(even) / _POINTS
    quiet = smooth_ring(even, 3.0 / step)
    depth = hull_depths_mm(quiet)
    turn = turns_deg(quiet, round(0.04 * _POINTS))
    is_notch = (turn < NOTCH_TURN_DEG) & (depth > NOTCH_DEPTH * step * _POINTS)
    # One notch is one run of such points; runs nearer than 4 % of the way round are one.
    at = np.flatnonzero(is_notch)
    if len(at) == 0:
        return np.zeros((0, 2))
    gaps = np.diff(np.concatenate([at, [at[0] + _POINTS]]))
    ends = np.flatnonzero(gaps > 0.04 * _POINTS)
    if len(ends) == 0:
        return even[[at[int(np.argmax(depth[at]))]]]
    runs = np.split(np.roll(at, -(int(ends[-1]) + 1)), np.cumsum(np.diff(np.concatenate([[-1], ends[:-1]]))))
    return np.array([even[run[int(np.argmax(depth[run]))]] for run in runs if len(run)])
