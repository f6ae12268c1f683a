"""Segmentation: where the garment is, on pixels of a working scale that does not grow with the photo."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Flags, Floats
from ..errors import OutlineError
from .hints import Side, Stroke
from .masks import Reals, dilate

HINT_PX = 5
"""Width of a hint's stroke at working scale."""


@dataclass(frozen=True, eq=False)
class Segmentation:
    """Where the garment is, on the whole photo or on a cut-out of it.

    Attributes:
        mask: (h, w) True on the garment.
        log_ratio: (h, w) log-likelihood for garment that the picture taught; zeros where it taught nothing.
        blocked: (h, w) True on references.
        step_px: photo pixels per working pixel, along x and y.
        origin_px: (x, y) of the cut-out's first pixel in the photo.
        size_px: (width, height) of the cut-out in the photo.
        holes: masks (h, w) of holes, at working scale.
        own: (h, w) True on parts of the garment in a colour or hue of their own that stay, or None.
        is_small: the whole photo shows hardly more than was looked at first.
    """

    mask: Flags
    log_ratio: Reals
    blocked: Flags
    step_px: tuple[float, float]
    origin_px: tuple[int, int]
    size_px: tuple[int, int]
    holes: tuple[Flags, ...] = ()
    own: Flags | None = None
    is_small: bool = False

    def to_photo_px(self, points: Floats) -> Floats:
        """Return working positions (N, 2) as positions in the photo [px]."""
        placed: Floats = self.to_cut_px(points) + np.array(self.origin_px)
        return placed

    def to_cut_px(self, points: Floats) -> Floats:
        """Return working positions (N, 2) as positions in the cut-out [px]."""
        placed: Floats = (points + 0.5) * np.array(self.step_px) - 0.5
        return placed

    def look_up(self, places: Flags, points: Floats) -> Flags:
        """Return (N,) whether positions (N, 2) in the cut-out [px] lie in `places` (h, w)."""
        at = np.round((points + 0.5) / np.array(self.step_px) - 0.5).astype(int)
        flags: Flags = places[np.clip(at[:, 1], 0, places.shape[0] - 1), np.clip(at[:, 0], 0, places.shape[1] - 1)]
        return flags

    def is_cut_off(self, photo: tuple[int, ...]) -> bool:
        """Return whether the mask runs out of the cut-out at a side where the photo (height, width, ...) goes on."""
        (left, top), (width, height) = self.origin_px, self.size_px
        goes_on = (left > 0, top > 0, left + width < photo[1], top + height < photo[0])
        touched = (self.mask[:, 0].any(), self.mask[0].any(), self.mask[:, -1].any(), self.mask[-1].any())
        return any(on and at for on, at in zip(goes_on, touched, strict=True))

    def paint(self, shape: tuple[int, int]) -> Flags:
        """Return the garment's mask, holes left out, on all pixels of the photo (height, width)."""
        mask = self.mask.copy()
        for hole in self.holes:
            mask &= ~hole
        painted = np.zeros(shape, bool)
        (x, y), (width, height) = self.origin_px, self.size_px
        fine = cv2.resize(mask.astype(np.float32), (width, height), interpolation=cv2.INTER_LINEAR)
        painted[y : y + height, x : x + width] = fine > 0.5
        return painted


def paint_rings(
    rings_px: Sequence[Floats], step: tuple[float, float], shape: tuple[int, int], origin: tuple[int, int] = (0, 0)
) -> Flags:
    """Return the mask (h, w) of rings given in photo pixels, a pixel wider than they are."""
    mask = np.zeros(shape, np.uint8)
    for ring in rings_px:
        at = (np.asarray(ring) - np.array(origin) + 0.5) / np.array(step) - 0.5
        cv2.fillPoly(mask, [np.round(at).astype(np.int32)], 1)
    return dilate(mask > 0, 1)


def paint_strokes(
    strokes: Sequence[Stroke], step: tuple[float, float], shape: tuple[int, int], origin: tuple[int, int] = (0, 0)
) -> NDArray[np.int8]:
    """Return (h, w) 1 along strokes said to be garment, -1 along those said to be floor, else 0."""
    fixed = np.zeros(shape, np.int8)
    for stroke in strokes:
        spots = np.zeros(shape, np.uint8)
        at = np.round((stroke.points_px - np.array(origin) + 0.5) / np.array(step) - 0.5).astype(np.int32)
        cv2.polylines(spots, [at], False, 1, HINT_PX)
        for place in at:
            cv2.circle(spots, (int(place[0]), int(place[1])), HINT_PX // 2, 1, -1)
        fixed[spots > 0] = 1 if stroke.side is Side.GARMENT else -1
    return fixed


def nothing_there() -> OutlineError:
    """Return the error that says no garment was found."""
    return OutlineError(
        "I could not tell a garment from the floor.",
        "Lay it flat on a floor of another colour, all of it inside the photo, and try again.",
    )
