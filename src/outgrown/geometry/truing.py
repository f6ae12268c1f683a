"""Truing: bending the end of a line so that it leaves its corner in a wanted direction."""

import numpy as np

from ..arrays import Floats
from .polylines import arc_lengths_mm, as_polyline, length_mm, tangent_at_start


def angle_between_deg(one: Floats, other: Floats) -> float:
    """Return the turn from one direction to another [deg], positive to the left, -180..180."""
    cross = float(one[0] * other[1] - one[1] * other[0])
    return float(np.degrees(np.arctan2(cross, float(one @ other))))


def bend_start(line_mm: Floats, direction: Floats, within_mm: float) -> Floats:
    """Return the line leaving its first point along `direction`, bent only over its first `within_mm`.

    The first point and everything beyond `within_mm` stay. Between them lies one cubic segment that joins
    smoothly; its farthest shift is about 0.15 x `within_mm` x tan(change of direction).
    """
    line = as_polyline(line_mm)
    along = arc_lengths_mm(line)
    join = int(np.clip(np.searchsorted(along, within_mm), 1, len(line) - 1))
    if join == len(line) - 1 and len(line) > 2:
        join = len(line) - 2
    ahead = line[min(join + 1, len(line) - 1)] - line[join - 1]
    out_of, into = direction / np.hypot(*direction), ahead / np.hypot(*ahead)
    reach = float(along[join]) / 3.0
    handles = np.stack([line[0], line[0] + reach * out_of, line[join] - reach * into, line[join]])
    u = np.linspace(0.0, 1.0, max(6, int(along[join]) + 1))[:, None]
    v = 1.0 - u
    bent = v**3 * handles[0] + 3 * v**2 * u * handles[1] + 3 * v * u**2 * handles[2] + u**3 * handles[3]
    return np.vstack([bent, line[join + 1 :]])


def corner_angle_deg(before_mm: Floats, after_mm: Floats, over_mm: float = 10.0) -> float:
    """Return the angle inside a counter-clockwise piece where one edge ends and the next begins [deg]."""
    into = -tangent_at_start(before_mm[::-1], min(over_mm, length_mm(before_mm)))
    out_of = tangent_at_start(after_mm, min(over_mm, length_mm(after_mm)))
    return 180.0 - angle_between_deg(into, out_of)
