"""Levels: the photo made smaller, with its colour gradients, for the coarse search."""

from dataclasses import dataclass

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
        planes: (H, W, 3) uint8: lightness and two colour differences (Y, Cr, Cb).
        slope_x: (H, W) gradient of the strongest of the three channels along x [grey levels per level px].
        slope_y: the same along y.
        origin_px: where in the photo the part looked at begins.
    """

    scale: float
    planes: Bytes
    slope_x: Singles
    slope_y: Singles
    origin_px: tuple[float, float] = (0.0, 0.0)

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height [level px]."""
        return self.planes.shape[1], self.planes.shape[0]

    def to_photo(self, points: Floats) -> Floats:
        """Return `points` (..., 2) of this level in photo px (pixel centres at whole numbers in both)."""
        return np.asarray((points + 0.5) / self.scale - 0.5 + np.array(self.origin_px), dtype=np.float64)

    def to_level(self, points_px: Floats) -> Floats:
        """Return photo points (..., 2) in this level's px."""
        return np.asarray((points_px - np.array(self.origin_px) + 0.5) * self.scale - 0.5, dtype=np.float64)


def make_levels(pixels: Bytes, origin_px: tuple[float, float] = (0.0, 0.0)) -> list[Level]:
    """Return the photo at 1600 px, 800 px and 400 px long side (smaller photos start at their own size).

    Args:
        pixels: (H, W, 3) uint8 RGB, the photo or a part of it.
        origin_px: where in the photo the part begins.
    """
    image = pixels
    scale = min(1.0, WORKING_LONG_PX / max(image.shape[:2]))
    while scale < 0.5:
        # Halving exactly is many times quicker than any other step.
        height, width = image.shape[0] // 2, image.shape[1] // 2
        image = np.asarray(cv2.resize(image[: 2 * height, : 2 * width], (width, height), interpolation=cv2.INTER_AREA))
        scale *= 2
    if scale < 1:
        size = (round(image.shape[1] * scale), round(image.shape[0] * scale))
        image = np.asarray(cv2.resize(image, size, interpolation=cv2.INTER_AREA))
    planes: Bytes = np.asarray(cv2.cvtColor(image, cv2.COLOR_RGB2YCrCb))
    scale = max(planes.shape[:2]) / max(pixels.shape[:2])
    levels = []
    for _ in range(LEVELS):
        levels.append(_level(planes, scale, origin_px))
        size = (max(8, planes.shape[1] // 2), max(8, planes.shape[0] // 2))
        planes = np.asarray(cv2.resize(planes, size, interpolation=cv2.INTER_AREA))
        scale /= 2
    return levels


def _level(planes: Bytes, scale: float, origin_px: tuple[float, float]) -> Level:
    best_x: Singles | None = None
    best_y: Singles | None = None
    best: Singles | None = None
    for channel in range(3):
        plane = cv2.GaussianBlur(np.ascontiguousarray(planes[..., channel]), (0, 0), 0.8)
        slope_x: Singles = np.asarray(cv2.Scharr(plane, cv2.CV_32F, 1, 0, scale=1 / 32), dtype=np.float32)
        slope_y: Singles = np.asarray(cv2.Scharr(plane, cv2.CV_32F, 0, 1, scale=1 / 32), dtype=np.float32)
        strength = slope_x * slope_x + slope_y * slope_y
        if best is None or best_x is None or best_y is None:
            best_x, best_y, best = slope_x, slope_y, strength
        else:
            stronger = strength > best
            np.copyto(best_x, slope_x, where=stronger)
            np.copyto(best_y, slope_y, where=stronger)
            np.copyto(best, strength, where=stronger)
    assert best_x is not None and best_y is not None
    return Level(scale, planes, best_x, best_y, origin_px)
