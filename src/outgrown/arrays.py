"""Array types used across rooms, and the one way to make a frozen array."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Flags = NDArray[np.bool_]


def frozen(values: ArrayLike) -> Floats:
    """Return a read-only float64 copy of `values`, so that a frozen dataclass is frozen in truth."""
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


def frozen_bytes(values: NDArray[Any]) -> Bytes:
    """Return `values` (uint8) as a read-only view, without a copy."""
    view: Bytes = values.view()
    view.setflags(write=False)
    return view
