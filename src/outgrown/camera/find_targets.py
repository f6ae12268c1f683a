"""Find the printed targets in a photo, and measure the middle line of their frames."""

import logging

import cv2
import numpy as np

from ..arrays import Bytes, Flags, Floats, frozen
from ..geometry.polylines import meet_lines
from ..photo import Photo
from .reference import EdgeSamples, Kind, Reference
from .targets import (
    BAR_MM,
    MEASURED_DOUBT,
    OWN_DOUBT,
    PAPER_MM,
    TARGET_OF_MARKER,
    UNMEASURED_DOUBT,
    Target,
    dictionary,
)

_log = logging.getLogger(__name__)

_WORKING_LONG_PX = 4100
"""Larger photos are searched at this size; the frames are measured at full size all the same."""
_LEAST_BAR_PX = 2.2
"""A bar seen thinner than this is a grey line; twice the 3 m at which a 12-megapixel photo sees it so."""
_FEWEST_STATIONS, _MOST_STATIONS = 16, 56
_FIRST_SHARE, _LAST_SHARE = 0.06, 0.94
"""Stations keep clear of the corners, where the neighbouring bar runs in."""
_LEAST_SEEN = 0.6
"""Share of an edge's stations that must show the bar; else the edge says nothing."""
_LEAST_SIGMA_PX = 0.03
_LINE_SHIFT_PX = 0.06
"""A printed line is found by its middle, which neither a rim nor a shadow moves; paper lies 0.1 mm high."""
_MOST_APART_PX = 1.0
"""Markers' corners are good to a third of a pixel; a lens bows a strip by another third."""
_MOST_APART = 0.04
"""The same as a share of a marker's side: in a soft picture its corners round off."""
_OUTER_SHARE = 0.9
"""How far beyond a bar's edges it is followed, as a share of its breadth: 4.5 mm of the 6 mm of paper left there."""


def _light_table() -> Floats:
    values = np.arange(256) / 255.0
    light: Floats = np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)
    return light


_LIGHT = _light_table()
"""sRGB, IEC 61966-2-1: lenses blur light, so edges are placed in light."""


def find_targets(photo: Photo, *, bar_mm: float | None = None) -> tuple[Reference, ...]:
    """Return the printed targets in `photo`; none is no error.

    Args:
        photo: upright.
        bar_mm: length of the 150 mm bar as measured after printing [mm]; None takes the print as true to 1 %.
    """
    grey: Bytes = np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    seen = _find_markers(grey)
    by_target: dict[str, tuple[Target, list[tuple[int, Floats]]]] = {}
    for marker, corners in seen:
        target = TARGET_OF_MARKER[marker]
        by_target.setdefault(target.name, (target, []))[1].append((marker, corners))
    references = []
    for name in sorted(by_target):
        reference = _measure(grey, *by_target[name], bar_mm)
        if reference is not None:
            references.append(reference)
    return tuple(references)


def _find_markers(grey: Bytes) -> list[tuple[int, Floats]]:
    """Return (id, (4, 2) corners in OpenCV's order) of our markers."""
    scale = min(1.0, _WORKING_LONG_PX / max(grey.shape))
    working = grey
    if scale < 1.0:
        size = (round(grey.shape[1] * scale), round(grey.shape[0] * scale))
        working = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    detector = cv2.aruco.ArucoDetector(dictionary(), detector_parameters())
    found, ids, _ = detector.detectMarkers(as_light(working))
    if ids is None or len(ids) == 0:
        return []
    seen: dict[int, Floats] = {}
    twice: set[int] = set()
    for marker, corners in zip((int(i) for i in np.asarray(ids).ravel()), found, strict=True):
        if marker not in TARGET_OF_MARKER:
            continue
        if marker in seen:
            twice.add(marker)
        seen[marker] = (np.asarray(corners, dtype=np.float64).reshape(4, 2) + 0.5) / scale - 0.5
    # The same target printed twice cannot be told apart; neither is used.
    return [(marker, corners) for marker, corners in seen.items() if marker not in twice]


def as_light(grey: Bytes) -> Bytes:
    """Return a grey picture in linear light, the brightest stretched to white.

    A lens mixes light. In the file's own numbers a soft white eats into black cells: of 12 markers 20 px wide and
    softened by 1.5 px, 2 were read so, and 8 in light (measured on rendered scenes).
    """
    white = max(float(_LIGHT[int(np.percentile(grey[::4, ::4], 99.5))]), 0.05)
    table = np.clip(np.rint(255 * _LIGHT / white), 0, 255).astype(np.uint8)
    light: Bytes = table[grey]
    return light


def detector_parameters() -> cv2.aruco.DetectorParameters:
    """Return how OpenCV is to look for markers."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    # All 5 bits of 36 that the dictionary can mend: one random square in 1500 is then taken for one of our 24
    # markers, and has no frame round it.
    parameters.errorCorrectionRate = 1.0
    parameters.perspectiveRemovePixelPerCell = 8
    # A strip's marker is 25 to 70 px wide in a photo of 4000 px, a square's 50 to 150.
    parameters.adaptiveThreshWinSizeMin = 5
    parameters.adaptiveThreshWinSizeMax = 35
    parameters.adaptiveThreshWinSizeStep = 15
    parameters.minMarkerPerimeterRate = 0.012
    return parameters


def _measure(grey: Bytes, target: Target, markers: list[tuple[int, Floats]], bar_mm: float | None) -> Reference | None:
    own = np.concatenate([target.marker_corners_mm(marker) for marker, _ in markers])
    seen = np.concatenate([corners for _, corners in markers])
    to_px = _homography(own, seen)
    if to_px is None:
        return None
    own_corners = target.corners_mm()
    edges: list[EdgeSamples] = []
    for most in (_FEWEST_STATIONS, _FEWEST_STATIONS, _MOST_STATIONS):
        corners = _apply(to_px, own_corners)
        edges = [_edge(grey, target, to_px, corners, side, most) for side in range(4)]
        better = _refit(own_corners, edges)
        if better is None:
            break
        to_px = better
    if any(len(edge.points_px) == 0 for edge in edges):
        _log.info("%s: too little of its frame is seen", target.name)
        return None
    # Frame and markers are one print: where they do not fit each other, something else was taken for the frame.
    apart = np.linalg.norm(_apply(to_px, own) - seen, axis=1)
    allowed = max(_MOST_APART_PX, _MOST_APART * float(np.linalg.norm(seen[1] - seen[0])))
    if float(np.median(apart)) > allowed or float(apart.max()) > 3 * allowed:
        _log.info("%s: frame and markers disagree by %.2f px", target.name, float(np.median(apart)))
        return None
    corners = _apply(to_px, own_corners)
    scale = 1.0 if bar_mm is None else bar_mm / BAR_MM
    shared = UNMEASURED_DOUBT if bar_mm is None else MEASURED_DOUBT
    long, short = (size * scale for size in target.size_mm)
    return Reference(
        kind=Kind.TARGET,
        corners_px=frozen(corners),
        corners_mm=frozen([(0, 0), (long, 0), (long, short), (0, short)]),
        edges=tuple(edges),
        size_doubt=float(np.hypot(OWN_DOUBT, shared)),
        thickness_mm=PAPER_MM,
        score=1.0,
        outline_px=frozen(_apply(to_px, target.paper_corners_mm())),
        name=target.name,
        shared_doubt=shared,
    )


def _homography(own: Floats, seen: Floats) -> Floats | None:
    matrix = cv2.findHomography(own, seen, 0)[0]
    if matrix is None:
        return None
    found: Floats = np.asarray(matrix, dtype=np.float64)
    return found


def _apply(matrix: Floats, points: Floats) -> Floats:
    mapped = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    result: Floats = mapped[:, :2] / mapped[:, 2:]
    return result


def _edge(grey: Bytes, target: Target, to_px: Floats, corners: Floats, side: int, most: int) -> EdgeSamples:
    """Return samples of the middle line of the bar along one side; none where too little of it is seen."""
    nothing = EdgeSamples(frozen(np.zeros((0, 2))), frozen(np.zeros((0, 2))), frozen(np.zeros(0)), 1.0)
    start, stop = corners[side], corners[(side + 1) % 4]
    along = stop - start
    length = float(np.hypot(*along))
    if length < 10:
        return nothing
    unit = along / length
    # Counter-clockwise on the screen, y down: outward is to the right of the way.
    normal = np.array([-unit[1], unit[0]])
    count = int(np.clip(length / 2, _FEWEST_STATIONS, most))
    share = np.linspace(_FIRST_SHARE, _LAST_SHARE, count)
    base = start + along * share[:, None]
    breadth = _bar_breadth_px(target, to_px, side, share, normal)
    if breadth.min() < _LEAST_BAR_PX:
        return nothing
    reach = float(breadth.max()) * (0.5 + _OUTER_SHARE)
    steps = np.linspace(-reach, reach, int(np.clip(4 * reach, 25, 161)))
    rows = np.clip(length / count / 3, 0.4, 1.5) * np.array([-1.0, 0.0, 1.0])
    points = base[:, None, None] + unit * rows[:, None, None] + normal * steps[:, None]
    profile = _sample(grey, points).mean(axis=1)
    offset, good = _middle(profile, steps, breadth)
    if good.sum() < _LEAST_SEEN * count:
        return nothing
    u = 2 * share - 1
    fitted, kept, sigma = _smooth(u, offset, good, length)
    if kept.sum() < _LEAST_SEEN * count:
        return nothing
    tangent = np.gradient(fitted, share * length)
    normals = normal - unit * tangent[:, None]
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return EdgeSamples(
        frozen((base + normal * offset[:, None])[kept]),
        frozen(normals[kept]),
        frozen(share[kept]),
        max(sigma, _LEAST_SIGMA_PX),
        _LINE_SHIFT_PX,
    )


def _bar_breadth_px(target: Target, to_px: Floats, side: int, share: Floats, normal: Floats) -> Floats:
    """Return the bar's breadth along `normal` at each station [px]."""
    corners = target.corners_mm()
    own = corners[side] + (corners[(side + 1) % 4] - corners[side]) * share[:, None]
    out = np.array([(0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)])[side] * target.bar_mm / 2
    breadth: Floats = np.abs((_apply(to_px, own + out) - _apply(to_px, own - out)) @ normal)
    return breadth


def _sample(grey: Bytes, points: Floats) -> Floats:
    """Return light at (..., 2) points, between the pixels around."""
    height, width = grey.shape
    x, y = np.clip(points[..., 0], 0, width - 1.001), np.clip(points[..., 1], 0, height - 1.001)
    column, row = x.astype(np.intp), y.astype(np.intp)
    fx, fy = x - column, y - row
    upper = _LIGHT[grey[row, column]] * (1 - fx) + _LIGHT[grey[row, column + 1]] * fx
    lower = _LIGHT[grey[row + 1, column]] * (1 - fx) + _LIGHT[grey[row + 1, column + 1]] * fx
    light: Floats = upper * (1 - fy) + lower * fy
    outside = (points[..., 0] < 0) | (points[..., 1] < 0) | (points[..., 0] > width - 1) | (points[..., 1] > height - 1)
    light[outside] = np.nan
    return light


def _middle(profile: Floats, steps: Floats, breadth: Floats) -> tuple[Floats, Flags]:
    """Return where the bar's middle lies at each station [px from its base], and whether it was seen there.

    Each edge is where the light is half way between the bar and the paper on that side.
    """
    count = len(profile)
    offset, good = np.zeros(count), np.zeros(count, dtype=bool)
    for index, (line, wide) in enumerate(zip(profile, breadth, strict=True)):
        if np.isnan(line).any():
            continue
        centre = _darkest(line, steps, wide)
        near = np.abs(steps - centre)
        black = float(line[near <= max(0.15 * wide, 0.5)].mean())
        found = []
        for sign in (-1, 1):
            beyond = sign * (steps - centre)
            paper_at = (beyond >= 0.5 * wide + 0.25 * wide) & (beyond <= 0.5 * wide + 0.75 * wide)
            if paper_at.sum() < 2:
                break
            paper = float(np.median(line[paper_at]))
            if paper < 1.8 * black + 0.02:
                break
            crossing = _crossing(line, steps, centre, sign, (black + paper) / 2)
            if crossing is None:
                break
            found.append(crossing)
        # A bar seen broader or thinner than it is was crossed by something, or lies in a shadow's edge.
        if len(found) == 2 and 0.7 * wide < found[1] - found[0] < 1.3 * wide:
            offset[index], good[index] = (found[0] + found[1]) / 2, True
    return offset, good


def _darkest(line: Floats, steps: Floats, wide: float) -> float:
    """Return the middle of the stretch of length `wide` with the least light, near the base."""
    step = steps[1] - steps[0]
    window = max(1, round(wide / step))
    sums = np.convolve(line, np.ones(window), "valid")
    middles = np.convolve(steps, np.ones(window) / window, "valid")
    allowed = np.abs(middles) <= 0.75 * wide
    return float(middles[allowed][np.argmin(sums[allowed])]) if allowed.any() else 0.0


def _crossing(line: Floats, steps: Floats, centre: float, sign: int, level: float) -> float | None:
    """Return where `line` first rises through `level`, going out from `centre`."""
    order = np.flatnonzero(sign * (steps - centre) >= 0)
    if sign < 0:
        order = order[::-1]
    above = np.flatnonzero(line[order] >= level)
    if len(above) == 0 or above[0] == 0:
        return None
    after, before = order[above[0]], order[above[0] - 1]
    share = (level - line[before]) / (line[after] - line[before])
    return float(steps[before] + share * (steps[after] - steps[before]))


def _smooth(u: Floats, offset: Floats, good: Flags, length: float) -> tuple[Floats, Flags, float]:
    """Fit a bow through the good offsets; return it, which samples lie on it, and their scatter [px]."""
    kept = good.copy()
    fitted = np.zeros_like(u)
    sigma = 1.0
    for _ in range(5):
        # The line is held straight unless the samples say otherwise: a bow of up to 1 % of the side.
        basis = np.column_stack([np.ones_like(u), u, u * u - 1 / 3])
        held = np.diag([0.0, 0.0, (0.1 / max(0.01 * length, 0.5)) ** 2])
        chosen = basis[kept]
        fitted = basis @ np.linalg.solve(chosen.T @ chosen + held + 1e-9 * np.eye(3), chosen.T @ offset[kept])
        apart = np.abs(offset - fitted)
        sigma = 1.4826 * float(np.median(apart[kept]))
        again = good & (apart <= max(4 * sigma, 0.12))
        if again.sum() < 4 or (again == kept).all():
            break
        kept = again
    return fitted, kept, sigma


def _refit(own_corners: Floats, edges: list[EdgeSamples]) -> Floats | None:
    """Return the homography through the frame's own samples where all four edges are seen, else None.

    Each edge gives the two ends of a straight line through its samples; their meetings are the corners.
    """
    if any(len(edge.points_px) < 4 for edge in edges):
        return None
    lines = []
    for edge in edges:
        middle = edge.points_px.mean(axis=0)
        direction = np.linalg.svd(edge.points_px - middle, full_matrices=False)[2][0]
        lines.append((middle, direction))
    corners = []
    for index in range(4):
        (p, d), (q, e) = lines[index - 1], lines[index]
        corners.append(meet_lines(p, d, q, e))
    return _homography(own_corners, np.array(corners))
