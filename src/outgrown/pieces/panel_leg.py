"""Panel leg: a leg's piece taken apart becomes front and back halves along its middle line."""

from collections.abc import Mapping

import numpy as np
from shapely import LineString, Point

from ..arrays import Floats
from ..errors import PieceError
from ..findings import Finding, Severity
from ..garment.garment import EdgeName, Garment
from ..geometry.offsets import offset_edge
from ..geometry.polylines import as_polyline, part_between, tangent_at_end, tangent_at_start
from .choices import Allowance, Choices, EdgeIs
from .leg_seams import LegSeams

_FLIP = np.array([-1.0, 1.0])
_REACH_MM = 120.0
"""How far lines set inward are continued to meet their neighbours: a hem of 38 mm on a slanting inseam needs 60."""


def split_panel(
    garment: Garment, choices: Choices, allowances: Mapping[EdgeName, Allowance]
) -> tuple[LegSeams, LegSeams, tuple[Finding, ...]]:
    """Return the front and back halves of a panel, its middle line on x = 0, and what its edge was taken for.

    Where the edge is the line it was cut along, the seam lines lie inside it by the allowance of each edge.

    Raises:
        PieceError: the allowances leave no seam lines.
    """
    lines = [edge.points_mm for edge in garment.edges]
    if choices.edge_is is EdgeIs.CUT:
        lines = _set_inward(lines, [allowances[edge.name].amount_mm for edge in garment.edges])
    hem, front_inseam, front_rise, waist, back_rise, back_inseam = lines
    back_hem, front_hem = _split(hem)
    front_waist, back_waist = _split(waist)
    down = np.array([0.0, front_hem[0, 1]])
    side = np.array([front_waist[-1], front_hem[0]]) - down
    front = LegSeams(side, front_hem - down, front_inseam - down, front_rise - down, front_waist - down)

    def turned(line: Floats) -> Floats:
        return np.asarray((line[::-1] - down) * _FLIP)

    back = LegSeams(side, turned(back_hem), turned(back_inseam), turned(back_rise), turned(back_waist))
    return front, back, (_taken_for(choices),)


def _taken_for(choices: Choices) -> Finding:
    if choices.edge_is is EdgeIs.CUT:
        return Finding(
            "edge-is-cut-line",
            "The piece's edge is the line it was cut along; the seam lines lie inside it by the allowances.",
            "Check that the allowances are the garment's own.",
            Severity.NOTE,
        )
    if choices.edge_is is EdgeIs.SEAM:
        return Finding(
            "edge-is-seam-line",
            "The piece's edge is its seam line; the allowances were added outside it.",
            severity=Severity.NOTE,
        )
    return Finding(
        "edge-taken-for-seam-line",
        "The piece's edge was taken for its seam line, and the allowances were added outside it.",
        "If its seam allowances are still on it, its edge is the line it was cut along (--edge-is cut); if they were "
        "cut off, it is the seam line (--edge-is seam): say which.",
    )


def _split(line: Floats) -> tuple[Floats, Floats]:
    """Return the parts of a line that crosses x = 0 before and after the crossing."""
    x = line[:, 0]
    cut = np.flatnonzero((x[:-1] <= 0) != (x[1:] <= 0))
    if len(cut) == 0:
        raise PieceError(
            "The piece's middle line does not cross its hem and waist.", "Lay the piece flat and straight."
        )
    k = int(cut[len(cut) // 2])
    share = x[k] / (x[k] - x[k + 1])
    middle = line[k] + share * (line[k + 1] - line[k])
    middle[0] = 0.0
    return as_polyline(np.vstack([line[: k + 1], middle])), as_polyline(np.vstack([middle, line[k + 1 :]]))


def _set_inward(lines: list[Floats], distances_mm: list[float]) -> list[Floats]:
    """Return each line of a counter-clockwise ring set inward by its distance, ends where neighbours cross."""
    inner = [offset_edge(line, -distance) for line, distance in zip(lines, distances_mm, strict=True)]
    count = len(inner)
    corners = [_crossing(inner[i - 1], inner[i], lines[i][0]) for i in range(count)]
    return [_between(inner[i], corners[i], corners[(i + 1) % count]) for i in range(count)]


def _longer(line: Floats) -> Floats:
    start, end = tangent_at_start(line, 15.0), tangent_at_end(line, 15.0)
    return np.vstack([line[0] - _REACH_MM * start, line, line[-1] + _REACH_MM * end])


def _crossing(one: Floats, other: Floats, near: Floats) -> Floats:
    common = LineString(_longer(one)).intersection(LineString(_longer(other)))
    places = [np.asarray(p.coords)[0] for p in getattr(common, "geoms", [common]) if not p.is_empty]
    if not places:
        raise PieceError("The allowances leave no room for seam lines inside the piece.", "Give smaller ones.")
    return np.asarray(min(places, key=lambda p: float(np.hypot(*(p - near)))))


def _between(line: Floats, start: Floats, end: Floats) -> Floats:
    longer = LineString(_longer(line))
    first, last = (longer.project(Point(p)) for p in (start, end))
    if last - first < 1.0:
        raise PieceError("The allowances leave no room for seam lines inside the piece.", "Give smaller ones.")
    kept = part_between(_longer(line), first, last)
    kept[0], kept[-1] = start, end
    return as_polyline(kept)
