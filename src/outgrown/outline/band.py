"""Band: the edge settled pixel by pixel at working scale, by what lies near it on either side."""

from typing import Any

import cv2
import numpy as np
from numpy.random import default_rng
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import breadth_first_order, maximum_flow

from ..arrays import Bytes, Flags
from .patches import Reals, _find_looks, _measure_floor_spread

PIXEL_LOOKS = 72
COARSE = 4


def measure_depth(mask: Flags) -> Reals:
    """Return the signed distance to the edge of `mask`, negative inside [px]."""
    inside = mask.astype(np.uint8)
    depth: Reals = cv2.distanceTransform(1 - inside, cv2.DIST_L2, 5) - cv2.distanceTransform(inside, cv2.DIST_L2, 5)
    return depth


class LocalLooks:
    """Colours of the photo as few looks, and how often each occurs near a place, inside and outside."""

    def __init__(self, rgb: Bytes) -> None:
        lab: NDArray[Any] = cv2.cvtColor(rgb.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
        self.lab: Reals = np.asarray(cv2.bilateralFilter(lab, 5, 10, 1.5), dtype=np.float32)
        spread = _measure_floor_spread(lab)
        features = (self.lab / spread).reshape(-1, 3)
        looks = _find_looks(features, PIXEL_LOOKS, default_rng(2))
        self.look: NDArray[np.intp] = (
            (-2 * features @ looks.T + (looks**2).sum(1)[None]).argmin(1).reshape(lab.shape[:2])
        )
        blend = np.exp(-((looks[:, None] - looks[None]) ** 2).sum(2) / (2 * 1.2**2))
        self._blend = (blend / blend.sum(1, keepdims=True)).astype(np.float32)
        self.count = len(looks)

    def usual_step(self) -> float:
        """Return the colour step between neighbouring pixels that is nothing special in this photo [Lab]."""
        step = np.sqrt(((self.lab[:, 1:] - self.lab[:, :-1]) ** 2).sum(2))
        return max(2.5, 1.5 * float(np.median(step)) + 1.0)

    def _density(self, where: Flags, reach: float) -> Reals:
        """Return p(look of the pixel | near it, within `where`), (h, w)."""
        height, width = where.shape
        rows, columns = -(-height // COARSE), -(-width // COARSE)
        y, x = np.nonzero(where)
        cell = (y // COARSE) * columns + x // COARSE
        counts = np.bincount(cell * self.count + self.look[y, x], minlength=rows * columns * self.count)
        counts = counts.reshape(rows, columns, self.count).astype(np.float32)
        everywhere = counts.sum((0, 1))
        near = np.dstack([cv2.GaussianBlur(counts[..., k], (0, 0), reach / COARSE) for k in range(self.count)])
        total = near.sum(2, keepdims=True)
        # where little is near, the whole photo's looks speak
        share = total / (total + 0.02 * COARSE**2)
        local = share * near / np.maximum(total, 1e-6) + (1 - share) * everywhere / max(everywhere.sum(), 1)
        mixed = (0.75 * local + 0.25 * everywhere / max(everywhere.sum(), 1)) @ self._blend
        yy, xx = np.mgrid[:height, :width] // COARSE
        density: Reals = mixed[yy, xx, self.look]
        return density

    def measure_log_ratio(self, inside: Flags, outside: Flags, reach: float) -> Reals:
        """Return log p(look | cloth near by) - log p(look | floor near by), (h, w)."""
        cloth, floor = self._density(inside, reach), self._density(outside, reach)
        ratio: Reals = np.log((cloth + 2e-4) / (floor + 2e-4))
        return ratio


STEPS = ((0, 1, 1.0), (1, 0, 1.0), (1, 1, 0.7), (1, -1, 0.7))


def cut_band(
    start: Flags, width: float, lean: Reals, colour: Reals, hold: float, usual: float, fixed: NDArray[np.int8]
) -> Flags:
    """Return the mask with its edge moved, within `width` px, to the cheapest place.

    Args:
        start: (h, w) mask believed so far.
        width: half the band's width [px].
        lean: (h, w) log-likelihood for garment.
        colour: (h, w, 3) Lab.
        hold: cost of cutting between two equal pixels.
        usual: colour step at which that cost has fallen to 1/e.
        fixed: (h, w) 1 garment, -1 floor, 0 open.
    """
    depth = measure_depth(start)
    band = np.abs(depth) < width
    number = np.full(start.shape, -1, np.int64)
    count = int(band.sum())
    number[band] = np.arange(count)
    height, across = start.shape
    one, two, ties = [], [], []
    for down, right, share in STEPS:
        here = (slice(0, height - down), slice(max(0, -right), across - max(0, right)))
        there = (slice(down, height), slice(max(0, -right) + right, across - max(0, right) + right))
        a, b = number[here].ravel(), number[there].ravel()
        both = (a >= 0) & (b >= 0)
        gap = ((colour[here] - colour[there]) ** 2).sum(2).ravel()[both]
        one.append(a[both])
        two.append(b[both])
        ties.append(share * hold * (0.08 + np.exp(-gap / (2 * usual**2))))
    a, b, tie = np.concatenate(one), np.concatenate(two), np.concatenate(ties)
    push = lean[band].astype(np.float64)
    push[depth[band] < 1.5 - width] = 1e4
    push[depth[band] > width - 1.5] = -1e4
    push += 1e4 * fixed[band]
    nodes = np.arange(count)
    rows = np.concatenate([a, b, np.full(count, count), nodes])
    columns = np.concatenate([b, a, nodes, np.full(count, count + 1)])
    values = np.concatenate([tie, tie, np.maximum(push, 0), np.maximum(-push, 0)])
    # The stubs ask for a csr_array; the function takes either.
    capacity: Any = csr_matrix(((values * 100).astype(np.int32), (rows, columns)), shape=(count + 2, count + 2))
    rest = capacity - maximum_flow(capacity, count, count + 1).flow
    rest.data = np.maximum(rest.data, 0)
    rest.eliminate_zeros()
    reached = breadth_first_order(rest, count, directed=True, return_predecessors=False)
    garment = np.zeros(count + 2, bool)
    garment[reached] = True
    mask = start.copy()
    mask[band] = garment[:count]
    return mask
