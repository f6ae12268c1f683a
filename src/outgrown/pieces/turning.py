"""Turning: edges whose allowance is turned back over the piece, where it folds, and what that asks of the cut line."""

from collections.abc import Sequence

import numpy as np
from shapely import LineString, Polygon

from ..arrays import Floats, frozen
from ..errors import GeometryError, PieceError
from ..garment.garment import EdgeName
from ..geometry.offsets import OffsetEdge, offset_closed, offset_edge, offset_ring
from ..geometry.polylines import tangent_at_end, tangent_at_start
from ..practice import MOCK_CUFF_TURNED_MM
from .piece import Finish, InnerLine, SeamEdge

TURNED = (Finish.HEM, Finish.CASING, Finish.MOCK_CUFF)
"""Finishes whose allowance lies on the piece again."""
_SAME_MM = 0.02


def as_offset_edge(edge: SeamEdge) -> OffsetEdge:
    """Return the edge as the cut line is drawn round it.

    A hem or casing folds on its line, so what lies beyond mirrors the piece there. A mock cuff folds first below its
    line, so that the raw edge and both layers of the cuff are as wide as the leg they end up on; see `mark_folds`.
    """
    beyond = 0.5 * MOCK_CUFF_TURNED_MM.value if edge.finish is Finish.MOCK_CUFF else 0.0
    return OffsetEdge(
        edge.points_mm,
        edge.allowance_mm,
        is_turned=edge.finish in TURNED,
        turn_mm=min(beyond, 0.5 * edge.allowance_mm),
        is_fold=edge.finish is Finish.FOLD,
    )


def draw_cut_ring(edges: Sequence[SeamEdge]) -> Floats:
    """Return the ring to cut along round these seam edges.

    Raises:
        PieceError: the allowances are too large for the shape.
    """
    try:
        if len(edges) == 1:
            line = edges[0].points_mm
            is_closed = float(np.hypot(*(line[0] - line[-1]))) < _SAME_MM
            return offset_closed(line[:-1] if is_closed else line, edges[0].allowance_mm)
        return offset_ring([as_offset_edge(edge) for edge in edges])
    except GeometryError as error:
        raise PieceError(
            "The cut line cannot be drawn with these allowances: it would cross itself.",
            "Choose smaller allowances or a smaller change of size, or check the outline in the check picture.",
        ) from error


def find_fold_lines(edge: SeamEdge) -> tuple[InnerLine, ...]:
    """Return the lines the allowance is folded on, with what is written on them; none for edges not turned.

    A mock cuff of allowance h, t of it turned inside, is folded twice: h - t from the raw edge to the inside, then as
    much again, back over the outside. Sewn half of t from the second fold and pulled down, it ends on the edge.
    """
    line = edge.points_mm
    if edge.finish is Finish.HEM:
        return (InnerLine(f"turn the {edge.name} up here", line),)
    if edge.finish is Finish.CASING:
        return (InnerLine("turn the waist down here", line),)
    if edge.finish is not Finish.MOCK_CUFF:
        return ()
    first = MOCK_CUFF_TURNED_MM.value
    second = edge.allowance_mm - 2.0 * first
    # Names are not used twice on a piece.
    where = "" if edge.name is EdgeName.HEM else f" ({edge.name})"
    return (
        InnerLine(f"mock cuff: turn in here first{where}", _beside(line, first)),
        InnerLine(f"finished end{where}", line),
        InnerLine(f"then back over the outside here{where}", _beside(line, -second)),
    )


def run_to_cut(line: InnerLine, edge: SeamEdge, cut_ring_mm: Floats) -> InnerLine:
    """Return a mock cuff's fold line run on, or trimmed, straight to the cut line; lines of other finishes unchanged.

    The allowances of the seams beside it are folded with it, so the line must be seen there too.
    """
    if edge.finish is not Finish.MOCK_CUFF:
        return line
    points, far = np.asarray(line.points_mm), 3.0 * edge.allowance_mm
    start, end = points[0] - far * tangent_at_start(points), points[-1] + far * tangent_at_end(points)
    inside = Polygon(cut_ring_mm).intersection(LineString(np.vstack([start, points, end])))
    runs = [run for run in getattr(inside, "geoms", [inside]) if run.length > 0]
    if not runs:
        return line
    return InnerLine(line.name, frozen(np.asarray(max(runs, key=lambda run: run.length).coords)))


def _beside(line: Floats, distance_mm: float) -> Floats:
    return np.asarray(offset_edge(line, distance_mm))
