"""Rounding: whether a candidate's corners are round like a card's or sharp like a sheet's."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from ...arrays import Bytes, Flags, Floats
from ...standards import CARD_LONG_MM
from .levels import Singles
from .sampling import LIGHT, sample
from .shape import Pose, find_corners_mm

Ints = NDArray[np.intp]

# Radii tried [mm on the candidate]. ISO/IEC 7810 allows 2.88 to 3.48.
RADII_MM = np.array([0.0, 0.8, 1.6, 2.4, 3.2, 4.0, 5.0, 6.5, 8.5])
BLUR_PX = 0.9
# Where at most this share is covered only the floor is seen; where all lies in the blur, so many places must do.
PLAIN_COVER, LEAST_PLAIN = 0.03, 8
# How much of their mean variance is granted every colour, and the noise of the camera [light, 0..1]. Chosen among
# three dozen settings on 322 drawn and rendered cards: of 262, many of them kept for being hard, 2 came out with a
# side wrong and 22 too weak (5 and 31 unweighed), of 60 others as many as unweighed.
STIFF_SHARE, NOISE_LIGHT = 0.1, 0.003
LEAST_LEFT = 0.01
"""Share of the variance that no corner can be trusted to explain: noise, and the lens's own sharpening."""


# A floor of several colours: each place is compared with so many of the most alike that are surely floor, or candidate.
ALIKE = 3


@dataclass(frozen=True, eq=False)
class Rounding:
    """How round a candidate's corners are.

    Attributes:
        radius_mm: the best radius, were the candidate as long as a card.
        left: (len(RADII_MM),) the share of the variance left unexplained by each radius, over all corners.
    """

    radius_mm: float
    left: Floats


@dataclass(frozen=True, eq=False)
class Corners:
    """The places round a candidate's corners.

    Corners of little contrast say less, but by the root of it only: one on a restless spot of the floor leaves much
    under every radius, and would drown the others.

    Attributes:
        colour: (4, P, 3) of the places, in light.
        inside: (R, P) how far each is covered by a corner of each radius.
        plain: the places that are outside under every radius, and inside under every one: no radius need tell them.
    """

    colour: Floats
    inside: Floats
    plain: tuple[Ints, Ints]

    def round_by_colour(self) -> Rounding:
        """Return how round they are where at each inside and outside are one colour.

        Colours are weighed by how little they vary within the floor and within the candidate, so that on a rug of dark
        and bright red the violet counts that makes the card, and not the brightness.
        """
        return _find_radius(_weigh_colours(self.colour, self.plain), self.inside)

    def round_by_likeness(self) -> Rounding:
        """Return how round they are by whether a place is more like what is surely floor, or surely candidate.

        Stripes, tiles and motifs have no one colour. That tells more where it explains nearly all, and finds something
        everywhere.
        """
        likeness = np.stack([_compare(each, self.plain) for each in self.colour])
        return _find_radius(likeness[..., None], self.inside)


def see_corners(pixels: Bytes, pose: Pose, blur_px: float = BLUR_PX) -> Corners:
    """Return what is seen round the corners of a candidate.

    Args:
        pixels: (H, W, 3) uint8.
        pose: the candidate with its corners.
        blur_px: standard deviation of the edges' blur.
    """
    corners_mm = find_corners_mm(pose.kind)
    # In a card's millimetres whatever the kind, so that a card taken for a sheet shows its round corners.
    corners_mm = corners_mm * (CARD_LONG_MM.value / corners_mm[2, 0])
    long, short = corners_mm[2]
    to_px = cv2.getPerspectiveTransform(
        corners_mm.astype(np.float32), np.asarray(pose.corners_px, dtype=np.float32)
    ).astype(np.float64)
    points_px, per_mm = _around_corners(long, short, to_px)
    inside = _shares_inside(blur_px / float(per_mm.mean()))
    return Corners(sample(pixels, points_px, LIGHT), inside, _find_plain(inside))


def _find_radius(values: Floats, inside: Floats) -> Rounding:
    """Return the rounding that explains `values` (4, P, C) of the places round the corners best.

    Under each radius two values are fitted at each corner, and the radius that leaves the least is the corners'.
    """
    left_over = _fit_radii(values, inside)
    total = ((values - values.mean(axis=1, keepdims=True)) ** 2).sum(axis=(1, 2))
    weight = 1 / np.sqrt(np.maximum(total, 1e-9))
    left = weight @ left_over / max(float(weight @ total), 1e-9) + LEAST_LEFT
    best = int(np.argmin(left))
    radius = float(RADII_MM[best])
    if 0 < best < len(RADII_MM) - 1:
        # Parabola through three costs, on the radii's own spacing.
        curve = np.polyfit(RADII_MM[best - 1 : best + 2], left[best - 1 : best + 2], 2)
        if curve[0] > 0:
            radius = float(np.clip(-curve[1] / (2 * curve[0]), RADII_MM[best - 1], RADII_MM[best + 1]))
    return Rounding(radius, left)


STEP_MM = 0.46875
FINE = 4
FIRST_MM, COUNT, MARGIN = -2.5, 17, 6


def _grid() -> tuple[Floats, Floats, Flags]:
    """Return places near a corner, as distances inward from its two sides [mm]: where radii differ, and beside."""
    step = FIRST_MM + STEP_MM * np.arange(COUNT)
    x, y = (values.ravel() for values in np.meshgrid(step, step))
    # Close to the edge only: beyond it lies the floor's texture, deeper in a stripe or lettering.
    near = (np.minimum(x, y) < 2.5) & (np.maximum(x, y) < 4.1) & (np.minimum(x, y) > -1.6)
    return x[near], y[near], near


INWARD_X, INWARD_Y, NEAR = _grid()


def _masks() -> Singles:
    """Return (R, F, F) corners of each radius, unblurred, on a grid four times finer with a margin."""
    fine = FIRST_MM + STEP_MM / FINE * np.arange(-MARGIN * FINE, (COUNT - 1 + MARGIN) * FINE + 1)
    x, y = np.meshgrid(fine, fine)
    masks = []
    for radius in RADII_MM:
        inside = (x >= 0) & (y >= 0)
        inside &= ~((x < radius) & (y < radius) & (np.hypot(radius - x, radius - y) > radius))
        masks.append(inside.astype(np.float32))
    return np.stack(masks)


MASKS = _masks()


def _shares_inside(blur_mm: float) -> Floats:
    """Return (R, P) how far each place is covered by a corner of each radius, blurred."""
    sigma = max(blur_mm, 0.05) * FINE / STEP_MM
    first, last = MARGIN * FINE, (COUNT - 1 + MARGIN) * FINE + 1
    blurred = [cv2.GaussianBlur(mask, (0, 0), sigma, borderType=cv2.BORDER_REPLICATE) for mask in MASKS]
    return np.stack([b[first:last:FINE, first:last:FINE].ravel()[NEAR] for b in blurred]).astype(np.float64)


def _around_corners(long: float, short: float, to_px: Floats) -> tuple[Floats, Floats]:
    """Return (4, P, 2) points in the photo round the corners, and (4,) the scale there [px per mm]."""
    x = np.stack([INWARD_X, long - INWARD_X, long - INWARD_X, INWARD_X])
    y = np.stack([INWARD_Y, INWARD_Y, short - INWARD_Y, short - INWARD_Y])
    flat = np.stack([x, y, np.ones_like(x)], axis=-1) @ to_px.T
    at = np.array([[0.0, 0.0], [long, 0.0], [long, short], [0.0, short]])
    nearby = np.stack([at, at + np.array([1.0, 0.0]), at + np.array([0.0, 1.0])], axis=1)
    seen = np.concatenate([nearby, np.ones((4, 3, 1))], axis=2) @ to_px.T
    seen = seen[..., :2] / seen[..., 2:]
    area = np.abs(np.linalg.det(seen[:, 1:] - seen[:, :1]))
    return flat[..., :2] / flat[..., 2:], np.sqrt(area)


def _find_plain(inside: Floats) -> tuple[Ints, Ints]:
    covers = (inside.max(axis=0), 1 - inside.min(axis=0))
    floor, own = (np.flatnonzero(c <= max(PLAIN_COVER, np.sort(c)[LEAST_PLAIN - 1])) for c in covers)
    return floor, own


def _compare(colour: Floats, plain: tuple[Ints, Ints]) -> Floats:
    """Return (P,) how like the candidate each place of one corner is, from 0 (like the floor) to 1.

    Args:
        colour: (P, 3) of the places.
        plain: which are surely floor, and surely candidate.
    """
    off = []
    for sure in plain:
        apart = ((colour[:, None] - colour[sure]) ** 2).sum(axis=2)
        # None may speak for itself.
        apart[sure, np.arange(len(sure))] = np.inf
        alike = np.sort(apart, axis=1)[:, : min(ALIKE, len(sure) - 1)]
        off.append(np.sqrt(alike.mean(axis=1)) + 3 * NOISE_LIGHT)
    likeness: Floats = off[0] / (off[0] + off[1])
    return likeness


def _weigh_colours(colour: Floats, plain: tuple[Ints, Ints]) -> Floats:
    """Return `colour` (4, P, 3) in axes along which floor and candidate, each by itself, vary alike.

    Linear discriminant (Fisher 1936): the covariance within the two classes, pooled over the corners, is made round.
    """
    within = [colour[:, at] - colour[:, at].mean(axis=1, keepdims=True) for at in plain]
    off = np.concatenate(within, axis=1).reshape(-1, 3)
    varies = off.T @ off / len(off)
    varies += (STIFF_SHARE * np.trace(varies) / 3 + NOISE_LIGHT**2) * np.eye(3)
    weighed: Floats = colour @ np.linalg.inv(np.linalg.cholesky(varies)).T
    return weighed


def _fit_radii(colour: Floats, inside: Floats) -> Floats:
    """Return (4, R) what is left over of `colour` (4, P, C), squared, at each corner under each radius.

    Args:
        colour: (4, P, C) of the places round the corners; two are fitted at each corner.
        inside: (R, P) how far each place is covered.
    """
    # The third column lets artwork differ along the two sides.
    basis = np.stack([inside, 1 - inside, inside * (INWARD_X - INWARD_Y)], axis=-1)
    turned = np.swapaxes(basis, -1, -2)
    normal = turned @ basis + np.diag([1e-6, 1e-6, 1.0])
    solution = np.linalg.solve(normal, turned @ colour[:, None])
    left: Floats = ((colour[:, None] - basis @ solution) ** 2).sum(axis=(2, 3))
    return left
