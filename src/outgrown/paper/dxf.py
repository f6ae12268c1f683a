"""DXF: every piece as a block, its lines on the layers of the open standard for pattern exchange.

The layers' numbers and the form of the texts (`Piece Name: ...`) are those of ASTM D6673, from memory: nobody here has
read the standard. Entities are the old ones it was written for (POLYLINE, POINT, LINE, TEXT, INSERT); the file is DXF
of the year 2000, the first that says that its unit is the millimetre.
"""

import io
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from ..arrays import Floats
from ..errors import PieceError
from ..geometry.polylines import length_mm, points_at, thin_line
from ..geometry.room import find_room
from ..pieces.nesting import CUT_LINE_WORDS
from ..pieces.piece import Finish, Notch, Pattern, Piece
from ..standards import INCH_MM
from .cut_line import StretchKind, split_ring
from .dxf_library import ezdxf
from .sheet import arrange_pieces
from .words import capitalised, headline

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.layouts import BaseLayout, BlockLayout

_THIN_MM = 0.005
_TURN_DEG = 12.0
"""Sharper bends are corners; points of a curve bend by less."""
_TEXT_MM = 6.0
_LEADING = 1.6
_SLIT_MM = 5.0
_GAP_MM = 20.0


class Layer(StrEnum):
    """Layers by number; ASTM D6673, from memory."""

    BOUNDARY = "1"
    TURN_POINTS = "2"
    CURVE_POINTS = "3"
    NOTCHES = "4"
    MIRROR = "6"
    GRAIN = "7"
    INTERNAL = "8"
    SEW = "14"
    ANNOTATION = "15"


_MEANINGS = {
    Layer.BOUNDARY: "piece boundary",
    Layer.TURN_POINTS: "turn points",
    Layer.CURVE_POINTS: "curve points",
    Layer.NOTCHES: "notches",
    Layer.MIRROR: "mirror line",
    Layer.GRAIN: "grain line",
    Layer.INTERNAL: "internal lines",
    Layer.SEW: "sew lines",
    Layer.ANNOTATION: "annotation",
}


@dataclass(frozen=True, eq=False)
class _Cut:
    """One piece in one size; the largest has number 0."""

    piece: Piece
    size: str
    ring_mm: Floats
    mirror_mm: tuple[Floats, ...]
    number: int = 0

    @property
    def is_whole(self) -> bool:
        """Seam lines and notches are known: of nested sizes only the largest's."""
        return self.number == 0


def draw_dxf(pattern: Pattern) -> bytes:
    """Return the pattern as DXF, one unit being one millimetre.

    Raises:
        PieceError: there is no piece.
    """
    if not pattern.pieces:
        raise PieceError("This pattern has no piece to draw.", "Make it again from its photo.")
    with _fixed_dates():
        stream = io.StringIO()
        document = _make_document(pattern)
        document.write(stream)
        return document.encode(stream.getvalue())


@contextmanager
def _fixed_dates() -> Iterator[None]:
    """Let the library write no dates and no random numbers: the same pattern gives the same bytes."""
    was = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = was


def _make_document(pattern: Pattern) -> "Document":
    document = ezdxf.new("R2000", units=ezdxf.units.MM)
    document.header["$MEASUREMENT"] = 1
    for layer, meaning in _MEANINGS.items():
        document.layers.add(layer.value).description = meaning
    sheet = min(arrange_pieces(pattern.pieces), key=lambda s: s.width_mm * s.height_mm)
    space = document.modelspace()
    names: set[str] = set()
    for piece in sheet.pieces:
        at = piece.cut_ring_mm.min(axis=0)
        for cut in _cuts(pattern, piece):
            name = _block_name(f"{piece.name} {cut.size}" if len(_sizes(pattern)) > 1 else piece.name, names)
            _draw_cut(document.blocks.new(name), pattern, cut, at)
            space.add_blockref(name, at.tolist(), dxfattribs={"layer": Layer.BOUNDARY.value})
    _draw_surroundings(space, pattern, sheet.height_mm)
    return document


def _sizes(pattern: Pattern) -> list[str]:
    return list(pattern.choices.get("nested") or [pattern.for_whom])


def _cuts(pattern: Pattern, piece: Piece) -> list[_Cut]:
    """Return the piece in its sizes, the largest first."""
    own, *others = _sizes(pattern)
    folds = tuple(s.points_mm[[0, -1]] for s in split_ring(piece) if s.kind is StretchKind.FOLD and not s.is_closed)
    cuts = [_Cut(piece, own, np.asarray(piece.cut_ring_mm), folds)]
    lines = {line.name: np.asarray(line.points_mm) for line in piece.inner_lines}
    for number, size in enumerate(others, start=1):
        line = lines.get(f"{CUT_LINE_WORDS}{size}")
        if line is None:
            continue
        is_closed = bool(np.hypot(*(line[0] - line[-1])) < 1e-6)
        mirrors = () if is_closed else (line[[-1, 0]],)
        cuts.append(_Cut(piece, size, line[:-1] if is_closed else line, mirrors, number))
    return cuts


def _draw_cut(block: "BlockLayout", pattern: Pattern, cut: _Cut, at: Floats) -> None:
    piece, sizes = cut.piece, _sizes(pattern)
    _add_line(block, cut.ring_mm - at, Layer.BOUNDARY, is_closed=True)
    for mirror in cut.mirror_mm:
        _add_straight(block, mirror - at, Layer.MIRROR)
    _add_straight(block, piece.grainline_mm - at, Layer.GRAIN)
    _add_straight(block, piece.stretch_mm - at, Layer.INTERNAL)
    drawn = [cut.ring_mm, piece.grainline_mm, piece.stretch_mm]
    notes = [("greatest stretch", piece.stretch_mm.mean(axis=0))]
    for line in piece.inner_lines:
        of_others = any(line.name.endswith(f", {size}") for size in sizes if size != cut.size and size)
        if line.name.startswith(CUT_LINE_WORDS) or of_others:
            continue
        _add_line(block, line.points_mm - at, Layer.INTERNAL)
        drawn.append(line.points_mm)
        notes.append((line.name, _along(line.points_mm, 0.5)))
    if cut.is_whole:
        for edge in piece.edges:
            if edge.finish is not Finish.FOLD:
                _add_line(block, edge.points_mm - at, Layer.SEW)
                drawn.append(edge.points_mm)
                notes.append((f"{edge.name}: {edge.allowance_mm:g} mm", _along(edge.points_mm, 0.25)))
        for notch in piece.notches:
            _add_notch(block, notch, at)
    for words, place in notes:
        _add_text(block, words, place - at, Layer.ANNOTATION, 0.6 * _TEXT_MM)
    lines = _piece_words(pattern, cut)
    wide = 0.75 * _TEXT_MM * max(map(len, lines))
    high = _TEXT_MM * _LEADING * len(lines)
    segments = np.concatenate([np.stack([line[:-1], line[1:]], axis=1) for line in drawn])
    x, y = find_room(cut.ring_mm, segments, wide, high) or cut.ring_mm.mean(axis=0)
    y -= cut.number * (high + _TEXT_MM)  # nested sizes lie on one another
    for number, words in enumerate(lines):
        place = np.array([x - wide / 2, y + high / 2 - _TEXT_MM * _LEADING * (number + 0.8)])
        _add_text(block, words, place - at, Layer.BOUNDARY)


def _piece_words(pattern: Pattern, cut: _Cut) -> list[str]:
    rows = [row for row in pattern.cut_list if row.name == cut.piece.name]
    return [
        f"Piece Name: {capitalised(cut.piece.name)}",
        f"Size: {cut.size}",
        f"Quantity: {rows[0].quantity if rows else 1}",
        *([f"Material: {rows[0].material}"] if rows else []),
        f"Annotation: {cut.piece.quantity}",
    ]


def _draw_surroundings(space: "BaseLayout", pattern: Pattern, height_mm: float) -> None:
    """Write the style's texts above the pieces, and two squares to measure."""
    lines = [
        f"Style Name: {headline(pattern)}",
        f"Creation Date: {pattern.made_on}",
        "Author: outgrown",
        "Units: METRIC",
    ]
    low = height_mm + _GAP_MM
    for number, words in enumerate(reversed(lines)):
        _add_text(space, words, np.array([140.0, low + _TEXT_MM * _LEADING * number]), Layer.ANNOTATION)
    x = 0.0
    for side, words in ((50.0, "50 mm"), (2 * INCH_MM.value, "2 in")):
        square = np.array([(0, 0), (side, 0), (side, side), (0, side)]) + np.array([x, low])
        space.add_polyline2d(square.tolist(), close=True, dxfattribs={"layer": Layer.ANNOTATION.value})
        _add_text(space, words, square[0] + 10.0, Layer.ANNOTATION)
        x += side + 10.0


def _add_line(layout: "BaseLayout", points_mm: Floats, layer: Layer, is_closed: bool = False) -> None:
    """Add a polyline, and a point on the layer of its kind for each of its points."""
    points = thin_line(np.asarray(points_mm), _THIN_MM) if len(points_mm) > 2 else np.asarray(points_mm)
    layout.add_polyline2d(points.tolist(), close=is_closed, dxfattribs={"layer": layer.value})
    for point, is_corner in zip(points.tolist(), _corners(points, is_closed), strict=True):
        kind = Layer.TURN_POINTS if is_corner else Layer.CURVE_POINTS
        layout.add_point(point, dxfattribs={"layer": kind.value})


def _corners(points: Floats, is_closed: bool) -> Sequence[bool]:
    """Tell for each point whether the line turns there; ends of open lines do."""
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turns = np.abs(np.degrees(np.arctan2(cross, (before * after).sum(axis=1)))) > _TURN_DEG
    if not is_closed:
        turns[[0, -1]] = True
    flags: list[bool] = turns.tolist()
    return flags


def _add_straight(layout: "BaseLayout", ends_mm: Floats, layer: Layer) -> None:
    first, last = np.asarray(ends_mm)[[0, -1]].tolist()
    layout.add_line(first, last, dxfattribs={"layer": layer.value})


def _add_notch(layout: "BaseLayout", notch: Notch, at: Floats) -> None:
    """Add a point on the cut line, and the slit from there inwards; two side by side where it is double."""
    outward = np.asarray(notch.outward) / np.hypot(*notch.outward)
    along = np.array([-outward[1], outward[0]])
    deep = min(notch.depth_mm, _SLIT_MM) if notch.depth_mm > 1 else 4.0
    for shift in (-3.0, 3.0) if notch.is_double else (0.0,):
        foot = np.asarray(notch.point_mm) + outward * notch.depth_mm + along * shift - at
        layout.add_point(foot.tolist(), dxfattribs={"layer": Layer.NOTCHES.value})
        _add_straight(layout, np.array([foot, foot - outward * deep]), Layer.NOTCHES)


def _add_text(layout: "BaseLayout", words: str, at_mm: Floats, layer: Layer, size_mm: float = _TEXT_MM) -> None:
    one_line = " ".join(words.split())
    layout.add_text(one_line, height=size_mm, dxfattribs={"layer": layer.value, "insert": at_mm.tolist()})


def _along(points_mm: Floats, share: float) -> Floats:
    points = np.asarray(points_mm)
    place: Floats = points_at(points, np.array([share * length_mm(points)]))[0]
    return place


def _block_name(words: str, taken: set[str]) -> str:
    """Return a name of capitals, figures, hyphens and underscores that no other block has."""
    plain = unicodedata.normalize("NFKD", words).encode("ascii", "ignore").decode().upper()
    name = "_".join("".join(c if c.isalnum() or c == "-" else " " for c in plain).split())[:28] or "PIECE"
    unique, number = name, 1
    while unique in taken:
        number += 1
        unique = f"{name}-{number}"
    taken.add(unique)
    return unique
