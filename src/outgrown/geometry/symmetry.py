"""Symmetry: the line a shape is most nearly mirrored on, and its halves."""

from dataclasses import dataclass

import numpy as np
from shapely import LineString, Polygon
from shapely.affinity import affine_transform
from shapely.ops import split

from ..arrays import Floats, frozen
from .rings import as_ring


@dataclass(frozen=True, eq=False)
class MirrorAxis:
    """A line through a shape's middle.

    Attributes:
        through_mm: (2,) the centre of the shape's area.
        direction: (2,) unit vector along it.
        share: area common to the shape and its mirror image, of their union; 1 = fully symmetric.
    """

    through_mm: Floats
    direction: Floats
    share: float


def find_mirror_axis(ring_mm: Floats) -> MirrorAxis:
    """Return the line through the middle of the ring on which it is most nearly mirrored, to 1 degree."""
    shape = Polygon(as_ring(ring_mm)).buffer(0)
    shape = shape.simplify(0.002 * shape.length)
    centre = np.asarray(shape.centroid.coords[0])
    shape = affine_transform(shape, [1, 0, 0, 1, *(-centre)])

    def share(angle_deg: float) -> float:
        double = np.deg2rad(2.0 * angle_deg)
        image = affine_transform(shape, [np.cos(double), np.sin(double), np.sin(double), -np.cos(double), 0, 0])
        common = shape.intersection(image).area
        return float(common / (2.0 * shape.area - common))

    coarse = max(np.arange(0.0, 180.0, 6.0), key=share)
    best = float(max(np.arange(coarse - 5.0, coarse + 5.5, 1.0), key=share))
    direction = np.array([np.cos(np.deg2rad(best)), np.sin(np.deg2rad(best))])
    return MirrorAxis(frozen(centre), frozen(direction), share(best))


def halve(ring_mm: Floats, axis: MirrorAxis) -> tuple[Floats, Floats] | None:
    """Return the rings to the left and right of the axis, or None when it does not cut the ring in two."""
    ring = as_ring(ring_mm)
    far = 2.0 * float(np.hypot(*np.ptp(ring, axis=0)))
    line = LineString([axis.through_mm - far * axis.direction, axis.through_mm + far * axis.direction])
    normal = np.array([-axis.direction[1], axis.direction[0]])
    sides: dict[bool, list[Floats]] = {True: [], False: []}
    for part in split(Polygon(ring).buffer(0), line).geoms:
        points = np.asarray(part.exterior.coords)[:-1]
        middle = np.asarray(part.centroid.coords[0])
        sides[bool((middle - axis.through_mm) @ normal > 0)].append(points)
    if not sides[True] or not sides[False]:
        return None
    left, right = (max(sides[k], key=lambda p: Polygon(p).area) for k in (True, False))
    return as_ring(left), as_ring(right)
