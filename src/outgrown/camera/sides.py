"""Sides of a reference measured anew: the sharp step where the card or sheet ends, not the soft one of its shadow.

Light that falls past a card leaves a dark rim on the floor beside it. The card ends where it meets that rim; the
step from rim to floor lies a few pixels farther out, is softer, but can be the stronger one. So steps are told by
their sharpness, and of a darkening step followed by a brightening one the first is the card's.
"""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from scipy.special import ndtr

from ..arrays import Bytes, Floats, frozen
from .reference import EdgeSamples, Reference

_REACH_PX = 9.0
_FINE = 4
_FROM, _TO = 0.11, 0.89
"""Share of a side that is looked at: a card's round corners begin at 6 % of its short side."""
_STATION_PX = 2.0
_SOFTEN_PX = 0.7
"""Smoothing of the profile before its slope is taken: about a sharp photo's own blur."""
_RIM_PX = 6.0
"""A dark rim is at most this wide at 12 megapixels."""
_RIM_SHARE = 0.3
_NEAR_PX = 1.6
_LEAST_SIGMA_PX = 0.05
_FEWEST = 12


def settle_sides(pixels: Bytes, reference: Reference) -> Reference:
    """Return the reference with its four sides measured anew, or as it was where a side shows no clear step.

    Args:
        pixels: (H, W, 3) uint8 RGB, upright.
        reference: found; its corners good to a few pixels.
    """
    table = (np.arange(256) / 255.0) ** 2.2
    corners = reference.corners_px
    middle = corners.mean(axis=0)
    settled: list[_Settled] = []
    for side in range(4):
        first, second = corners[side], corners[(side + 1) % 4]
        along = (second - first) / np.linalg.norm(second - first)
        normal = np.array([along[1], -along[0]])
        normal = normal if normal @ (first - middle) > 0 else -normal
        found = _settle_side(pixels, table, first, second, normal)
        if found is None:
            return reference
        settled.append(found)
    # The photo's own blur is that of its sharpest side; a side softer than that may lie in its own shadow, and then
    # ends farther in. How far cannot be told well enough to move it, but it must not weigh like a clear one.
    blur = min(_fit_plain(one.profile)[1] for one in settled)
    edges = []
    for one in settled:
        shift = find_rim_shift(one.profile, blur)
        doubt = math.hypot(one.edge.sigma_px, _RIM_DOUBT * shift * math.sqrt(len(one.edge.share)))
        edges.append(replace(one.edge, sigma_px=doubt))
    fresh = _meet(edges)
    if fresh is None or np.linalg.norm(fresh - corners, axis=1).max() > _REACH_PX:
        return reference
    return replace(reference, corners_px=frozen(fresh), edges=tuple(edges))


@dataclass(frozen=True, eq=False)
class _Settled:
    edge: EdgeSamples
    profile: Floats  # (m, 3) mean linear light across the side, its step in the middle


_PROFILE = np.arange(-5.0, 6.01, 0.25)
_BLURS_PX = (0.5, 0.65, 0.8, 1.0, 1.25, 1.6, 2.0, 2.6)
_RIMS_PX = (1.0, 1.7, 2.8, 4.5)
_RIM_GAIN = 0.35
"""A rim is believed when it explains the profile with this share of the misfit left."""
_RIM_DOUBT = 0.6
"""Share of a possible shift taken as the whole side's standard deviation: of 28 rendered sides half had truly moved."""


def find_rim_shift(profile: Floats, blur_px: float) -> float:
    """Return how far inside [px, negative] the steepest place a thing may end, for a side in its own shadow.

    The light beside the thing falls to a level of its own at the edge and comes back over a few pixels; a dark
    thing then has no sharp step at all, only the soft rise. Both are fitted: the step alone, and the step with the
    shadow behind it, each blurred by `blur_px`.

    Args:
        profile: (m, 3) linear light at `_PROFILE` px across the side, the steepest place at 0.
        blur_px: standard deviation of the photo's blur [px].
    """
    plain_cost, _, plain_at = _fit_plain(profile, (blur_px,))
    best = (plain_cost, plain_at)
    for rim in _RIMS_PX:
        for at in np.arange(-3.0, 0.76, 0.125):
            cost, weights = _fit(profile, _columns(at, blur_px, rim))
            darkens = float(weights[2].sum())
            floor = float((weights[0] + weights[1]).sum())
            # The shadow takes light away, but not more than the floor has.
            if darkens < 0 and -darkens < 1.05 * floor and cost < best[0]:
                best = (cost, float(at))
    shift = best[1] - plain_at
    if best[0] > _RIM_GAIN * plain_cost or shift > -0.2:
        return 0.0
    return max(shift, -3.0)


def _fit_plain(profile: Floats, blurs: tuple[float, ...] = _BLURS_PX) -> tuple[float, float, float]:
    """Return (cost, blur, place) of the best single step."""
    tries = (
        (_fit(profile, _columns(at, blur, None))[0], blur, float(at))
        for blur in blurs
        for at in np.arange(-1.0, 1.01, 0.125)
    )
    return min(tries)


def _columns(at: float, blur: float, rim: float | None) -> Floats:
    beyond = _PROFILE - at
    step = ndtr(beyond / blur)
    if rim is None:
        return np.column_stack([np.ones_like(step), step])
    tail = np.exp(np.minimum(blur**2 / (2 * rim**2) - beyond / rim, 60.0)) * ndtr(beyond / blur - blur / rim)
    return np.column_stack([np.ones_like(step), step, tail])


def _fit(profile: Floats, columns: Floats) -> tuple[float, Floats]:
    weights = np.linalg.lstsq(columns, profile, rcond=None)[0]
    return float(((profile - columns @ weights) ** 2).sum()), np.asarray(weights, dtype=np.float64)


def _settle_side(pixels: Bytes, table: Floats, first: Floats, second: Floats, normal: Floats) -> "_Settled | None":
    length = float(np.linalg.norm(second - first))
    count = max(_FEWEST, int((_TO - _FROM) * length / _STATION_PX))
    share = np.linspace(_FROM, _TO, count)
    offsets = np.arange(-_REACH_PX, _REACH_PX + 1e-9, 1 / _FINE)
    base = first + share[:, None] * (second - first)
    light = _sample(pixels, table, base[:, None] + offsets[None, :, None] * normal)
    slope = _slope(light)
    # Where the side runs aslant or bowed, the step wanders: follow it in a few stretches before averaging.
    stretches = np.array_split(np.arange(count), min(8, max(2, count // 12)))
    starts = [_first_sharp_step(slope[part].mean(axis=0), offsets) for part in stretches]
    at = np.array([start for start in starts if start is not None])
    where = np.array([share[part].mean() for part, start in zip(stretches, starts, strict=True) if start is not None])
    if len(at) < max(2, len(stretches) // 2):
        return None
    course = _robust_course(where, at, 1)
    found, kept = [], []
    window = max(1, int(8 / _STATION_PX) // 2)
    for index in range(count):
        low, high = max(0, index - window), min(count, index + window + 1)
        step = _locate(slope[low:high].mean(axis=0), offsets, float(np.polyval(course, share[index])))
        if step is not None:
            found.append(step)
            kept.append(index)
    if len(kept) < _FEWEST:
        return None
    shares, steps = share[kept], np.array(found)
    fit = _robust_course(shares, steps, 2)
    off = steps - np.polyval(fit, shares)
    spread = 1.4826 * float(np.median(np.abs(off)))
    good = np.abs(off) < max(3 * spread, 0.25)
    if good.sum() < _FEWEST:
        return None
    chosen = np.array(kept)[good]
    points = base[chosen] + steps[good][:, None] * normal
    # Neighbouring windows overlap by this much, so their errors are not independent.
    overlap = math.sqrt(2 * window + 1)
    sigma = max(_LEAST_SIGMA_PX, 1.4826 * float(np.median(np.abs(off[good])))) * overlap
    edge = EdgeSamples(frozen(points), frozen(np.tile(normal, (len(points), 1))), frozen(share[chosen]), sigma)
    return _Settled(edge, _mean_profile(light[chosen], offsets, np.polyval(fit, share[chosen])))


def _mean_profile(light: Floats, offsets: Floats, at: Floats) -> Floats:
    """Return (m, 3) the median light at `_PROFILE` px across, each row taken from its own step."""
    low = offsets[0]
    places = np.clip((at[:, None] + _PROFILE[None] - low) * _FINE, 0, len(offsets) - 1.001)
    whole = places.astype(int)
    part = (places - whole)[..., None]
    rows = np.arange(len(light))[:, None]
    return np.asarray(np.median(light[rows, whole] * (1 - part) + light[rows, whole + 1] * part, axis=0))


def _sample(pixels: Bytes, table: Floats, points: Floats) -> Floats:
    """Return (n, m, 3) linear light at (n, m, 2) positions."""
    low = np.maximum(np.floor(points.min(axis=(0, 1))).astype(int) - 2, 0)
    high = np.ceil(points.max(axis=(0, 1))).astype(int) + 3
    patch = table[pixels[low[1] : high[1], low[0] : high[0]]].astype(np.float32)
    if patch.size == 0:
        return np.zeros((*points.shape[:2], 3))
    local = (points - low).astype(np.float32)
    values = cv2.remap(patch, local[..., 0], local[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(values, dtype=np.float64)


def _slope(light: Floats) -> Floats:
    """Return (n, m, 3) the change of relative light per pixel across, softened."""
    sigma = _SOFTEN_PX * _FINE
    reach = int(3 * sigma)
    steps = np.arange(-reach, reach + 1)
    kernel = -steps / sigma**2 * np.exp(-(steps**2) / (2 * sigma**2))
    kernel = kernel / (np.exp(-(steps**2) / (2 * sigma**2)).sum()) * _FINE
    padded = np.pad(light, ((0, 0), (reach, reach), (0, 0)), mode="edge")
    out = np.zeros_like(light)
    for index, weight in enumerate(kernel[::-1]):
        out += weight * padded[:, index : index + light.shape[1]]
    return out


def _peaks(slope: Floats) -> list[int]:
    size = np.linalg.norm(slope, axis=1)
    inner = size[1:-1]
    found = np.nonzero((inner >= size[:-2]) & (inner > size[2:]))[0] + 1
    return [int(i) for i in found]


def _first_sharp_step(slope: Floats, offsets: Floats) -> float | None:
    """Return where the thing ends, from a mean profile's (m, 3) slope."""
    size = np.linalg.norm(slope, axis=1)
    peaks = _peaks(slope)
    if not peaks:
        return None
    noise = float(np.median(size))
    # Far from the line found, a step must be the clearer: artwork inside, joints outside.
    worth = {i: size[i] * math.exp(-0.5 * (offsets[i] / 5.0) ** 2) for i in peaks}
    best = max(peaks, key=lambda i: worth[i])
    if size[best] < max(3 * noise, 0.004):
        return None
    if slope[best].sum() > 0:
        # Brightening outward: if a darkening step lies just inside it, this is the rim's outer side.
        inner = [
            i
            for i in peaks
            if 0 < offsets[best] - offsets[i] < _RIM_PX and slope[i].sum() < 0 and size[i] > _RIM_SHARE * size[best]
        ]
        if inner:
            best = max(inner, key=lambda i: size[i])
    return float(offsets[best])


def _locate(slope: Floats, offsets: Floats, near: float) -> float | None:
    """Return the subpixel place of the steepest slope within `_NEAR_PX` of `near`."""
    size = np.linalg.norm(slope, axis=1)
    inside = np.nonzero(np.abs(offsets - near) <= _NEAR_PX)[0]
    if len(inside) < 3:
        return None
    top = int(inside[np.argmax(size[inside])])
    if top in (inside[0], inside[-1]) or top == 0 or top == len(size) - 1:
        return None
    left, here, right = size[top - 1], size[top], size[top + 1]
    bend = left - 2 * here + right
    shift = 0.0 if bend >= 0 else 0.5 * (left - right) / bend
    return float(offsets[top] + shift / _FINE)


def _robust_course(where: Floats, at: Floats, degree: int) -> Floats:
    """Return polynomial coefficients with outliers' weight taken (Huber's weights, redone)."""
    degree = min(degree, len(at) - 1)
    weights = np.ones(len(at))
    course = np.polyfit(where, np.full(len(at), np.median(at)), degree)
    for turn in range(8):
        off = np.abs(at - np.polyval(course, where))
        scale = max(1.4826 * float(np.median(off)), 0.1)
        if turn:
            weights = np.minimum(1.0, 1.5 * scale / np.maximum(off, 1e-9))
            weights[off > 4 * scale] = 1e-3
        course = np.polyfit(where, at, degree, w=weights)
    return np.asarray(course, dtype=np.float64)


def _meet(edges: list[EdgeSamples]) -> Floats | None:
    """Return (4, 2) where neighbouring sides, extended straight, meet."""
    lines = []
    for edge in edges:
        middle = edge.points_px.mean(axis=0)
        way = np.linalg.svd(edge.points_px - middle, full_matrices=False)[2][0]
        lines.append((middle, way))
    corners = []
    for index in range(4):
        (a, u), (b, v) = lines[index - 1], lines[index]
        matrix = np.column_stack([u, -v])
        if abs(np.linalg.det(matrix)) < 1e-3:
            return None
        corners.append(a + u * np.linalg.solve(matrix, b - a)[0])
    return np.array(corners)
