"""Plausible: whether what a file says is of the kind its field asks for; files are edited by hand."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import fields
from types import UnionType
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

import numpy as np

from ..arrays import Floats, frozen

FARTHEST_MM = 20_000.0
"""No point of a pattern lies farther out: pages without end would be drawn to it."""

T = TypeVar("T")


def checked(thing: T) -> T:
    """Return the dataclass as it is.

    Raises:
        TypeError: a field holds something of another kind than it says.
    """
    hints = get_type_hints(type(thing))
    for field in fields(thing):  # type: ignore[arg-type]
        if not fits(getattr(thing, field.name), hints[field.name]):
            raise TypeError(field.name)
    return thing


def fits(value: Any, hint: Any) -> bool:
    """Tell whether `value` is of the kind that the type hint names; numbers must be finite."""
    origin, inner = get_origin(hint), get_args(hint)
    if hint is Any:
        return True
    if isinstance(hint, UnionType):
        return any(fits(value, one) for one in inner)
    if hint is None or hint is type(None):
        return value is None
    if hint is float:
        return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    if hint is int:
        return isinstance(value, int) and not isinstance(value, bool)
    if origin in (list, tuple, Sequence):
        return isinstance(value, list | tuple) and all(fits(one, inner[0]) for one in value)
    if origin in (dict, Mapping):
        return isinstance(value, Mapping) and all(fits(k, inner[0]) and fits(v, inner[1]) for k, v in value.items())
    return isinstance(value, hint)


def read_points(values: Any, least: int = 2) -> Floats:
    """Return (n, 2) points.

    Raises:
        ValueError: they are fewer than `least`, or not where a pattern can be.
    """
    array = np.array(values, dtype=np.float64).reshape(-1, 2)
    if len(array) < least or not (np.abs(array) <= FARTHEST_MM).all():
        raise ValueError("points")
    return frozen(array)


def read_amount(value: Any) -> float:
    """Return a finite number that is not below nought.

    Raises:
        ValueError: it is none.
    """
    if not fits(value, float) or value < 0:
        raise ValueError("amount")
    return float(value)
