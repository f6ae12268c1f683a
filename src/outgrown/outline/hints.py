"""Hints: what a person points at when the garment's edge was taken for another."""

from dataclasses import dataclass, field

import numpy as np

from ..arrays import Floats, frozen


def _no_points() -> Floats:
    return frozen(np.zeros((0, 2)))


@dataclass(frozen=True, eq=False)
class Hints:
    """Points said to lie on the garment or on the floor; each acts near itself only.

    Attributes:
        garment_px: (N, 2) points on the garment, in the upright photo.
        floor_px: (M, 2) points on the floor.
    """

    garment_px: Floats = field(default_factory=_no_points)
    floor_px: Floats = field(default_factory=_no_points)

    def __bool__(self) -> bool:
        return bool(len(self.garment_px) or len(self.floor_px))
