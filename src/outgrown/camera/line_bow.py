"""What straight lines of the floor tell by themselves: the lens's distortion, and which lines are parallel."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Flags, Floats
from .lens import Lens

_STEP = 1e-4
_LEAST_PX = 0.05
"""Samples are not trusted beyond this however well they agree: joints themselves are not straighter."""
_CROOKED_PX = 0.15
"""Root mean square by which a joint is not straight in life (about 0.1 mm; from memory, no source)."""
_BOWED_PX = 2.0
"""Bow left in straight joints of rendered floors: under 0.3 px, with a second distortion term of a phone 1 to 2 px."""
_TOLERANCE_DEG = 0.5
_RIGHT_ANGLE_DEG = 3.0
_APART = 0.25
_LARGEST_DEPTH = 0.75
"""Cosine of a floor direction to the optical axis: the floor's horizon is never nearer at leans below 45 degrees."""


@dataclass(frozen=True, eq=False)
class FloorLine:
    """Samples on one straight line of the floor.

    Attributes:
        points_px: (N, 2) subpixel positions in order along the line.
        normals_px: (N, 2) unit normals in the image.
        sigma_px: standard deviation of one sample along its normal [px].
        length_px: from the first sample to the last [px].
    """

    points_px: Floats
    normals_px: Floats
    sigma_px: float
    length_px: float


def _lens(centre_px: tuple[float, float], focal_px: float, k1: float) -> Lens:
    return Lens(focal_px, centre_px, (k1, 0.0, 0.0, 0.0, 0.0))


def measure_bow(line: FloorLine, lens: Lens) -> Floats:
    """Return (N,) distances of a line's samples, undistorted by `lens`, from the straight line through them [px]."""
    points = lens.to_rays(line.points_px) * lens.focal_px
    centred = points - points.mean(axis=0)
    normal = np.linalg.svd(centred, full_matrices=False)[2][1]
    bow: Floats = centred @ normal
    return bow if normal @ line.normals_px[len(bow) // 2] >= 0 else -bow


def fit_k1(lines: Sequence[FloorLine], centre_px: tuple[float, float], focal_px: float) -> tuple[float, float]:
    """Return (k1, its standard deviation) under which the lines are straightest.

    Least squares on the distances from straight lines, with Huber's weights for single samples and for whole lines
    (one that is not straight in life). The deviation is taken from how far the lines disagree. Without lines the
    deviation is infinite.
    """
    if not lines:
        return 0.0, float("inf")
    k1 = 0.0
    weights = [np.ones(len(line.points_px)) for line in lines]
    trust = np.ones(len(lines))
    own, known = np.zeros(len(lines)), np.zeros(len(lines))
    step = 0.0
    for _ in range(8):
        for index, line in enumerate(lines):
            sigma = max(line.sigma_px, _LEAST_PX)
            off, slope = _off_and_slope(line, centre_px, focal_px, k1, weights[index])
            weight = weights[index] = np.minimum(1.0, 1.5 * sigma / np.maximum(np.abs(off), 1e-9))
            # Each line's own best change of k1, and its variance: from its samples, and since no line is straight.
            power = max(float((weight * slope * slope).sum()), 1e-9)
            own[index] = -float((weight * slope * off).sum()) / power
            known[index] = 1 / (sigma**2 / power + _CROOKED_PX**2 * float(weight.sum()) / power)
        step = float((trust * known * own).sum() / (trust * known).sum())
        step = float(np.clip(step, -0.05, 0.05))
        k1 += step
        away = np.abs(own - step) * np.sqrt(known)
        scale = max(1.4826 * float(np.median(away)), 1.0)
        trust = np.minimum(1.0, 1.5 * scale / np.maximum(away, 1e-9))
        if abs(step) < 1e-6:
            break
    information = float((trust * known).sum())
    if information < 1e-3:
        return 0.0, float("inf")
    by_lines = float(np.sqrt(((trust * (own - step) * known) ** 2).sum())) / information
    few = float(np.sqrt(len(lines) / (len(lines) - 1))) if len(lines) > 1 else 3.0
    return k1, max(by_lines * few, information**-0.5)


def leave_out_bowed(lines: Sequence[FloorLine], centre_px: tuple[float, float], focal_px: float) -> list[FloorLine]:
    """Return the lines without those that stay bowed under the distortion that straightens most of them.

    They are bowed in life: a garment's edge, a hose. With fewer than four lines nobody can tell.
    """
    if len(lines) < 4:
        return list(lines)
    k1, _ = fit_k1(lines, centre_px, focal_px)
    lens = _lens(centre_px, focal_px, k1)
    bows = []
    for line in lines:
        share = np.linspace(-1, 1, len(line.points_px))
        bows.append(abs(float(np.polyfit(share, measure_bow(line, lens), 2)[0])))
    limit = max(_BOWED_PX, 4 * float(np.median(bows)))
    return [line for line, bow in zip(lines, bows, strict=True) if bow <= limit]


def _off_and_slope(
    line: FloorLine, centre_px: tuple[float, float], focal_px: float, k1: float, weight: Floats
) -> tuple[Floats, Floats]:
    """Return the samples' distances from their straight line, and the change of them per unit of k1."""
    flat = _lens(centre_px, focal_px, k1).to_rays(line.points_px) * focal_px
    ahead = _lens(centre_px, focal_px, k1 + _STEP).to_rays(line.points_px) * focal_px
    mean = (flat * weight[:, None]).sum(axis=0) / weight.sum()
    centred = flat - mean
    tangent = np.linalg.eigh((centred * weight[:, None]).T @ centred)[1][:, 1]
    normal = np.array([-tangent[1], tangent[0]])
    t = centred @ tangent
    off = centred @ normal
    slope = ((ahead - flat) @ normal) / _STEP
    # What moves or turns the whole line is no bow.
    slope = slope - (weight * slope).sum() / weight.sum()
    slope = slope - t * float((weight * slope * t).sum() / (weight * t * t).sum())
    return off, slope


def find_families(
    lines: Sequence[FloorLine], focal_px: float, centre_px: tuple[float, float], *, k1: float | None = None
) -> list[tuple[int, ...]]:
    """Return sets of lines that may be parallel in life (they share a vanishing point), largest first.

    Args:
        lines: of one floor.
        focal_px: focal length [px].
        centre_px: principal point.
        k1: radial distortion; None takes `fit_k1` where the lines tell it.

    Returns:
        Indices into `lines`; each line is in at most one family. A family has three lines or more, or two that lie
        a quarter of the focal length apart.
    """
    if len(lines) < 2:
        return []
    lens = _lens(centre_px, focal_px, _bow_or_none(lines, focal_px, centre_px) if k1 is None else k1)
    planes, middles = _planes(lines, lens)
    lengths = np.array([line.length_px for line in lines])
    left = np.ones(len(lines), dtype=bool)
    families: list[tuple[int, ...]] = []
    first, second = np.triu_indices(len(lines), 1)
    meets = np.cross(planes[first], planes[second])
    size = np.linalg.norm(meets, axis=1)
    # Nearly the same line twice, or a meeting point within or near the picture: no vanishing point of a floor.
    sound = size > 0.01
    meets = meets / np.maximum(size, 1e-9)[:, None]
    sound &= np.abs(meets[:, 2]) < _LARGEST_DEPTH
    while left.sum() >= 2:
        open_ = sound & left[first] & left[second]
        if not open_.any():
            break
        fits = _points_to(meets[open_], planes, middles) & left
        best = int(np.argmax(fits @ lengths))
        members = fits[best]
        for _ in range(3):
            meet = _meeting(planes[members], lengths[members])
            again = _points_to(meet[None], planes, middles)[0] & left
            if again.sum() < 2:
                break
            members = again
        if abs(meet[2]) < _LARGEST_DEPTH and _is_family(members, planes, middles):
            families.append(tuple(int(index) for index in np.flatnonzero(members)))
            left &= ~members
        else:
            sound[np.flatnonzero(open_)[best]] = False
    return sorted(families, key=lambda family: -float(lengths[list(family)].sum()))


def find_right_angles(
    lines: Sequence[FloorLine],
    families: Sequence[tuple[int, ...]],
    focal_px: float,
    centre_px: tuple[float, float],
    *,
    k1: float | None = None,
) -> list[tuple[int, int]]:
    """Return pairs of indices into `families` whose directions are perpendicular within 3 degrees, best first."""
    if k1 is None:
        k1 = _bow_or_none(lines, focal_px, centre_px)
    lens = _lens(centre_px, focal_px, k1)
    found = []
    directions = [measure_direction([lines[index] for index in family], lens) for family in families]
    for one in range(len(families)):
        for other in range(one + 1, len(families)):
            off_deg = float(np.degrees(np.arcsin(min(1.0, abs(float(directions[one] @ directions[other]))))))
            if off_deg < _RIGHT_ANGLE_DEG:
                found.append((off_deg, (one, other)))
    return [pair for _, pair in sorted(found)]


def measure_direction(lines: Sequence[FloorLine], lens: Lens) -> Floats:
    """Return (3,) the unit direction in the camera's frame (right, down, forward) that parallel lines share."""
    planes, _ = _planes(lines, lens)
    return _meeting(planes, np.array([line.length_px for line in lines]))


def _bow_or_none(lines: Sequence[FloorLine], focal_px: float, centre_px: tuple[float, float]) -> float:
    k1, doubt = fit_k1(lines, centre_px, focal_px)
    return k1 if doubt < 0.01 else 0.0


def _planes(lines: Sequence[FloorLine], lens: Lens) -> tuple[Floats, Floats]:
    """Return (L, 3) unit normals of the planes through lens and line, and (L, 3) rays to the lines' middles."""
    planes, middles = [], []
    for line in lines:
        rays = lens.to_rays(line.points_px)
        mean = rays.mean(axis=0)
        tangent = np.linalg.svd(rays - mean, full_matrices=False)[2][0]
        middle = np.array([*mean, 1.0])
        plane = np.cross(middle, np.array([*tangent, 0.0]))
        planes.append(plane / np.linalg.norm(plane))
        middles.append(middle / np.linalg.norm(middle))
    return np.array(planes), np.array(middles)


def _points_to(meets: Floats, planes: Floats, middles: Floats) -> Flags:
    """Return (M, L) whether each line, turned about its middle by the tolerance at most, runs to each meeting point."""
    wanted = np.cross(middles[None], meets[:, None])
    wanted = wanted / np.linalg.norm(wanted, axis=2, keepdims=True).clip(1e-9)
    aligned: Flags = np.abs((wanted * planes[None]).sum(axis=2)) > np.cos(np.radians(_TOLERANCE_DEG))
    return aligned


def _meeting(planes: Floats, lengths: Floats) -> Floats:
    meet: Floats = np.linalg.svd(planes * lengths[:, None])[2][2]
    return meet


def _is_family(members: Flags, planes: Floats, middles: Floats) -> bool:
    if members.sum() >= 3:
        return True
    one, other = np.flatnonzero(members)[:2]
    return bool(abs(planes[one] @ middles[other]) > _APART and abs(planes[other] @ middles[one]) > _APART)
