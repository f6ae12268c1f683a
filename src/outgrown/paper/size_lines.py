"""Size lines: cut lines of other sizes nested in a piece, told apart by groups of bars across them.

Bars can be counted in black and white, on a copy and by any eye; the largest size has none.
"""

from collections.abc import Sequence
from contextlib import nullcontext

import numpy as np

from ..arrays import Floats
from ..pieces.nesting import CUT_LINE_WORDS
from ..pieces.piece import InnerLine, Pattern, Piece
from .surface import Pen, Surface

SIZE_LINE = Pen(0.5)
_EVERY_MM = 45.0
_BAR_MM = 1.7
_APART_MM = 1.8


def size_lines(piece: Piece) -> list[InnerLine]:
    """Return the cut lines of other sizes nested in the piece, largest first."""
    return [line for line in piece.inner_lines if line.name.startswith(CUT_LINE_WORDS)]


def layer_name(size: str) -> str:
    """Return the name of the group that holds what belongs to one size alone."""
    return f"size: {size}"


def layer_names(pattern: Pattern) -> tuple[str, ...]:
    """Return the groups of all sizes nested in the pattern, largest first; empty where there is only one."""
    return tuple(map(layer_name, pattern.choices.get("nested") or ()))


def layers_of(line: str, sizes: Sequence[str]) -> tuple[str, ...]:
    """Return the group of the size that a line's name ends in, or nothing where it is everyone's.

    >>> layers_of("turn hem up here, 110 cm", ["110 cm", "104 cm"]), layers_of("side, no seam", ["110 cm"])
    (('size: 110 cm',), ())
    """
    size = size_of(line, sizes)
    return (layer_name(size),) if size else ()


def size_of(line: str, sizes: Sequence[str]) -> str:
    """Return the size that a line's name ends in, or nothing.

    >>> size_of("turn hem up here, 110 cm", ["110 cm", "104 cm"]), size_of("side, no seam", ["110 cm"])
    ('110 cm', '')
    """
    return max((size for size in sizes if line.endswith(f", {size}")), key=len, default="")


def draw_size_lines(surface: Surface, piece: Piece, sizes: Sequence[str] = (), scale: float = 1.0) -> None:
    """Draw them, each with one bar more than the last, and in the group of its size where `sizes` are given.

    Bars are `scale` times as long and as far apart as on paper.
    """
    for count, line in enumerate(size_lines(piece), start=1):
        layer = layers_of(line.name, sizes)
        with surface.group(layer[0]) if layer else nullcontext(), surface.group(line.name, SIZE_LINE):
            surface.polyline(line.points_mm)
            for bar in _bars(np.asarray(line.points_mm), count, scale):
                surface.polyline(bar)


def _bars(line: Floats, count: int, scale: float) -> list[Floats]:
    """Return the bars: `count` of them close together, again and again along the line."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    # Each size begins elsewhere, so that bars of neighbouring lines do not meet.
    middles = np.arange(12.0 + 9.0 * count, along[-1] - 8.0, _EVERY_MM * scale)
    bars = []
    for middle in middles:
        for number in range(count):
            at = middle + (number - 0.5 * (count - 1)) * _APART_MM * scale
            before, here, after = (
                np.array([np.interp(at + d, along, line[:, 0]), np.interp(at + d, along, line[:, 1])])
                for d in (-0.5, 0.0, 0.5)
            )
            way = after - before
            across = np.array([-way[1], way[0]]) / max(float(np.hypot(*way)), 1e-9) * _BAR_MM * scale
            bars.append(np.array([here - across, here + across]))
    return bars
