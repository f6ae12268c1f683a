"""Marks: notches and fold lines that follow from a piece's edges alone."""

from collections.abc import Sequence

import numpy as np

from ..arrays import Floats, frozen
from ..garment.garment import EdgeName
from ..geometry.polylines import length_mm, point_at, tangent_at_end, tangent_at_start
from .piece import Finish, InnerLine, Notch, SeamEdge
from .turning import find_fold_lines, run_to_cut

_MATCHED = (EdgeName.INSEAM, EdgeName.RISE, EdgeName.SIDE, EdgeName.UNDERARM, EdgeName.SHOULDER)


def mark_notches(edges: Sequence[SeamEdge]) -> tuple[Notch, ...]:
    """Return notches halfway along seams that are sewn to their like, and where hem and casing turn.

    Those of the back are double. `edges` run counter-clockwise round the piece.
    """
    halfway, turns = [], []
    for i, edge in enumerate(edges):
        if edge.name in _MATCHED and edge.finish is Finish.SEAM and edge.allowance_mm > 0:
            line, half = edge.points_mm, 0.5 * length_mm(edge.points_mm)
            ahead = point_at(line, half + 1.0) - point_at(line, half - 1.0)
            outward = np.array([ahead[1], -ahead[0]]) / np.hypot(*ahead)
            halfway.append(Notch(frozen(point_at(line, half)), frozen(outward), edge.allowance_mm, edge.part == "back"))
        if edge.finish in (Finish.HEM, Finish.CASING):
            before, after = edges[i - 1], edges[(i + 1) % len(edges)]
            start, end = -tangent_at_start(edge.points_mm), tangent_at_end(edge.points_mm)
            turns += _turn_notch(edge.points_mm[0], start, before, before.points_mm[::-1])
            turns += _turn_notch(edge.points_mm[-1], end, after, after.points_mm)
    return (*halfway, *turns)


def _turn_notch(corner: Floats, outward: Floats, seam: SeamEdge, away_mm: Floats) -> list[Notch]:
    """Return the notch where a fold line, continued, meets the cut line of the neighbouring seam, if it has one."""
    if seam.finish is not Finish.SEAM or seam.allowance_mm <= 0:
        return []
    along = tangent_at_start(away_mm)
    sine = abs(float(outward[0] * along[1] - outward[1] * along[0]))
    return [Notch(frozen(corner), frozen(outward), seam.allowance_mm / max(sine, 0.3))]


def mark_side(edges: Sequence[SeamEdge], side_mm: Floats) -> tuple[Notch, ...]:
    """Return the notch that marks the side on a waist edge which runs through there, where a band is sewn to it."""
    for edge in edges:
        if edge.name is EdgeName.WAIST and edge.finish is Finish.SEAM and edge.allowance_mm > 0:
            at = int(np.argmin(np.hypot(*(edge.points_mm - side_mm).T)))
            before, after = edge.points_mm[max(at - 1, 0)], edge.points_mm[min(at + 1, len(edge.points_mm) - 1)]
            ahead = (after - before) / np.hypot(*(after - before))
            return (Notch(frozen(side_mm), frozen([ahead[1], -ahead[0]]), edge.allowance_mm),)
    return ()


def mark_folds(edges: Sequence[SeamEdge], cut_ring_mm: Floats) -> tuple[InnerLine, ...]:
    """Return the lines to turn hem, mock cuff and casing on; a mock cuff's run to the cut line."""
    return tuple(run_to_cut(line, edge, cut_ring_mm) for edge in edges for line in find_fold_lines(edge))
