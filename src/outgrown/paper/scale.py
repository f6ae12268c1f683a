"""Scale: squares and bars to measure after printing."""

import numpy as np

from ..standards import INCH_MM
from . import styles
from .surface import Anchor, Lettering, Surface

BAR_LENGTH_MM = 4 * INCH_MM.value
"""Length of a bar [mm]: 4 in, a little more than its 100 mm side."""


def draw_square(surface: Surface, low_mm: tuple[float, float], side_mm: float, name: str) -> None:
    """Draw a square to measure, its size written inside.

    Args:
        surface: to draw on.
        low_mm: its lower left corner [mm].
        side_mm: its side [mm].
        name: the side in words, e.g. `50 mm`.
    """
    x, y = low_mm
    with surface.group(f"test square {name}", styles.SCALE):
        surface.ring([(x, y), (x + side_mm, y), (x + side_mm, y + side_mm), (x, y + side_mm)])
        middle = Anchor.MIDDLE
        surface.text(name, (x + side_mm / 2, y + side_mm / 2 + 1), Lettering(6.0, is_bold=True, anchor=middle))
        surface.text("each side", (x + side_mm / 2, y + side_mm / 2 - 5.5), Lettering(3.6, anchor=middle))


def draw_scale_bar(
    surface: Surface, at_mm: tuple[float, float], is_upright: bool = False, size_mm: float = 2.6
) -> None:
    """Draw a bar of 100 mm on one side and 4 in on the other.

    Args:
        surface: to draw on.
        at_mm: where its noughts are, on its middle line [mm].
        is_upright: along y, centimetres on the left; else along x, centimetres above.
        size_mm: size of its figures [mm].
    """
    origin = np.asarray(at_mm, dtype=np.float64)
    along = np.array([0.0, 1.0]) if is_upright else np.array([1.0, 0.0])
    across = np.array([-1.0, 0.0]) if is_upright else np.array([0.0, 1.0])
    lettering = Lettering(size_mm, rotation_deg=90.0 if is_upright else 0.0, anchor=Anchor.MIDDLE)

    def figure(words: str, length: float, side: float) -> None:
        x, y = origin + along * length + across * side
        surface.text(words, (float(x), float(y)), lettering)

    with surface.group("scale bar", styles.SCALE):
        surface.polyline([origin, origin + along * BAR_LENGTH_MM])
        for half_cm in range(21):
            tick = 2.0 if half_cm % 2 == 0 else 1.2
            foot = origin + along * half_cm * 5
            surface.polyline([foot, foot + across * tick])
        for half_inch in range(9):
            tick = 2.0 if half_inch % 2 == 0 else 1.2
            foot = origin + along * half_inch * INCH_MM.value / 2
            surface.polyline([foot, foot - across * tick])
        for cm in range(0, 10, 2):
            figure(str(cm), cm * 10, 2.5)
        figure("10 cm", 100 - 2.2 * size_mm / 2.6, 2.5)
        below = -2.6 - 0.74 * size_mm
        for inch in range(4):
            figure(str(inch), inch * INCH_MM.value, below)
        figure("4 in", BAR_LENGTH_MM - 1.4 * size_mm / 2.6, below)
