"""Find the corners of the lens sheet in a photo of it."""

from dataclasses import dataclass

import cv2
import numpy as np

from ..arrays import Bytes, Floats, frozen
from ..photo import Photo
from .find_targets import as_light, detector_parameters
from .targets import lens_sheet

_WORKING_LONG_PX = 4100
"""Larger photos are looked at in this size; corners are good to a twentieth of a pixel there."""


@dataclass(frozen=True, eq=False)
class SheetCorners:
    """Corners of the lens sheet seen in one photo.

    Attributes:
        sheet_mm: (N, 2) where they are on the sheet [mm].
        points_px: (N, 2) where they are in the photo.
        name: of the photo.
    """

    sheet_mm: Floats
    points_px: Floats
    name: str


def find_sheet_corners(photo: Photo) -> SheetCorners:
    """Return the corners of the lens sheet in `photo`; none where it is not seen."""
    board = lens_sheet()
    grey: Bytes = np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    scale = min(1.0, _WORKING_LONG_PX / max(grey.shape))
    if scale < 1.0:
        size = (round(grey.shape[1] * scale), round(grey.shape[0] * scale))
        grey = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    parameters = cv2.aruco.CharucoParameters()
    # One of the two markers beside a corner is enough: the other may be cut off by the picture's border.
    parameters.minMarkers = 1
    detector = cv2.aruco.CharucoDetector(board, parameters, detector_parameters())
    corners, ids, _, _ = detector.detectBoard(as_light(grey))
    if ids is None or len(ids) == 0:
        return SheetCorners(frozen(np.zeros((0, 2))), frozen(np.zeros((0, 2))), photo.name)
    on_sheet = np.asarray(board.getChessboardCorners(), dtype=np.float64)[np.asarray(ids).ravel(), :2]
    seen = (np.asarray(corners, dtype=np.float64).reshape(-1, 2) + 0.5) / scale - 0.5
    return SheetCorners(frozen(on_sheet), frozen(seen), photo.name)
