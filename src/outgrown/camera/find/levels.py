"""Levels: the photo made smaller, with its colour gradients, for the coarse search."""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ...arrays import Bytes, Floats

Singles = NDArray[np.float32]

# A card spans 100 to 500 px of a 4000 px photo, so 40 to 200 px here: enough for its lines, little enough to
# search through in a tenth of a second.
WORKING_LONG_PX = 1600
LEVELS = 3


@dataclass(frozen=True, eq=False)
class Level:
    """The photo at one scale.

    Attributes:
        scale: level px per photo px.
        lab: (H, W, 3) uint8, OpenCV's 8-bit Lab.
        slope_x: (H, W) gradient of the strongest of the three channels along x [grey levels per level px].
        slope_y: the same along y.
    """

    scale: float
    lab: Bytes
    slope_x: Singles
    slope_y: Singles

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height [level px]."""
        return self.lab.shape[1], self.lab.shape[0]

    def to_photo(self, points: Floats) -> Floats:
        """Return `points` (..., 2) of this level in photo px (pixel centres at whole numbers in both)."""
        return (points + 0.5) / self.scale - 0.5

    def to_level(self, points_px: Floats) -> Floats:
        """Return photo points (..., 2) in this level's px."""
        return (points_px + 0.5) * self.scale - 0.5


def make_levels(pixels: Bytes) -> list[Level]:
    """Return the photo at 1600 px, 800 px and 400 px long side (smaller photos start at their own size).

    Args:
        pixels: (H, W, 3) uint8 RGB.
    """
    height, width = pixels.shape[:2]
    scale = min(1.0, WORKING_LONG_PX / max(height, width))
    levels = []
    image: NDArray[Any] = pixels
    for _ in range(LEVELS):
        size = (max(8, round(width * scale)), max(8, round(height * scale)))
        if size != (image.shape[1], image.shape[0]):
            image = cv2.resize(image, size, interpolation=cv2.INTER_AREA)
        levels.append(_level(image, scale))
        scale /= 2
    return levels


def _level(image: Bytes, scale: float) -> Level:
    lab: NDArray[Any] = cv2.cvtColor(image, cv2.COLOR_RGB2LAB)
    best_x: Singles | None = None
    best_y: Singles | None = None
    best: Singles | None = None
    for channel in range(3):
        plane = cv2.GaussianBlur(np.ascontiguousarray(lab[..., channel]), (0, 0), 0.8)
        slope_x: NDArray[Any] = cv2.Scharr(plane, cv2.CV_32F, 1, 0, scale=1 / 32)
        slope_y: NDArray[Any] = cv2.Scharr(plane, cv2.CV_32F, 0, 1, scale=1 / 32)
        strength = slope_x * slope_x + slope_y * slope_y
        if best is None or best_x is None or best_y is None:
            best_x, best_y, best = slope_x, slope_y, strength
        else:
            stronger = strength > best
            np.copyto(best_x, slope_x, where=stronger)
            np.copyto(best_y, slope_y, where=stronger)
            np.copyto(best, strength, where=stronger)
    assert best_x is not None and best_y is not None
    return Level(scale, lab, best_x, best_y)
