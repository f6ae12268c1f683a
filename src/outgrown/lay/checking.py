"""Checking: no lay leaves this room with an overlap or an edge outside the cloth."""

from collections.abc import Sequence
from itertools import combinations

import shapely

from .placing import Placed

OVERLAP_MM2 = 1e-3
OUTSIDE_MM = 1e-3
"""Below these it is rounding: a thousandth of a millimetre, a thousandth of a square millimetre."""


def check_lay(placed: Sequence[Placed], area: shapely.Geometry) -> None:
    """Raise when two placed pieces overlap or one reaches beyond `area`.

    Raises:
        AssertionError: our fault, never the person's.
    """
    allowed = area.buffer(OUTSIDE_MM, join_style="mitre")
    shapely.prepare(allowed)
    shapes = [one.shape for one in placed]
    for one, shape in zip(placed, shapes, strict=True):
        if not shape.is_valid:
            shape = shape.buffer(0)
        if not allowed.covers(shape):
            raise AssertionError(f"{one.item.part.label} reaches outside the cloth")
        if one.item.on_line and abs(float(one.ring_mm[:, 1].min())) > OUTSIDE_MM:
            raise AssertionError(f"{one.item.part.label} is off the fold or hem")
    for (a, first), (b, second) in combinations(zip(placed, shapes, strict=True), 2):
        if first.intersects(second) and first.intersection(second).area > OVERLAP_MM2:
            raise AssertionError(f"{a.item.part.label} and {b.item.part.label} overlap")
