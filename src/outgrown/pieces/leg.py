"""Leg: a half leg as a piece, on the fold or with a side seam; or front and back joined to a one-piece leg."""

import numpy as np

from ..arrays import Floats, frozen
from ..garment.garment import EdgeName
from ..geometry.sections import crossings_mm
from .choices import Allowance
from .leg_seams import ORDER, LegSeams
from .marks import mark_folds, mark_notches, mark_side
from .piece import InnerLine, Piece, SeamEdge
from .turning import draw_cut_ring

Allowances = dict[EdgeName, Allowance]
_FLIP = np.array([-1.0, 1.0])


def build_leg(
    seams: LegSeams,
    allowances: Allowances,
    *,
    name: str,
    quantity: str,
    labels: tuple[str, ...],
    part: str = "",
) -> Piece:
    """Return the half leg as a piece: seam edges, cut line, grainline, stretch arrow, notches and inner lines.

    Args:
        seams: trued.
        allowances: of each edge; the side is a fold or a seam.
        name: of the piece.
        quantity: in words.
        labels: further lines of text.
        part: `front`, `back` or empty for both alike; the back's notches are double.
    """
    edges = tuple(_seam_edge(n, line, allowances, part) for n, line in zip(ORDER, seams.lines(), strict=True))
    ring = frozen(draw_cut_ring(edges))
    crotch, top, bottom = _levels(seams)
    low, high = bottom + 0.15 * (top - bottom), top - 0.12 * (top - bottom)
    grain_x = 0.5 * min(_width(seams, h) for h in np.linspace(low, high, 25))
    stretch_y = crotch - 0.12 * (crotch - bottom)
    stretch_width = _width(seams, stretch_y)
    return Piece(
        name=name,
        edges=edges,
        cut_ring_mm=ring,
        quantity=quantity,
        grainline_mm=frozen([[grain_x, low], [grain_x, high]]),
        stretch_mm=frozen([[0.15 * stretch_width, stretch_y], [0.85 * stretch_width, stretch_y]]),
        notches=mark_notches(edges),
        inner_lines=mark_folds(edges, ring),
        labels=labels,
    )


def build_joined_leg(
    front: LegSeams,
    back: LegSeams,
    allowances: Allowances,
    *,
    name: str,
    quantity: str,
    labels: tuple[str, ...],
) -> Piece:
    """Return front and back joined along their sides, which are equally long: the front at x > 0, the back mirrored."""

    def behind(line: Floats) -> Floats:
        return np.asarray(line[::-1] * _FLIP)

    edges = (
        _seam_edge(EdgeName.HEM, np.vstack([behind(back.hem_mm)[:-1], front.hem_mm]), allowances),
        _seam_edge(EdgeName.INSEAM, front.inseam_mm, allowances, "front"),
        _seam_edge(EdgeName.RISE, front.rise_mm, allowances, "front"),
        _seam_edge(EdgeName.WAIST, np.vstack([front.waist_mm[:-1], behind(back.waist_mm)]), allowances),
        _seam_edge(EdgeName.RISE, behind(back.rise_mm), allowances, "back"),
        _seam_edge(EdgeName.INSEAM, behind(back.inseam_mm), allowances, "back"),
    )
    ring = frozen(draw_cut_ring(edges))
    levels = np.array([_levels(front), _levels(back)])
    crotch, top, bottom = levels[:, 0].min(), levels[:, 1].min(), levels[:, 2].max()
    low, high = bottom + 0.15 * (top - bottom), top - 0.12 * (top - bottom)
    grain_x = 0.4 * min(_width(front, h) for h in np.linspace(low, high, 25))
    stretch_y = crotch - 0.12 * (crotch - bottom)
    ends = [[-0.8 * _width(back, stretch_y), stretch_y], [0.8 * _width(front, stretch_y), stretch_y]]
    return Piece(
        name=name,
        edges=edges,
        cut_ring_mm=ring,
        quantity=quantity,
        grainline_mm=frozen([[grain_x, low], [grain_x, high]]),
        stretch_mm=frozen(ends),
        notches=(*mark_notches(edges), *mark_side(edges, front.waist_mm[-1])),
        inner_lines=(*mark_folds(edges, ring), InnerLine("side, no seam", front.side_mm)),
        labels=labels,
    )


def _seam_edge(name: EdgeName, line: Floats, allowances: Allowances, part: str = "") -> SeamEdge:
    return SeamEdge(name, frozen(line), allowances[name].amount_mm, allowances[name].finish, part)


def _levels(seams: LegSeams) -> tuple[float, float, float]:
    """Return the heights of the crotch point, of the lowest of the waist and of the highest of the hem [mm]."""
    return float(seams.inseam_mm[-1, 1]), float(seams.waist_mm[:, 1].min()), float(seams.hem_mm[:, 1].max())


def _width(seams: LegSeams, height: float) -> float:
    outside = np.vstack([seams.inseam_mm, seams.rise_mm[1:]])
    return float(crossings_mm(outside, height).max())
