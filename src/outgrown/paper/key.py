"""Key: what each line of the drawing means, in a small table."""

import numpy as np

from . import styles
from .arrows import draw_straight_arrow, draw_wavy_arrow
from .surface import Lettering, Pen, Surface

_SIZE_MM = 3.2
_SAMPLE_MM = 17.0
_ROW_MM = 5.2


def draw_key(surface: Surface, top_left_mm: tuple[float, float], width_mm: float) -> float:
    """Draw the key in two columns and return its height [mm]."""
    left, top = top_left_mm
    lines: list[tuple[str, Pen, str]] = [
        ("cut here", styles.CUT, "line"),
        ("sew here", styles.SEAM, "line"),
        ("edge on the fold", styles.FOLD, "line"),
        ("turn or fold here", styles.INNER, "line"),
        ("grainline", styles.GRAIN, "straight"),
        ("greatest stretch", styles.STRETCH, "wavy"),
        ("notch (double: back)", styles.NOTCH, "notch"),
        ("the cloth’s own edge", styles.FINISHED_EDGE, "line"),
    ]
    with surface.group("key"):
        for number, (words, pen, form) in enumerate(lines):
            column, row = divmod(number, len(lines) // 2)
            x = left + column * width_mm / 2
            y = top - row * _ROW_MM
            ends = np.array([(x, y), (x + _SAMPLE_MM, y)])
            with surface.group(words, pen):
                if form == "straight":
                    draw_straight_arrow(surface, ends)
                elif form == "wavy":
                    draw_wavy_arrow(surface, ends)
                elif form == "notch":
                    for at in (x + 4, x + 10.5, x + 15):
                        surface.ring([(at - 1.6, y + 1.6), (at + 1.6, y + 1.6), (at, y - 1.6)], is_filled=True)
                    surface.polyline([(x, y + 1.6), (x + _SAMPLE_MM, y + 1.6)])
                else:
                    surface.polyline(ends)
            surface.text(words, (x + _SAMPLE_MM + 3, y - 0.36 * _SIZE_MM), Lettering(_SIZE_MM))
    return _ROW_MM * len(lines) / 2
