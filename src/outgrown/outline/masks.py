"""Masks: the few things done to a picture of yes and no."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Bytes, Flags

Reals = NDArray[np.float32]


def as_reals(values: NDArray[np.generic]) -> Reals:
    """Return the values as float32 (OpenCV's own types are too wide to check)."""
    return np.asarray(values, dtype=np.float32)


def disc(radius: int) -> Bytes:
    """Return a round structuring element, 2 `radius` + 1 px wide."""
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1)), dtype=np.uint8)


def measure_depth(mask: Flags) -> Reals:
    """Return the signed distance to the edge of `mask`, negative inside [px]; beyond the frame nothing is known."""
    inside = mask.astype(np.uint8)
    outwards = cv2.distanceTransform(1 - inside, cv2.DIST_L2, 5)
    return as_reals(outwards - cv2.distanceTransform(inside, cv2.DIST_L2, 5))


def find_pieces(mask: Flags, most: int) -> Sequence[Flags]:
    """Return the largest connected pieces of a mask, largest first."""
    count, pieces, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    order = 1 + np.argsort(-stats[1:, cv2.CC_STAT_AREA])[:most] if count > 1 else np.empty(0, int)
    return [pieces == index for index in order]


def keep_largest(mask: Flags) -> Flags:
    """Return the largest connected piece of a mask."""
    pieces = find_pieces(mask, 1)
    return pieces[0] if pieces else mask


def keep_touched(mask: Flags, spot: Flags) -> Flags:
    """Return the connected pieces of a mask that `spot` lies in, and `spot`."""
    _, pieces = cv2.connectedComponents(mask.astype(np.uint8), connectivity=4)
    numbers = np.unique(pieces[spot])
    kept: Flags = np.isin(pieces, numbers[numbers > 0])
    kept[spot] = True
    return kept


def fill_holes(mask: Flags) -> Flags:
    """Return the mask with its holes filled."""
    rings, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    filled = np.zeros(mask.shape, np.uint8)
    cv2.drawContours(filled, rings, -1, 1, cv2.FILLED)
    return filled > 0


def open_mask(mask: Flags, radius: int) -> Flags:
    """Return the mask without what is thinner than 2 `radius` px."""
    return np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, disc(radius))) > 0


def dilate(mask: Flags, radius: int) -> Flags:
    """Return the mask grown by `radius` px."""
    return np.asarray(cv2.dilate(mask.astype(np.uint8), disc(radius))) > 0


def erode(mask: Flags, radius: int) -> Flags:
    """Return the mask shrunk by `radius` px."""
    return np.asarray(cv2.erode(mask.astype(np.uint8), disc(radius))) > 0


def resize_mask(mask: Flags, shape: tuple[int, ...]) -> Flags:
    """Return the mask at another size (h, w)."""
    if mask.shape == tuple(shape[:2]):
        return mask
    return np.asarray(cv2.resize(mask.astype(np.float32), (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR)) > 0.5


def measure_away(mask: Flags) -> Reals:
    """Return (h, w) how far pixels lie from a mask [px]."""
    return np.asarray(cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 5))
