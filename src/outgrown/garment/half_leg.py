"""Half leg: which of an outline's corners are waist, crotch and hem, when a pair lies folded lengthwise."""

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats
from ..geometry.corners import find_corners
from ..geometry.rings import perimeter_mm, resample_ring, smooth_ring

Ints = NDArray[np.int64]


class CornerName(StrEnum):
    """Corners of a half leg, counter-clockwise from the top of the side."""

    WAIST_SIDE = "waist-side"
    HEM_OUTER = "hem-outer"
    HEM_INNER = "hem-inner"
    CROTCH = "crotch"
    WAIST_CENTRE = "waist-centre"


@dataclass(frozen=True, eq=False)
class HalfLegCorners:
    """The best reading of an outline as a half leg.

    Attributes:
        ring_mm: (N, 2) evenly spaced counter-clockwise ring; of the outline turned over if `is_mirrored`.
        indices: into `ring_mm`, in the order of `CornerName`.
        is_mirrored: x was negated to bring the side to the left.
        cost: how far from a half leg, 0 = just like one; above `WORST_COST` it is none.
        runner_up: the cost of the best reading with another corner order (upside down or turned over).
    """

    ring_mm: Floats
    indices: tuple[int, ...]
    is_mirrored: bool
    cost: float
    runner_up: float


WORST_COST = 9.0
"""Readings above this are no half legs. Measured: 1000 invented legs reached 5.1 at most; ten photos of open trousers,
skirt
and tops 12.7 to 170, and one of open shorts, 2.3, which the gap between its legs gives away (see `laying`)."""

_POINTS = 1200
_MOST_CORNERS = 13


def find_half_leg(ring_mm: Floats) -> HalfLegCorners | None:
    """Return the outline's best reading as a half leg, or None when it has fewer than five corners.

    Every choice of five outward corners, in every order round the outline and of both sides, is scored
    against what all half legs share: a straight side as long as rise and inseam together, waist and hem about
    square to it, a crotch point that stands out, a hollow rise.
    """
    ring = np.ascontiguousarray(ring_mm, dtype=np.float64)
    return _find_half_leg(ring.tobytes())


@lru_cache(maxsize=4)
def _find_half_leg(ring_bytes: bytes) -> HalfLegCorners | None:
    """Return the best reading of a ring given as bytes: telling the garment and reading it ask for the same twice."""
    ring_mm = np.frombuffer(ring_bytes, dtype=np.float64).reshape(-1, 2)
    best: HalfLegCorners | None = None
    costs: list[float] = []
    for is_mirrored in (False, True):
        ring = ring_mm * np.array([-1.0, 1.0]) if is_mirrored else ring_mm
        ring = ring[::-1] if is_mirrored else ring
        even = resample_ring(ring, _POINTS)
        step = perimeter_mm(even) / _POINTS
        quiet = smooth_ring(even, 3.0 / step)
        for cost, indices in _readings(quiet, step):
            costs.append(cost)
            if best is None or cost < best.cost:
                best = HalfLegCorners(even, indices, is_mirrored, cost, np.inf)
    if best is None:
        return None
    others = sorted(costs)[1:]
    return HalfLegCorners(best.ring_mm, best.indices, best.is_mirrored, best.cost, others[0] if others else np.inf)


def _readings(quiet: Floats, step: float) -> list[tuple[float, tuple[int, ...]]]:
    """Return the best (cost, indices) for each of the five ways round, for one side of the cloth."""
    size = step * _POINTS
    # Corners are looked for over 1.6 % and 3.2 % of the way round: 20 and 40 mm on a child's leggings.
    reaches = (max(6, round(0.016 * size / step)), max(12, round(0.032 * size / step)))
    corners = find_corners(quiet, reaches, 15.0)
    corners = sorted(sorted(corners, key=lambda c: -c.turn_deg)[:_MOST_CORNERS], key=lambda c: c.index)
    if len(corners) < 5:
        return []
    index = np.array([c.index for c in corners])
    turn = np.array([c.turn_deg for c in corners])
    places = quiet[index]
    reach = max(6, round(0.018 * _POINTS))
    ahead = quiet[(index + reach) % _POINTS] - places
    behind = quiet[(index - reach) % _POINTS] - places
    runs = _runs(quiet, index)
    subsets = np.array(list(combinations(range(len(corners)), 5)))
    found = []
    for first in range(5):
        chosen = np.roll(subsets, -first, axis=1)
        cost = _costs(places, ahead, behind, turn, runs, chosen, size)
        k = int(np.argmin(cost))
        if np.isfinite(cost[k]):
            found.append((float(cost[k]), tuple(int(i) for i in index[chosen[k]])))
    return found


def _runs(quiet: Floats, index: Ints) -> dict[str, Floats]:
    """Return tables over pairs of corners (i, j): what the outline does from i on to j.

    `off`: farthest from the chord; `hollow`: mean distance to the left of the chord, towards the inside.
    """
    count, points = len(index), len(quiet)
    off = np.zeros((count, count))
    hollow = np.zeros((count, count))
    for i in range(count):
        for j in range(count):
            if i == j:
                continue
            span = int((index[j] - index[i]) % points)
            part = quiet[(int(index[i]) + np.arange(span + 1)) % points]
            chord = part[-1] - part[0]
            length = max(float(np.hypot(*chord)), 1e-9)
            aside = ((part - part[0]) @ np.array([-chord[1], chord[0]])) / length
            off[i, j] = np.abs(aside).max()
            hollow[i, j] = aside.mean()
    return {"off": off, "hollow": hollow}


def _beyond(value: Floats, low: float, high: float, scale: float) -> Floats:
    """Return squared distance outside [low, high], in units of `scale`."""
    outside = np.maximum(np.maximum(low - value, value - high), 0.0)
    return np.asarray((outside / scale) ** 2)


def _costs(
    places: Floats,
    ahead: Floats,
    behind: Floats,
    turn: Floats,
    runs: dict[str, Floats],
    chosen: Floats,
    size: float,
) -> Floats:
    """Return the cost of each row of five corners (waist-side, hem-outer, hem-inner, crotch, waist-centre).

    `ahead` and `behind` are the ways from each corner to the outline a little farther on and back.
    """
    ws, ho, hi, cr, wc = (chosen[:, k] for k in range(5))
    up = places[ws] - places[ho]
    side = np.maximum(np.hypot(*up.T), 1e-9)
    up = up / side[:, None]
    right = np.column_stack([up[:, 1], -up[:, 0]])

    def x(k: Floats) -> Floats:
        return np.asarray(np.einsum("ij,ij->i", places[k] - places[ho], right))

    def y(k: Floats) -> Floats:
        return np.asarray(np.einsum("ij,ij->i", places[k] - places[ho], up))

    hem_x, hem_y, crotch_x, crotch_y, waist_x, waist_y = x(hi), y(hi), x(cr), y(cr), x(wc), y(wc)

    def steepness_deg(way: Floats) -> Floats:
        level = np.abs(np.einsum("ij,ij->i", way, right))
        return np.asarray(np.degrees(np.arctan2(np.abs(np.einsum("ij,ij->i", way, up)), level)))

    floor = 1e-6 + 0.0 * side
    width = np.maximum(crotch_x, floor)
    rise = np.maximum(waist_y - crotch_y, floor)
    inseam = np.maximum(crotch_y - hem_y, floor)
    is_possible = (
        (hem_x > 0.02 * size)
        & (waist_x > 0.03 * size)
        & (crotch_x > 0.03 * size)
        & (crotch_y > hem_y + 0.01 * size)
        & (waist_y > crotch_y + 0.03 * size)
        & (side > 0.1 * size)
    )
    off, hollow = runs["off"], runs["hollow"]
    # Scales: how far a plausible pair strays; the ranges cover baby shorts to adult flares.
    cost = (
        (off[ws, ho] / (0.025 * side + 0.001 * size)) ** 2 * 0.7
        + (off[ho, hi] / (0.09 * np.maximum(hem_x, floor) + 0.001 * size)) ** 2 * 0.5
        + (off[wc, ws] / (0.11 * np.maximum(waist_x, floor) + 0.001 * size)) ** 2 * 0.5
        + _beyond(np.degrees(np.arctan2(hem_y, np.maximum(hem_x, floor))), -9, 9, 8.0)
        + _beyond(np.degrees(np.arctan2(waist_y - side, np.maximum(waist_x, floor))), -20, 12, 8.0)
        + _beyond(crotch_x / np.maximum(waist_x, floor), 1.1, 1.75, 0.08)
        + _beyond(hem_x / width, 0.3, 0.95, 0.1)
        + _beyond(np.log(rise / width), np.log(0.75), np.log(1.5), 0.18)
        + _beyond(np.log(inseam / width), np.log(0.25), np.log(3.3), 0.25)
        # The rise is hollow: it curves into the crotch point. The inseam may be, less.
        + _beyond(hollow[cr, wc] / rise, 0.03, 0.2, 0.03)
        + _beyond(hollow[hi, cr] / inseam, -0.03, 0.07, 0.03)
        # So the rise leaves the crotch point at a slant, and reaches the waist upright; the inseam stays steep.
        + _beyond(steepness_deg(ahead[cr]), 0, 64, 10.0)
        + _beyond(steepness_deg(behind[cr]), 60, 90, 12.0)
        + _beyond(steepness_deg(behind[wc]), 68, 90, 10.0)
        + (off[hi, cr] / (0.12 * inseam + 0.004 * size)) ** 2 * 0.3
    )
    for k, (low, high) in zip(
        (ws, ho, hi, cr, wc), ((60, 115), (60, 115), (60, 125), (35, 130), (55, 125)), strict=True
    ):
        cost = cost + _beyond(turn[k], low, high, 12.0)
    # Outward corners that the reading leaves unexplained; a ribbed cuff has one, and may.
    strong = np.clip((turn - 40.0) / 40.0, 0.0, 1.0)
    unexplained = strong.sum() - strong[chosen].sum(axis=1)
    cost = cost + 2.5 * unexplained
    return np.asarray(np.where(is_possible, cost, np.inf))
