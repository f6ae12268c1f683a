"""Walking: laying one seam along another to see whether they are equally long."""

import numpy as np

from ..arrays import Floats
from ..errors import GeometryError
from .polylines import as_polyline, length_mm, part_between


def walk_seam(one_mm: Floats, other_mm: Floats) -> float:
    """Return how much longer `one_mm` is than `other_mm` [mm]. Both run the same way.

    Raises:
        GeometryError: one is closed, or the two run in opposite directions.
    """
    one, other = as_polyline(one_mm), as_polyline(other_mm)
    for line in (one, other):
        if np.array_equal(line[0], line[-1]):
            raise GeometryError("A seam that is walked must be open, with a beginning and an end.")
    if float((one[-1] - one[0]) @ (other[-1] - other[0])) < 0:
        raise GeometryError("The two seams run in opposite directions; turn one of them round.")
    return length_mm(one) - length_mm(other)


def walk_marks(one_mm: Floats, other_mm: Floats, marks_mm: Floats) -> Floats:
    """Return where marks at `marks_mm` along one seam fall on the other, walked from the start: points (M, 2)."""
    other = as_polyline(other_mm)
    total = length_mm(other)
    found = []
    for mark in np.atleast_1d(marks_mm):
        if not 0.0 <= mark <= total:
            raise GeometryError(f"The other seam is {total:.1f} mm long; a mark at {mark:.1f} mm falls off it.")
        found.append(other[0] if mark <= 0 else part_between(other, 0.0, float(mark))[-1])
    return np.array(found)
