"""Reshaping: a piece drawn again after its seam lines have moved, with the allowances and marks it had.

The move is a smooth map of the plane. Corners keep their angles, turned edges are mirrored afresh, notches stay at
their share of the seam, and folds stay straight.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from ..arrays import Floats, frozen
from ..garment.garment import EdgeName
from ..geometry.polylines import arc_lengths_mm, length_mm, point_at, tangent_at_end, tangent_at_start
from ..geometry.truing import angle_between_deg, bend_start
from .choices import Choices
from .piece import InnerLine, Notch, Piece, SeamEdge
from .turning import TURNED, draw_cut_ring, find_fold_lines, run_to_cut

Move = Callable[[Floats], Floats]
"""From (N, 2) points to where they go [mm]."""

_BEND_WITHIN_MM = 35.0
_SAME_MM = 0.02


def is_rise(name: EdgeName) -> bool:
    """Tell whether an edge is a rise, front or back."""
    return "rise" in name.value


def is_inseam(name: EdgeName) -> bool:
    """Tell whether an edge is an inseam, front or back."""
    return "inseam" in name.value


def reshape_piece(piece: Piece, move: Move, labels: tuple[str, ...] | None = None) -> Piece:
    """Return the piece with its seam lines moved, drawn again with the allowances it had.

    Args:
        piece: as drafted.
        move: where each point goes; smooth, and not turning anything over.
        labels: further lines of text in place of its own.

    Raises:
        PieceError: the new shape has no room for the allowances.
    """
    moved = [frozen(move(edge.points_mm)) for edge in piece.edges]
    lines = keep_corners([edge.name for edge in piece.edges], [e.points_mm for e in piece.edges], moved)
    edges = tuple(replace(edge, points_mm=frozen(line)) for edge, line in zip(piece.edges, lines, strict=True))
    grain = move(piece.grainline_mm)
    stretch = move(piece.stretch_mm)
    # Both stay along and across the grain.
    if abs(piece.grainline_mm[0, 0] - piece.grainline_mm[1, 0]) < _SAME_MM:
        grain[:, 0] = grain[:, 0].mean()
    if abs(piece.stretch_mm[0, 1] - piece.stretch_mm[1, 1]) < _SAME_MM:
        stretch[:, 1] = stretch[:, 1].mean()
    ring = frozen(draw_cut_ring(edges))
    return replace(
        piece,
        edges=edges,
        cut_ring_mm=ring,
        grainline_mm=frozen(grain),
        stretch_mm=frozen(stretch),
        notches=tuple(_move_notch(notch, piece.edges, edges, move) for notch in piece.notches),
        inner_lines=tuple(_move_inner(line, piece.edges, edges, move, ring) for line in piece.inner_lines),
        labels=piece.labels if labels is None else labels,
    )


def keep_corners(names: list[EdgeName], before: list[Floats], after: list[Floats]) -> list[Floats]:
    """Return the moved lines with every corner's angle as it was, one of its two lines bent a little.

    Hem and waist are bent where they meet another edge, then the rise at the crotch; sides and inseams never.
    """
    lines = list(after)
    if len(lines) < 2:
        return lines
    for first in range(len(lines)):
        second = (first + 1) % len(lines)
        was = _turn_deg(before[first], before[second])
        off = _turn_deg(lines[first], lines[second]) - was
        if abs(off) < 0.01:
            continue
        one, other = lines[first], lines[second]
        aim = was
        for _ in range(3):  # the bend's own curve shows in its first millimetres
            if _may_bend(names[second]) >= _may_bend(names[first]):
                if _may_bend(names[second]):
                    lines[second] = _bent(other, _turned(tangent_at_end(one), aim))
            else:
                lines[first] = _bent(one[::-1], -_turned(tangent_at_start(other), -aim))[::-1]
            aim += was - _turn_deg(lines[first], lines[second])
    return lines


def _may_bend(name: EdgeName) -> int:
    if name.value in ("waist", "hem"):
        return 2
    return 1 if is_rise(name) else 0


def _turn_deg(first: Floats, second: Floats) -> float:
    return angle_between_deg(tangent_at_end(first), tangent_at_start(second))


def _turned(direction: Floats, angle_deg: float) -> Floats:
    a = np.deg2rad(angle_deg)
    x, y = direction
    return np.array([np.cos(a) * x - np.sin(a) * y, np.sin(a) * x + np.cos(a) * y])


def _bent(line: Floats, direction: Floats) -> Floats:
    return bend_start(line, direction, min(_BEND_WITHIN_MM, 0.35 * length_mm(line)))


def _move_notch(notch: Notch, before: tuple[SeamEdge, ...], after: tuple[SeamEdge, ...], move: Move) -> Notch:
    """Return the notch at its share of the same seam, or at the same corner."""
    number, along = _nearest(notch.point_mm, before)
    old, new = before[number].points_mm, after[number].points_mm
    total = length_mm(old)
    if 1.0 < along < total - 1.0:
        place = along / total * length_mm(new)
        way = point_at(new, place + 0.5) - point_at(new, place - 0.5)
        outward = np.array([way[1], -way[0]]) / np.hypot(*way)
        return Notch(frozen(point_at(new, place)), frozen(outward), notch.depth_mm, notch.is_double)
    # At a corner: where a turned edge, continued, meets the cut line.
    corner = new[0] if along <= 1.0 else new[-1]
    ends = move(np.array([notch.point_mm, notch.point_mm + notch.outward]))
    way = ends[1] - ends[0]
    for edge_before, edge_after in zip(before, after, strict=True):
        if edge_before.finish in TURNED:
            for at, out_of in (
                (0, -tangent_at_start(edge_after.points_mm)),
                (-1, tangent_at_end(edge_after.points_mm)),
            ):
                if np.hypot(*(edge_before.points_mm[at] - notch.point_mm)) < 1.0:
                    way, corner = out_of, edge_after.points_mm[at]
    return Notch(frozen(corner), frozen(way / np.hypot(*way)), notch.depth_mm, notch.is_double)


def _nearest(point: Floats, edges: tuple[SeamEdge, ...]) -> tuple[int, float]:
    """Return the edge nearest to a point, and how far along it the point lies [mm]."""
    best = (np.inf, 0, 0.0)
    for number, edge in enumerate(edges):
        line = edge.points_mm
        start, way = line[:-1], np.diff(line, axis=0)
        share = np.clip(((point - start) * way).sum(axis=1) / np.maximum((way**2).sum(axis=1), 1e-18), 0.0, 1.0)
        gaps = np.hypot(*(start + share[:, None] * way - point).T)
        at = int(np.argmin(gaps))
        if gaps[at] < best[0] - 1e-9:
            along = float(arc_lengths_mm(line)[at] + share[at] * np.hypot(*way[at]))
            best = (float(gaps[at]), number, along)
    return best[1], best[2]


def _move_inner(
    line: InnerLine, before: tuple[SeamEdge, ...], after: tuple[SeamEdge, ...], move: Move, ring: Floats
) -> InnerLine:
    """Return the inner line moved; one that lies on an edge, or that its allowance is folded on, stays so."""
    for old, new in zip(before, after, strict=True):
        for was, now in zip(find_fold_lines(old), find_fold_lines(new), strict=True):
            if was.name == line.name:
                return run_to_cut(InnerLine(line.name, frozen(now.points_mm)), new, ring)
        if old.points_mm.shape == line.points_mm.shape and np.allclose(old.points_mm, line.points_mm, atol=_SAME_MM):
            return InnerLine(line.name, new.points_mm)
    return InnerLine(line.name, frozen(move(line.points_mm)))


_ON_A_FOLD = "On a fold: "


def renew_note(note: str, new_length_mm: float, choices: Mapping[str, Any]) -> str:
    """Return a cut list's note with the length halved for the fold brought up to date."""
    if _ON_A_FOLD not in note:
        return note
    return note[: note.index(_ON_A_FOLD)] + _ON_A_FOLD + Choices.from_json(choices).length(0.5 * new_length_mm)
