"""Likelihood: how much each sample of a strip looks like the cloth, or like the floor, of its own neighbourhood."""

import numpy as np
from numpy.random import default_rng

from ..arrays import Flags, Floats
from .threads import share_out

# Spread of the kernels in CIE Lab: above the noise of a phone's JPEG (1 to 3), below the step between look-alikes.
KERNEL_LAB = 5.0
SHADES = (0.75, 0.5, 0.3)
SHADE_COST = 1.0


def _log_density(at: Floats, samples: Floats, spread: float) -> Floats:
    """Return the log of a kernel density of `samples` (M, 3) at `at` (N, 3), up to a constant."""
    if not len(samples):
        return np.full(len(at), -8.0)
    squared = (
        np.sum(at**2, axis=1)[:, None] - 2.0 * at @ samples.T + np.sum(samples**2, axis=1)[None, :]
    ) / np.float32(2.0 * spread**2)
    kernel = np.exp(-np.clip(squared, 0.0, 40.0))
    density: Floats = np.log(kernel.mean(axis=1) + 3e-4)
    return density


def measure_log_ratio(
    lab: Floats, depth: Floats, usable: Flags, margin: float, window: int, wanted: Flags, samples: int = 120
) -> Floats:
    """Return (N, J) log p(floor) - log p(cloth), each learned from the strip's own surroundings.

    Args:
        lab: (N, K, 3) colours.
        depth: (N, K) signed distance, negative inside.
        usable: (N, K) samples that may be learned from.
        margin: how far from the ring a sample must be to be learned from [px].
        window: stations learned from, either side of a block of as many.
        wanted: (K,) the J samples of a station that are asked for; all of them are learned from.
        samples: how many colours are kept a side.
    """
    count = len(depth)
    draw = default_rng(7)
    block = max(8, window)
    blocks = []
    for start in range(0, count, block):
        rows = np.arange(start, min(start + block, count))
        near = np.arange(start - window, rows[-1] + 1 + window) % count
        near_lab, near_depth, near_ok = lab[near], depth[near], usable[near]
        inside = near_lab[near_ok & (near_depth < -margin)]
        outside = near_lab[near_ok & (near_depth > margin)]
        if len(inside) > samples:
            inside = inside[draw.choice(len(inside), samples, replace=False)]
        if len(outside) > samples:
            outside = outside[draw.choice(len(outside), samples, replace=False)]
        blocks.append((lab[rows][:, wanted].reshape(-1, 3), inside, outside))
    ratio = np.concatenate(share_out(lambda known: _compare(*known), blocks))
    return ratio.reshape(count, -1).astype(np.float32)


def _compare(at: Floats, inside: Floats, outside: Floats) -> Floats:
    """Return (N,) how much more each colour (N, 3) is like the floor's than like the cloth's, in light or shade."""
    cloth = _log_density(at, inside, KERNEL_LAB)
    floor = _log_density(at, outside, KERNEL_LAB)
    for shade in SHADES:
        floor = np.maximum(floor, _log_density(at, outside * np.float32(shade), KERNEL_LAB) - SHADE_COST)
    return floor - cloth
