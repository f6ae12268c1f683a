"""Hints: what a person points at when the garment's edge was taken for another."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats, frozen
from ..errors import OutlineError


class Side(StrEnum):
    """Of the garment's edge."""

    GARMENT = "garment"
    FLOOR = "floor"


@dataclass(frozen=True, eq=False)
class Stroke:
    """A place, or a line through several, said to lie on one side of the garment's edge.

    Attributes:
        side: the side.
        points_px: (N, 2) one place or more, in the upright photo.
    """

    side: Side
    points_px: Floats

    def is_like(self, other: "Stroke") -> bool:
        """Tell whether the other says the same."""
        return self.side is other.side and np.array_equal(self.points_px, other.points_px)


@dataclass(frozen=True, eq=False)
class Hints:
    """Strokes, in the order in which they were made; each changes the region it lies in only.

    Attributes:
        strokes: of either side.
    """

    strokes: tuple[Stroke, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.strokes)

    def points_px(self, side: Side | None = None) -> Floats:
        """Return (N, 2) all places of one side, or of both."""
        points = [stroke.points_px for stroke in self.strokes if side in (None, stroke.side)]
        return np.vstack([np.zeros((0, 2)), *points])

    def check(self, width: int, height: int) -> None:
        """Refuse places outside a photo of this size [px].

        Raises:
            OutlineError: one lies outside.
        """
        for stroke in self.strokes:
            for x, y in stroke.points_px:
                if not (-0.5 <= x < width - 0.5 and -0.5 <= y < height - 0.5):
                    raise OutlineError(
                        f"The place {x:g},{y:g} said to be {stroke.side} lies outside the photo, which is {width} x "
                        f"{height} pixels.",
                        "Count pixels from the top left of the upright photo: first to the right, then down.",
                    )


def make_hints(garment: Sequence[ArrayLike] = (), floor: Sequence[ArrayLike] = ()) -> Hints:
    """Return hints: those of the garment, then those of the floor.

    Args:
        garment: places (x, y) or strokes (N, 2) on the garment [px].
        floor: the same on the floor.
    """
    return Hints(
        tuple(
            Stroke(side, frozen(np.asarray(points, dtype=np.float64).reshape(-1, 2)))
            for side, strokes in ((Side.GARMENT, garment), (Side.FLOOR, floor))
            for points in strokes
        )
    )


def describe_hints(hints: Hints) -> list[dict[str, Any]]:
    """Return hints as they are kept in JSON: a list of `side` and `points_px`."""
    return [{"side": str(stroke.side), "points_px": np.round(stroke.points_px, 2).tolist()} for stroke in hints.strokes]
