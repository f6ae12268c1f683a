"""Panel corners: which of an outline's corners are hem, crotch points and waist of a leg's piece taken apart."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats
from ..geometry.corners import find_corners
from ..geometry.rings import perimeter_mm, resample_ring, smooth_ring

WORST_PANEL_COST = 12.0
"""Readings above this are no leg's piece. Measured: of 200 invented pieces 95 % cost under 8.1; folded legs mostly
over 25, open ones over 13."""
_POINTS = 1200
_MOST_CORNERS = 13

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class PanelCorners:
    """The best reading of an outline as a leg's piece.

    Attributes:
        ring_mm: (N, 2) evenly spaced counter-clockwise ring.
        indices: into `ring_mm`, counter-clockwise: hem's beginning and end, crotch point, waist's beginning and end,
            the other crotch point.
        cost: how far from a leg's piece; above `WORST_PANEL_COST` it is none.
    """

    ring_mm: Floats
    indices: tuple[int, ...]
    cost: float


def find_panel_corners(ring_mm: Floats) -> PanelCorners | None:
    """Return the outline's best reading as a leg's piece, or None when it has fewer than six corners.

    Every choice of six outward corners, in every order round, is scored against what such pieces share: two
    equally long inseams, crotch points that stand out to either side, hollow rises, waist and hem across.
    """
    even = resample_ring(ring_mm, _POINTS)
    step = perimeter_mm(even) / _POINTS
    quiet = smooth_ring(even, 3.0 / step)
    reaches = (max(6, round(0.012 * _POINTS)), max(12, round(0.025 * _POINTS)))
    corners = sorted(find_corners(quiet, reaches, 18.0), key=lambda c: -c.turn_deg)[:_MOST_CORNERS]
    corners = sorted(corners, key=lambda c: c.index)
    if len(corners) < 6:
        return None
    index = np.array([c.index for c in corners])
    turn = np.array([c.turn_deg for c in corners])
    hollow, off = _runs(quiet, index)
    subsets = np.array(list(combinations(range(len(corners)), 6)))
    best: PanelCorners | None = None
    for first in range(6):
        chosen = np.roll(subsets, -first, axis=1)
        cost = _costs(quiet[index], turn, hollow, off, chosen, step * _POINTS)
        k = int(np.argmin(cost))
        if np.isfinite(cost[k]) and (best is None or cost[k] < best.cost):
            best = PanelCorners(even, tuple(int(i) for i in index[chosen[k]]), float(cost[k]))
    return best


def _runs(quiet: Floats, index: Ints) -> tuple[Floats, Floats]:
    """Return tables over pairs of corners: mean distance of the way between to the left of its chord, and greatest."""
    count = len(index)
    hollow, off = np.zeros((count, count)), np.zeros((count, count))
    for i in range(count):
        for j in range(count):
            if i == j:
                continue
            span = int((index[j] - index[i]) % _POINTS)
            part = quiet[(int(index[i]) + np.arange(span + 1)) % _POINTS]
            chord = part[-1] - part[0]
            aside = ((part - part[0]) @ np.array([-chord[1], chord[0]])) / max(float(np.hypot(*chord)), 1e-9)
            hollow[i, j], off[i, j] = aside.mean(), np.abs(aside).max()
    return hollow, off


def _beyond(value: Floats, low: float, high: float, scale: float) -> Floats:
    return np.asarray((np.maximum(np.maximum(low - value, value - high), 0.0) / scale) ** 2)


def _costs(places: Floats, turn: Floats, hollow: Floats, off: Floats, chosen: Ints, size: float) -> Floats:
    """Return the cost of each row of six corners."""
    hl, hr, cr, wr, wl, cl = (chosen[:, k] for k in range(6))
    foot = 0.5 * (places[hl] + places[hr])
    up = 0.5 * (places[cl] + places[cr]) - foot
    height = np.maximum(np.hypot(*up.T), 1e-9)
    up = up / height[:, None]
    right = np.column_stack([up[:, 1], -up[:, 0]])

    def xy(k: Ints) -> tuple[Floats, Floats]:
        way = places[k] - foot
        return np.einsum("ij,ij->i", way, right), np.einsum("ij,ij->i", way, up)

    (hlx, hly), (hrx, hry), (crx, cry), (wrx, wry), (wlx, wly), (clx, cly) = (xy(k) for k in (hl, hr, cr, wr, wl, cl))
    hem, waist, wide = hrx - hlx, wrx - wlx, np.maximum(crx - clx, 1e-6)
    inseams = np.hypot(crx - hrx, cry - hry), np.hypot(clx - hlx, cly - hly)
    rises = np.hypot(crx - wrx, cry - wry), np.hypot(clx - wlx, cly - wly)
    safe = [np.maximum(v, 1e-6) for v in (*inseams, *rises, hem, waist)]
    possible = (
        (hem > 0.03 * size)
        & (waist > 0.05 * size)
        & (crx > wrx)
        & (clx < wlx)
        & (wry > cry + 0.04 * size)
        & (wly > cly + 0.04 * size)
        & (cry > hry)
        & (cly > hly)
        & (hlx < 0)
    )
    cost = (
        (np.log(safe[0] / safe[1]) / 0.05) ** 2
        + _beyond(np.abs(cry - cly) / wide, 0, 0.06, 0.04)
        + _beyond(np.abs(np.log(safe[2] / safe[3])), 0, 0.3, 0.1)
        + _beyond(hem / wide, 0.3, 0.97, 0.08)
        + _beyond(waist / wide, 0.5, 0.92, 0.06)
        + _beyond(0.5 * (safe[2] + safe[3]) / wide, 0.36, 0.8, 0.08)
        + _beyond(0.5 * (safe[0] + safe[1]) / wide, 0.1, 1.7, 0.15)
        + _beyond(np.abs(wry - wly) / safe[5], 0, 0.3, 0.1)
        + (off[hl, hr] / (0.09 * safe[4])) ** 2 * 0.4
        + (off[wr, wl] / (0.12 * safe[5])) ** 2 * 0.4
        + _beyond(hollow[cr, wr] / safe[2], 0.02, 0.25, 0.03)
        + _beyond(hollow[wl, cl] / safe[3], 0.02, 0.25, 0.03)
        + _beyond(hollow[hr, cr] / safe[0], -0.03, 0.09, 0.03)
        + _beyond(hollow[cl, hl] / safe[1], -0.03, 0.09, 0.03)
    )
    for k, (low, high) in zip(
        (hl, hr, cr, wr, wl, cl), ((55, 125), (55, 125), (35, 130), (50, 125), (50, 125), (35, 130)), strict=True
    ):
        cost = cost + _beyond(turn[k], low, high, 12.0)
    strong = np.clip((turn - 40.0) / 40.0, 0.0, 1.0)
    cost = cost + 2.5 * (strong.sum() - strong[chosen].sum(axis=1))
    return np.asarray(np.where(possible, cost, np.inf))
