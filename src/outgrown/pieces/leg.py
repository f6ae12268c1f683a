"""Leg: the half leg as a piece to cut on the fold, with seam lines, cut line and marks."""

from dataclasses import dataclass

import numpy as np

from ..arrays import Floats, frozen
from ..errors import GeometryError, PieceError
from ..garment.garment import EdgeName, Garment
from ..geometry.offsets import OffsetEdge, offset_edge, offset_ring
from ..geometry.polylines import (
    as_polyline,
    length_mm,
    part_between,
    point_at,
    tangent_at_end,
    tangent_at_start,
)
from ..geometry.sections import crossings_mm
from .choices import Allowance
from .piece import Finish, InnerLine, Notch, Piece, SeamEdge

ORDER = (EdgeName.SIDE, EdgeName.HEM, EdgeName.INSEAM, EdgeName.RISE, EdgeName.WAIST)
_TURNED = (Finish.HEM, Finish.CASING)


@dataclass(frozen=True, eq=False)
class LegSeams:
    """Seam lines of a half leg, side fold on x = 0, counter-clockwise."""

    side_mm: Floats
    hem_mm: Floats
    inseam_mm: Floats
    rise_mm: Floats
    waist_mm: Floats

    @classmethod
    def of(cls, garment: Garment) -> "LegSeams":
        """Return the seam lines of a garment read as a half leg."""
        return cls(*(garment.edge(name).points_mm for name in ORDER))

    def lines(self) -> tuple[Floats, ...]:
        """Return them in the order of `ORDER`."""
        return (self.side_mm, self.hem_mm, self.inseam_mm, self.rise_mm, self.waist_mm)


def square_to_fold(seams: LegSeams, within_mm: float = 30.0) -> LegSeams:
    """Return the seams with hem and waist meeting the side fold at right angles.

    Opened out, the piece would else have a point or a dent at the fold. The edge is bent over the last
    `within_mm` (at most a third of it), so that its ends and the rest of it stay.
    """
    hem = _level_start(seams.hem_mm, within_mm)
    waist = _level_start(seams.waist_mm[::-1], within_mm)[::-1]
    side = np.array([waist[-1], hem[0]])
    return LegSeams(side, hem, seams.inseam_mm, seams.rise_mm, waist)


def _level_start(line_mm: Floats, within_mm: float) -> Floats:
    """Return a line that starts on x = 0 and leaves it level, by bending its first stretch.

    The height becomes even in x near the fold: a parabola that joins the line's own height and slope.
    """
    reach = min(within_mm, 0.35 * abs(float(line_mm[-1, 0] - line_mm[0, 0])))
    join = int(np.searchsorted(line_mm[:, 0], reach))
    join = int(np.clip(join, 1, len(line_mm) - 2))
    at = line_mm[join]
    ahead, behind = line_mm[min(join + 1, len(line_mm) - 1)], line_mm[join - 1]
    slope = float((ahead[1] - behind[1]) / max(ahead[0] - behind[0], 1e-9))
    x = np.linspace(0.0, float(at[0]), max(4, int(at[0] / 2.0) + 1))
    y = at[1] + slope * (x**2 - at[0] ** 2) / (2.0 * at[0])
    return np.vstack([np.column_stack([x, y]), line_mm[join + 1 :]])


def lower_waist(seams: LegSeams, by_mm: float) -> LegSeams:
    """Return the seams with the waist edge moved down by `by_mm`, square to itself; a band makes it up."""
    inner = offset_edge(seams.waist_mm, -by_mm)
    rise, waist = _trim_to(seams.rise_mm, inner)
    waist[-1, 0] = 0.0
    return LegSeams(np.array([waist[-1], seams.side_mm[-1]]), seams.hem_mm, seams.inseam_mm, rise, waist)


def raise_hem(seams: LegSeams, by_mm: float) -> LegSeams:
    """Return the seams with the hem moved up by `by_mm`, square to itself; a cuff makes it up."""
    inner = offset_edge(seams.hem_mm, -by_mm)
    inseam, hem = _trim_to(seams.inseam_mm[::-1], inner[::-1])
    hem = hem[::-1]
    hem[0, 0] = 0.0
    return LegSeams(np.array([seams.side_mm[0], hem[0]]), hem, inseam[::-1], seams.rise_mm, seams.waist_mm)


def _trim_to(seam_mm: Floats, edge_mm: Floats) -> tuple[Floats, Floats]:
    """Return `seam_mm` up to where it meets `edge_mm`, and `edge_mm` from there to the fold at x = 0."""
    from shapely import LineString, Point

    far = 400.0
    longer = np.vstack(
        [
            edge_mm[0] - far * tangent_at_start(edge_mm),
            edge_mm,
            edge_mm[-1] + far * tangent_at_end(edge_mm),
        ]
    )
    line = LineString(seam_mm)
    common = line.intersection(LineString(longer))
    places = [p for p in getattr(common, "geoms", [common]) if isinstance(p, Point) and not p.is_empty]
    if not places:
        raise PieceError("The band or cuff is higher than the leg has room for.", "Choose a lower one.")
    place = max(places, key=line.project)
    kept = part_between(seam_mm, 0.0, line.project(place))
    edge = part_between(longer, LineString(longer).project(place), length_mm(longer))
    edge = edge[edge[:, 0] > 1e-6]
    edge = np.vstack([np.asarray(place.coords), edge[1:]]) if len(edge) > 1 else edge
    edge = np.vstack([edge, [0.0, edge[-1, 1]]])
    kept[-1] = edge[0]
    return as_polyline(kept), as_polyline(edge)


def cut_line(seams: LegSeams, allowances: dict[EdgeName, Allowance]) -> Floats:
    """Return the ring to cut along.

    Raises:
        PieceError: the allowances are too large for the shape.
    """
    edges = [
        OffsetEdge(
            line,
            allowances[name].amount_mm,
            is_turned=allowances[name].finish in _TURNED,
            is_fold=allowances[name].finish is Finish.FOLD,
        )
        for name, line in zip(ORDER, seams.lines(), strict=True)
    ]
    try:
        return offset_ring(edges)
    except GeometryError as error:
        raise PieceError(
            "The cut line cannot be drawn with these allowances: it would cross itself.",
            "Choose smaller allowances, or check the outline in the check picture.",
        ) from error


def build_leg(
    seams: LegSeams,
    allowances: dict[EdgeName, Allowance],
    *,
    name: str,
    quantity: str,
    labels: tuple[str, ...],
) -> Piece:
    """Return the leg piece: seam edges, cut line, grainline, stretch arrow, notches and inner lines."""
    edges = tuple(
        SeamEdge(n, frozen(line), allowances[n].amount_mm, allowances[n].finish)
        for n, line in zip(ORDER, seams.lines(), strict=True)
    )
    crotch_height = float(seams.inseam_mm[-1, 1])
    top, bottom = float(seams.waist_mm[:, 1].min()), float(seams.hem_mm[:, 1].max())
    outside = np.vstack([seams.inseam_mm, seams.rise_mm[1:]])

    def width(height: float) -> float:
        return float(crossings_mm(outside, height).max())

    low, high = bottom + 0.15 * (top - bottom), top - 0.12 * (top - bottom)
    narrowest = min(width(h) for h in np.linspace(low, high, 25))
    grain_x = 0.5 * narrowest
    stretch_y = crotch_height - 0.12 * (crotch_height - bottom)
    stretch_width = width(stretch_y)
    return Piece(
        name=name,
        edges=edges,
        cut_ring_mm=frozen(cut_line(seams, allowances)),
        quantity=quantity,
        grainline_mm=frozen([[grain_x, low], [grain_x, high]]),
        stretch_mm=frozen([[0.15 * stretch_width, stretch_y], [0.85 * stretch_width, stretch_y]]),
        notches=_notches(seams, allowances),
        inner_lines=_inner_lines(seams, allowances),
        labels=labels,
    )


def _notches(seams: LegSeams, allowances: dict[EdgeName, Allowance]) -> tuple[Notch, ...]:
    """Return single notches: half down the inseam, half along the rise, and where hem and casing turn."""
    marks = []
    for edge, line in ((EdgeName.INSEAM, seams.inseam_mm), (EdgeName.RISE, seams.rise_mm)):
        depth = allowances[edge].amount_mm
        if depth > 0:
            half = 0.5 * length_mm(line)
            ahead = point_at(line, half + 1.0) - point_at(line, half - 1.0)
            outward = np.array([ahead[1], -ahead[0]]) / np.hypot(*ahead)
            marks.append(Notch(frozen(point_at(line, half)), frozen(outward), depth))
    if allowances[EdgeName.HEM].finish in _TURNED and allowances[EdgeName.INSEAM].amount_mm > 0:
        marks.append(_turn_notch(seams.hem_mm[-1], tangent_at_end(seams.hem_mm), seams.inseam_mm, allowances))
    if allowances[EdgeName.WAIST].finish in _TURNED and allowances[EdgeName.RISE].amount_mm > 0:
        marks.append(_turn_notch(seams.waist_mm[0], -tangent_at_start(seams.waist_mm), seams.rise_mm[::-1], allowances))
    return tuple(marks)


def _turn_notch(corner: Floats, outward: Floats, seam_mm: Floats, allowances: dict[EdgeName, Allowance]) -> Notch:
    """Return the notch where a fold line, continued, meets the cut line of the neighbouring seam."""
    along = tangent_at_start(seam_mm)
    sine = abs(float(outward[0] * along[1] - outward[1] * along[0]))
    depth = allowances[EdgeName.INSEAM].amount_mm if along[1] > 0 else allowances[EdgeName.RISE].amount_mm
    return Notch(frozen(corner), frozen(outward), depth / max(sine, 0.3))


def _inner_lines(seams: LegSeams, allowances: dict[EdgeName, Allowance]) -> tuple[InnerLine, ...]:
    lines = []
    if allowances[EdgeName.HEM].finish in _TURNED:
        lines.append(InnerLine("turn the hem up here", frozen(seams.hem_mm)))
    if allowances[EdgeName.WAIST].finish in _TURNED:
        lines.append(InnerLine("turn the casing down here", frozen(seams.waist_mm)))
    return tuple(lines)
