"""Sketches: small drawings for the sewing steps, 46 x 30 mm, of lines only.

The cloth's right side is white and its wrong side hatched; stitches are short thick dashes; folds are seen from the
end where that says more.
"""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from ..pieces.sewing import Sketch
from .arrows import draw_filled_head
from .surface import Anchor, Lettering, Pen, Surface

WIDTH_MM = 46.0
HEIGHT_MM = 30.0
_CLOTH = Pen(0.45)
_THICK = Pen(0.9)
_THIN = Pen(0.2, grey=0.3)
_STITCH = Pen(0.6, (1.5, 1.1))
_FOLD = Pen(0.3, (2.2, 0.9, 0.6, 0.9))
_BAND = Pen(1.7, grey=0.55)
_WORDS_MM = 2.5


def draw_sketch(surface: Surface, sketch: Sketch, low_left_mm: tuple[float, float], scale: float = 1.0) -> None:
    """Draw a sketch in its box, whose lower left corner is given [mm], at a share of its full size."""
    with surface.group(f"sketch: {sketch.value}"):
        _DRAWERS[sketch](_Pad(surface, low_left_mm, scale))


class _Pad:
    """A small place to draw on."""

    def __init__(self, surface: Surface, at_mm: tuple[float, float], scale: float) -> None:
        self._surface = surface
        self._origin = np.asarray(at_mm, dtype=np.float64)
        self._scale = scale

    def _at(self, points: ArrayLike) -> Floats:
        placed: Floats = np.asarray(points, dtype=np.float64) * self._scale + self._origin
        return placed

    def line(self, points: ArrayLike, pen: Pen = _CLOTH) -> None:
        with self._surface.group("line", pen):
            self._surface.polyline(self._at(points))

    def ring(self, points: ArrayLike, pen: Pen = _CLOTH) -> None:
        with self._surface.group("ring", pen):
            self._surface.ring(self._at(points))

    def bend(self, *points: tuple[float, float], pen: Pen = _CLOTH) -> Floats:
        """Draw a curve through control points and return it."""
        a, b, c, d = (np.asarray(p, dtype=np.float64) for p in points)
        t = np.linspace(0.0, 1.0, 25)[:, None]
        line = (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d
        self.line(line, pen)
        return np.asarray(line)

    def hatch(self, ring: Sequence[tuple[float, float]], every: float = 1.6) -> None:
        """Hatch a convex ring: the wrong side of the cloth."""
        corners = np.asarray(ring, dtype=np.float64)
        sums = corners.sum(axis=1)
        for level in np.arange(sums.min() + 0.6 * every, sums.max(), every):
            ends = []
            for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
                one, other = a.sum() - level, b.sum() - level
                if (one <= 0) != (other <= 0):
                    ends.append(a + (b - a) * one / (one - other))
            if len(ends) == 2:
                self.line(ends, _THIN)

    def arrow(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        self.line([start, end], _THIN)
        with self._surface.group("head", Pen(0.2, grey=0.2)):
            draw_filled_head(self._surface, self._at(end), np.subtract(end, start), 0.4 * self._scale)

    def words(self, words: str, at: tuple[float, float], anchor: Anchor = Anchor.START) -> None:
        x, y = self._at(at)
        size = _WORDS_MM * max(self._scale, 0.9)
        self._surface.text(words, (float(x), float(y)), Lettering(size, anchor=anchor, grey=0.1))


_LEG = [(0.0, 26.0), (9.0, 26.0), (10.0, 21.0), (13.0, 17.5), (11.0, 9.0), (8.5, 0.0), (0.0, 0.0)]


def _leg_at(x: float, mirrored: bool = False) -> Floats:
    leg = np.array(_LEG)
    leg[:, 0] *= -1.0 if mirrored else 1.0
    return np.asarray(leg + np.array([x, 2.0]))


def _cut(pad: _Pad) -> None:
    # Both selvedges folded to the middle: a fold on either side.
    pad.line([(3, 1), (43, 1)], Pen(0.3))
    pad.line([(3, 29), (43, 29)], Pen(0.3))
    pad.line([(23, 1), (23, 29)], _THIN)
    for x, mirrored in ((3.0, False), (43.0, True)):
        pad.line([(x, 1), (x, 29)], _FOLD)
        pad.ring(_leg_at(x, mirrored))
        middle = x + (-4.2 if mirrored else 4.2)
        pad.arrow((middle, 7.0), (middle, 22.0))
        pad.arrow((middle, 22.0), (middle, 7.0))
    pad.words("fold", (18.5, 12.0))
    pad.arrow((18.0, 12.8), (4.0, 12.8))
    pad.arrow((24.5, 12.8), (42.0, 12.8))


def _cut_open(pad: _Pad) -> None:
    pad.ring([(3, 1), (43, 1), (43, 29), (3, 29)], Pen(0.3))
    for x, flip in ((12.5, 1.0), (33.5, -1.0)):
        right, left = _leg_at(0.0), _leg_at(0.0, mirrored=True)
        left[:, 0] *= 0.8
        whole = np.vstack([right[1:-1], left[1:-1][::-1]]) * (0.72 * flip, 0.82)
        pad.ring(whole + np.array([x, 1.2]))
        pad.arrow((x, 6.0), (x, 19.0))
        pad.arrow((x, 19.0), (x, 6.0))
    pad.words("mirrored", (23.0, 25.4), Anchor.MIDDLE)


def _half_leg(pad: _Pad, x: float, stitched: bool, side: bool) -> None:
    ring = np.array(_LEG) * (1.15, 1.0) + (x, 2.0)
    pad.ring(ring)
    pad.hatch([tuple(p) for p in ring[[0, 1, 2, 3, 4, 5, 6]]], 1.9)
    if stitched:
        pad.line(ring[[3, 4, 5]] - (1.3, 0.0), _STITCH)
    if side:
        pad.line(ring[[0, 6]] + (1.3, 0.0), _STITCH)


def _side(pad: _Pad) -> None:
    _half_leg(pad, 14.0, stitched=False, side=True)
    pad.arrow((6.0, 5.0), (6.0, 25.0))
    pad.words("side", (5.2, 14.0), Anchor.END)


def _inseam(pad: _Pad) -> None:
    _half_leg(pad, 6.0, stitched=True, side=False)
    pad.words("wrong side out", (23.5, 24.0))
    pad.arrow((24.0, 4.0), (26.0, 17.0))
    pad.words("inseam", (27.0, 9.5))


def _rise(pad: _Pad) -> None:
    # Looking at the two tubes, one in the other, spread open at the rise.
    left = pad.bend((8.0, 28.0), (9.0, 12.0), (15.0, 8.0), (23.0, 8.0))
    right = pad.bend((23.0, 8.0), (31.0, 8.0), (37.0, 12.0), (38.0, 28.0))
    pad.line([(8.0, 28.0), (38.0, 28.0)], Pen(0.3))
    curve = np.vstack([left, right[1:]])
    inner = np.column_stack([23.0 + (curve[:, 0] - 23.0) * 0.88, 28.0 + (curve[:, 1] - 28.0) * 0.92])
    pad.line(inner, _STITCH)
    pad.line([(23.0, 8.0), (23.0, 1.5)], _CLOTH)
    pad.line([(20.5, 8.2), (18.5, 1.5)], Pen(0.3))
    pad.line([(25.5, 8.2), (27.5, 1.5)], Pen(0.3))
    pad.words("front", (12.5, 24.5))
    pad.words("back", (33.5, 24.5), Anchor.END)
    pad.words("inseams meet", (29.5, 3.5))
    pad.arrow((29.0, 4.3), (24.2, 7.2))


def _elastic_ring(pad: _Pad) -> None:
    t = np.linspace(0.0, 2.0 * np.pi, 61)
    pad.line(np.column_stack([23.0 + 17.0 * np.cos(t), 17.0 + 6.5 * np.sin(t)]))
    front = t[30:]
    pad.line(np.column_stack([23.0 + 17.0 * np.cos(front), 13.0 + 6.5 * np.sin(front)]))
    for x in (6.0, 40.0):
        pad.line([(x, 17.0), (x, 13.0)])
    pad.ring([(19.5, 6.4), (26.5, 6.4), (26.5, 10.6), (19.5, 10.6)], Pen(0.3))
    pad.line([(20.3, 7.0), (25.7, 7.0), (25.7, 10.0), (20.3, 10.0), (20.3, 7.0), (25.7, 10.0)], _STITCH)
    pad.words("lapped and sewn", (23.0, 1.8), Anchor.MIDDLE)


def _from_the_end(pad: _Pad) -> None:
    pad.words("seen from the end", (45.5, 0.3), Anchor.END)


def _stitch_through(pad: _Pad, x: float, y: float, layers: float = 3.0, upright: bool = False) -> None:
    """Draw a stitch seen from the end: a bar through the layers with a head at both sides."""
    if upright:
        pad.line([(x - 0.6, y), (x + layers, y)], _THICK)
    else:
        pad.line([(x, y), (x, y + layers)], _THICK)


def _casing(pad: _Pad) -> None:
    # The cloth hangs down on the right, turned over the top to the inside on the left.
    pad.line([(26.0, 2.0), (26.0, 24.0)], _CLOTH)
    pad.bend((26.0, 24.0), (26.0, 28.0), (20.0, 28.0), (20.0, 24.0))
    pad.line([(20.0, 24.0), (20.0, 12.0), (24.8, 10.0), (24.8, 7.5)], _CLOTH)
    pad.line([(23.0, 13.5), (23.0, 24.0)], _BAND)
    _stitch_through(pad, 24.2, 9.0, 2.6, upright=True)
    pad.words("inside", (17.5, 4.0), Anchor.END)
    pad.words("outside", (29.0, 4.0))
    pad.words("elastic", (14.0, 18.5), Anchor.END)
    pad.arrow((14.5, 19.2), (22.0, 19.2))
    pad.words("stitches", (33.0, 11.5))
    pad.arrow((32.5, 11.8), (27.4, 9.4))
    _from_the_end(pad)


def _elastic_on(pad: _Pad) -> None:
    pad.line([(12.0, 3.0), (12.0, 27.0)], _CLOTH)
    pad.line([(9.8, 16.0), (9.8, 26.6)], _BAND)
    _stitch_through(pad, 8.4, 25.0, 4.4, upright=True)
    pad.words("1", (4.0, 24.0))
    pad.arrow((16.0, 17.0), (24.0, 17.0))
    pad.line([(35.0, 3.0), (35.0, 24.0)], _CLOTH)
    pad.bend((35.0, 24.0), (35.0, 27.5), (30.0, 27.5), (30.0, 24.0))
    pad.line([(30.0, 24.0), (30.0, 13.5)], _CLOTH)
    pad.line([(32.4, 17.0), (32.4, 24.0)], _BAND)
    _stitch_through(pad, 29.2, 15.0, 6.6, upright=True)
    pad.words("2", (39.0, 24.0))
    _from_the_end(pad)


def _band(pad: _Pad, above: str = "band", below: str = "leg") -> None:
    pad.ring([(6.0, 17.0), (40.0, 17.0), (40.0, 27.0), (6.0, 27.0)])
    pad.line([(6.0, 27.0), (40.0, 27.0)], _THICK)
    pad.line([(6.0, 18.6), (40.0, 18.6)], _STITCH)
    pad.line([(2.5, 17.0), (43.5, 17.0)])
    pad.line([(2.5, 17.0), (2.5, 4.0)])
    pad.line([(43.5, 17.0), (43.5, 4.0)])
    for x in (6.0, 17.3, 28.7, 40.0):
        pad.line([(x, 15.4), (x, 17.0)], Pen(0.5))
    pad.words(f"{above}, fold up", (23.0, 22.0), Anchor.MIDDLE)
    pad.words(f"{below}, quarters marked", (23.0, 10.5), Anchor.MIDDLE)
    pad.arrow((12.0, 7.0), (4.5, 7.0))
    pad.arrow((34.0, 7.0), (41.5, 7.0))
    pad.words("stretch", (23.0, 6.2), Anchor.MIDDLE)


def _cuff(pad: _Pad) -> None:
    # A leg's end with the cuff below it, folded, raw edges up at the seam.
    pad.line([(13.0, 28.0), (15.0, 16.0), (31.0, 16.0), (33.0, 28.0)])
    pad.ring([(16.5, 5.0), (29.5, 5.0), (30.5, 16.0), (15.5, 16.0)])
    pad.line([(16.5, 5.0), (29.5, 5.0)], _THICK)
    pad.line([(15.6, 14.4), (30.4, 14.4)], _STITCH)
    for x in np.arange(18.0, 29.5, 1.7):
        pad.line([(x, 6.0), (x, 13.5)], _THIN)
    pad.words("leg", (23.0, 21.5), Anchor.MIDDLE)
    pad.words("cuff", (34.0, 9.5))
    pad.words("fold", (34.0, 4.2))
    pad.arrow((33.5, 5.0), (30.2, 5.0))


def _hem(pad: _Pad) -> None:
    pad.line([(26.0, 28.0), (26.0, 7.0)])
    pad.bend((26.0, 7.0), (26.0, 3.5), (21.5, 3.5), (21.5, 7.0))
    pad.line([(21.5, 7.0), (21.5, 18.0)])
    _stitch_through(pad, 20.6, 16.6, 6.2, upright=True)
    pad.words("inside", (18.0, 24.0), Anchor.END)
    pad.words("outside", (29.0, 24.0))
    pad.words("raw edge", (29.5, 12.5))
    pad.arrow((29.0, 13.3), (22.4, 17.8))
    _from_the_end(pad)


def _mock_cuff(pad: _Pad) -> None:
    # Seen from the end, inside on the left: turned in once (1), then back over the outside (2).
    pad.line([(10.0, 28.0), (10.0, 6.0)])
    pad.bend((10.0, 6.0), (10.0, 3.5), (6.5, 3.5), (6.5, 6.0))
    pad.line([(6.5, 6.0), (6.5, 15.0)])
    pad.words("1", (2.0, 24.0))
    pad.arrow((13.0, 13.0), (19.0, 13.0))
    # 2: the leg comes down inside, folds at the foot, and the turned part lies outside of it, raw edge down.
    pad.line([(26.0, 28.0), (26.0, 8.0)])
    pad.bend((26.0, 8.0), (26.0, 5.4), (29.0, 5.4), (29.0, 8.0))
    pad.line([(29.0, 8.0), (29.0, 15.0)])
    pad.bend((29.0, 15.0), (29.0, 17.4), (32.0, 17.4), (32.0, 15.0))
    pad.line([(32.0, 15.0), (32.0, 6.0)])
    _stitch_through(pad, 25.0, 8.6, 8.0, upright=True)
    pad.words("2", (22.0, 24.0))
    pad.words("cuff", (35.0, 14.5))
    pad.words("sew here", (35.0, 8.0))
    _from_the_end(pad)


def _press(pad: _Pad) -> None:
    left = [(9.0, 28.0), (23.0, 28.0), (23.0, 17.0), (20.5, 2.0), (13.0, 2.0)]
    pad.ring(left)
    right = [(46.0 - x, y) for x, y in left]
    pad.ring(right)
    pad.line([(9.2, 26.0), (36.8, 26.0)], _STITCH)
    for foot in ((13.3, 4.0, 20.7), (25.3, 4.0, 32.7)):
        pad.line([(foot[0], foot[1]), (foot[2], foot[1])], _STITCH)


_DRAWERS: dict[Sketch, Callable[[_Pad], None]] = {
    Sketch.CUT: _cut,
    Sketch.CUT_OPEN: _cut_open,
    Sketch.SIDE: _side,
    Sketch.INSEAM: _inseam,
    Sketch.RISE: _rise,
    Sketch.ELASTIC_RING: _elastic_ring,
    Sketch.CASING: _casing,
    Sketch.ELASTIC_ON: _elastic_on,
    Sketch.BAND: _band,
    Sketch.HEM: _hem,
    Sketch.MOCK_CUFF: _mock_cuff,
    Sketch.CUFF: _cuff,
    Sketch.PRESS: _press,
}
