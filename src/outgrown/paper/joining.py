"""Joining: the buttons, crosses and lines by which tiles are glued to one whole.

The right and lower strip of a tile is glued; the next tile is trimmed along its left and upper line and laid on it.
A button sits on the line: the lower tile shows it whole, the upper one its half, and both carry its number.

Pages that are not trimmed hide what lies below them, so both show the whole strip and two crosses in it: a pin through
the upper cross into the lower one, twice, lays one page on the other to half a millimetre.
"""

from collections.abc import Sequence

import numpy as np

from ..arrays import Floats
from ..geometry.room import find_meeting
from . import styles
from .lettering import measure_words_mm
from .surface import Anchor, Lettering, Surface
from .tiles import Join, Tiling

_BUTTON_RADIUS_MM = 7.0
_TICK_MM = 5.0
_CORNER_MM = 30.0
"""Kept free of buttons at both ends of a line, where strips cross [mm]."""
_TICK_SHARES = (0.1, 0.9)
_CROSS_MM = 3.2
"""Half a cross; its ring is smaller, and a pin's point shows in it."""
_CROSS_SHARES = (0.22, 0.78)
_CIRCLE = 0.5522847498
"""Control distance of a quarter circle drawn as a cubic curve, per radius."""


def place_button(join: Join, segments_mm: Floats) -> Floats:
    """Return the button's middle on the join's line: as near its middle as the drawing leaves room [mm]."""
    start, end = np.asarray(join.start_mm), np.asarray(join.end_mm)
    reach = max(float(np.hypot(*(end - start))) / 2 - _CORNER_MM, 0.0)
    box = 2 * _BUTTON_RADIUS_MM + 2
    way = (end - start) / float(np.hypot(*(end - start)))
    middle: Floats = (start + end) / 2
    places = [middle + way * away * sign for away in np.arange(0.0, reach, 4.0) for sign in (1, -1)]
    return _freest(places or [middle], (box, box), segments_mm)


def place_crosses(join: Join, overlap_mm: float, segments_mm: Floats) -> list[Floats]:
    """Return the middles of the two crosses in the join's strip, where the drawing leaves room [mm]."""
    start, end = np.asarray(join.start_mm), np.asarray(join.end_mm)
    into = np.array([overlap_mm / 2, 0.0]) if join.is_upright else np.array([0.0, -overlap_mm / 2])
    long, wide = 2 * _CROSS_MM + 7.0, 2 * _CROSS_MM + 1.0
    box = (wide, long) if join.is_upright else (long, wide)
    along = (end - start) / float(np.hypot(*(end - start)))
    across = into / (overlap_mm / 2)
    spare = overlap_mm / 2 - _CROSS_MM - 0.3
    reach = 0.2 * float(np.hypot(*(end - start)))
    sideways = (0.0, spare, -spare)
    moves = [along * a * sign + across * b for a in np.arange(0.0, reach, 4.0) for sign in (1, -1) for b in sideways]
    return [
        _freest([start + (end - start) * share + into + move for move in moves], box, segments_mm)
        for share in _CROSS_SHARES
    ]


def _freest(places: Sequence[Floats], box_mm: tuple[float, float], segments_mm: Floats) -> Floats:
    """Return the first place that is free, or else the one where the box meets the fewest lines."""
    counts = []
    for place in places:
        count = int(np.count_nonzero(find_meeting(segments_mm, place, *box_mm)))
        if count == 0:
            return place
        counts.append(count)
    return places[int(np.argmin(counts))]


def draw_joins(surface: Surface, tiling: Tiling, segments_mm: Floats) -> None:
    """Draw the marks of all joins on the sheet, clear of the drawing's (N, 2, 2) segments."""
    with surface.group("joining marks", styles.JOIN):
        for join in tiling.joins:
            if tiling.page.is_untrimmed:
                for middle in place_crosses(join, tiling.page.overlap_mm, segments_mm):
                    _draw_cross(surface, join, middle)
                continue
            _draw_button(surface, join, place_button(join, segments_mm))
            start, end = np.asarray(join.start_mm), np.asarray(join.end_mm)
            across = np.array([_TICK_MM, 0.0]) if join.is_upright else np.array([0.0, _TICK_MM])
            for share in _TICK_SHARES:
                point = start + (end - start) * share
                surface.polyline([point - across, point + across])


def _draw_button(surface: Surface, join: Join, middle: Floats) -> None:
    _draw_circle(surface, middle, _BUTTON_RADIUS_MM)
    number = str(join.number)
    size = min(5.0, 5.0 * 5.2 / max(measure_words_mm(number, 5.0, True), 0.1))
    out = np.array([3.4, 0.0]) if join.is_upright else np.array([0.0, 3.4])
    for side in (1, -1):
        x, y = middle + out * side - (0.0, 0.365 * size)
        surface.text(number, (float(x), float(y)), Lettering(size, True, anchor=Anchor.MIDDLE, grey=0.25))


def _draw_cross(surface: Surface, join: Join, middle: Floats) -> None:
    for arm in (np.array([_CROSS_MM, 0.0]), np.array([0.0, _CROSS_MM])):
        surface.polyline([middle - arm, middle + arm])
    _draw_circle(surface, middle, 0.5 * _CROSS_MM)
    size = 3.4
    away = _CROSS_MM + 0.8
    number, grey = str(join.number), 0.25
    if join.is_upright:
        x, y = middle + np.array([0.0, away])
        surface.text(number, (float(x), float(y)), Lettering(size, True, anchor=Anchor.MIDDLE, grey=grey))
    else:
        x, y = middle + np.array([away, -0.365 * size])
        surface.text(number, (float(x), float(y)), Lettering(size, True, grey=grey))


def _draw_circle(surface: Surface, middle: Floats, radius_mm: float) -> None:
    r, c = radius_mm, radius_mm * _CIRCLE
    for quarter in range(4):
        turn = np.deg2rad(90 * quarter)
        rotation = np.array([(np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))])
        surface.curve(np.array([(r, 0), (r, c), (c, r), (0, r)]) @ rotation + middle)
