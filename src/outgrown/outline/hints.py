"""Hints: what a person points at when the garment's edge was taken for another."""

from dataclasses import dataclass, field

import numpy as np

from ..arrays import Floats, frozen
from ..errors import OutlineError


def _no_points() -> Floats:
    return frozen(np.zeros((0, 2)))


@dataclass(frozen=True, eq=False)
class Hints:
    """Points said to lie on the garment or on the floor; each changes the region it lies in only.

    Attributes:
        garment_px: (N, 2) points on the garment, in the upright photo.
        floor_px: (M, 2) points on the floor.
    """

    garment_px: Floats = field(default_factory=_no_points)
    floor_px: Floats = field(default_factory=_no_points)

    def __bool__(self) -> bool:
        return bool(len(self.garment_px) or len(self.floor_px))

    def check(self, width: int, height: int) -> None:
        """Refuse points outside a photo of this size [px].

        Raises:
            OutlineError: one lies outside.
        """
        for points, side in ((self.garment_px, "garment"), (self.floor_px, "floor")):
            for x, y in points:
                if not (-0.5 <= x < width - 0.5 and -0.5 <= y < height - 0.5):
                    raise OutlineError(
                        f"The place {x:g},{y:g} said to be {side} lies outside the photo, which is {width} pixels wide "
                        f"and {height} high.",
                        "Count pixels from the upper left corner of the upright photo: first to the right, then down.",
                    )
