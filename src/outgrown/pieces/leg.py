"""Leg: the half leg as a piece to cut on the fold, with cut line and marks."""

import numpy as np

from ..arrays import Floats, frozen
from ..errors import GeometryError, PieceError
from ..garment.garment import EdgeName
from ..geometry.offsets import OffsetEdge, offset_ring
from ..geometry.polylines import length_mm, point_at, tangent_at_end, tangent_at_start
from ..geometry.sections import crossings_mm
from .choices import Allowance
from .leg_seams import ORDER, LegSeams
from .piece import Finish, InnerLine, Notch, Piece, SeamEdge

_TURNED = (Finish.HEM, Finish.CASING)


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
