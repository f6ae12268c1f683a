"""Looks: colour, roughness and grain of a picture, and the few typical ones among them."""

from typing import Any

import cv2
import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from ..arrays import Bytes
from .masks import Reals, as_reals
from .threads import share_out

ROWS = 2048
SLOPE_WEIGHTS = np.array([1.0, 2.0, 2.0], np.float32)
"""Of a slope in L*, a*, b*: chroma changes less with folds and shadows than lightness does."""
TRACE = 2e-4
"""Added to every look's share: one that was never seen is not impossible."""
FADED = 69.0
"""What has faded to exp(-69) = 1e-30 fades no further: smaller numbers say nothing, and below 1e-38 a processor takes
several times as long over each."""


def fade(away: Reals) -> Reals:
    """Return exp(-away), for `away` of any shape."""
    return as_reals(np.exp(-np.minimum(away, FADED)))


def to_lab(rgb: Bytes) -> Reals:
    """Return (h, w, 3) CIE L*, a*, b* of an sRGB picture."""
    return as_reals(cv2.cvtColor(rgb.astype(np.float32) / 255, cv2.COLOR_RGB2LAB))


def blur(picture: Reals, sigma_px: float) -> Reals:
    """Return the picture blurred by a Gaussian."""
    return as_reals(cv2.GaussianBlur(picture, (0, 0), sigma_px))


def measure_slopes(lab: Reals, sigma_px: float = 1.0) -> tuple[Reals, Reals, Reals]:
    """Return the picture (h, w, 3) eased a little, and how its colours change a pixel across and down."""
    soft = blur(lab, sigma_px)
    across, down = (as_reals(cv2.Sobel(soft, cv2.CV_32F, x, 1 - x) / 8) for x in (1, 0))
    return soft, across, down


def weigh_slopes(across: Reals, down: Reals) -> Reals:
    """Return (h, w) how steep the colour is, of its change across and down (h, w, 3)."""
    return as_reals(np.sqrt(((across**2 + down**2) * SLOPE_WEIGHTS).sum(2)))


def even_light(lightness: Reals, chroma: Reals) -> Reals:
    """Return a*, b* (h, w, 2) as if it were all lit alike: light and shadow change them in proportion to lightness."""
    share = (60.0 / (lightness + 16.0))[..., None]
    return as_reals(chroma * np.minimum(share, 3.0))


def find_looks(features: Reals, count: int, draw: Generator) -> Reals:
    """Return `count` typical rows of `features` (N, k) (k-means, started at rows drawn by `draw`)."""
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


def name_looks(features: Reals, looks: Reals) -> NDArray[np.intp]:
    """Return the number of the nearest look for every row of `features`."""
    turned, squares = np.ascontiguousarray(-2 * looks.T), (looks**2).sum(1)

    def name(rows: slice) -> NDArray[np.intp]:
        away = features[rows] @ turned
        away += squares
        nearest: NDArray[np.intp] = away.argmin(1)
        return nearest

    # A few rows at a time stay in a processor's nearest memory: half the time.
    return np.concatenate(share_out(name, [slice(k, k + ROWS) for k in range(0, len(features), ROWS)]))


def blend_looks(looks: Reals, spread: float) -> Reals:
    """Return the (m, m) matrix that lets looks closer than about `spread` stand for one another; rows sum to 1."""
    blend = fade(((looks[:, None] - looks[None]) ** 2).sum(2) / (2 * spread**2))
    return as_reals(blend / blend.sum(1, keepdims=True))


def compare_shares(cloth: NDArray[Any], floor: NDArray[Any]) -> NDArray[Any]:
    """Return log p(cloth) - log p(floor) of how often a look occurs in either, bounded where it is all but unknown."""
    compared: NDArray[Any] = np.log((cloth + TRACE) / (floor + TRACE))
    return compared


def measure_floor_spread(lab: Reals) -> Reals:
    """Return how much the band along the border varies locally in L*, a*, b*, within sensible limits.

    On a white sheet a difference of 3 in b* is a seam of cream rib; on a patterned rug it is nothing.
    """
    height, width = lab.shape[:2]
    short = min(height, width)
    band, reach = max(2, round(0.04 * short)), max(4, 0.05 * short)
    local = lab - blur(lab, reach)
    sides = (local[:band], local[-band:], local[band:-band, :band], local[band:-band, -band:])
    rim = np.concatenate([part.reshape(-1, 3) for part in sides])
    spread = 1.48 * np.median(np.abs(rim), axis=0)
    return as_reals(np.clip(spread, (4.0, 1.5, 1.5), (10.0, 4.0, 4.0)))


def measure_grain(lightness: Reals, scale: float) -> Reals:
    """Return the log of how much the lightness varies at about `scale` px; the log keeps single edges small."""
    fine = blur(lightness, 0.5 * scale) if scale > 1.5 else lightness
    return as_reals(np.log(np.abs(fine - blur(lightness, scale)) + 0.25))
