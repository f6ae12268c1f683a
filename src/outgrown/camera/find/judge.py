"""Judge: is a candidate a reference, of which kind, and how sure is that?"""

from dataclasses import dataclass, replace

import numpy as np

from ...arrays import Floats
from ...photo import Photo
from ..reference import Kind
from .edges import refine_sides
from .locate import locate_sides
from .marks import SILENT_CORNERS, STRANGE_CORNERS, mark_first, mark_last, score_marks
from .shape import Pose, find_focal_px, find_size_mm, find_thickness_mm, fit_pose, measure_rims
from .side import Side

# After the first look at full resolution corners are right to about a pixel.
FIRST_CORNER_DOUBT_PX = 1.0
LAST_CORNER_DOUBT_PX = 0.5
MOST_FIRST_MISFIT = 2.2
MOST_MISFIT = 2.0
# Above this a candidate needs no second look.
CLEAR_SCORE = 0.6
# Sides that scatter more are measured once more, evened along: with that 9 of 12 cards in rendered deep pile score
# 0.3 and more, 7 without.
RAGGED_PX = 0.4
EVEN_ROWS, EVEN_PX = 9, 8.0
LEAST_SEEN = 0.45
LEAST_MEAN_SEEN = 0.72
# A side far off, or turned, comes only half the way at the first look.
LEAST_SEEN_ONCE, SEEN_WELL = 0.5, 0.85
SAME_PX = 0.8
# Smaller ones could not be told from specks, nor measured well enough to scale by.
SMALLEST_PX = {Kind.CARD: 34.0, Kind.A4: 110.0, Kind.LETTER: 110.0}


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
    photo: Photo, white: float, quad_px: Floats, reach_px: float, kinds: tuple[Kind, ...], known: list[Floats]
) -> list[Judged]:
    """Return what a quad may be after a first look at full resolution, for each kind that is possible.

    Args:
        photo: upright.
        white: how bright its brightest parts are (see `find_white`).
        quad_px: (4, 2) counter-clockwise on the screen.
        reach_px: how far off its sides may be.
        kinds: what to look for.
        known: corners looked at before, which are not looked at again; grows.
    """
    found = []
    for corners, seen in _look_twice(photo, quad_px, reach_px):
        if not _is_within(corners, photo) or seen.min() < LEAST_SEEN or seen.mean() < LEAST_MEAN_SEEN:
            continue
        turned = np.stack([np.roll(corners, k, axis=0) for k in range(4)])
        if known and np.abs(np.stack(known)[:, None] - turned).max(axis=(2, 3)).min() < SAME_PX:
            continue
        known.append(corners)
        longest = float(np.hypot(*(np.roll(corners, -1, axis=0) - corners).T).max())
        for kind in kinds:
            if longest < SMALLEST_PX[kind]:
                continue
            pose = fit_pose(corners, kind, photo, corner_doubt_px=FIRST_CORNER_DOUBT_PX)
            if pose is None or pose.misfit > MOST_FIRST_MISFIT:
                continue
            marks = mark_first(photo, white, pose, float(seen.min()))
            score = score_marks(marks)
            if score > 0:
                found.append(Judged(pose, (), score, marks))
    return found


def _look_twice(photo: Photo, quad_px: Floats, reach_px: float) -> list[tuple[Floats, Floats]]:
    """Return where a quad's sides may lie; from where they seem to lie again, if one of them is seen badly there."""
    found = locate_sides(photo.pixels, quad_px, reach_px)
    corners, seen = found[0]
    if seen.mean() < LEAST_SEEN_ONCE or seen.min() >= SEEN_WELL or not _is_within(corners, photo):
        return found
    return found + locate_sides(photo.pixels, corners, reach_px)


def judge_last(photo: Photo, white: float, first: Judged, *, is_pointed: bool = False) -> Judged | None:
    """Measure the four sides of a candidate and judge it again; None if it is no reference.

    Args:
        photo: upright.
        white: see `find_white`.
        first: the candidate as `judge_first` saw it.
        is_pointed: somebody says what it is; a card's corners then need not speak for it.
    """
    judged = _judge_once(photo, white, first, is_pointed)
    if judged is None or judged.score > CLEAR_SCORE:
        return judged
    # A side that had to move far was looked at aslant: from where it is now it shows better.
    again = _judge_once(photo, white, judged, is_pointed)
    return judged if again is None else max(judged, again, key=lambda j: j.score)


def _judge_once(photo: Photo, white: float, first: Judged, is_pointed: bool) -> Judged | None:
    judged = _judge_sides(photo, white, first, is_pointed, rows=2, even_px=1.0)
    if first.pose.kind is not Kind.CARD:
        return judged
    if judged is not None and (judged.score > CLEAR_SCORE or max(s.sigma_px for s in judged.sides) < RAGGED_PX):
        return judged
    # Pile hides the edge in places: what is alike along it is taken together. Evened enough, anything is a line, so the
    # corners must speak for it.
    evened = _judge_sides(photo, white, first, is_pointed, rows=EVEN_ROWS, even_px=EVEN_PX)
    if evened is None or evened.marks["corners"] <= SILENT_CORNERS:
        return judged
    return evened if judged is None or evened.score > judged.score else judged


def _judge_sides(
    photo: Photo, white: float, first: Judged, is_pointed: bool, *, rows: int, even_px: float
) -> Judged | None:
    focal_px = find_focal_px(photo)[0]
    scale = _px_per_mm(first.pose)
    sides, corners = refine_sides(
        photo.pixels, first.pose.corners_px, focal_px, stations=40, rows=rows, even_px=even_px, px_per_mm=scale
    )
    size = float(np.hypot(*(corners[1] - corners[0])))
    moved = float(np.abs(corners - first.pose.corners_px).max())
    if moved > 3.0 + 0.01 * size or not _is_within(corners, photo):
        return None
    pose = fit_pose(corners, first.pose.kind, photo, corner_doubt_px=LAST_CORNER_DOUBT_PX)
    if pose is None or pose.misfit > MOST_MISFIT:
        return None
    turned = pose.first_corner
    sides = sides[turned:] + sides[:turned]
    marks = mark_last(photo, white, pose, sides)
    if is_pointed and pose.kind is Kind.CARD:
        # Corners of no card at all may be another's: those of its stripe, or of artwork.
        least = SILENT_CORNERS if marks["corners"] > 0 else STRANGE_CORNERS
        marks["corners"] = max(marks["corners"], least)
    score = score_marks(marks)
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
        # Looked at more finely a side beside artwork may be lost; then what was seen before is better than nothing.
        if np.abs(corners - judged.pose.corners_px).max() > 3.0 or any(side.is_lost for side in found):
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
