"""Stations: places along a ring, each with the way out across the edge."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from ..arrays import Flags, Floats


def signed_area(ring: Floats) -> float:
    """Return the shoelace area with y turned up: positive when the ring runs counter-clockwise on the picture."""
    x, y = ring[:, 0], -ring[:, 1]
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def turn_counter_clockwise(ring: Floats) -> Floats:
    """Return the ring running counter-clockwise on the picture."""
    return ring if signed_area(ring) > 0 else ring[::-1].copy()


def resample_ring(ring: Floats, spacing: float) -> Floats:
    """Return points about `spacing` apart along the closed ring."""
    closed = np.vstack([ring, ring[:1]])
    lengths = np.hypot(*np.diff(closed, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    count = max(8, round(along[-1] / spacing))
    at = np.arange(count) * along[-1] / count
    return np.column_stack([np.interp(at, along, closed[:, k]) for k in (0, 1)])


def measure_normals(ring: Floats, smooth: float) -> Floats:
    """Return unit normals pointing out of a counter-clockwise ring, from tangents smoothed over `smooth` points."""
    eased = gaussian_filter1d(ring, smooth, axis=0, mode="wrap") if smooth > 0 else ring
    tangent = np.roll(eased, -1, axis=0) - np.roll(eased, 1, axis=0)
    tangent /= np.maximum(np.hypot(tangent[:, 0], tangent[:, 1]), 1e-9)[:, None]
    return np.column_stack([-tangent[:, 1], tangent[:, 0]])


def find_runs(flags: Flags) -> list[NDArray[np.intp]]:
    """Return the stations (N,) of a closed ring in runs that are all True or all False."""
    runs = np.split(np.arange(len(flags)), np.flatnonzero(np.diff(flags.astype(int))) + 1)
    if flags[0] == flags[-1] and len(runs) > 1:
        runs[0] = np.concatenate([runs.pop(), runs[0]])
    return runs


def trace_level(field: Floats, level: float = 0.5) -> list[Floats]:
    """Return closed rings (x, y) where `field` crosses `level`, subpixel, largest first; outside counts as low."""
    from skimage.measure import find_contours

    padded = np.pad(field, 1)
    rings = [line[:-1, ::-1] - 1.0 for line in find_contours(padded, level) if len(line) > 8]
    return sorted(rings, key=lambda ring: -abs(signed_area(ring)))


def sample_along(image: NDArray[Any], points: Floats, interpolation: int = cv2.INTER_LINEAR) -> Floats:
    """Return the values of `image` at `points` (..., 2), clamped at its border."""
    flat = points.reshape(-1, 2).astype(np.float32)
    # remap limits its output to 32767 rows and columns: fold the list into a sheet
    columns = 4096
    rows = -(-len(flat) // columns)
    padded = np.zeros((rows * columns, 2), np.float32)
    padded[: len(flat)] = flat
    sheet = padded.reshape(rows, columns, 2)
    # The stub does not know that the second map may be missing.
    values: NDArray[Any] = cv2.remap(image, sheet, None, interpolation, borderMode=cv2.BORDER_REPLICATE)  # type: ignore[call-overload]
    listed: Floats = values.reshape((rows * columns, *image.shape[2:]))[: len(flat)].reshape(
        (*points.shape[:-1], *image.shape[2:])
    )
    return listed
