"""Joining: the buttons and lines by which tiles are glued to one whole.

The right and lower strip of a tile is glued; the next tile is trimmed along its left and upper line and laid on it.
A button sits on the line: the lower tile shows it whole, the upper one its half, and both carry its number.
"""

import numpy as np

from ..arrays import Floats
from ..geometry.room import meets_box
from . import styles
from .lettering import measure_words_mm
from .surface import Anchor, Lettering, Surface
from .tiles import Join, Tiling

_BUTTON_RADIUS_MM = 7.0
_TICK_MM = 5.0
_CORNER_MM = 30.0
"""Kept free of buttons at both ends of a line, where strips cross [mm]."""
_TICK_SHARES = (0.1, 0.9)
_CIRCLE = 0.5522847498
"""Control distance of a quarter circle drawn as a cubic curve, per radius."""


def place_button(join: Join, segments_mm: Floats) -> Floats:
    """Return the button's middle on the join's line: as near its middle as the drawing leaves room [mm]."""
    start, end = np.asarray(join.start_mm), np.asarray(join.end_mm)
    length = float(np.hypot(*(end - start)))
    reach = max(length / 2 - _CORNER_MM, 0.0)
    box = 2 * _BUTTON_RADIUS_MM + 2
    middle: Floats = (start + end) / 2
    for away in np.arange(0.0, reach, 4.0):
        for sign in (1, -1):
            point: Floats = middle + (end - start) / length * away * sign
            if not meets_box(segments_mm, point, box, box):
                return point
    return middle


def draw_joins(surface: Surface, tiling: Tiling, segments_mm: Floats) -> None:
    """Draw buttons and ticks of all joins on the sheet, clear of the drawing's (N, 2, 2) segments."""
    with surface.group("joining marks", styles.JOIN):
        for join in tiling.joins:
            _draw_button(surface, join, place_button(join, segments_mm))
            start, end = np.asarray(join.start_mm), np.asarray(join.end_mm)
            across = np.array([_TICK_MM, 0.0]) if join.is_upright else np.array([0.0, _TICK_MM])
            for share in _TICK_SHARES:
                point = start + (end - start) * share
                surface.polyline([point - across, point + across])


def _draw_button(surface: Surface, join: Join, middle: Floats) -> None:
    r, c = _BUTTON_RADIUS_MM, _BUTTON_RADIUS_MM * _CIRCLE
    for quarter in range(4):
        turn = np.deg2rad(90 * quarter)
        rotation = np.array([(np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))])
        surface.curve(np.array([(r, 0), (r, c), (c, r), (0, r)]) @ rotation + middle)
    number = str(join.number)
    size = min(5.0, 5.0 * 5.2 / max(measure_words_mm(number, 5.0, True), 0.1))
    out = np.array([3.4, 0.0]) if join.is_upright else np.array([0.0, 3.4])
    for side in (1, -1):
        x, y = middle + out * side - (0.0, 0.365 * size)
        surface.text(number, (float(x), float(y)), Lettering(size, True, anchor=Anchor.MIDDLE, grey=0.25))
