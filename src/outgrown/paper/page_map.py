"""Page map: the sheet small, with the tiles that were printed and their names."""

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from ..geometry.polylines import thin_line
from ..geometry.room import find_meeting, meets_box
from . import styles
from .lettering import CAP_SHARE, measure_words_mm
from .recording import RecordingSurface
from .surface import Anchor, Lettering, Surface
from .tiles import Tile, Tiling

_PLACES = np.linspace(-0.9, 0.9, 13)
"""Tried from the middle of a tile outwards, as shares of the way to its edge."""


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
                    # As large as a thumb: what is thinner than its line is left out.
                    target.ring(thin_line(small(piece.cut_ring_mm), 0.02))
            with target.group("map pages", styles.MAP_TILE):
                for tile in tiling.tiles:
                    (x0, y0), (x1, y1) = small(_shown_mm(tiling, tile))
                    target.ring([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    segments = drawn.segments_mm()
    for tile in tiling.tiles:
        (x0, y0), (x1, y1) = small(_shown_mm(tiling, tile))
        at, size = _place_name(segments, (x0, y0, x1, y1), tile.name)
        for target in (drawn, surface):
            with target.group("page map"):
                target.text(tile.name, at, Lettering(size, True, anchor=Anchor.MIDDLE))
    return drawn


def _shown_mm(tiling: Tiling, tile: Tile) -> Floats:
    """Return the corners of what is seen of a tile when all are joined [mm]."""
    (x0, y0), (x1, y1) = tile.low_mm, tile.high_mm
    for join in tiling.joins:
        if join.below == tile and join.is_upright:
            x1 -= tiling.page.overlap_mm
        elif join.below == tile:
            y0 += tiling.page.overlap_mm
    return np.array([(x0, y0), (x1, y1)])


def _place_name(
    segments: Floats, box: tuple[float, float, float, float], name: str
) -> tuple[tuple[float, float], float]:
    """Return where in a tile its name touches no line, as near the middle as can be, and its size [mm]."""
    x0, y0, x1, y1 = box
    middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
    segments = segments[find_meeting(segments, middle, x1 - x0, y1 - y0)]
    full = min(5.0, (y1 - y0) * 0.4, 5.0 * (x1 - x0) * 0.7 / measure_words_mm(name, 5.0, True))
    drop = np.array([0.0, full * CAP_SHARE / 2])
    for size in (full, full * 0.8, full * 0.6, full * 0.45):
        width, height = measure_words_mm(name, size, True), size * CAP_SHARE
        drop = np.array([0.0, height / 2])
        reach = np.array([(x1 - x0 - width) / 2, (y1 - y0 - height) / 2])
        shares = np.array([(x, y) for x in _PLACES for y in _PLACES])
        for move in sorted((shares * reach).tolist(), key=lambda m: (round(m[0] ** 2 + m[1] ** 2, 6), m)):
            if not meets_box(segments, middle + move, width + 0.8, height + 0.8):
                x, y = middle + move - drop
                return (float(x), float(y)), size
    x, y = middle - drop
    return (float(x), float(y)), full
