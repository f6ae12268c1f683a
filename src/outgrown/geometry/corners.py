"""Corners: places where a ring turns, told from noise by looking at a chosen scale, and sharpened."""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import maximum_filter1d

from ..arrays import Floats
from .polylines import arc_lengths_mm, length_mm, points_at

NEARER_COUNTS_MM = 15.0
"""Points count less by a factor of e every so far from a corner. Of 12 to 30 and none, this placed corners of
invented legs best, noisy or not, sharp or rounded by 4 mm."""


@dataclass(frozen=True)
class Corner:
    """A turn of a ring.

    Attributes:
        index: of the ring's point nearest to it.
        turn_deg: how far the direction turns there, positive to the left (outward corner of a
            counter-clockwise ring).
    """

    index: int
    turn_deg: float


@dataclass(frozen=True)
class LineCorner:
    """A turn of an open line.

    Attributes:
        along_mm: how far along the line it lies [mm].
        turn_deg: how far the direction turns there, positive to the left.
    """

    along_mm: float
    turn_deg: float


_STEP_MM = 0.5
_SNAP_MM = 3.0
"""A corner's own point lies this near to where the turn seems greatest."""


def find_line_corners(line_mm: Floats, reach_mm: float, min_turn_deg: float) -> list[LineCorner]:
    """Return the corners of an open line in order, each at a point of the line, clear of its ends by `reach_mm`.

    Args:
        line_mm: (N, 2) quiet: every turn counts.
        reach_mm: how far to either side the turn is seen [mm].
        min_turn_deg: smaller turns are no corners.
    """
    along = np.arange(reach_mm, length_mm(line_mm) - reach_mm, _STEP_MM)
    if len(along) == 0:
        return []
    here, ahead, behind = (points_at(line_mm, along + d) for d in (0.0, reach_mm, -reach_mm))
    turn = _turn_deg(here - behind, ahead - here)
    greatest = maximum_filter1d(np.abs(turn), int(2 * reach_mm / _STEP_MM) + 1)
    found = np.flatnonzero((np.abs(turn) >= greatest) & (np.abs(turn) > min_turn_deg))
    found = found[np.concatenate([[True], np.diff(found) > reach_mm / _STEP_MM])] if len(found) else found
    # A corner is one point of the line: beside it, the mean of two lines would have a facet instead.
    steps = np.diff(line_mm, axis=0)
    sharpness = np.abs(_turn_deg(steps[:-1], steps[1:]))
    at = arc_lengths_mm(line_mm)[1:-1]
    corners = []
    for k in found:
        near = np.flatnonzero(np.abs(at - along[k]) <= _SNAP_MM)
        place = float(at[near[np.argmax(sharpness[near])]]) if len(near) else float(along[k])
        corners.append(LineCorner(place, float(turn[k])))
    return corners


def _turn_deg(way: Floats, way_on: Floats) -> Floats:
    cross = way[:, 0] * way_on[:, 1] - way[:, 1] * way_on[:, 0]
    return np.asarray(np.degrees(np.arctan2(cross, np.einsum("ij,ij->i", way, way_on))))


def turns_deg(ring_mm: Floats, reach_points: int) -> Floats:
    """Return for each point how far the ring turns there [deg], seen over `reach_points` to either side."""
    before = ring_mm - np.roll(ring_mm, reach_points, axis=0)
    after = np.roll(ring_mm, -reach_points, axis=0) - ring_mm
    return _turn_deg(before, after)


def find_corners(
    ring_mm: Floats, reaches_points: tuple[int, ...], min_turn_deg: float, *, inward: bool = False
) -> list[Corner]:
    """Return the outward (or inward) corners of an evenly spaced counter-clockwise ring, in order round it.

    A corner is the place of greatest turn within its reach; one found at a fine reach is not found again at a
    coarse one, but keeps the greater turn of the two.

    Args:
        ring_mm: (N, 2) evenly spaced, lightly smoothed.
        reaches_points: how far to either side to look, fine first.
        min_turn_deg: smaller turns are no corners.
        inward: find the corners that turn to the right instead; their turn is negative.
    """
    found: dict[int, float] = {}
    count = len(ring_mm)
    for reach in reaches_points:
        turn = turns_deg(ring_mm, reach) * (-1.0 if inward else 1.0)
        half = max(2, reach // 2)
        windows = np.stack([np.roll(turn, shift) for shift in range(-half, half + 1)])
        peaks = np.flatnonzero((turn >= windows.max(axis=0)) & (turn >= min_turn_deg))
        for peak in peaks:
            near = [k for k in found if min((k - peak) % count, (peak - k) % count) <= half + 1]
            if near:
                nearest = min(near, key=lambda k: min((k - peak) % count, (peak - k) % count))
                found[nearest] = max(found[nearest], float(turn[peak]))
            else:
                found[int(peak)] = float(turn[peak])
    return [Corner(index, -found[index] if inward else found[index]) for index in sorted(found)]


def sharpen_corner(
    before_mm: Floats, after_mm: Floats, corner_mm: Floats, *, skip_mm: float, reach_mm: float, max_move_mm: float
) -> Floats:
    """Return where two noisy lines would meet if the rounding between them were not there.

    A line or parabola is laid through each side's points from `skip_mm` to `reach_mm` away from the corner,
    and both are continued until they cross.

    Args:
        before_mm: (N, 2) points that end at the corner.
        after_mm: (N, 2) points that begin at it.
        corner_mm: where it seems to be.
        skip_mm: distance along either side that is taken to be rounded [mm].
        reach_mm: distance along either side that is looked at [mm].
        max_move_mm: farther than this it is not believed, and `corner_mm` is returned [mm].
    """
    one = _side_model(before_mm[::-1], skip_mm, reach_mm)
    two = _side_model(after_mm, skip_mm, reach_mm)
    place = np.asarray(corner_mm, dtype=np.float64)
    for _ in range(12):  # each step meets the tangents at the last place; three or four suffice
        (a, da), (b, db) = _tangent_near(one, place), _tangent_near(two, place)
        det = da[0] * -db[1] + db[0] * da[1]
        if abs(det) < 0.1:
            return np.asarray(corner_mm)
        s = ((b - a)[0] * -db[1] + db[0] * (b - a)[1]) / det
        moved = a + s * da
        if np.hypot(*(moved - corner_mm)) > max_move_mm:
            return np.asarray(corner_mm)
        if np.hypot(*(moved - place)) < 1e-4:
            return np.asarray(moved)
        place = moved
    return place


_SideModel = tuple[Floats, Floats, Floats]


def _side_model(points_mm: Floats, skip_mm: float, reach_mm: float) -> _SideModel:
    """Return (middle, direction, coefficients) of a parabola over its own chord, or a straight line."""
    along = arc_lengths_mm(points_mm)
    reach = min(reach_mm, 0.45 * float(along[-1]))
    skip = min(skip_mm, 0.3 * reach)
    looked_at = (along >= skip) & (along <= reach)
    if looked_at.sum() < 4:
        looked_at = np.arange(len(points_mm)) < 4
    points, weights = points_mm[looked_at], np.exp(-along[looked_at] / NEARER_COUNTS_MM)
    middle = np.average(points, axis=0, weights=weights)
    root = np.sqrt(weights)
    direction = np.linalg.svd((points - middle) * root[:, None], full_matrices=False)[2][0]
    if direction @ (points[-1] - points[0]) < 0:
        direction = -direction
    normal = np.array([-direction[1], direction[0]])
    x, y = (points - middle) @ direction, (points - middle) @ normal
    straight = np.polyfit(x, y, 1, w=root)
    bent = np.polyfit(x, y, 2, w=root)
    left = np.average((y - np.polyval(straight, x)) ** 2, weights=weights)
    left_bent = np.average((y - np.polyval(bent, x)) ** 2, weights=weights)
    # A parabola continued beyond its points errs about three times as much as a line; it must earn that.
    coefficients = bent if left_bent < 0.6 * left and left > 0.01 else np.concatenate([[0.0], straight])
    return middle, direction, np.asarray(coefficients)


def _tangent_near(model: _SideModel, place_mm: Floats) -> tuple[Floats, Floats]:
    """Return a point of the model and its unit tangent, at the foot of `place_mm`."""
    middle, direction, coefficients = model
    normal = np.array([-direction[1], direction[0]])
    x = float((place_mm - middle) @ direction)
    y = float(np.polyval(coefficients, x))
    slope = float(np.polyval(np.polyder(coefficients), x))
    tangent = direction + slope * normal
    return middle + x * direction + y * normal, tangent / np.hypot(*tangent)
