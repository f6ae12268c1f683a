"""Edge: a coarse ring moved onto the cloth's edge, to a fraction of a pixel."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter, uniform_filter1d

from ..arrays import Bytes, Flags, Floats
from .empty_floor import EmptyFloor
from .gap import bound_gap, measure_gap, weigh_gap
from .hue_turn import CLOTH_PX, FLOOR_PX, ease_lightness, find_crossing, find_turn
from .likelihood import measure_log_ratio
from .path import find_closed_path, find_open_path
from .stations import measure_normals, resample_ring
from .strip import Strip, unroll

NEAR_PX = 3.0
"""The crossing lies so far from the settled place at most."""
BESIDE_PX, RIM_PX = (5.0, 4.0, 3.0, 2.0), (2.5, 2.0, 1.5)
"""Samples inside the settled place that say what the cloth is like: in colour, and in how it differs from the floor."""
APART_SHARE = 0.25
"""Of the way from the half-way place to the colour's turn: as much is doubt."""
ALONG = 5
"""Stations among which the middle place is taken: a stitch or a speck does not dent the edge."""
BARRED = 30.0
"""Cost of a place where the edge cannot be."""
CLEAR_PX = 1.0
"""A crossing with less doubt is believed."""


@dataclass(frozen=True, eq=False)
class Edge:
    """A ring on the edge, with its doubt.

    Attributes:
        ring: (N, 2) subpixel positions.
        sigma: (N,) standard deviation along the normal [px].
    """

    ring: Floats
    sigma: Floats


def paint_depth(rings: Sequence[Floats], shape: tuple[int, int]) -> Floats:
    """Return the signed distance to the rings (the first filled, the others cut out), negative inside [px]."""
    mask = np.zeros(shape, np.uint8)
    for value, ring in zip([1] + [0] * len(rings), rings, strict=False):
        cv2.fillPoly(mask, [np.round(ring * 16).astype(np.int32)], value, shift=4)
    outside = cv2.distanceTransform(1 - mask, cv2.DIST_L2, cv2.DIST_MASK_5)
    inside = cv2.distanceTransform(mask, cv2.DIST_L2, cv2.DIST_MASK_5)
    depth: Floats = np.where(mask > 0, 0.5 - inside, outside - 0.5)
    return depth


def _measure_contrast(lab: Floats) -> Floats:
    """Return (N, K-1) colour steps between neighbouring columns, over two samples each way."""
    pair = uniform_filter1d(lab, 2, axis=1, origin=0)
    ahead = np.roll(pair, -2, axis=1)
    step = np.linalg.norm(ahead - pair, axis=2)
    contrast: Floats = step[:, :-1]
    contrast[:, :1] = 0
    contrast[:, -2:] = 0
    return contrast


def _cost(strip: Strip, search: int, margin: float, window: int) -> tuple[Floats, Floats]:
    """Return (N, J) cost of the edge lying between columns, and the (J,) offsets of those places."""
    lab = strip.lab()
    places = strip.offsets[:-1] + 0.5
    keep = np.abs(places) <= search
    places = places[keep]
    # What lies further inside than every place is cloth whichever is taken, and tells none from another.
    ratio = measure_log_ratio(lab, strip.depth, strip.usable, margin, window, wanted=np.append(keep, False))
    ratio = np.clip(ratio, -4.0, 4.0)
    if strip.gap is not None:
        ratio = ratio - weigh_gap(strip.gap)[:, :-1][:, keep]
    ratio = np.where(strip.usable[:, :-1][:, keep], ratio, 2.0)
    # cost of calling all samples up to here cloth and the rest floor
    total = np.cumsum(ratio, axis=1)
    contrast = _measure_contrast(lab)[:, keep]
    reward = contrast / (contrast + 8.0)
    cost = total - 4.0 * reward
    # beyond half the way to another stretch of the ring there is nothing of ours
    depth = (0.5 * (strip.depth[:, :-1] + strip.depth[:, 1:]))[:, keep]
    strayed = (places > 0) & (depth < 0.5 * places - 1.0) | (places < 0) & (depth > 0.5 * places + 1.0)
    return np.where(strayed, cost + BARRED, cost), places


def _compare(strip: Strip, bare: EmptyFloor | None, margin: float, window: int) -> Strip:
    return strip if bare is None else replace(strip, gap=measure_gap(strip, bare, margin, window))


def settle_edge(
    image: Bytes,
    ring: Floats,
    depth_map: Floats,
    blocked: Flags | None,
    map_step: float,
    *,
    spacing: float,
    search: int,
    bare: EmptyFloor | None = None,
) -> tuple[Strip, Floats]:
    """Return the strip along `ring` and the half-whole offset of the edge at every station [px].

    `bare`, the empty floor laid over `image`, tells where the cloth begins whatever the floor's pattern.
    """
    points = resample_ring(ring, spacing)
    normals = measure_normals(points, 2.0)
    reach = 2 * search
    strip = unroll(image, points, normals, reach, depth_map, blocked, map_step)
    window = max(8, len(points) // 60)
    strip = _compare(strip, bare, 0.6 * search, window)
    cost, places = _cost(strip, search, 0.6 * search, window)
    path = find_closed_path(cost, 1.5)
    return strip, places[path]


def settle_arc(
    image: Bytes,
    ring: Floats,
    rows: NDArray[np.intp],
    depth_map: Floats,
    blocked: Flags | None,
    map_step: float,
    *,
    search: int,
    bare: EmptyFloor | None = None,
    bounds: tuple[Floats, Floats] | None = None,
) -> Edge:
    """Return the edge along the stations `rows` of a ring only; arguments else as of `settle_edge`.

    Args:
        image: (H, W, 3) uint8 RGB.
        ring: (N, 2) all stations, evenly spaced.
        rows: stations one after another.
        depth_map: signed distance to the ring believed so far.
        blocked: True on references.
        map_step: pixels of `image` per pixel of the map.
        search: how far the edge may lie from the ring [px].
        bare: the empty floor laid over `image`.
        bounds: (N,) least and (N,) greatest offset of the edge at every station, where what was said tells [px].
    """
    window = max(8, len(ring) // 60)
    lead = min(window, (len(ring) - len(rows)) // 2)
    wider = (np.arange(-lead, len(rows) + lead) + rows[0]) % len(ring)
    points, normals = ring[wider], measure_normals(ring, 2.0)[wider]
    strip = unroll(image, points, normals, 2 * search, depth_map, blocked, map_step)
    strip = _compare(strip, bare, 0.6 * search, window)
    cost, places = _cost(strip, search, 0.6 * search, window)
    if bounds is not None:
        low, high = (bound[wider][:, None] for bound in bounds)
        cost = np.where((places < low) | (places > high), cost + BARRED, cost)
    edge = measure_crossing(strip, places[find_open_path(cost, 1.5)])
    inner = slice(lead, lead + len(rows))
    return Edge(edge.ring[inner], edge.sigma[inner])


def measure_crossing(strip: Strip, offsets: Floats) -> Edge:
    """Return the edge where the cloth's colour turns into the floor's, or half-way between both where hues are alike.

    Half way is taken in the file's levels: a cloth's edge is round and falls into shade before it ends, and a shadow
    lies beside it, so it ends nearer to the dark of the two, and half way in levels is nearer to the dark than in
    light. On seven photos rendered in physical light by other software the edge is 2.0 px beside the truth at the 95th
    percentile half way, and 1.2 px with the colour's turn.

    With a photo of the empty floor the crossing of what differs from it is taken where it is clear: what lies just
    inside is then the shaded rim itself, and neither a motif nor the floor's pattern moves it.
    """
    levels = strip.rgb / 255.0
    half = _place_crossing(strip, offsets, levels, BESIDE_PX)
    local = np.arange(CLOTH_PX[0], FLOOR_PX[1] + 0.1, 0.5)
    turn = find_turn(_take(strip, offsets, ease_lightness(levels), local, 5), local, half.noise, NEAR_PX)
    shift = turn.say * turn.place + (1 - turn.say) * half.shift
    # Where the two places are apart the shade is deep, and neither is quite sure.
    sigma = np.hypot(
        turn.say * turn.sigma + (1 - turn.say) * half.sigma, APART_SHARE * turn.say * (turn.place - half.shift)
    )
    sigma = np.clip(sigma, 0.05, 3.0)
    if strip.gap is not None:
        other = _place_crossing(strip, offsets, bound_gap(strip.gap)[..., None], RIM_PX)
        clear = other.sigma < CLEAR_PX
        share = np.where(clear, 1 / (1 + (other.sigma / sigma) ** 2), 0.0)
        shift = share * other.shift + (1 - share) * shift
        sigma = np.where(clear, np.hypot(share * other.sigma, (1 - share) * sigma), sigma)
    placed = median_filter(offsets + shift, ALONG, mode="wrap")
    return Edge(strip.points + placed[:, None] * strip.normals, sigma)


def _take(strip: Strip, offsets: Floats, levels: Floats, local: Floats, along: int) -> Floats:
    """Return (N, K, C) levels at `local` places from `offsets`, each the mean of `along` stations."""
    count, width = levels.shape[:2]
    at = np.clip((offsets - strip.offsets[0])[:, None] + local[None, :], 0, width - 1.001)
    low = np.floor(at).astype(int)
    share = (at - low)[..., None]
    rows = np.arange(count)[:, None]
    taken: Floats = levels[rows, low] * (1 - share) + levels[rows, low + 1] * share
    return uniform_filter1d(taken, along, axis=0, mode="wrap")


@dataclass(frozen=True, eq=False)
class _Crossing:
    """Where the half-way crossing lies from the settled place, with its doubt and the levels' noise."""

    shift: Floats
    sigma: Floats
    noise: Floats


def _place_crossing(strip: Strip, offsets: Floats, levels: Floats, inside_px: tuple[float, ...]) -> _Crossing:
    inner = _take(strip, offsets, levels, -np.array(inside_px), 3)
    outer = _take(strip, offsets, levels, np.arange(2.0, 5.1, 1.0), 3)
    cloth, floor = inner.mean(axis=1), outer.mean(axis=1)
    across = floor - cloth
    size = np.linalg.norm(across, axis=1)
    unit = across / np.maximum(size, 1e-6)[:, None]
    local = np.arange(-NEAR_PX, NEAR_PX + 0.1, 0.5)
    profile = _take(strip, offsets, levels, local, 3)
    share = np.einsum("nkc,nc->nk", profile - cloth[:, None], unit) / np.maximum(size, 1e-6)[:, None]
    shift, found, rise = find_crossing(share, local, 0.5)
    noise = 0.5 * (inner.std(axis=1).mean(axis=1) + outer.std(axis=1).mean(axis=1))
    slope = np.where(found, rise, 0.4) * size
    sigma = np.clip(noise / np.maximum(slope, 1e-4), 0.05, 3.0)
    sigma = np.where(found, sigma, np.maximum(sigma, 1.0))
    return _Crossing(shift, sigma, noise)


def drop_folds(edge: Edge) -> Edge:
    """Return the edge without points where it runs back on itself (crossing normals in hollow corners)."""
    ring, sigma = edge.ring, edge.sigma
    for _ in range(4):
        ahead = np.roll(ring, -1, axis=0) - ring
        behind = ring - np.roll(ring, 1, axis=0)
        turned = np.sum(ahead * behind, axis=1) < -0.5 * np.linalg.norm(ahead, axis=1) * np.linalg.norm(behind, axis=1)
        if not turned.any():
            break
        ring, sigma = ring[~turned], sigma[~turned]
    return Edge(ring, sigma)
