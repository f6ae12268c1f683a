"""Splitting: a piece sewn together from two, so that it finds room."""

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import Polygon, box

from ..arrays import Floats, frozen
from ..errors import LayError
from .part import Part


def can_split(part: Part) -> bool:
    """Tell whether the part may be sewn from two: a strip across its middle, an opened half along its fold."""
    return part.is_band or part.half_mm is not None


def split_parts(parts: Sequence[Part], names: Collection[str]) -> tuple[Part, ...]:
    """Return the parts, those so named cut in two, with allowance for the seam that joins them.

    Raises:
        LayError: none is called so, or it cannot be cut in two.
    """
    for name in names:
        mine = [part for part in parts if part.name == name]
        if not mine:
            there = ", ".join(dict.fromkeys(part.name for part in parts if can_split(part))) or "none of them"
            raise LayError(f"There is no piece called {name}.", f"Split one of these: {there}.")
        if not all(can_split(part) for part in mine):
            raise LayError(
                f"The {name} has neither ends nor a fold to be split at.", "Split a waistband, or a piece on the fold."
            )
    return tuple(_split(part) if part.name in names else part for part in parts)


def _split(part: Part) -> Part:
    if part.is_band:
        ring = _half_band(part.ring_mm, part.seam_mm)
        return replace(part, name=f"{part.name}, half", ring_mm=ring, half_mm=None, count=2 * part.count)
    assert part.half_mm is not None
    ring = _with_seam(part.half_mm, part.seam_mm)
    return replace(
        part,
        name=f"{part.name}, half",
        ring_mm=ring,
        half_mm=None,
        count=2 * part.count,
        mirrored=part.count,
        is_own_mirror=False,
    )


def _half_band(ring: Floats, seam_mm: float) -> Floats:
    """Return half of a strip that runs along y, its middle a cut edge with allowance."""
    low, high = ring.min(axis=0), ring.max(axis=0)
    long = 0.5 * (high[1] - low[1]) + seam_mm
    return _centred(np.array([(low[0], 0.0), (high[0], 0.0), (high[0], long), (low[0], long)]))


def _with_seam(half: Floats, seam_mm: float) -> Floats:
    """Return the half above y = 0 with an allowance below it."""
    edge = half[np.abs(half[:, 1]) < 1e-6, 0]
    strip = box(float(edge.min()), -seam_mm, float(edge.max()), 0.0)
    whole = shapely.union_all([Polygon(half).buffer(0), strip], grid_size=1e-6)
    return _centred(np.asarray(whole.exterior.coords)[:-1])


def _centred(ring: Floats) -> Floats:
    return frozen(ring - 0.5 * (ring.min(axis=0) + ring.max(axis=0)))
