"""Judge: is a candidate a reference, of which kind, and how sure is that?"""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from ...arrays import Floats
from ...photo import Photo
from ..reference import Kind
from .edges import refine_sides
from .locate import locate_sides
from .rounding import RADII_MM, measure_rounding
from .sampling import PLAIN, sample
from .shape import (
    Pose,
    find_corners_mm,
    find_focal_px,
    find_size_mm,
    find_thickness_mm,
    fit_pose,
    measure_rims,
)
from .side import Side

# After the first look at full resolution corners are right to about a pixel.
FIRST_CORNER_DOUBT_PX = 1.0
LAST_CORNER_DOUBT_PX = 0.5
MOST_FIRST_MISFIT = 2.6
MOST_MISFIT = 2.0
LEAST_SEEN = 0.45
LEAST_MEAN_SEEN = 0.72
MOST_BLUR_PX = 2.3
SAME_PX = 0.8
SILENT_CORNERS = 0.35


@dataclass(frozen=True, eq=False)
class Judged:
    """A candidate that may be a reference.

    Attributes:
        pose: kind, corners and place.
        sides: its four sides, in the order of the pose's corners (empty before they are measured).
        score: 0..1.
        marks: what the score is made of, by name.
    """

    pose: Pose
    sides: tuple[Side, ...]
    score: float
    marks: dict[str, float]


def judge_first(
    photo: Photo, quad_px: Floats, reach_px: float, kinds: tuple[Kind, ...], known: list[Floats]
) -> list[Judged]:
    """Return what a quad may be after a first look at full resolution, for each kind that is possible.

    Args:
        photo: upright.
        quad_px: (4, 2) counter-clockwise on the screen.
        reach_px: how far off its sides may be.
        kinds: what to look for.
        known: corners looked at before, which are not looked at again; grows.
    """
    found = []
    for corners, seen in locate_sides(photo.pixels, quad_px, reach_px):
        if not _is_within(corners, photo) or seen.min() < LEAST_SEEN or seen.mean() < LEAST_MEAN_SEEN:
            continue
        turned = np.stack([np.roll(corners, k, axis=0) for k in range(4)])
        if known and np.abs(np.stack(known)[:, None] - turned).max(axis=(2, 3)).min() < SAME_PX:
            continue
        known.append(corners)
        for kind in kinds:
            pose = fit_pose(corners, kind, photo, corner_doubt_px=FIRST_CORNER_DOUBT_PX)
            if pose is None or pose.misfit > MOST_FIRST_MISFIT:
                continue
            marks = _mark(photo, pose, float(seen.min()))
            # Corners a pixel off tell little of their rounding yet.
            marks["corners"] = max(marks["corners"], 0.3)
            score = _score(marks)
            if score > 0:
                found.append(Judged(pose, (), score, marks))
    return found


def judge_last(photo: Photo, first: Judged) -> Judged | None:
    """Measure the four sides of a candidate and judge it again; None if it is no reference."""
    focal_px = find_focal_px(photo)[0]
    scale = _px_per_mm(first.pose)
    sides, corners = refine_sides(photo.pixels, first.pose.corners_px, focal_px, stations=40, rows=2, px_per_mm=scale)
    size = float(np.hypot(*(corners[1] - corners[0])))
    moved = float(np.abs(corners - first.pose.corners_px).max())
    if moved > 3.0 + 0.01 * size or not _is_within(corners, photo):
        return None
    pose = fit_pose(corners, first.pose.kind, photo, corner_doubt_px=LAST_CORNER_DOUBT_PX)
    if pose is None or pose.misfit > MOST_MISFIT:
        return None
    turned = pose.first_corner
    sides = sides[turned:] + sides[:turned]
    marks = _mark(photo, pose, min(s.share_seen for s in sides), sides[0].blur_px)
    # Weak edges scatter from noise alone, by about 2 / contrast px.
    worst = max(s.sigma_px / (0.30 + 0.0012 * size + 2.0 / max(s.contrast, 5.0)) for s in sides)
    marks["straight"] = float(np.clip(2.0 - worst, 0, 1))
    marks["sharp"] = float(np.clip((MOST_BLUR_PX - sides[0].blur_px) / 0.4, 0, 1))
    marks["alone"] = _mark_alone(photo, pose, sides)
    marks["differs"] = _mark_differs(photo, pose, sides)
    score = _score(marks)
    return Judged(pose, tuple(sides), score, marks) if score > 0 else None


def measure_last(photo: Photo, judged: Judged) -> Judged:
    """Return a reference measured as finely as can be: more stations, and each side settled on its profile."""
    focal_px = find_focal_px(photo)[0]
    kind = judged.pose.kind
    scale = _px_per_mm(judged.pose)
    pose, sides = judged.pose, judged.sides
    for _ in range(2):
        rims_px = measure_rims(pose, photo, find_thickness_mm(kind))
        found, corners = refine_sides(photo.pixels, pose.corners_px, focal_px, rims_px=rims_px, px_per_mm=scale)
        if np.abs(corners - judged.pose.corners_px).max() > 3.0:
            break
        pose, sides = replace(pose, corners_px=corners), tuple(found)
    return replace(judged, pose=pose, sides=sides)


def _px_per_mm(pose: Pose) -> float:
    return float(np.hypot(*(pose.corners_px[1] - pose.corners_px[0]))) / find_size_mm(pose.kind)[0]


def _is_within(corners: Floats, photo: Photo) -> bool:
    if not np.isfinite(corners).all():
        return False
    low, high = corners.min(axis=0), corners.max(axis=0)
    return bool((low > 1).all() and high[0] < photo.width_px - 2 and high[1] < photo.height_px - 2)


def _mark(photo: Photo, pose: Pose, least_seen: float, blur_px: float = 0.9) -> dict[str, float]:
    marks = {
        "seen": float(np.clip((least_seen - 0.4) / 0.35, 0, 1)),
        "shape": float(np.exp(-0.5 * (pose.misfit / 0.9) ** 2)),
        "upright": float(np.exp(-0.5 * (max(0.0, pose.tilt_deg - 18) / 14) ** 2)),
    }
    radius, left = measure_rounding(photo.pixels, pose, blur_px)
    if pose.kind is Kind.CARD:
        marks["corners"] = _mark_round(radius, left)
    else:
        marks["corners"] = _mark_sharp(left)
        marks["paper"] = _mark_paper(photo, pose)
    return marks


def _score(marks: dict[str, float]) -> float:
    """Product: one bad mark is enough to fail."""
    return float(np.prod(list(marks.values())))


def _mark_round(radius: float, left: Floats) -> float:
    """How clearly the corners are a card's: against sharp ones, and against a phone's or a coaster's."""
    if not 1.9 < radius < 4.9:
        return 0.0
    card = max(float(left[(RADII_MM > 2) & (RADII_MM < 4.5)].min()), 1e-6)
    sharp, rounder = float(left[RADII_MM < 1].min()), float(left[RADII_MM > 6].min())
    evidence = min(np.log(sharp / card), np.log(rounder / card))
    mark = float(1 - np.exp(-max(evidence - 0.02, 0.0) / 0.15))
    # Where no radius explains much, the corners have no contrast: they cannot speak for or against it.
    return max(mark, SILENT_CORNERS) if card > 0.5 else mark


def _mark_sharp(left: Floats) -> float:
    """Whether the corners may be sharp; at low contrast they cannot say, and nothing is held against them."""
    sharp, rounded = float(left[RADII_MM < 2].min()), float(left[RADII_MM > 3].min())
    return float(np.clip(1.0 + np.log(rounded / max(sharp, 1e-6)) / 0.2, 0, 1))


def _mark_paper(photo: Photo, pose: Pose) -> float:
    """Bright, without colour, and even but for print: 1 for a sheet of paper, 0 for what cannot be one."""
    colour = _inside(photo, pose)
    value = colour.max(axis=2)
    bright = np.quantile(photo.pixels[::16, ::16].max(axis=2), 0.97)
    middle = np.median(colour.reshape(-1, 3), axis=0)
    light = float(middle.max())
    colourful = float((middle.max() - middle.min()) / max(middle.max(), 1.0))
    # Evenness about a plane, since light falls off over a sheet; print leaves most of it untouched.
    rows, columns = value.shape
    y, x = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : columns * 1j]
    plane = np.stack([np.ones(value.size), x.ravel(), y.ravel()], axis=1)
    kept = np.ones(value.size, bool)
    fitted = np.full(value.size, light)
    for _ in range(4):
        fitted = plane @ np.linalg.lstsq(plane[kept], value.ravel()[kept], rcond=None)[0]
        off = np.abs(value.ravel() - fitted)
        kept = off <= max(6.0, float(np.quantile(off, 0.7)))
    even = float((np.abs(value.ravel() - fitted) < 0.07 * light).mean())
    marks = (
        np.clip((light / max(float(bright), 1.0) - 0.45) / 0.2, 0, 1),
        np.clip((0.36 - colourful) / 0.12, 0, 1),
        np.clip((even - 0.35) / 0.25, 0, 1),
    )
    return float(np.min(marks))


def _inside(photo: Photo, pose: Pose, count: int = 28) -> Floats:
    corners_mm = find_corners_mm(pose.kind)
    to_px = cv2.getPerspectiveTransform(
        corners_mm.astype(np.float32), np.asarray(pose.corners_px, dtype=np.float32)
    ).astype(np.float64)
    long, short = corners_mm[2]
    x, y = np.meshgrid(np.linspace(0.04, 0.96, count) * long, np.linspace(0.04, 0.96, count) * short)
    points = np.stack([x, y, np.ones_like(x)], axis=-1) @ to_px.T
    return sample(photo.pixels, points[..., :2] / points[..., 2:], PLAIN)


def _mark_alone(photo: Photo, pose: Pose, sides: list[Side]) -> float:
    """Whether the edges end at the corners: joints between tiles and boards run on."""
    runs_on = 0
    offsets = np.arange(-2.0, 2.01, 0.5)
    for side in sides:
        along = (side.stop - side.start) / 2
        unit = along / np.hypot(*along)
        normal = np.array([-unit[1], unit[0]])
        for beyond in (np.linspace(-1.55, -1.15, 9), np.linspace(1.15, 1.55, 9)):
            points = side.curve(beyond)[:, None] + normal * offsets[:, None]
            if (points.min() < 2) or (points.max(axis=(0, 1)) > [photo.width_px - 3, photo.height_px - 3]).any():
                continue
            colour = sample(photo.pixels, points, PLAIN)
            step = np.abs(colour[:, 4:] - colour[:, :-4]).mean(axis=2).max(axis=1)
            signed = colour[:, -1] - colour[:, 0]
            steady = np.hypot(*np.atleast_2d(signed.mean(axis=0))[:, :2].T)[0]
            runs_on += int((step > 0.35 * max(side.contrast, 6.0)).mean() > 0.75 and steady >= 0)
    return float(np.clip((6.5 - runs_on) / 3.0, 0, 1))


def _mark_differs(photo: Photo, pose: Pose, sides: list[Side]) -> float:
    """Whether the inside differs from the floor around: a frame of joints, or a drawn rectangle, does not."""
    corners_mm = find_corners_mm(pose.kind)
    long = corners_mm[2, 0]
    to_px = cv2.getPerspectiveTransform(
        corners_mm.astype(np.float32), np.asarray(pose.corners_px, dtype=np.float32)
    ).astype(np.float64)
    along = np.linspace(0.15, 0.85, 24)
    ratios = []
    reach = 0.09 * long
    for i, side in enumerate(sides):
        a, b = corners_mm[i], corners_mm[(i + 1) % 4]
        unit = (b - a) / np.hypot(*(b - a))
        outward = np.array([unit[1], -unit[0]])
        levels = []
        for off in (-np.linspace(0.5, 1.0, 4) * reach, np.linspace(0.7, 1.2, 4) * reach):
            places = a + (b - a) * along[:, None, None] + outward * off[:, None]
            flat = np.concatenate([places, np.ones((*places.shape[:2], 1))], axis=2) @ to_px.T
            colour = sample(photo.pixels, flat[..., :2] / flat[..., 2:], PLAIN)
            levels.append(np.median(colour.reshape(-1, 3), axis=0))
        step = float(np.sqrt(((levels[0] - levels[1]) ** 2).mean()))
        ratios.append(step / max(side.contrast, 3.0))
    return float(np.clip((np.sort(ratios)[-2] - 0.12) / 0.2, 0, 1))
