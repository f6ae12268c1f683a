"""Open corners: which of an outline's corners are waist, hems and crotch, when a pair lies open, legs side by side."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from ..arrays import Floats
from ..geometry.corners import find_corners
from ..geometry.rings import perimeter_mm, resample_ring, smooth_ring
from .laying import find_notches

WORST_OPEN_COST = 30.0
"""Readings above this are no open pair. Measured: invented pairs and the shapes of ten photos of
trousers and shorts cost under 11, three tops over 60."""
_POINTS = 1200
_MOST_CORNERS = 13


@dataclass(frozen=True, eq=False)
class OpenCorners:
    """The best reading of an outline as a pair laid open.

    Attributes:
        ring_mm: (N, 2) evenly spaced counter-clockwise ring.
        indices: into `ring_mm`: crotch, then counter-clockwise hem inner, hem outer and waist of the one leg, waist,
            hem outer and hem inner of the other.
        cost: how far from an open pair; above `WORST_OPEN_COST` it is none.
    """

    ring_mm: Floats
    indices: tuple[int, ...]
    cost: float


def find_open_corners(ring_mm: Floats) -> OpenCorners | None:
    """Return the outline's best reading as an open pair, or None when it has no gap between legs or too few corners.

    From the gap's innermost point every choice of six outward corners in order is scored against what open
    pairs share: two equal legs, hems about square to them, a waist across from the crotch.
    """
    even = resample_ring(ring_mm, _POINTS)
    step = perimeter_mm(even) / _POINTS
    quiet = smooth_ring(even, 3.0 / step)
    size = step * _POINTS
    reaches = (max(6, round(0.012 * _POINTS)), max(12, round(0.025 * _POINTS)))
    found = sorted(find_corners(quiet, reaches, 25.0), key=lambda c: -c.turn_deg)[:_MOST_CORNERS]
    best: OpenCorners | None = None
    for place in find_notches(ring_mm):
        crotch = int(np.argmin(np.hypot(*(even - place).T)))
        order = sorted(found, key=lambda c: (c.index - crotch) % _POINTS)
        if len(order) < 6:
            continue
        index = np.array([c.index for c in order])
        turn = np.array([c.turn_deg for c in order])
        chosen = np.array(list(combinations(range(len(order)), 6)))
        cost = _costs(quiet, crotch, index[chosen], turn[chosen], turn, size)
        k = int(np.argmin(cost))
        if np.isfinite(cost[k]) and (best is None or cost[k] < best.cost):
            corners = [int(i) for i in index[chosen[k]]]
            best = OpenCorners(even, (_innermost(quiet, corners), *corners), float(cost[k]))
    return best


def _innermost(quiet: Floats, corners: list[int]) -> int:
    """Return the index, between the hems' inner corners, that is nearest to the waist along the middle."""
    first, last = corners[5], corners[0]
    between = (first + np.arange((last - first) % _POINTS + 1)) % _POINTS
    foot = 0.5 * (quiet[first] + quiet[last])
    up = 0.5 * (quiet[corners[2]] + quiet[corners[3]]) - foot
    return int(between[int(np.argmax((quiet[between] - foot) @ up))])


def _costs(quiet: Floats, crotch: int, index: Floats, turn: Floats, turns: Floats, size: float) -> Floats:
    """Return the cost of each row of six corners."""
    p = quiet[index]
    c = quiet[crotch]
    along = (index - crotch) % _POINTS * (size / _POINTS)

    def length(a: Floats, b: Floats) -> Floats:
        return np.asarray(np.maximum(np.hypot(*np.moveaxis(b - a, -1, 0)), 1e-9))

    inseam = length(c, p[:, 0]), length(p[:, 5], c)
    hem = length(p[:, 0], p[:, 1]), length(p[:, 4], p[:, 5])
    side = length(p[:, 1], p[:, 2]), length(p[:, 3], p[:, 4])
    side_round = along[:, 2] - along[:, 1], along[:, 4] - along[:, 3]
    waist = length(p[:, 2], p[:, 3])
    waist_round = along[:, 3] - along[:, 2]
    middle = 0.5 * (p[:, 2] + p[:, 3])
    rise = length(c, middle)
    up = (middle - c) / rise[:, None]
    slant = np.abs(np.einsum("ij,ij->i", p[:, 3] - p[:, 2], up)) / waist
    cost = (
        (np.log(inseam[0] / inseam[1]) / 0.1) ** 2
        + (np.log(hem[0] / hem[1]) / 0.15) ** 2
        + (np.log(side[0] / side[1]) / 0.06) ** 2
        + (slant / 0.12) ** 2
        + ((waist_round / waist - 1.0) / 0.06) ** 2
    )
    for k in (0, 1):
        cost = cost + ((side_round[k] / side[k] - 1.0) / 0.06) ** 2
        cost = cost + (np.log(side[k] / (inseam[k] + rise)) / 0.15) ** 2
        cost = cost + np.maximum(np.log(hem[k] / (0.62 * waist)), 0.0) ** 2 / 0.15**2
        leg = p[:, 0] - c if k == 0 else p[:, 5] - c
        across = p[:, 1] - p[:, 0] if k == 0 else p[:, 5] - p[:, 4]
        lean = np.abs(np.einsum("ij,ij->i", leg, across)) / (inseam[k] * hem[k])
        cost = cost + (np.maximum(lean - 0.25, 0.0) / 0.2) ** 2
    cost = cost + (np.maximum(np.abs(turn - 90.0) - 25.0, 0.0) ** 2 / 15.0**2).sum(axis=1)
    strong = np.clip((turns - 40.0) / 40.0, 0.0, 1.0)
    chosen = np.clip((turn - 40.0) / 40.0, 0.0, 1.0).sum(axis=1)
    cost = cost + 2.0 * (strong.sum() - chosen)
    possible = (rise > 0.05 * size) & (waist > 0.06 * size) & (np.minimum(*hem) > 0.02 * size)
    return np.asarray(np.where(possible, cost, np.inf))
