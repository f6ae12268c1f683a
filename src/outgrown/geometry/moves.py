"""Rigid moves: turn, shift, mirror. Lengths and angles stay."""

from dataclasses import dataclass

import numpy as np

from ..arrays import Floats
from ..errors import GeometryError


def reflect(points_mm: Floats, through_mm: Floats, direction: Floats) -> Floats:
    """Return the points mirrored on the line through `through_mm` along `direction` (any length but nought).

    >>> reflect(np.array([[3.0, 4.0]]), np.array([0.0, 1.0]), np.array([2.0, 0.0])).tolist()
    [[3.0, -2.0]]
    """
    size = float(np.hypot(*direction))
    if size == 0.0:
        raise GeometryError("A mirror line needs a direction.")
    unit = np.asarray(direction, dtype=np.float64) / size
    to = np.asarray(points_mm, dtype=np.float64) - through_mm
    return np.asarray(through_mm + 2.0 * (to @ unit)[..., None] * unit - to)


def turn(points_mm: Floats, angle_deg: float, about_mm: tuple[float, float] = (0.0, 0.0)) -> Floats:
    """Return the points turned counter-clockwise by `angle_deg` about `about_mm`."""
    a = np.deg2rad(angle_deg)
    rotation = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    return np.asarray((np.asarray(points_mm, dtype=np.float64) - about_mm) @ rotation + about_mm)


@dataclass(frozen=True)
class Frame:
    """A place and a direction that become the origin and 'up'.

    Attributes:
        origin_mm: the point that becomes (0, 0).
        up: the direction that becomes +y; need not be of length one.
        is_mirrored: x is turned over after turning.
    """

    origin_mm: tuple[float, float]
    up: tuple[float, float]
    is_mirrored: bool = False

    def _matrix(self) -> Floats:
        up = np.array(self.up) / np.hypot(*self.up)
        right = np.array([up[1], -up[0]]) * (-1.0 if self.is_mirrored else 1.0)
        return np.stack([right, up])

    def into(self, points_mm: Floats) -> Floats:
        """Return the points as seen in this frame."""
        return np.asarray((np.asarray(points_mm) - np.array(self.origin_mm)) @ self._matrix().T)

    def out_of(self, points_mm: Floats) -> Floats:
        """Return points of this frame as they were outside it."""
        return np.asarray(np.asarray(points_mm) @ self._matrix() + np.array(self.origin_mm))
