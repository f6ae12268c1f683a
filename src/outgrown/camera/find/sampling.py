"""Sampling: colours between the pixels of the full photo."""

import cv2
import numpy as np

from ...arrays import Bytes, Floats


def _light_table() -> Floats:
    values = np.arange(256) / 255.0
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


# sRGB, IEC 61966-2-1: a lens blurs light, not the numbers in the file, so edges are placed in light.
LIGHT = _light_table()
PLAIN = np.arange(256, dtype=np.float64)


def sample(pixels: Bytes, points: Floats, table: Floats) -> Floats:
    """Return colours (..., 3) at `points` (..., 2), bilinear between the `table` values of the pixels around."""
    height, width = pixels.shape[:2]
    x = np.clip(points[..., 0], 0, width - 1.001)
    y = np.clip(points[..., 1], 0, height - 1.001)
    column, row = x.astype(np.intp), y.astype(np.intp)
    fx, fy = (x - column)[..., None], (y - row)[..., None]
    upper = table[pixels[row, column]] * (1 - fx) + table[pixels[row, column + 1]] * fx
    lower = table[pixels[row + 1, column]] * (1 - fx) + table[pixels[row + 1, column + 1]] * fx
    mixed: Floats = upper * (1 - fy) + lower * fy
    return mixed


def sample_roughly(pixels: Bytes, points: Floats) -> Floats:
    """Return the numbers (..., 3) of the file at `points` (..., 2), to half a grey level and 1/32 px, quickly."""
    flat = points.reshape(len(points), -1, 2).astype(np.float32)
    found = cv2.remap(pixels, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(found, dtype=np.float64).reshape(*points.shape[:-1], 3)
