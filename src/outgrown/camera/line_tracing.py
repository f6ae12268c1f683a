"""Tracing a line of the floor: where a joint or an edge runs, to a fraction of a pixel, along a rough arc.

A profile across the line is taken to be a level on each side (boards differ in tone) plus a groove or ridge on the
border between them. Levels and depth are solved for at every sample, the place is what is sought: so a change of the
boards' tones from sample to sample does not move the line.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Bytes, Flags, Floats, frozen

Indices = NDArray[np.int64]

_SEARCH = 10
"""Candidates lie within about 10 px of the joint."""
_ACROSS = 28
"""Half width of the strip looked at [px]: the search and the widest profile."""
ALONG_PX = 2.0
_GROUP = 8
"""Columns averaged to one sample: 16 px."""
_HALVES_PX = (0.5, 0.9, 1.4, 2.1, 2.9, 3.8, 4.8, 6.0)
"""Half widths of joints tried, from a hairline between boards up; wider ones are traced in a smaller picture."""
_ROUGH_HALVES_PX = (0.9, 2.1, 4.5)
_BLUR_PX = 0.9
"""Softness of an edge in a sharp photo."""
_LEAST_LIKENESS = 0.3
_ROUGH_SAMPLES = 60
_STEPS = (0, 1, 4)
_STEP_SHARE = 0.75
"""The side of a groove is a step too; the groove shall win."""
_EITHER_SHARE = 0.85
_SHIFTS = np.arange(-2.5, 2.51, 0.1)
_WORST_PX = 0.45
"""A sample whose own profile leaves it more uncertain is not used."""
_LEAST_SAMPLES = 12
_LONG_SAMPLES = 80


@dataclass(frozen=True, eq=False)
class Trace:
    """Samples on one line.

    Attributes:
        points_px: (N, 2) in order along the line.
        normals_px: (N, 2) unit.
        sigma_px: standard deviation of one sample along its normal, were they unrelated.
        wave_px: root mean square of what is left after a smooth arc, taken over eighths of the line.
        kept: share of the samples looked at that lie on the arc.
        length_px: from the first to the last.
    """

    points_px: Floats
    normals_px: Floats
    sigma_px: float
    wave_px: float
    kept: float
    length_px: float


def trace(levels: Sequence[Bytes], path_px: Floats, normals_px: Floats, blocked: Flags, shrink: float) -> Trace | None:
    """Return the line near a rough arc, or None where there is none.

    Args:
        levels: (H, W) grey pictures, each half the size of the one before; a joint too wide for the profiles is
            traced in the next. All positions are those of the first.
        path_px: (N, 2) points of the arc, `ALONG_PX` apart.
        normals_px: (N, 2) unit normals.
        blocked: flags of a picture `shrink` times smaller; nothing is measured there. May be empty.
        shrink: see `blocked`.
    """
    grey = levels[0]
    groups = len(path_px) // _GROUP
    if groups < _LEAST_SAMPLES:
        return None
    path = path_px[: groups * _GROUP].reshape(groups, _GROUP, 2)
    normals = normals_px[: groups * _GROUP].reshape(groups, _GROUP, 2)
    middles = path.mean(axis=1)
    usable = _inside(middles, grey.shape, blocked, shrink)
    if usable.sum() < _LEAST_SAMPLES:
        return None
    share = np.linspace(-1, 1, groups)
    some = np.flatnonzero(usable)[:: max(1, int(usable.sum()) // _ROUGH_SAMPLES)]
    few = _profiles(grey, path[some], normals[some])
    rough = _rough_course(few, share[some])
    if rough is None:
        return None
    fit, kind = rough
    # The joint's width in pixels changes along a slanting view.
    parts = np.array_split(np.arange(len(some)), 4)
    course: Floats = np.polyval(fit, share[some]).astype(np.float64)
    halves_px = [_HALVES_PX[0] if kind in _STEPS else _best_half(few[part], course[part]) for part in parts]
    if len(levels) > 1 and sum(half_px >= _HALVES_PX[-2] for half_px in halves_px) >= 2:
        return _doubled(trace(levels[1:], (path_px[::2] - 0.5) / 2, normals_px[::2], blocked, shrink / 2))
    ends = [some[part[-1]] for part in parts[:-1]]
    quarter = np.searchsorted(np.array(ends), np.arange(groups))
    profiles = np.zeros((groups, 2 * _ACROSS + 1))
    profiles[usable] = _profiles(grey, path[usable], normals[usable])
    place, doubt, fits_kind = np.zeros(groups), np.zeros(groups), np.zeros(groups, dtype=bool)
    used = usable
    for _ in range(2):
        centre = np.clip(np.rint(np.polyval(fit, share)).astype(int), -_SEARCH, _SEARCH)
        for index, half_px in enumerate(halves_px):
            on = (quarter == index) & usable
            place[on], doubt[on], fits_kind[on] = _places(profiles[on], centre[on], half_px, kind)
        good = usable & fits_kind & (doubt < _WORST_PX)
        if good.sum() < _LEAST_SAMPLES:
            return None
        fit, used = _robust_arc(share, place, doubt, good)
        if used.sum() < _LEAST_SAMPLES:
            return None
    return _finish(middles, normals.mean(axis=1), share, place, fit, used, usable)


def _doubled(line: Trace | None) -> Trace | None:
    if line is None:
        return None
    return replace(
        line,
        points_px=frozen(line.points_px * 2 + 0.5),
        sigma_px=line.sigma_px * 2,
        wave_px=line.wave_px * 2,
        length_px=line.length_px * 2,
    )


def _profiles(grey: Bytes, path: Floats, normals: Floats) -> Floats:
    """Return (G, across) profiles over the line, each the mean over (G, `_GROUP`, 2) points along it."""
    points, turned = path.reshape(-1, 1, 2).astype(np.float32), normals.reshape(-1, 1, 2).astype(np.float32)
    across = np.arange(-_ACROSS, _ACROSS + 1, dtype=np.float32)
    maps = points + across[None, :, None] * turned
    strip = cv2.remap(grey, maps, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)  # type: ignore[call-overload]
    size = (len(across), len(path))
    means: Floats = cv2.resize(strip.astype(np.float32), size, interpolation=cv2.INTER_AREA).astype(np.float64)
    return means


def _inside(points: Floats, shape: tuple[int, ...], blocked: Flags, shrink: float) -> Flags:
    x, y = points.T
    usable: Flags = (x > 12) & (y > 12) & (x < shape[1] - 13) & (y < shape[0] - 13)
    if blocked.size:
        column = np.clip(np.rint((x + 0.5) / shrink - 0.5).astype(int), 0, blocked.shape[1] - 1)
        row = np.clip(np.rint((y + 0.5) / shrink - 0.5).astype(int), 0, blocked.shape[0] - 1)
        usable &= ~blocked[row, column]
    return usable


@cache
def _basis(half_px: float, shift: float = 0.0, reach: int = 0) -> Floats:
    """Return (window, 3) orthonormal: level, step, ridge `2 half_px` wide, both `shift` off the middle."""
    reach = reach or _reach(half_px)
    x = np.arange(-reach, reach + 1) - shift
    step = np.tanh(x / _BLUR_PX)
    ridge = np.tanh((x + half_px) / _BLUR_PX) - np.tanh((x - half_px) / _BLUR_PX)
    columns = np.column_stack([np.ones(len(x)), step, ridge])
    basis = np.linalg.qr(columns)[0]
    # QR may turn signs; the step must rise and the ridge be one.
    signed: Floats = basis * np.sign((basis * columns).sum(axis=0))
    return signed


@cache
def _shifted(half_px: float) -> Floats:
    return np.stack([_basis(half_px, float(shift)) for shift in _SHIFTS])


def _reach(half_px: float) -> int:
    return math.ceil(6 + 1.6 * half_px)


def _rough_course(profiles: Floats, share: Floats) -> tuple[Floats, int] | None:
    """Return the bowed course along which one kind of profile runs most constantly, and the kind.

    Kinds: 0 a step up, 1 a step down, 2 a ridge, 3 a groove, 4 a step now up, now down (boards laid tight).
    """
    maps = []
    for half_px in _ROUGH_HALVES_PX:
        reach = _reach(half_px)
        windows = np.lib.stride_tricks.sliding_window_view(profiles, 2 * reach + 1, axis=1)
        first = _ACROSS - reach - _SEARCH
        both = windows[:, first : first + 2 * _SEARCH + 1] @ _basis(half_px)[:, 1:]
        step, ridge = _STEP_SHARE * both[..., 0], both[..., 1]
        maps += [step, -step, ridge, -ridge, _EITHER_SHARE * np.abs(step)]
    kinds = np.stack(maps)
    # Each sample says only where its own profile is most like a joint, so that many weak ones outweigh few strong.
    strongest = kinds.max(axis=(0, 2))
    kinds = np.clip(kinds, 0, None) / (strongest + 0.3 * float(np.median(strongest)) + 0.5)[None, :, None]
    course, coefficients = _courses()
    at = (course[0][:, None] + course[1][:, None] * share + course[2][:, None] * share**2).round().astype(int)
    at = np.clip(at, -_SEARCH, _SEARCH) + _SEARCH
    flat = np.arange(len(share)) * kinds.shape[2] + at
    best = (_LEAST_LIKENESS, -1, -1)
    for kind, likeness in enumerate(kinds):
        soft = cv2.blur(likeness, (3, 1)).ravel()
        score = soft[flat].mean(axis=1)
        top = int(np.argmax(score))
        if score[top] > best[0]:
            best = (float(score[top]), kind % 5, top)
    if best[1] < 0:
        return None
    return coefficients[best[2]], best[1]


@cache
def _courses() -> tuple[Floats, Floats]:
    """Return (3, C) constant, slope and bow of all rough courses, and the same as (C, 3) for polyval."""
    knots = np.linspace(-_SEARCH + 1, _SEARCH - 1, 10)
    start, end, bow = (a.ravel() for a in np.meshgrid(knots, knots, np.array([-4.0, -2.0, 0.0, 2.0, 4.0])))
    parts = np.stack([(start + end) / 2 + bow, (end - start) / 2, -bow])
    return parts, np.ascontiguousarray(parts[::-1].T)


def _windows(profiles: Floats, centre: Indices, reach: int) -> Floats:
    columns = centre[:, None] + np.arange(-reach, reach + 1) + _ACROSS
    taken: Floats = np.take_along_axis(profiles, columns, axis=1)
    level: Floats = taken.mean(axis=1, keepdims=True)
    return taken - level


def _best_half(profiles: Floats, course: Floats) -> float:
    """Return the half width of joint that explains most, judged over the window of the widest."""
    centre = np.clip(np.rint(course).astype(int), -_SEARCH, _SEARCH)
    windows = _windows(profiles, centre, _reach(_HALVES_PX[-1]))
    parts = np.tensordot(windows, _all_halves(), axes=(1, 2))
    gains = np.median((parts**2).sum(axis=3).max(axis=2), axis=0)
    return _HALVES_PX[int(np.argmax(gains))]


@cache
def _all_halves() -> Floats:
    """Return (halves, shifts, window, 2) orthonormal step and ridge over the widest window."""
    reach = _reach(_HALVES_PX[-1])
    return np.array(
        [[_basis(half_px, shift, reach)[:, 1:] for shift in (-2.0, -1.0, 0.0, 1.0, 2.0)] for half_px in _HALVES_PX]
    )


def _places(profiles: Floats, centre: Indices, half_px: float, kind: int) -> tuple[Floats, Floats, Flags]:
    """Return each sample's place across, its doubt [px], and whether its profile is of the line's kind."""
    windows = _windows(profiles, centre, _reach(half_px))
    parts = np.tensordot(windows, _shifted(half_px), axes=(1, 1))
    # A step alone must not be given a ridge: a step beside a narrow ridge looks the same half a width further.
    alone = kind in _STEPS
    gain = parts[..., 1] ** 2 if alone else (parts**2).sum(axis=2)
    rows = np.arange(len(windows))
    top = np.argmax(gain, axis=1)
    edge = (top == 0) | (top == len(_SHIFTS) - 1)
    top = np.clip(top, 1, len(_SHIFTS) - 2)
    left, mid, right = gain[rows, top - 1], gain[rows, top], gain[rows, top + 1]
    bend = np.maximum(2 * mid - left - right, 1e-9)
    step = float(_SHIFTS[1] - _SHIFTS[0])
    place = centre + _SHIFTS[top] + step * np.clip((right - left) / (2 * bend), -1, 1)
    # Residual sum of squares = |y|^2 - gain; twice the noise over its second derivative is the place's variance.
    noise = ((windows**2).sum(axis=1) - mid).clip(0) / (windows.shape[1] - 4) + 0.02
    doubt = np.sqrt(2 * noise / (bend / step**2))
    step_part, ridge_part = parts[rows, top, 1], parts[rows, top, 2]
    own = (step_part, -step_part, ridge_part, -ridge_part, np.abs(step_part))[kind]
    typical = float(np.median(own[own > 0])) if np.any(own > 0) else math.inf
    return place, doubt, ~edge & (own > 0.25 * typical)


def _robust_arc(share: Floats, place: Floats, doubt: Floats, good: Flags) -> tuple[Floats, Flags]:
    """Return a smooth course, as coefficients for polyval, and the samples that lie on it."""
    t, c = share[good], place[good]
    # The path already follows the guessed lens: its error is a parabola, a second distortion term of degree four.
    degree = 4 if len(t) >= _LONG_SAMPLES else 2
    base = 1 / np.hypot(doubt[good], 0.15)
    weight = base.copy()
    fit = np.zeros(degree + 1)
    scale = 1.0
    for round_ in range(8):
        fit = np.polyfit(t, c, degree, w=weight)
        off = np.abs(c - np.polyval(fit, t))
        scale = max(1.4826 * float(np.median(off)), 0.06)
        width = (4.5 if round_ < 4 else 3.5) * scale
        # Tukey's weights; polyfit squares what it is given.
        weight = base * np.clip(1 - (off / width) ** 2, 1e-4, None)
    used = np.zeros(len(share), dtype=bool)
    used[good] = off < 3.0 * scale
    return fit, used


def _finish(
    middles: Floats, normals: Floats, share: Floats, place: Floats, fit: Floats, used: Flags, usable: Flags
) -> Trace | None:
    index = np.flatnonzero(used)
    # Ends that hang on few scattered samples are chance: a run must be dense to count.
    inside = np.convolve(used, np.ones(9), mode="same") / np.convolve(usable, np.ones(9), mode="same").clip(1)
    index = index[inside[index] > 0.5]
    if len(index) < _LEAST_SAMPLES:
        return None
    points = middles[index] + place[index, None] * normals[index]
    off = place[index] - np.polyval(fit, share[index])
    wave = math.sqrt(float(np.mean([np.mean(part) ** 2 for part in np.array_split(off, 8)])))
    sigma = max(1.4826 * float(np.median(np.abs(off))), float(np.std(off)) * 0.8, 0.05)
    # Neighbours that wave together count for less: as if each sample were this doubtful and all unrelated.
    sigma = max(sigma, wave * math.sqrt(len(index) / 8))
    looked = usable[index[0] : index[-1] + 1].sum()
    length = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    unit = normals[index] / np.linalg.norm(normals[index], axis=1, keepdims=True)
    return Trace(frozen(points), frozen(unit), sigma, wave, len(index) / max(int(looked), 1), length)
