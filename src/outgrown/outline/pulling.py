"""Pulling: the person draws a stretch of the outline to where the cloth's edge is."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..arrays import Floats, frozen
from ..errors import OutlineError
from ..geometry.rings import is_simple, perimeter_mm

_NEAR_SHARE = 0.06
"""A pull begins within this share of the outline's length from it; else it was meant for something else."""
_LEAST_REACH_SHARE = 0.02
_REACH = 3.0
"""A pull moves the outline along so many times its own length to either side, as a pulled thread would lie."""


@dataclass(frozen=True)
class Pull:
    """One place of the outline drawn to another.

    Attributes:
        from_px: (x, y) on the outline or near it, in the upright photo.
        to_px: (x, y) where the nearest place of the outline is drawn to.
    """

    from_px: tuple[float, float]
    to_px: tuple[float, float]


def pull_ring(ring_px: Floats, pulls: Sequence[Pull]) -> Floats:
    """Return the ring with every pull done, one after the other; points are kept one for one.

    The nearest place follows the pull whole, its neighbours along the outline less and less.

    Raises:
        OutlineError: a pull begins far from the outline, or makes it cross itself.
    """
    ring = np.array(ring_px, dtype=np.float64)
    for pull in pulls:
        ring = _pulled(ring, pull)
    if pulls and not is_simple(ring):
        raise OutlineError(
            "Pulled so, the outline crosses itself.", "Pull it in shorter steps, along the cloth's edge."
        )
    return frozen(ring)


def _pulled(ring: Floats, pull: Pull) -> Floats:
    start = np.asarray(pull.from_px, dtype=np.float64)
    away = np.hypot(*(ring - start).T)
    nearest = int(np.argmin(away))
    around = perimeter_mm(ring)
    if not np.isfinite(start).all() or not np.isfinite(pull.to_px).all() or away[nearest] > _NEAR_SHARE * around:
        raise OutlineError(
            f"The place {start[0]:g},{start[1]:g} is not near the outline.",
            "Begin on the outline, and end where the cloth's edge is.",
        )
    way = np.asarray(pull.to_px, dtype=np.float64) - ring[nearest]
    reach = max(_REACH * float(np.hypot(*way)), _LEAST_REACH_SHARE * around)
    paces = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
    along = np.concatenate([[0.0], np.cumsum(paces)[:-1]]) - float(paces[:nearest].sum())
    along = np.minimum(np.abs(along), around - np.abs(along))
    weight = np.where(along < reach, 0.5 + 0.5 * np.cos(np.pi * np.minimum(along / reach, 1.0)), 0.0)
    return np.asarray(ring + weight[:, None] * way)


def describe_pulls(pulls: Sequence[Pull]) -> list[dict[str, Any]]:
    """Return pulls as they are kept in JSON."""
    return [
        {"from_px": [round(v, 2) for v in pull.from_px], "to_px": [round(v, 2) for v in pull.to_px]} for pull in pulls
    ]
