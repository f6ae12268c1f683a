"""Tracing a line of the floor: where a joint or an edge runs, to a fraction of a pixel, along a rough arc.

A profile across the line is taken to be a level on each side (boards differ in tone) plus a groove or ridge on the
border between them. Levels and depth are solved for at every sample, the place is what is sought: so a change of the
boards' tones from sample to sample does not move the line.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np

from ..arrays import Bytes, Flags, Floats, frozen

_ACROSS = 20
"""Half width of the strip looked at [px]: the candidates lie within about 10 px of the joint."""
_SEARCH = 10
_WINDOW = 8
ALONG_PX = 2.0
_GROUP = 8
"""Columns averaged to one sample: 16 px."""
_WIDTHS = (0.8, 1.2, 1.8, 2.7, 4.0)
_SHIFTS = np.arange(-2.5, 2.51, 0.1)
_WORST_PX = 0.45
"""A sample whose own profile leaves it more uncertain is not used."""
_LEAST_SAMPLES = 12


@dataclass(frozen=True, eq=False)
class Trace:
    """Samples on one line.

    Attributes:
        points_px: (N, 2) in order along the line.
        normals_px: (N, 2) unit.
        sigma_px: standard deviation of one sample along its normal.
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


def trace(grey: Bytes, path_px: Floats, normals_px: Floats, blocked: Flags, shrink: float) -> Trace | None:
    """Return the line near a rough arc, or None where there is none.

    Args:
        grey: (H, W) full-size picture.
        path_px: (N, 2) points of the arc, `ALONG_PX` apart.
        normals_px: (N, 2) unit normals.
        blocked: flags of a picture `shrink` times smaller; nothing is measured there. May be empty.
        shrink: see `blocked`.
    """
    groups = len(path_px) // _GROUP
    if groups < _LEAST_SAMPLES:
        return None
    path = path_px[: groups * _GROUP]
    normals = normals_px[: groups * _GROUP]
    across = np.arange(-_ACROSS, _ACROSS + 1, dtype=np.float32)
    maps = (path[:, None, :] + across[None, :, None] * normals[:, None, :]).astype(np.float32)
    strip = cv2.remap(grey, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    profiles = strip.reshape(groups, _GROUP, -1).mean(axis=1, dtype=np.float64)
    middles = path.reshape(groups, _GROUP, 2).mean(axis=1)
    usable = _inside(middles, grey.shape, blocked, shrink)
    if usable.sum() < _LEAST_SAMPLES:
        return None
    share = np.linspace(-1, 1, groups)
    rough = _rough_course(profiles, share, usable)
    if rough is None:
        return None
    fit, kind = rough
    width = _best_width(profiles, np.polyval(fit, share), usable)
    place = doubt = np.zeros(0)
    good = used = usable
    for _ in range(2):
        centre = np.clip(np.rint(np.polyval(fit, share)).astype(int), -_SEARCH, _SEARCH)
        place, doubt, fits_kind = _places(profiles, centre, width, kind)
        good = usable & fits_kind & (doubt < _WORST_PX)
        if good.sum() < _LEAST_SAMPLES:
            return None
        fit, used = _robust_arc(share, place, doubt, good)
        if used.sum() < _LEAST_SAMPLES:
            return None
    return _finish(middles, normals.reshape(groups, _GROUP, 2).mean(axis=1), share, place, fit, used, usable)


def _inside(points: Floats, shape: tuple[int, ...], blocked: Flags, shrink: float) -> Flags:
    x, y = points.T
    usable: Flags = (x > 12) & (y > 12) & (x < shape[1] - 13) & (y < shape[0] - 13)
    if blocked.size:
        column = np.clip(np.rint((x + 0.5) / shrink - 0.5).astype(int), 0, blocked.shape[1] - 1)
        row = np.clip(np.rint((y + 0.5) / shrink - 0.5).astype(int), 0, blocked.shape[0] - 1)
        usable &= ~blocked[row, column]
    return usable


def _templates(width: float, shift: float = 0.0) -> Floats:
    """Return (2, window) a step and a groove, `width` wide and `shift` off the middle."""
    x = (np.arange(-_WINDOW, _WINDOW + 1) - shift) / width
    step = np.tanh(1.2 * x)
    groove = np.exp(-x * x / 2)
    return np.stack([step, groove])


def _basis(width: float, shift: float = 0.0) -> Floats:
    """Return (window, 3) orthonormal: level, step, groove."""
    columns = np.column_stack([np.ones(2 * _WINDOW + 1), *_templates(width, shift)])
    basis: Floats = np.linalg.qr(columns)[0]
    # QR may turn signs; the step must rise and the groove be a ridge.
    return basis * np.sign((basis * columns).sum(axis=0))


def _rough_course(profiles: Floats, share: Floats, usable: Flags) -> tuple[Floats, int] | None:
    """Return the bowed course along which one kind of profile runs most constantly, and the kind.

    Kinds: 0 a step up, 1 a step down, 2 a ridge, 3 a groove.
    """
    windows = np.lib.stride_tricks.sliding_window_view(profiles, 2 * _WINDOW + 1, axis=1)
    windows = windows[:, _ACROSS - _WINDOW - _SEARCH : _ACROSS - _WINDOW + _SEARCH + 1]
    basis = _basis(1.6)
    both = windows @ basis[:, 1:]
    noise = float(np.median(np.abs(both[usable]))) + 0.3
    kinds = np.stack([both[..., 0], -both[..., 0], both[..., 1], -both[..., 1]])
    # Clipped, so that many constant samples outweigh few strong ones.
    kinds = np.clip(kinds, 0, 4 * noise) * usable[:, None]
    knots = np.linspace(-_SEARCH + 1, _SEARCH - 1, 10)
    start, end, bow = (a.ravel() for a in np.meshgrid(knots, knots, np.array([-4.0, -2.0, 0.0, 2.0, 4.0])))
    # Every second sample is enough for the rough course.
    chosen = np.flatnonzero(usable)[:: max(1, int(usable.sum()) // 60)]
    t = share[chosen]
    course = (start[:, None] * (1 - t) + end[:, None] * (1 + t)) / 2 + bow[:, None] * (1 - t * t)
    index = np.clip(np.rint(course).astype(int), -_SEARCH, _SEARCH) + _SEARCH
    best: tuple[float, int, int] = (0.0, -1, -1)
    soft = cv2.blur(kinds.reshape(-1, kinds.shape[-1]), (3, 1)).reshape(kinds.shape)
    for kind in range(4):
        score = soft[kind][chosen, index].mean(axis=1)
        top = int(np.argmax(score))
        if score[top] > best[0]:
            best = (float(score[top]), kind, top)
    if best[1] < 0:
        return None
    a, b, c = start[best[2]], end[best[2]], bow[best[2]]
    return np.array([-c, (b - a) / 2, (a + b) / 2 + c]), best[1]


def _windows(profiles: Floats, centre: np.ndarray) -> Floats:
    columns = centre[:, None] + np.arange(-_WINDOW, _WINDOW + 1) + _ACROSS
    taken: Floats = np.take_along_axis(profiles, columns, axis=1)
    return taken - taken.mean(axis=1, keepdims=True)


def _best_width(profiles: Floats, course: Floats, usable: Flags) -> float:
    centre = np.clip(np.rint(course).astype(int), -_SEARCH, _SEARCH)[usable]
    windows = _windows(profiles[usable], centre)
    gains = []
    for width in _WIDTHS:
        gain = [((windows @ _basis(width, shift)[:, 1:]) ** 2).sum(axis=1) for shift in (-1.5, -0.5, 0.5, 1.5)]
        gains.append(float(np.median(np.max(gain, axis=0))))
    return _WIDTHS[int(np.argmax(gains))]


def _places(profiles: Floats, centre: np.ndarray, width: float, kind: int) -> tuple[Floats, Floats, Flags]:
    """Return each sample's place across, its doubt [px], and whether its profile is of the line's kind."""
    windows = _windows(profiles, centre)
    bases = np.stack([_basis(width, float(shift)) for shift in _SHIFTS])
    parts = np.einsum("nw,swk->nsk", windows, bases, optimize=True)
    gain = (parts**2).sum(axis=2)
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
    own = parts[rows, top][:, 1 + kind // 2] * (1.0 if kind % 2 == 0 else -1.0)
    typical = float(np.median(own[own > 0])) if np.any(own > 0) else math.inf
    return place, doubt, ~edge & (own > 0.25 * typical)


def _robust_arc(share: Floats, place: Floats, doubt: Floats, good: Flags) -> tuple[Floats, Flags]:
    """Return a quadratic course (the path already follows the guessed lens) and the samples that lie on it."""
    t, c = share[good], place[good]
    base = 1 / np.hypot(doubt[good], 0.15)
    weight = base.copy()
    fit = np.zeros(3)
    scale = 1.0
    for round_ in range(8):
        fit = np.polyfit(t, c, 2, w=weight)
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
    looked = usable[index[0] : index[-1] + 1].sum()
    length = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    unit = normals[index] / np.linalg.norm(normals[index], axis=1, keepdims=True)
    return Trace(frozen(points), frozen(unit), sigma, wave, len(index) / max(int(looked), 1), length)
