"""Gap: how unlike the empty floor each sample of a strip is: an edge that the floor's pattern cannot mislead."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from ..arrays import Bytes, Floats
from .empty_floor import LEAST, LEAST_LAB, MOST, EmptyFloor
from .stations import sample_along
from .strip import Strip

SHADES = (1.1, 1.0, 0.9, 0.8, 0.7, 0.6, 0.5)
"""The garment's shadow on the floor, finer than at working scale: close to the edge it changes within pixels."""
SHIFTS = tuple((along, across) for along in (-1, 0, 1) for across in (-1, 0, 1))
"""Stations and samples by which lens and rounding may put the two photos apart."""
NEITHER, STEP = 6.0, 2.0
"""A gap that speaks for neither side, and the step that is a unit of log-likelihood [Lab]. On a drawn rug, under a
garment of its colour, the gap was below 2 on 90 % of the floor more than a pixel outside the edge, shadow included, and
7 or more on 90 % of the cloth's shaded rim, the outermost pixel."""
HALF = 40.0
"""A gap that counts half of the greatest [Lab], so that a pale motif inside a dark rim does not draw the edge inwards.
Outline on rug, parquet and tiles, 95 %: 0.54, 0.42, 1.6 mm; with 10: 0.58, 0.46, 1.4, and plain cloth 0.3 mm too large;
with 1000: 0.71, 0.51, 1.9."""


def measure_gap(strip: Strip, bare: EmptyFloor, margin: float, window: int) -> Floats:
    """Return (N, K) how far each sample is from the empty floor in any shadow [Lab]; NEITHER where that is not shown.

    Both light and doubt are the floor's beside: where the two photos differ there too, gaps count less.

    Args:
        strip: of the photo with the garment.
        bare: the empty floor laid over the same picture.
        margin: how far outside the ring a sample must be to be learned from [px].
        window: stations learned from, each way.
    """
    places = strip.places()
    seen = _to_linear(strip.rgb)
    laid = _to_linear(sample_along(bare.pixels, places))
    known = sample_along(bare.known.astype(np.float32), places) > 0.99
    beside = known & strip.usable & (strip.depth > margin)

    def spread_out(values: NDArray[Any]) -> Floats:
        kept = np.where(beside.reshape(beside.shape + (1,) * (values.ndim - 2)), values, 0.0).sum(axis=1)
        mean: Floats = uniform_filter1d(kept.astype(np.float64), 2 * window + 1, axis=0, mode="wrap")
        return mean

    lit = laid * ((spread_out(seen) + 1e-4) / (spread_out(laid) + 1e-4))[:, None]
    lab = strip.lab()
    squared = np.full(beside.shape, np.inf)
    for shade in SHADES:
        other = _to_lab(lit * shade)
        for shift in SHIFTS:
            squared = np.minimum(squared, ((lab - np.roll(other, shift, axis=(0, 1))) ** 2).sum(axis=2))
    gap = np.sqrt(squared)
    usual = spread_out(gap) / np.maximum(spread_out(np.ones(gap.shape)), 1e-6)
    measured: Floats = np.where(known, gap * (LEAST_LAB / np.maximum(usual, LEAST_LAB))[:, None], NEITHER)
    return measured


def weigh_gap(gap: Floats) -> Floats:
    """Return the log-likelihood of cloth against floor."""
    weighed: Floats = np.clip((gap - NEITHER) / STEP, LEAST, MOST)
    return weighed


def bound_gap(gap: Floats) -> Floats:
    """Return the gap as a level from 0 to 1 across which an edge can be placed half way."""
    return gap / (gap + HALF)


def _to_linear(rgb: Floats | Bytes) -> Floats:
    linear: Floats = (rgb.astype(np.float64) / 255) ** 2.2
    return linear


def _to_lab(linear: Floats) -> NDArray[Any]:
    stored = np.clip(linear, 0, 1) ** (1 / 2.2)
    return np.asarray(cv2.cvtColor(stored.astype(np.float32), cv2.COLOR_RGB2LAB))
