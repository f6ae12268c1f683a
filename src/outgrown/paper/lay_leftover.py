"""The plan of a leftover: its shape to scale, each piece on it, distances from its edge to place them by."""

import numpy as np

from ..arrays import Floats
from ..lay.cloth import Leftover
from ..lay.distances import Distance, measure_distances
from ..lay.lay import Lay
from ..lay.marks import Move, hatch
from ..units import write_cm, write_inch
from .arrows import draw_filled_head, draw_straight_arrow, unit
from .lay_piece import draw_lay_piece
from .lay_plan import HEIGHT_MM, WIDTH_MM, draw_ruler, list_lines, write_head
from .lettering import CAP_SHARE, LINE_SHARE, break_words, measure_words_mm
from .surface import Anchor, Lettering, Pen, Surface

_MARGIN_MM = 12.0
_TEXT_MM, _SMALL_MM = 3.4, 2.6
_COLUMN_MM = 78.0
_CLOTH, _HOLE, _HEM = Pen(0.35, (3.0, 1.0)), Pen(0.15, grey=0.35), Pen(0.9)
_TAPE, _GRAIN, _WHITE = Pen(0.2), Pen(0.4), Pen(0.1, grey=1.0)
_SCALES = (1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40)


def draw_leftover_plan(surface: Surface, lay: Lay) -> None:
    """Draw the plan on one page: the cloth at the left, what to do at the right."""
    cloth = lay.cloth
    assert isinstance(cloth, Leftover)
    left, right = _MARGIN_MM, WIDTH_MM - _MARGIN_MM
    top = write_head(surface, lay, left, right, HEIGHT_MM - _MARGIN_MM) - 4.0
    low, high = cloth.ring_mm.min(axis=0), cloth.ring_mm.max(axis=0)
    room = np.array([right - left - _COLUMN_MM - 16.0, top - _MARGIN_MM - 16.0])
    size = high - low
    scale = next((s for s in _SCALES if (size / s <= room).all()), _SCALES[-1])
    corner = np.array([left + 8.0, top - 8.0 - size[1] / scale])

    def move(points: Floats) -> Floats:
        moved: Floats = (np.asarray(points, dtype=np.float64) - low) / scale + corner
        return moved

    distances = tuple(way for way in measure_distances(lay) if way.length_mm > 0.5)
    _draw_cloth(surface, cloth, move)
    for one in lay.placed:
        draw_lay_piece(surface, one, move)
    for number, distance in enumerate(distances):
        _draw_distance(surface, distance, move, number)
    x, y = corner
    draw_ruler(surface, (x, y - (3.0 if cloth.hem_mm is None else 6.5)), size[0], scale, is_above=False)
    draw_ruler(surface, (x, y + size[1] / scale + 2.0), size[0], scale, is_above=True)
    beside = x + size[0] / scale + 12.0
    _draw_cloth_grain(surface, cloth, (beside + 4.0, top - 14.0))
    _write_column(surface, lay, distances, scale, beside, right, top)


def _draw_cloth(surface: Surface, cloth: Leftover, move: Move) -> None:
    with surface.group("cloth edge", _CLOTH):
        surface.ring(move(cloth.ring_mm))
    for hole in cloth.holes_mm:
        ring = move(hole)
        with surface.group("hole", _HOLE):
            for stroke in hatch(ring, 1.6):
                surface.polyline(stroke)
            surface.ring(ring)
    if cloth.hem_mm is not None:
        with surface.group("the cloth's own hem", _HEM):
            surface.polyline(move(cloth.hem_mm))
        x, y = move(cloth.hem_mm).mean(axis=0)
        surface.text(
            "the shirt’s own hem",
            (float(x), float(y) - 1.2 - _SMALL_MM),
            Lettering(_SMALL_MM, True, 0.0, Anchor.MIDDLE),
        )


def _draw_cloth_grain(surface: Surface, cloth: Leftover, at: tuple[float, float]) -> None:
    a = np.radians(cloth.grain_deg)
    half = 8.0 * np.array([np.cos(a), np.sin(a)])
    with surface.group("grain of the cloth", _GRAIN):
        draw_straight_arrow(surface, [at - half, at + half])
    surface.text("grain of the cloth", (at[0] + 12.0, at[1] - 1.0), Lettering(_SMALL_MM))


def _draw_distance(surface: Surface, distance: Distance, move: Move, number: int) -> None:
    start, end = move(np.array([distance.start_mm, distance.end_mm]))
    way = unit(end - start)
    with surface.group("distance", _TAPE):
        surface.polyline([start, end])
        for tip, back in ((start, -way), (end, way)):
            if np.hypot(*(end - start)) > 5.0:
                draw_filled_head(surface, tip, back, 0.3)
    words = letter(number)
    place = end + way * 2.4
    half = np.array([measure_words_mm(words, _SMALL_MM, True), _SMALL_MM * CAP_SHARE]) / 2 + 0.4
    with surface.group("plate", _WHITE):
        surface.ring(place + half * [(-1, -1), (1, -1), (1, 1), (-1, 1)], is_filled=True)
    at = (float(place[0]), float(place[1]) - _SMALL_MM * CAP_SHARE / 2)
    surface.text(words, at, Lettering(_SMALL_MM, True, anchor=Anchor.MIDDLE))


def letter(number: int) -> str:
    """Return a, b, ... z, aa, ab, ...

    >>> letter(0), letter(25), letter(26)
    ('a', 'z', 'aa')
    """
    return (letter(number // 26 - 1) if number >= 26 else "") + chr(ord("a") + number % 26)


def _write_column(
    surface: Surface, lay: Lay, distances: tuple[Distance, ...], scale: float, left: float, right: float, top: float
) -> None:
    y = top - 26.0
    lines: list[tuple[str, bool]] = [(words, False) for words in list_lines(lay, right - left)]
    lines.append(("", False))
    if distances:
        head = "From the piece straight to the cloth’s edge:"
        lines += [(row, True) for row in break_words(head, right - left, _TEXT_MM, True)]
    for number, distance in enumerate(distances):
        label = lay.placed[distance.piece].item.part.label
        far = f"{write_cm(distance.length_mm)} ({write_inch(distance.length_mm)})"
        for n, row in enumerate(break_words(f"{letter(number)}  {label}: {far}", right - left, _TEXT_MM)):
            lines.append((("   " if n else "") + row, False))
    note = f"Drawn 1 : {scale:g}. The arrow lies on the grain, its head at the top. Hatched: the pattern turned over."
    lines += [("", False), *((row, False) for row in break_words(note, right - left, _TEXT_MM))]
    for words, is_bold in lines:
        y -= _TEXT_MM * LINE_SHARE
        if y < 5.0:
            break
        surface.text(words, (left, y), Lettering(_TEXT_MM, is_bold))
