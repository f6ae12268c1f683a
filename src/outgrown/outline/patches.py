"""Patches: the photo at working scale cut into small pieces of one look, meeting at edges."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skimage.segmentation import watershed

from .looks import measure_slopes, weigh_slopes
from .masks import Reals, as_reals

Whole = NDArray[np.int64]

# Patches about 11 px wide on a photo of 400 px: smaller ones cost time (their likeness is a square matrix),
# larger ones swallow the narrow gap between two legs.
PATCH_PX = 11


@dataclass(frozen=True, eq=False)
class Patches:
    """Small pieces of one look and their neighbours.

    Attributes:
        labels: (h, w) number of the patch of each pixel.
        size: (n,) pixels.
        centre: (n, 2) x, y as shares of the shorter side.
        inset: (n,) distance of the centre from the nearest border as a share of width or height.
        border: (n,) share of the patch lying in the band along the border.
        pair: (m, 2) neighbouring patches.
        length: (m,) pixels along which they touch.
        edge: (m,) mean colour step there, in units of the photo's usual step.
    """

    labels: NDArray[np.int32]
    size: Reals
    centre: Reals
    inset: Reals
    border: Reals
    pair: Whole
    length: Reals
    edge: Reals

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.size)

    def mean_of(self, picture: NDArray[np.generic]) -> Reals:
        """Return the mean of `picture` (h, w) over each patch."""
        total = np.bincount(self.labels.ravel(), picture.ravel(), minlength=self.count)
        return as_reals(total / self.size)


def _flood(gradient: Reals) -> NDArray[np.int32]:
    """Return the patch of every pixel: floods from the calmest pixel of each cell, meeting at edges."""
    height, width = gradient.shape
    cell = max(4, min(PATCH_PX, min(height, width) // 6))
    rows, columns = height // cell, width // cell
    cells = gradient[: rows * cell, : columns * cell].reshape(rows, cell, columns, cell).transpose(0, 2, 1, 3)
    inner = cells[:, :, 1:-1, 1:-1].reshape(rows, columns, -1).argmin(2)
    y = np.arange(rows)[:, None] * cell + 1 + inner // (cell - 2)
    x = np.arange(columns)[None] * cell + 1 + inner % (cell - 2)
    seeds = np.zeros((height, width), np.int32)
    seeds[y, x] = np.arange(1, rows * columns + 1).reshape(rows, columns)
    labels: NDArray[np.int32] = watershed(gradient, seeds, compactness=0.05).astype(np.int32) - 1
    return labels


def _join(labels: NDArray[np.int32], gradient: Reals, count: int) -> tuple[Whole, Reals, Reals]:
    """Return neighbouring pairs, the length of their common edge and the mean gradient there."""
    one = np.concatenate([labels[:, :-1].ravel(), labels[:-1].ravel()]).astype(np.int64)
    two = np.concatenate([labels[:, 1:].ravel(), labels[1:].ravel()]).astype(np.int64)
    steep = np.concatenate(
        [np.maximum(gradient[:, :-1], gradient[:, 1:]).ravel(), np.maximum(gradient[:-1], gradient[1:]).ravel()]
    )
    apart = one != two
    one, two, steep = one[apart], two[apart], steep[apart]
    key, place = np.unique(np.minimum(one, two) * count + np.maximum(one, two), return_inverse=True)
    length = np.bincount(place)
    mean = np.bincount(place, steep) / length
    return np.column_stack([key // count, key % count]), as_reals(length), as_reals(mean)


def lay_patches(lab: Reals) -> Patches:
    """Return the patches of a picture at working scale, (h, w, 3) CIE Lab."""
    height, width = lab.shape[:2]
    _, across, down = measure_slopes(lab)
    gradient = weigh_slopes(across, down)
    labels = _flood(gradient)
    count = int(labels.max()) + 1
    flat = labels.ravel()
    size = as_reals(np.maximum(np.bincount(flat, minlength=count), 1))
    pair, length, edge = _join(labels, gradient, count)
    y, x = np.mgrid[:height, :width]
    cx = np.bincount(flat, x.ravel(), minlength=count) / size
    cy = np.bincount(flat, y.ravel(), minlength=count) / size
    rim = np.ones((height, width), bool)
    band = max(2, round(0.02 * min(height, width)))
    rim[band:-band, band:-band] = False
    inset = np.minimum(np.minimum(cx / width, 1 - cx / width), np.minimum(cy / height, 1 - cy / height))
    return Patches(
        labels,
        size,
        as_reals(np.column_stack([cx, cy]) / min(height, width)),
        as_reals(inset),
        as_reals(np.bincount(flat, rim.ravel(), minlength=count) / size),
        pair,
        length,
        as_reals(edge / (float(np.median(edge)) + 0.5)),
    )
