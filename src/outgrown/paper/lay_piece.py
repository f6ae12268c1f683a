"""A piece on the plan of a lay: its cut line, what it is, and which way its grain and its top lie."""

import numpy as np

from ..arrays import Floats
from ..geometry.moves import turn
from ..geometry.room import RoomFinder
from ..lay.marks import Move, grain_arrow, hatch, opened_middle
from ..lay.placing import Placed
from .arrows import draw_filled_head, left_of, unit
from .lay_words import describe_placed
from .lettering import CAP_SHARE, LINE_SHARE, measure_words_mm
from .surface import Anchor, Lettering, Pen, Surface

CUT = Pen(0.55)
HATCH = Pen(0.12, grey=0.55)
GRAIN = Pen(0.35)
MIDDLE = Pen(0.2, (1.6, 1.2), grey=0.3)
_PLATE = Pen(0.1, grey=1.0)
_HATCH_MM = 3.2
_SIZES_MM = (4.6, 3.8, 3.2, 2.7, 2.2, 1.8)


def draw_lay_piece(surface: Surface, one: Placed, move: Move) -> None:
    """Draw a placed piece; `move` carries the cloth's millimetres to the page's.

    Mirror images are hatched, so that they are told apart without colour.
    """
    ring = move(one.ring_mm)
    words = describe_placed(one)
    is_hatched = "mirrored" in words
    lines: list[Floats] = []
    with surface.group(one.item.part.label):
        if is_hatched:
            with surface.group("mirrored", HATCH):
                for stroke in hatch(ring, _HATCH_MM):
                    surface.polyline(stroke)
        with surface.group("cut", CUT):
            surface.ring(ring)
        middle = opened_middle(one)
        if middle is not None:
            lines.append(move(middle))
            with surface.group("opened along its fold", MIDDLE):
                surface.polyline(lines[-1])
        arrow = grain_arrow(one, move, 1.2)
        if arrow is not None:
            lines.append(arrow)
            with surface.group("grain", GRAIN):
                _draw_arrow(surface, arrow)
        _write(surface, ring, lines, one, words, is_hatched)


def _draw_arrow(surface: Surface, arrow: Floats) -> None:
    surface.polyline(arrow)
    draw_filled_head(surface, arrow[1], arrow[1] - arrow[0], 0.45)
    across = left_of(unit(arrow[1] - arrow[0]))
    surface.polyline([arrow[0] - across, arrow[0] + across])


def _readable_turns(turn_deg: float) -> list[float]:
    """Return the turns words are tried at: level, upright, along the piece and across it; never upside down."""
    own = (turn_deg + 45.0) % 90.0 - 45.0
    return [0.0, 90.0] if abs(own) < 1.0 else [0.0, 90.0, own, own + 90.0 if own < 0.0 else own - 90.0]


def _write(surface: Surface, ring: Floats, lines: list[Floats], one: Placed, words: str, has_plate: bool) -> None:
    """Write number, name and how it lies where there is room: upright where it is narrow, smaller where it is small."""
    number, name = str(one.item.part.number), one.item.part.name
    taken = np.array(lines, dtype=np.float64).reshape(-1, 2, 2)
    turns = _readable_turns(one.turn_deg)
    finders = [RoomFinder(turn(ring, -way), turn(taken, -way)) for way in turns]
    for texts in ([f"{number} {name}", *([words] if words else [])], [f"{number} {name}"], [number]):
        for size in _SIZES_MM:
            wide = max(measure_words_mm(text, size, n == 0) for n, text in enumerate(texts))
            high = size * (CAP_SHARE + LINE_SHARE * (len(texts) - 1))
            for way, finder in zip(turns, finders, strict=True):
                place = finder.find(wide, high, 1.0)
                if place is None:
                    continue
                if has_plate:
                    half = np.array([wide / 2 + 0.7, high / 2 + 0.7])
                    with surface.group("plate", _PLATE):
                        box = place + half * [(-1, -1), (1, -1), (1, 1), (-1, 1)]
                        surface.ring(turn(box, way), is_filled=True)
                for n, text in enumerate(texts):
                    base = np.array([[place[0], place[1] + high / 2 - size * (CAP_SHARE + LINE_SHARE * n)]])
                    x, y = turn(base, way)[0]
                    surface.text(text, (float(x), float(y)), Lettering(size, n == 0, way, Anchor.MIDDLE))
                return
