"""Page map: the sheet small, with the tiles that were printed and their names."""

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from . import styles
from .lettering import measure_words_mm
from .recording import RecordingSurface
from .surface import Anchor, Lettering, Surface
from .tiles import Tiling


def draw_map(
    surface: Surface, tiling: Tiling, low_mm: tuple[float, float], high_mm: tuple[float, float]
) -> RecordingSurface:
    """Draw the map as large as fits between two corners, against the upper edge, and return what was drawn."""
    lows = np.array([tile.low_mm for tile in tiling.tiles])
    highs = np.array([tile.high_mm for tile in tiling.tiles])
    low, high = lows.min(axis=0), highs.max(axis=0)
    room = np.asarray(high_mm) - np.asarray(low_mm)
    scale = float((room / (high - low)).min())
    corner = np.array([low_mm[0], high_mm[1] - (high - low)[1] * scale])

    def small(points: ArrayLike) -> Floats:
        moved: Floats = (np.asarray(points, dtype=np.float64) - low) * scale + corner
        return moved

    drawn = RecordingSurface()
    for target in (drawn, surface):
        with target.group("page map"):
            with target.group("map pieces", styles.MAP_PIECE):
                for piece in tiling.sheet.pieces:
                    target.ring(small(piece.cut_ring_mm))
            with target.group("map pages", styles.MAP_TILE):
                for tile in tiling.tiles:
                    (x0, y0), (x1, y1) = small([tile.low_mm, tile.high_mm])
                    target.ring([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
            step = np.array(tiling.page.step_mm) * scale
            for tile in tiling.tiles:
                size = min(5.0, step[1] * 0.5, 5.0 * step[0] * 0.8 / measure_words_mm(tile.name, 5.0, True))
                x, y = (
                    small(tile.low_mm)
                    + np.array([step[0], 2 * np.array(tiling.page.window_mm)[1] * scale - step[1]]) / 2
                )
                target.text(tile.name, (float(x), float(y - 0.365 * size)), Lettering(size, True, anchor=Anchor.MIDDLE))
    return drawn
