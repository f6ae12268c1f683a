"""The empty floor: a second photo without the garment, laid over the first, and what differs between the two."""

from dataclasses import dataclass

import cv2
import numpy as np

from ..arrays import Bytes, Flags
from ..errors import OutlineError
from .looks import blur, to_lab
from .masks import Reals, as_reals

MATCHING_LONG_PX = 1400
FEATURES = 6000
RATIO = 0.8
"""A match is kept when the second best is so much worse (D. Lowe, 2004)."""
RANSAC_PX = 3.0
LEAST_MATCHES, LEAST_SHARE = 40, 0.15
"""Matches that must agree with one plane: fewer agree by chance (on unlike floors at most 9 did)."""
LEAST_COVER = 0.6
"""Share of the photo that the other must show."""
SHADES = (1.0, 0.8, 0.62, 0.48)
"""The garment shades the floor beside it; the same floor under less light is no change."""
SHIFTS = tuple((dy, dx) for dy in (-1, 0, 1) for dx in (-1, 0, 1))
"""Working pixels by which lens and rounding may put the two photos apart."""
LEAST_LAB = 1.2
SAME, STEP, MOST, LEAST = 4.0, 1.5, 4.0, -2.0
"""A change of so many spreads speaks for neither side; each further `STEP` spreads are a unit of log-likelihood."""


@dataclass(frozen=True, eq=False)
class EmptyFloor:
    """The empty floor as the camera of the other photo would have seen it.

    Attributes:
        pixels: (H, W, 3) uint8 RGB, as large as the photo.
        known: (H, W) True where it is shown.
    """

    pixels: Bytes
    known: Flags

    def cut(self, left: int, top: int, right: int, bottom: int, shape: tuple[int, int]) -> "EmptyFloor":
        """Return a part of it, made as small as `shape` (h, w)."""
        size = (shape[1], shape[0])
        small = cv2.resize(self.pixels[top:bottom, left:right], size, interpolation=cv2.INTER_AREA)
        known = cv2.resize(self.known[top:bottom, left:right].astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
        return EmptyFloor(np.asarray(small, dtype=np.uint8), np.asarray(known) > 0)


def align_floor(pixels: Bytes, floor_pixels: Bytes) -> EmptyFloor:
    """Return the photo of the empty floor laid over the photo of the garment, by what both show of floor and cards.

    Args:
        pixels: (H, W, 3) uint8 RGB, the garment on the floor.
        floor_pixels: (h, w, 3) uint8 RGB, the same floor without it.

    Raises:
        OutlineError: too little is seen in both.
    """
    (here, one), (there, other) = _make_small(pixels), _make_small(floor_pixels)
    finder = cv2.SIFT.create(nfeatures=FEATURES)
    (points, looks), (floor_points, floor_looks) = (finder.detectAndCompute(grey, None) for grey in (here, there))
    if looks is None or floor_looks is None or min(len(looks), len(floor_looks)) < LEAST_MATCHES:
        raise _not_aligned()
    pairs = cv2.BFMatcher(cv2.NORM_L2).knnMatch(floor_looks, looks, k=2)
    good = [pair[0] for pair in pairs if len(pair) == 2 and pair[0].distance < RATIO * pair[1].distance]
    if len(good) < LEAST_MATCHES:
        raise _not_aligned()
    source = np.array([floor_points[match.queryIdx].pt for match in good]) / other
    target = np.array([points[match.trainIdx].pt for match in good]) / one
    cv2.setRNGSeed(0)
    plane, agreeing = cv2.findHomography(source, target, cv2.RANSAC, RANSAC_PX / one, maxIters=5000, confidence=0.999)
    count = 0 if agreeing is None else int(np.asarray(agreeing).sum())
    if plane is None or count < LEAST_MATCHES or count < LEAST_SHARE * len(good):
        raise _not_aligned()
    height, width = pixels.shape[:2]
    laid = cv2.warpPerspective(floor_pixels, plane, (width, height), flags=cv2.INTER_LINEAR)
    shown = np.full(floor_pixels.shape[:2], 255, np.uint8)
    known = np.asarray(cv2.warpPerspective(shown, plane, (width, height), flags=cv2.INTER_NEAREST)) > 0
    if known.mean() < LEAST_COVER:
        raise OutlineError(
            "The photo of the empty floor shows too little of the place where the garment lay.",
            "Take both photos from the same spot, the garment taken away between them and the card left lying.",
        )
    return EmptyFloor(np.asarray(laid, dtype=np.uint8), known)


def _make_small(pixels: Bytes) -> tuple[Bytes, float]:
    scale = min(1.0, MATCHING_LONG_PX / max(pixels.shape[:2]))
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    if scale < 1.0:
        grey = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    return np.asarray(grey, dtype=np.uint8), scale


def _not_aligned() -> OutlineError:
    return OutlineError(
        "The photo of the empty floor does not fit the photo of the garment.",
        "Take both from the same spot, the card left lying; on a floor without any pattern leave --floor out.",
    )


def _to_linear(rgb: Bytes) -> Reals:
    return as_reals((rgb.astype(np.float32) / 255) ** 2.2)


def _to_stored(linear: Reals) -> Bytes:
    return np.asarray(np.round(255 * np.clip(linear, 0, 1) ** (1 / 2.2)), dtype=np.uint8)


def _match_light(seen: Reals, bare: Reals, weight: Reals) -> Reals:
    """Return the bare floor in the light of the other photo: brightness and tint may drift slowly over the picture."""
    reach = max(seen.shape[:2]) / 6
    share = weight[..., None]
    gain = (blur(seen * share, reach) + 1e-4) / (blur(bare * share, reach) + 1e-4)
    return as_reals(bare * gain)


def _measure_gap(seen_lab: Reals, bare: Reals) -> Reals:
    """Return (h, w) how far each pixel is from the bare floor near it, under any of the shades [Lab]."""
    gap = np.full(seen_lab.shape[:2], np.inf, np.float32)
    for shade in SHADES:
        lab = blur(to_lab(_to_stored(as_reals(bare * shade))), 0.7)
        for dy, dx in SHIFTS:
            moved = np.roll(lab, (dy, dx), axis=(0, 1))
            gap = np.minimum(gap, np.sqrt(((seen_lab - moved) ** 2).sum(2)) + 2.0 * (1 - shade) / 0.2)
    return as_reals(gap)


def measure_change(small: Bytes, floor: EmptyFloor, blocked: Flags) -> Reals:
    """Return the log-likelihood (h, w) that something lies where the two photos differ; 0 where one shows nothing.

    Args:
        small: (h, w, 3) the photo at working scale.
        floor: the empty floor at the same scale.
        blocked: (h, w) True on references.
    """
    seen, bare = _to_linear(small), _to_linear(floor.pixels)
    seen_lab = blur(to_lab(small), 0.7)
    usable = floor.known & ~blocked
    weight = as_reals(usable)
    # The garment covers less than the floor does: the usual gain is the floor's.
    usual = np.median(((seen + 1e-3) / (bare + 1e-3))[usable], axis=0)
    lit = as_reals(bare * usual)
    for _ in range(2):
        gap = _measure_gap(seen_lab, lit)
        spread = max(LEAST_LAB, float(np.percentile(gap[usable], 35)))
        weight = as_reals(usable & (gap < SAME * spread))
        lit = _match_light(seen, bare, weight)
    gap = _measure_gap(seen_lab, lit)
    spread = max(LEAST_LAB, float(np.median(gap[weight > 0])))
    change = np.clip((gap / spread - SAME) / STEP, LEAST, MOST)
    return as_reals(np.where(usable, change, 0.0))
