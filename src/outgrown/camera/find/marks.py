"""Marks: what speaks for a candidate being a reference, each as a number from 0 to 1.

They are multiplied, so that one bad mark is enough to fail. Their limits were chosen on some 250 rendered cards and
sheets (true ones keep at least 0.3 in all but the worst light) and 300 false ones: prints, tiles, bricks, boards,
phones, and cards with sharp corners.
"""

import cv2
import numpy as np

from ...arrays import Floats
from ...photo import Photo
from ..reference import Kind
from .rounding import RADII_MM, Rounding, see_corners
from .sampling import PLAIN, sample
from .shape import Pose, find_corners_mm
from .side import Side

MOST_BLUR_PX = 2.3
SILENT_CORNERS = 0.35
# Of a card that is pointed at and whose corners are none of a card's.
STRANGE_CORNERS = 0.15
# Of 294 true cards on 138 photos none left more unexplained, or came to another radius; of 607 other things of like
# proportions, where the plain colours fail, half a dozen were nearly as clear.
MOST_UNLIKE, LIKELY_RADII_MM = 0.13, (2.5, 4.4)
USUAL_BLUR_PX = 0.9
RUNS_ON_SHARE, STEADY_SHARE = 0.35, 0.7
# Where each side is looked at beyond its corner, and before it: shares of its length, and the nearest and farthest that
# this may be [px].
BEYOND, BEFORE = (0.025, 0.07), (0.08, 0.2)
NEAREST_PX, FARTHEST_PX = 2.5, 7.0
ACROSS_PX = np.array([-3.0, -2.5, -2.0, 2.0, 2.5, 3.0])
LEAST_STEP = 9.0
RUNS_PAST, ENDS = 0.8, 0.55
"""Share of two sides' own step that is found where they are prolonged past the side between them. On 176 photos it came
to at most 0.50 beside 410 true cards and 0.19 beside 67 true sheets; above 0.6 it was beside 11 of 106 false cards and
12 of 34 false sheets that otherwise scored well, most of them a card or a sheet up to a line of its print."""


def find_white(photo: Photo) -> float:
    """Return how bright the brightest parts of `photo` are, sparkles left out [grey levels]."""
    return float(np.quantile(photo.pixels[::16, ::16].max(axis=2), 0.97))


def mark_first(photo: Photo, white: float, pose: Pose, least_seen: float) -> dict[str, float]:
    """Return the marks of a candidate whose corners are right to a pixel.

    Args:
        photo: upright.
        white: see `find_white`.
        pose: of the candidate.
        least_seen: share of its least visible side that is seen.
    """
    marks = mark_shape(pose, least_seen)
    _mark_surface(photo, white, pose, USUAL_BLUR_PX, marks)
    # Corners a pixel off tell little of their rounding yet.
    marks["corners"] = max(marks["corners"], 0.3)
    return marks


def mark_last(photo: Photo, white: float, pose: Pose, sides: list[Side]) -> dict[str, float]:
    """Return the marks of a candidate whose sides are measured."""
    blur_px = sides[0].blur_px
    marks = mark_shape(pose, min(s.share_seen for s in sides))
    _mark_surface(photo, white, pose, blur_px, marks)
    size_px = float(np.hypot(*(pose.corners_px[1] - pose.corners_px[0])))
    # Weak edges scatter from noise alone, by about 2 / contrast px.
    worst = max(s.sigma_px / (0.30 + 0.0012 * size_px + 2.0 / max(s.contrast, 5.0) + s.rough_px) for s in sides)
    marks["straight"] = float(np.clip(2.0 - worst, 0, 1))
    marks["sharp"] = float(np.clip((MOST_BLUR_PX - blur_px) / 0.4, 0, 1))
    marks["alone"] = _mark_alone(photo, sides)
    marks["differs"] = _mark_differs(photo, pose, sides)
    return marks


def mark_shape(pose: Pose, least_seen: float) -> dict[str, float]:
    """Return the marks of a candidate's place: sides seen, shape, slant, and how high the phone was held."""
    return {
        "seen": float(np.clip((least_seen - 0.4) / 0.35, 0, 1)),
        "shape": float(np.exp(-0.5 * (pose.misfit / 0.9) ** 2)),
        "upright": float(np.exp(-0.5 * (max(0.0, pose.tilt_deg - 18) / 14) ** 2)),
        "held": float(np.exp(-0.5 * pose.too_high**2)),
    }


def _mark_surface(photo: Photo, white: float, pose: Pose, blur_px: float, marks: dict[str, float]) -> None:
    marks["ends"] = _mark_ends(photo, pose.corners_px)
    corners = see_corners(photo.pixels, pose, blur_px)
    if pose.kind is Kind.CARD:
        marks["corners"] = max(_mark_round(corners.round_by_colour()), _mark_alike(corners.round_by_likeness()))
    else:
        marks["corners"] = _mark_sharp(corners.round_by_colour().left)
        marks["paper"] = _mark_paper(photo, white, pose)


def score_marks(marks: dict[str, float]) -> float:
    """Product: one bad mark is enough to fail."""
    return float(np.prod(list(marks.values())))


def _mark_alike(found: Rounding) -> float:
    """How clearly the corners are a card's by what each place is alike to; 0 where that is not quite clear."""
    clear = found.left.min() < MOST_UNLIKE and LIKELY_RADII_MM[0] < found.radius_mm < LIKELY_RADII_MM[1]
    return _mark_round(found) if clear else 0.0


def _mark_round(found: Rounding) -> float:
    """How clearly the corners are a card's: against sharp ones, and against a phone's or a coaster's."""
    if not 1.9 < found.radius_mm < 4.9:
        return 0.0
    left = found.left
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


def _mark_paper(photo: Photo, white: float, pose: Pose) -> float:
    """Bright, without colour, and even but for print: 1 for a sheet of paper, 0 for what cannot be one."""
    colour = _inside(photo, pose)
    value = colour.max(axis=2)
    light = float(np.median(colour.reshape(-1, 3), axis=0).max())
    # Of each place by itself: orange and blue stripes of one brightness are grey in their middle.
    colourful = float(np.median((value - colour.min(axis=2)) / np.maximum(value, 1.0)))
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
        np.clip((light / max(white, 1.0) - 0.45) / 0.2, 0, 1),
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


def _mark_alone(photo: Photo, sides: list[Side]) -> float:
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
            least = RUNS_ON_SHARE * max(side.contrast, 6.0)
            step = np.abs(colour[:, 4:] - colour[:, :-4]).mean(axis=2).max(axis=1)
            # A joint is the same at all places, and so in their mean; a carpet's pile is not.
            mean = colour.mean(axis=0)
            steady = np.abs(mean[4:] - mean[:-4]).mean(axis=1).max()
            runs_on += int((step > least).mean() > 0.75 and steady > STEADY_SHARE * least)
    return float(np.clip((6.5 - runs_on) / 3.0, 0, 1))


def _mark_ends(photo: Photo, corners_px: Floats) -> float:
    """Whether the thing ends at each of its sides: both neighbours of a line inside it run on past that line."""
    leaving, arriving = np.zeros(4), np.zeros(4)
    for i in range(4):
        a, b = corners_px[i], corners_px[(i + 1) % 4]
        arriving[i] = _measure_run(photo, b, a)
        leaving[i] = _measure_run(photo, a, b)
    past = max(min(leaving[i - 1], arriving[(i + 1) % 4]) for i in range(4))
    return float(np.clip((RUNS_PAST - past) / (RUNS_PAST - ENDS), 0, 1))


def _measure_run(photo: Photo, start: Floats, corner: Floats) -> float:
    """Return what share of the step across a side is found where the side is prolonged past `corner`."""
    length = float(np.hypot(*(corner - start)))
    unit = (corner - start) / length
    normal = np.array([-unit[1], unit[0]])
    steps = []
    for sign, (near, far) in ((1, BEYOND), (-1, BEFORE)):
        off = np.linspace(max(NEAREST_PX, near * length), max(FARTHEST_PX, far * length), 12)
        points = corner + sign * off[:, None, None] * unit + ACROSS_PX[:, None] * normal
        colour = sample(photo.pixels, points, PLAIN)
        steps.append(colour[:, 3:].mean(axis=1) - colour[:, :3].mean(axis=1))
    own = steps[1].mean(axis=0)
    return float(np.median(steps[0] @ own) / max(float(own @ own), LEAST_STEP))


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
