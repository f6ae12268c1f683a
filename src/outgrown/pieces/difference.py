"""Difference: two patterns laid on one another, and by how much they differ where."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import LineString, Polygon, distance, line_locate_point, points

from ..arrays import Floats, frozen
from ..errors import PieceError
from ..geometry.polylines import length_mm, resample
from ..geometry.sections import width_at_height
from ..practice import HIP_ABOVE_CROTCH_MM, THIGH_BELOW_CROTCH_MM
from .comparable import Shape, find_shapes
from .piece import Pattern

_STEP_MM = 2.0
"""Distances between lines are taken so often along them."""


@dataclass(frozen=True)
class LengthRow:
    """One length of both.

    Attributes:
        shape: whose.
        what: e.g. `inseam`, `half thigh`.
        first_mm: in the first pattern [mm].
        second_mm: in the second [mm].
        doubt_mm: half of the difference's 95 % band [mm], or None where it is not known.
    """

    shape: str
    what: str
    first_mm: float
    second_mm: float
    doubt_mm: float | None = None

    @property
    def more_mm(self) -> float:
        """How much the second is longer [mm]."""
        return self.second_mm - self.first_mm

    @property
    def is_sure(self) -> bool:
        """The difference is greater than its doubt."""
        return self.doubt_mm is None or abs(self.more_mm) > self.doubt_mm

    @property
    def is_doubtful(self) -> bool:
        """There is a difference worth a tenth of a millimetre, and it is no greater than its doubt."""
        return not self.is_sure and abs(self.more_mm) >= 0.05


@dataclass(frozen=True, eq=False)
class EdgeRow:
    """How far one edge of the second lies outside the first.

    Attributes:
        shape: whose.
        edge: which edge.
        mean_mm: mean of the distances, outward positive [mm].
        p95_mm: 95th percentile of their amounts [mm].
        worst_mm: the greatest, outward positive [mm].
        worst_at_mm: (2,) where on the second's edge [mm].
    """

    shape: str
    edge: str
    mean_mm: float
    p95_mm: float
    worst_mm: float
    worst_at_mm: Floats


@dataclass(frozen=True, eq=False)
class Difference:
    """Two patterns compared.

    Attributes:
        first_name: what the first is called.
        second_name: what the second is called.
        shapes: those both have, laid on one another: first's, second's.
        lengths: lengths of both.
        edges: distances between their edges.
        strips: lengths of what both cut lists have: waistband, cuffs, elastic.
        missing: names of shapes that only one of them has.
    """

    first_name: str
    second_name: str
    shapes: tuple[tuple[Shape, Shape], ...]
    lengths: tuple[LengthRow, ...]
    edges: tuple[EdgeRow, ...]
    strips: tuple[LengthRow, ...] = ()
    missing: tuple[str, ...] = ()


def compare_patterns(first: Pattern, second: Pattern, names: tuple[str, str]) -> Difference:
    """Return where and by how much the second pattern differs from the first.

    Legs are laid on one another at their sides, with their crotch points at one height; other pieces at their fold or
    middle, and at the lowest place. One half leg that stands for front and back is compared with both.

    Args:
        first: e.g. last year's.
        second: e.g. this year's.
        names: what they are called.

    Raises:
        PieceError: they have nothing in common.
    """
    one, other = find_shapes(first.pieces), find_shapes(second.pieces)
    pairs = _pair_up(one, other)
    if not pairs:
        raise PieceError(
            f"“{names[0]}” and “{names[1]}” have no piece in common.",
            "Compare two patterns of the same kind of garment.",
        )
    used = {shape.name for pair in pairs for shape in pair}
    missing = tuple(dict.fromkeys(shape.name for shape in (*one, *other) if shape.name not in used))
    doubts = _doubts_of_both(first, second)
    return replace(
        compare_shapes(pairs, names, doubts),
        strips=tuple(_strips(first, second)),
        missing=missing,
    )


def compare_shapes(
    pairs: Sequence[tuple[Shape, Shape]], names: tuple[str, str], doubts_mm: Mapping[str, float]
) -> Difference:
    """Return where and by how much the second of each pair differs from the first.

    Args:
        pairs: shapes of one frame each; see `find_shapes`.
        names: what the firsts and the seconds are called.
        doubts_mm: half of a length's 95 % band by its name, as far as known [mm].
    """
    return Difference(
        first_name=names[0],
        second_name=names[1],
        shapes=tuple(pairs),
        lengths=tuple(row for pair in pairs for row in _lengths(*pair, doubts_mm)),
        edges=tuple(row for pair in pairs for row in _edges(*pair)),
    )


def _pair_up(one: Sequence[Shape], other: Sequence[Shape]) -> tuple[tuple[Shape, Shape], ...]:
    """Return the shapes that belong together; half legs that stand for both are laid on front and back."""
    first, second = ({shape.name: shape for shape in shapes} for shapes in (one, other))
    pairs = [(first[name], second[name]) for name in first if name in second]
    if not any(shape.is_leg for shape, _ in pairs):
        legs = [shape for shape in one if shape.is_leg], [shape for shape in other if shape.is_leg]
        if len(legs[0]) == 1 or len(legs[1]) == 1:
            pairs += [(a, b) for a in legs[0] for b in legs[1]]
    return tuple(pairs)


def _doubts_of_both(first: Pattern, second: Pattern) -> dict[str, float]:
    """Return the doubts of lengths that both patterns have measured, of their difference [mm]."""
    one, other = ({m.name: m.doubt_mm for m in p.measurements if m.doubt_mm is not None} for p in (first, second))
    return {name: float(np.hypot(one[name], other[name])) for name in one.keys() & other.keys()}


_OF_LEG = (
    ("inseam", "inseam", "inseam"),
    ("side", "side", "outer length"),
    ("rise", "rise", "rise"),
    ("waist edge", "waist", "waist edge"),
    ("half hem", "hem", "half hem"),
)
"""What is told of a half leg: its name here, its edge, and the name of the measurement that knows its doubt."""


def _lengths(first: Shape, second: Shape, doubts_mm: Mapping[str, float]) -> list[LengthRow]:
    of = first.name if len(first.name) > len(second.name) else second.name
    if not first.is_leg:
        shared = [edge for edge in first.lines if edge in second.lines]
        rows = [LengthRow(of, edge, length_mm(first.lines[edge]), length_mm(second.lines[edge])) for edge in shared]
        sizes = [np.ptp(shape.ring_mm(), axis=0) for shape in (first, second)]
        return [
            *rows,
            LengthRow(of, "greatest width", float(sizes[0][0]), float(sizes[1][0])),
            LengthRow(of, "height", float(sizes[0][1]), float(sizes[1][1])),
        ]
    part = of.partition(" ")[0]
    doubts = {**doubts_mm, "rise": doubts_mm.get("rise", doubts_mm.get(f"{part} rise"))}
    rows = [
        LengthRow(of, what, length_mm(first.lines[edge]), length_mm(second.lines[edge]), doubts.get(measured))
        for what, edge, measured in _OF_LEG
    ]
    for what, measured in (("half hip", "half thigh"), ("half thigh", "half thigh"), ("half knee", "half knee")):
        widths = [_width_mm(shape, what) for shape in (first, second)]
        if widths[0] is not None and widths[1] is not None:
            rows.append(LengthRow(of, what, widths[0], widths[1], doubts.get(measured)))
    return rows


def _width_mm(shape: Shape, what: str) -> float | None:
    """Return a half leg's width at its own hip, thigh or knee [mm], or None where it does not reach so high."""
    hem = float(shape.lines["inseam"][:, 1].min())
    heights = {
        "half hip": HIP_ABOVE_CROTCH_MM.value,
        "half thigh": max(-THIGH_BELOW_CROTCH_MM.value, 0.5 * hem),
        "half knee": 0.5 * hem,
    }
    ring = shape.ring_mm()
    return width_at_height(ring, heights[what]) if ring[:, 1].max() > heights[what] else None


def _strips(first: Pattern, second: Pattern) -> list[LengthRow]:
    """Return lengths and widths of what both cut lists have: waistbands, cuffs, elastic."""
    theirs = {row.name: row for row in second.cut_list}
    rows = []
    for row in first.cut_list:
        other = theirs.get(row.name)
        if other is None:
            continue
        for what, one, two in (("length", row.length_mm, other.length_mm), ("width", row.width_mm, other.width_mm)):
            if one is not None and two is not None:
                rows.append(LengthRow(row.name, f"cut {what}", one, two))
    return rows


def _edges(first: Shape, second: Shape) -> list[EdgeRow]:
    ring = Polygon(first.ring_mm())
    of = first.name if len(first.name) > len(second.name) else second.name
    rows = []
    for name, line in second.lines.items():
        if name not in first.lines or name == "centre" or (first.is_leg and name == "side"):
            continue  # folds, and the sides that were laid on one another
        at = resample(line, _STEP_MM)
        off = outward_mm(at, first.lines[name], ring)
        beside = np.isfinite(off)
        if not beside.any():
            continue
        at, off = at[beside], off[beside]
        worst = int(np.argmax(np.abs(off)))
        p95 = float(np.percentile(np.abs(off), 95))
        rows.append(EdgeRow(of, name, float(off.mean()), p95, float(off[worst]), frozen(at[worst])))
    return rows


def outward_mm(at_mm: Floats, line_mm: Floats, ring: Polygon) -> Floats:
    """Return how far (N, 2) points lie from a line of the ring, outside the ring positive [mm].

    NaN where they lie beyond its ends: a longer leg's inseam is not told to be off where the other has ended.

    >>> square = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
    >>> outward_mm(np.array([[12.0, 5.0], [9.0, 5.0], [9.0, 11.0]]), square[1:3], Polygon(square)).tolist()
    [2.0, -1.0, nan]
    """
    seen, line = points(np.asarray(at_mm)), LineString(line_mm)
    foot = np.asarray(line_locate_point(line, seen), dtype=np.float64)
    off = np.asarray(distance(seen, line), dtype=np.float64)
    off = np.where(np.asarray(distance(seen, ring)) > 0.0, off, -off)
    return np.asarray(np.where((foot <= 0.0) | (foot >= line.length), np.nan, off))
