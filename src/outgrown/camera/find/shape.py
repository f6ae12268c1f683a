"""Shape: what rectangle a quad in the photo can be, seen by a lens of known (or usual) focal length."""

import math
from dataclasses import dataclass

import cv2
import numpy as np

from ...arrays import Floats
from ...photo import Photo
from ...standards import CARD_LONG_MM, CARD_SHORT_MM, CARD_THICKNESS_MM, FILM_DIAGONAL_MM, SHEET_SIZES_MM
from ..reference import Kind

# Main cameras of phones: 23 to 28 mm equivalent; wide and long ones are tried as well when the file says nothing.
USUAL_FOCAL_MM = 26.0
UNKNOWN_FOCAL_FACTORS = (1.0, 0.8, 1.3, 0.55, 2.0)
# Relative. With digital zoom one of two focal lengths is right, and the middle between them is not.
DOUBTED_FOCAL = 0.1
# How high above the floor a phone is held at most, and how much higher from a chair. From farther up a sheet is a
# booklet or a card taken for one: everything measured by it would be two or three times too large.
HELD_MM, HIGHER_MM = 1750.0, 400.0
NEAREST_MM, FARTHEST_MM = 330.0, 3600.0
MOST_TILT_DEG = 44.0
# Common office paper, 80 g per square metre.
SHEET_THICKNESS_MM = 0.1


@dataclass(frozen=True, eq=False)
class Pose:
    """A rectangle of known size placed in front of the lens.

    Attributes:
        kind: which rectangle.
        first_corner: index of the quad's corner that is the rectangle's (0, 0).
        corners_px: (4, 2) the quad's corners in the rectangle's order.
        distance_mm: from the lens to its middle.
        tilt_deg: between the lens axis and the floor's normal.
        misfit_px: rms distance between the quad's corners and the rectangle's.
        misfit: the same as a share of what the measurement and an unknown lens allow (1 = just what is expected).
        normal: (3,) floor normal in camera axes, towards the lens.
        middle_mm: (3,) the rectangle's middle in camera axes.
        focal_px: the focal length used [px].
    """

    kind: Kind
    first_corner: int
    corners_px: Floats
    distance_mm: float
    tilt_deg: float
    misfit_px: float
    misfit: float
    normal: Floats
    middle_mm: Floats
    focal_px: float

    @property
    def height_mm(self) -> float:
        """How high the lens is above the floor it lies on [mm]."""
        return abs(float(self.normal @ self.middle_mm))

    @property
    def too_high(self) -> float:
        """How much higher the lens is than a phone is held, in standard deviations; 0 where it is not."""
        return max(0.0, self.height_mm - HELD_MM) / HIGHER_MM


def find_size_mm(kind: Kind) -> tuple[float, float]:
    """Return long and short side of `kind` [mm]."""
    if kind is Kind.CARD:
        return CARD_LONG_MM.value, CARD_SHORT_MM.value
    short, long, _ = SHEET_SIZES_MM[kind.value]
    return long, short


def find_thickness_mm(kind: Kind) -> float:
    """Return how high the upper face of `kind` lies above the floor [mm]."""
    return CARD_THICKNESS_MM.value if kind is Kind.CARD else SHEET_THICKNESS_MM


def find_corners_mm(kind: Kind) -> Floats:
    """Return (4, 2) corners: (0, 0), (long, 0), (long, short), (0, short)."""
    long, short = find_size_mm(kind)
    return np.array([[0.0, 0.0], [long, 0.0], [long, short], [0.0, short]])


def find_focal_px(photo: Photo) -> tuple[float, tuple[float, ...]]:
    """Return the focal length to start from [px] and the factors on it that have to be tried."""
    if photo.focal_px is not None:
        doubt = photo.focal_doubt or 0.0
        return photo.focal_px, (1.0,) if doubt < DOUBTED_FOCAL else (1.0, math.exp(-doubt), math.exp(doubt))
    diagonal = float(np.hypot(photo.width_px, photo.height_px))
    return USUAL_FOCAL_MM / FILM_DIAGONAL_MM.value * diagonal, UNKNOWN_FOCAL_FACTORS


def find_convex(quads: Floats, least_side_px: float) -> Floats:
    """Return the quads (M, 4, 2) that are convex, not too lopsided and with sides of at least `least_side_px`.

    All come back counter-clockwise as seen on the screen (the order of a reference's corners).
    """
    if not len(quads):
        return quads
    side = np.roll(quads, -1, axis=1) - quads
    following = np.roll(side, -1, axis=1)
    turn = side[..., 0] * following[..., 1] - side[..., 1] * following[..., 0]
    length = np.hypot(side[..., 0], side[..., 1])
    sine = turn / np.maximum(length * np.roll(length, -1, axis=1), 1e-9)
    convex = (np.abs(sine) > 0.55).all(axis=1) & (np.abs(np.sign(sine).sum(axis=1)) == 4)
    first, second = length[:, [0, 2]], length[:, [1, 3]]
    convex &= (length.min(axis=1) > least_side_px) & np.isfinite(quads).all(axis=(1, 2))
    # Opposite sides of a sheet near a tilted lens differ by up to a half.
    convex &= (first.max(axis=1) < 1.7 * first.min(axis=1)) & (second.max(axis=1) < 1.7 * second.min(axis=1))
    a, b = first.mean(axis=1), second.mean(axis=1)
    ratio = np.maximum(a, b) / np.maximum(np.minimum(a, b), 1e-9)
    convex &= ratio < 2.4
    kept: Floats = quads[convex]
    down = turn[convex, 0] > 0
    # y runs down on the screen: a positive turn is clockwise.
    turned: Floats = np.where(down[:, None, None], kept[:, ::-1], kept)
    return turned


def measure_apart(corners_px: Floats, others_px: Floats) -> float:
    """Return how far the corners of two quads are apart at most [px], whichever each begins with.

    Both go round the same way.
    """
    turns = [np.abs(np.roll(corners_px, k, axis=0) - others_px).max() for k in range(4)]
    return float(min(turns))


def measure_lean(quads: Floats, focal_px: float, centre: Floats, ratio: float) -> Floats:
    """Return the least angle (M,) [degrees] between lens axis and floor normal of quads that are rectangles.

    Of long over short side `ratio`, told from the two mean sides of each quad alone (weak perspective).

    Args:
        quads: (M, 4, 2).
        focal_px: focal length in the quads' px.
        centre: (2,) where the lens axis meets the picture.
        ratio: long side over short side.
    """
    first = (quads[:, 1] - quads[:, 0] + quads[:, 2] - quads[:, 3]) / 2
    second = (quads[:, 3] - quads[:, 0] + quads[:, 2] - quads[:, 1]) / 2
    ray = np.concatenate([(quads.mean(axis=1) - centre) / focal_px, np.ones((len(quads), 1))], axis=1)
    far = np.linalg.norm(ray, axis=1, keepdims=True)
    ray = ray / far
    # Axes across the ray: seen along them, a thing off the middle is not stretched by the flat picture.
    right = np.stack([ray[:, 2], np.zeros(len(ray)), -ray[:, 0]], axis=1)
    right /= np.linalg.norm(right, axis=1, keepdims=True)
    down = np.cross(ray, right)
    best = np.full(len(quads), 90.0)
    for u, v in ((first / ratio, second), (first, second / ratio)):
        sides = np.zeros((len(quads), 2, 2))
        for column, vector in enumerate((u, v)):
            moved = np.concatenate([vector, np.zeros((len(quads), 1))], axis=1)
            sides[:, 0, column] = (moved * right).sum(axis=1)
            sides[:, 1, column] = (moved * down).sum(axis=1)
        axes, sizes, _ = np.linalg.svd(sides)
        cosine = np.clip(sizes[:, 1] / np.maximum(sizes[:, 0], 1e-9), 0, 1)
        sine = np.sqrt(1 - cosine**2)
        short = right * axes[:, :1, 1] + down * axes[:, 1:, 1]
        for sign in (1.0, -1.0):
            normal = ray * cosine[:, None] + sign * short * sine[:, None]
            best = np.minimum(best, np.degrees(np.arccos(np.clip(np.abs(normal[:, 2]), 0, 1))))
    return best


def fit_pose(
    quad_px: Floats, kind: Kind, photo: Photo, *, corner_doubt_px: float, factors: tuple[float, ...] | None = None
) -> Pose | None:
    """Return the best pose of `kind` for a quad, or None if it cannot be one at a plausible distance and tilt.

    Args:
        quad_px: (4, 2) corners, counter-clockwise on the screen, in px of the photo.
        kind: which rectangle to place.
        photo: gives size and focal length.
        corner_doubt_px: standard deviation of a corner.
        factors: on the focal length; default: 1 if it is known, else what it may be (zoom, phones' other lenses).
    """
    focal_px, usual = find_focal_px(photo)
    centre = _find_centre(photo)
    corners_mm = find_corners_mm(kind)
    # The lens sees y running down: mirrored in y the card is right-handed there.
    solid = np.column_stack([corners_mm[:, 0], -corners_mm[:, 1], np.zeros(4)])
    solid -= solid.mean(axis=0)
    size_px = float(np.mean(np.hypot(*(np.roll(quad_px, -1, axis=0) - quad_px).T)))
    # A lens's distortion changes a thing's ratio by up to 2 %, its make by 0.15 %: 0.5 % of a side at a corner.
    allowed_px = float(np.hypot(corner_doubt_px, 0.004 * size_px))
    best: Pose | None = None
    for factor in factors or usual:
        focal = focal_px * factor
        matrix = np.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1.0]])
        for first in range(2):
            ordered = np.roll(quad_px, -first, axis=0)
            pose = _place(solid, ordered, matrix, kind, first, allowed_px)
            if pose is not None and (best is None or _cost(pose, factor) < _cost(best, best.focal_px / focal_px)):
                best = pose
    return best


def meet_floor(pose: Pose, points_px: Floats, photo: Photo) -> Floats:
    """Return (N, 3) where rays of the photo's points (N, 2) meet the plane a thing lies in, in camera axes [mm]."""
    ray = np.column_stack([(points_px - _find_centre(photo)) / pose.focal_px, np.ones(len(points_px))])
    met: Floats = ray * ((pose.normal @ pose.middle_mm) / (ray @ pose.normal))[:, None]
    return met


def _find_centre(photo: Photo) -> Floats:
    return np.array([(photo.width_px - 1) / 2, (photo.height_px - 1) / 2])


def measure_rims(pose: Pose, photo: Photo, thickness_mm: float) -> Floats:
    """Return (4,) how far the foot of a thing `thickness_mm` thick sticks out beyond each of its sides [px].

    Negative where the upper face hides it.
    """
    centre = _find_centre(photo)
    foot = meet_floor(pose, pose.corners_px, photo) - pose.normal * thickness_mm
    moved = foot[:, :2] / foot[:, 2:] * pose.focal_px + centre - pose.corners_px
    side = np.roll(pose.corners_px, -1, axis=0) - pose.corners_px
    outward = np.stack([-side[:, 1], side[:, 0]], axis=1) / np.hypot(side[:, 0], side[:, 1])[:, None]
    rims: Floats = ((moved + np.roll(moved, -1, axis=0)) / 2 * outward).sum(axis=1)
    return rims


def _cost(pose: Pose, factor: float) -> float:
    unlikely = 2.0 * abs(np.log(factor)) if factor != 1.0 else 0.0
    return pose.misfit + unlikely + (max(0.0, pose.tilt_deg - 20.0) / 20.0) ** 2 + 0.5 * pose.too_high**2


def _place(solid: Floats, ordered: Floats, matrix: Floats, kind: Kind, first: int, allowed_px: float) -> Pose | None:
    try:
        found = cv2.solvePnPGeneric(solid, ordered.reshape(-1, 1, 2), matrix, np.zeros(4), flags=cv2.SOLVEPNP_IPPE)
    except cv2.error:
        return None
    best: Pose | None = None
    errors = np.asarray(found[3], dtype=np.float64).ravel()
    for turn, shift, error in zip(found[1], found[2], errors, strict=True):
        # What is this far off is not brought near by refining.
        if error > 6 * allowed_px:
            continue
        turn, shift = cv2.solvePnPRefineLM(solid, ordered.reshape(-1, 1, 2), matrix, np.zeros(4), turn, shift)
        rotation = np.asarray(cv2.Rodrigues(turn)[0], dtype=np.float64)
        middle = np.asarray(shift, dtype=np.float64).ravel()
        seen = solid @ rotation.T + middle
        if (seen[:, 2] <= 1.0).any():
            continue
        projected = seen[:, :2] / seen[:, 2:] * matrix[0, 0] + matrix[:2, 2]
        misfit_px = float(np.sqrt(np.mean(np.sum((projected - ordered) ** 2, axis=1))))
        normal = -rotation[:, 2] if rotation[2, 2] > 0 else rotation[:, 2]
        tilt = float(np.degrees(np.arccos(np.clip(abs(rotation[2, 2]), -1, 1))))
        distance = float(np.linalg.norm(middle))
        if tilt > MOST_TILT_DEG or not NEAREST_MM < distance < FARTHEST_MM:
            continue
        pose = Pose(
            kind, first, ordered, distance, tilt, misfit_px, misfit_px / allowed_px, normal, middle, float(matrix[0, 0])
        )
        if best is None or _cost(pose, 1.0) < _cost(best, 1.0):
            best = pose
    return best
