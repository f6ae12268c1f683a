"""Patches: the photo at working scale cut into small pieces of one look, and how alike they are."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.random import Generator, default_rng
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, diags_array
from skimage.segmentation import watershed

from ..arrays import Bytes, Flags

Reals = NDArray[np.float32]
Whole = NDArray[np.int64]

# Patches about 11 px wide on a photo of 400 px: smaller ones cost time (their likeness is a square matrix),
# larger ones swallow the narrow gap between two legs.
PATCH_PX = 11
LOOKS = 56
GRAIN_SCALES = (1.2, 3.0)


@dataclass(frozen=True, eq=False)
class Patches:
    """Small pieces of one look, their neighbours, and their likeness.

    Attributes:
        labels: (h, w) number of the patch of each pixel.
        size: (n,) pixels.
        centre: (n, 2) x, y as shares of the shorter side.
        inset: (n,) distance of the centre from the nearest border as a share of width or height.
        border: (n,) share of the patch lying in the band along the border.
        pair: (m, 2) neighbouring patches.
        length: (m,) pixels along which they touch.
        edge: (m,) mean colour step there, in units of the photo's usual step.
        step: (m,) how differently their surroundings are coloured, 0..1.
        mean_lab: (n, 3) mean colour.
        unlike: parts of the squared distance between looks, each (n, n) float32: palette of the patch, of its
            near and of its wider surroundings, mean colour in units of the floor's own variation, and roughness.
    """

    labels: NDArray[np.int32]
    size: Reals
    centre: Reals
    inset: Reals
    border: Reals
    pair: Whole
    length: Reals
    edge: Reals
    step: Reals
    mean_lab: Reals
    unlike: tuple[Reals, ...]

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.size)

    def mean_of(self, picture: NDArray[np.generic]) -> Reals:
        """Return the mean of `picture` (h, w) over each patch."""
        total = np.bincount(self.labels.ravel(), picture.ravel(), minlength=self.count)
        return (total / self.size).astype(np.float32)


def _find_looks(features: Reals, count: int, draw: Generator) -> Reals:
    """Return `count` typical looks among the features (k-means, started at random pixels)."""
    few = features[draw.choice(len(features), min(6000, len(features)), replace=False)]
    looks = few[draw.choice(len(few), min(count, len(few)), replace=False)].copy()
    for _ in range(8):
        distance = (few**2).sum(1)[:, None] - 2 * few @ looks.T + (looks**2).sum(1)[None]
        nearest = distance.argmin(1)
        members = np.bincount(nearest, minlength=len(looks))
        sums = np.stack([np.bincount(nearest, few[:, k], minlength=len(looks)) for k in range(few.shape[1])], 1)
        looks = np.where(members[:, None] > 0, sums / np.maximum(members, 1)[:, None], looks).astype(np.float32)
        idle = np.flatnonzero(members == 0)
        if len(idle):
            looks[idle] = few[np.argsort(-distance.min(1))[: len(idle)]]
    return looks


def _lay_patches(gradient: Reals) -> NDArray[np.int32]:
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


def _measure_floor_spread(lab: Reals) -> Reals:
    """Return how much the band along the border varies locally in L*, a*, b*, within sensible limits."""
    height, width = lab.shape[:2]
    short = min(height, width)
    band, reach = max(2, round(0.04 * short)), max(4, 0.05 * short)
    local = lab - cv2.GaussianBlur(lab, (0, 0), reach)
    rim = np.concatenate(
        [
            part.reshape(-1, 3)
            for part in (local[:band], local[-band:], local[band:-band, :band], local[band:-band, -band:])
        ]
    )
    spread = 1.48 * np.median(np.abs(rim), axis=0)
    limited: Reals = np.clip(spread, (4.0, 1.5, 1.5), (10.0, 4.0, 4.0)).astype(np.float32)
    return limited


def _measure_grain(lightness: Reals, scale: float) -> Reals:
    """Return the log of how much the lightness varies at about `scale` px; the log keeps single edges small."""
    fine = cv2.GaussianBlur(lightness, (0, 0), 0.5 * scale) if scale > 1.5 else lightness
    grain: Reals = np.log(np.abs(fine - cv2.GaussianBlur(lightness, (0, 0), scale)) + 0.25)
    return grain


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
    return np.column_stack([key // count, key % count]), length.astype(np.float32), mean.astype(np.float32)


def lay_patches(rgb: Bytes) -> Patches:
    """Return the patches of a photo at working scale, (h, w, 3) uint8 RGB."""
    height, width = rgb.shape[:2]
    lab = np.asarray(cv2.cvtColor(rgb.astype(np.float32) / 255, cv2.COLOR_RGB2LAB), dtype=np.float32)
    calm = np.asarray(cv2.bilateralFilter(lab, 5, 12, 2), dtype=np.float32)
    soft = cv2.GaussianBlur(lab, (0, 0), 1.0)
    across, down = cv2.Sobel(soft, cv2.CV_32F, 1, 0) / 8, cv2.Sobel(soft, cv2.CV_32F, 0, 1) / 8
    # chroma changes less with folds and shadows than lightness does
    gradient: Reals = np.sqrt(((across**2 + down**2) * np.array([1.0, 2.0, 2.0], np.float32)).sum(2))
    labels = _lay_patches(gradient)
    count = int(labels.max()) + 1
    flat = labels.ravel()
    size = np.maximum(np.bincount(flat, minlength=count), 1).astype(np.float32)

    mean = cv2.GaussianBlur(lab[..., 0], (0, 0), 2.0)
    rough = np.sqrt(np.maximum(cv2.GaussianBlur(lab[..., 0] ** 2, (0, 0), 2.0) - mean**2, 0))
    features = np.dstack([calm * np.array([0.8, 1.4, 1.4], np.float32), 6 * np.log1p(rough / 2)]).reshape(-1, 4)
    looks = _find_looks(features.astype(np.float32), LOOKS, default_rng(1))
    look = (-2 * features @ looks.T + (looks**2).sum(1)[None]).argmin(1)
    palette = np.bincount(flat * len(looks) + look, minlength=count * len(looks)).reshape(count, -1)
    blend = np.exp(-((looks[:, None] - looks[None]) ** 2).sum(2) / (2 * 6.0**2))
    palettes = [((palette / size[:, None]) @ (blend / blend.sum(1, keepdims=True))).astype(np.float32)]

    pair, length, edge = _join(labels, gradient, count)
    usual = float(np.median(edge)) + 0.5
    # palettes spread to neighbours, little across edges: a print becomes one look, a sheet beside it another
    flow = length * np.exp(-edge / usual)
    ends = (np.concatenate([pair[:, 0], pair[:, 1]]), np.concatenate([pair[:, 1], pair[:, 0]]))
    spread = csr_matrix((np.concatenate([flow, flow]), ends), shape=(count, count))
    total = np.asarray(spread.sum(1)).ravel() + 1e-6
    walk = (diags_array(0.5 / total) @ spread + diags_array(np.full(count, 0.5))).astype(np.float32)
    around = palettes[0]
    for turn in range(1, 25):
        around = walk @ around
        if turn in (6, 24):
            palettes.append(around)
    roots = [np.sqrt(part) for part in palettes]
    near = roots[1]
    overlap = (near[pair[:, 0]] * near[pair[:, 1]]).sum(1)
    step = np.sqrt(np.clip(1 - overlap, 0, 1))

    mean_lab = np.stack([np.bincount(flat, lab[..., k].ravel(), minlength=count) / size for k in range(3)], 1)
    scaled = (mean_lab / _measure_floor_spread(lab)).astype(np.float32)
    squares = (scaled**2).sum(1)
    colour = np.maximum(squares[:, None] - 2 * scaled @ scaled.T + squares[None], 0)

    coarse_grain = [_measure_grain(lab[..., 0], scale) for scale in GRAIN_SCALES]
    grain = np.stack([np.bincount(flat, part.ravel(), minlength=count) / size for part in coarse_grain], 1)
    for _ in range(6):
        grain = walk @ grain
    grain = grain.astype(np.float32)
    squares = (grain**2).sum(1)
    rough_gap = np.maximum(squares[:, None] - 2 * grain @ grain.T + squares[None], 0)

    y, x = np.mgrid[:height, :width]
    cx = np.bincount(flat, x.ravel(), minlength=count) / size
    cy = np.bincount(flat, y.ravel(), minlength=count) / size
    rim = np.ones((height, width), bool)
    band = max(2, round(0.02 * min(height, width)))
    rim[band:-band, band:-band] = False
    inset = np.minimum(np.minimum(cx / width, 1 - cx / width), np.minimum(cy / height, 1 - cy / height))
    unlike = [np.clip(1 - root @ root.T, 0, 1) for root in roots]
    return Patches(
        labels,
        size,
        np.column_stack([cx, cy]).astype(np.float32) / min(height, width),
        inset.astype(np.float32),
        (np.bincount(flat, rim.ravel(), minlength=count) / size).astype(np.float32),
        pair,
        length,
        (edge / usual).astype(np.float32),
        step.astype(np.float32),
        mean_lab.astype(np.float32),
        (unlike[0], unlike[1], unlike[2], colour, rough_gap),
    )


def cover(patches: Patches, mask: Flags) -> Reals:
    """Return the share of each patch that `mask` (h, w) covers."""
    return patches.mean_of(mask)
