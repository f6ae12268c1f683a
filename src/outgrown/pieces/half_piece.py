"""Half piece: a garment with mirrored halves, the two averaged, as half to cut on a fold."""

from collections.abc import Mapping

import numpy as np
from shapely import Polygon, box

from ..arrays import Floats, frozen
from ..garment.garment import EdgeName, Garment
from ..garment.kinds import KINDS
from ..garment.naming import name_half_edges
from ..geometry.corners import find_line_corners
from ..geometry.offsets import offset_closed
from ..geometry.polylines import as_polyline, distances_to_line_mm, length_mm, points_at
from ..geometry.rings import as_ring, closed
from .choices import Allowance
from .marks import mark_folds, mark_notches
from .piece import Finish, Piece, SeamEdge
from .turning import draw_cut_ring
from .whole_piece import run_inside, whole_name

CORNER_TURN_DEG = 30.0
REACH_MM = 6.0
"""A turn this sharp, seen over so much to either side, is a corner."""
MATCHED_MM = 20.0
"""Corners of the two halves this near to each other are the same."""
STEP_MM = 1.5
_FLIP = np.array([-1.0, 1.0])


def halves_apart_mm(garment: Garment) -> float:
    """Return how far one half's edge lies from the other's, mirrored, along 95 % of it [mm]."""
    ring = garment.edge(EdgeName.OUTLINE).points_mm[:-1]
    return float(np.percentile(distances_to_line_mm(ring * _FLIP, closed(ring)), 95))


def allow_half(garment: Garment, allowances: Mapping[EdgeName, Allowance]) -> tuple[SeamEdge, ...]:
    """Return the edges of the right half, averaged with the left: its middle, a fold on x = 0, then the others.

    They have the names their kind gives them, or are one, the outline, where its corners do not tell them. Empty when
    half of the garment falls in two.
    """
    line = _averaged(garment.edge(EdgeName.OUTLINE).points_mm[:-1])
    if line is None:
        return ()
    named = [(edge.name, edge.points_mm) for edge in name_half_edges(line, KINDS.get(garment.kind, KINDS["other"]))]
    return join_fold([*(named or [(EdgeName.OUTLINE, line)])], allowances)


def join_fold(lines: list[tuple[EdgeName, Floats]], allowances: Mapping[EdgeName, Allowance]) -> tuple[SeamEdge, ...]:
    """Return the fold on x = 0 and the edges from its lower end round to its upper one, each with its allowance."""
    fold = frozen([lines[-1][1][-1], lines[0][1][0]])
    return (
        SeamEdge(EdgeName.CENTRE, fold, 0.0, Finish.FOLD),
        *(SeamEdge(n, frozen(line), allowances[n].amount_mm, allowances[n].finish) for n, line in lines),
    )


def build_half(garment: Garment, edges: tuple[SeamEdge, ...], quantity: str, labels: tuple[str, ...]) -> Piece:
    """Return the half with these edges as a piece.

    Raises:
        PieceError: the allowances are too large for the shape.
    """
    line = np.vstack([edges[1].points_mm, *(edge.points_mm[1:] for edge in edges[2:])])
    ring = frozen(_widened(line, edges[1].allowance_mm) if len(edges) == 2 else draw_cut_ring(edges))
    shape = Polygon(line).buffer(0)
    low, high = float(shape.bounds[1]), float(shape.bounds[3])
    grain_x = 0.12 * shape.bounds[2]
    middle_y = 0.5 * float(line[0, 1] + line[-1, 1])
    return Piece(
        name=whole_name(garment),
        edges=edges,
        cut_ring_mm=ring,
        quantity=quantity,
        grainline_mm=frozen(run_inside(shape, [[grain_x, low], [grain_x, high]])),
        stretch_mm=frozen(run_inside(shape, [[0.0, middle_y], [shape.bounds[2], middle_y]])),
        notches=mark_notches(edges),
        inner_lines=mark_folds(edges, ring),
        labels=labels,
    )


def _widened(line: Floats, distance_mm: float) -> Floats:
    """Return the ring round one half with the same allowance everywhere but on its fold.

    Both halves together are widened, so that every corner is met truly, and the right one is kept.
    """
    both = np.vstack([line, (line * _FLIP)[::-1][1:-1]])
    whole = Polygon(offset_closed(both, distance_mm))
    low, high = float(whole.bounds[1]), float(whole.bounds[3])
    right = whole.intersection(box(0.0, low - 1.0, whole.bounds[2] + 1.0, high + 1.0))
    return as_ring(np.asarray(right.exterior.coords)[:-1])


def _averaged(ring: Floats) -> Floats | None:
    """Return the right half's edge from the fold's lower end to its upper, halfway to the mirrored left half."""
    halves = []
    for shape in (ring, (ring * _FLIP)[::-1]):
        area = Polygon(shape).buffer(0)
        far = 2.0 * float(np.abs(shape).max())
        part = area.intersection(box(0.0, -far, far, far))
        if part.geom_type != "Polygon":
            return None
        line = np.asarray(part.exterior.coords)[:-1]
        line = as_ring(line)
        on_fold = np.flatnonzero(np.abs(line[:, 0]) < 1e-9)
        lowest = int(on_fold[np.argmin(line[on_fold, 1])])
        line = np.roll(line, -lowest, axis=0)
        on_fold = np.flatnonzero(np.abs(line[:, 0]) < 1e-9)
        highest = int(on_fold[np.argmax(line[on_fold, 1])])
        halves.append(line[: highest + 1])
    one, other = halves
    mean = _mean_line(one, other)
    mean[[0, -1], 0] = 0.0
    return as_polyline(mean)


def _mean_line(one: Floats, other: Floats) -> Floats:
    """Return the line halfway between two much like each other, corner matched to corner."""
    stops = [[0.0], [0.0]]
    there = _corners_along(other)
    places = points_at(other, there) if len(there) else np.zeros((0, 2))
    for along in _corners_along(one):
        if len(there) == 0:
            break
        gap = np.hypot(*(places - points_at(one, np.array([along]))).T)
        k = int(np.argmin(gap))
        if gap[k] < MATCHED_MM and there[k] > stops[1][-1] + 1.0:
            stops[0].append(float(along))
            stops[1].append(float(there[k]))
    stops[0].append(length_mm(one))
    stops[1].append(length_mm(other))
    parts = []
    for i in range(len(stops[0]) - 1):
        count = max(3, int((stops[0][i + 1] - stops[0][i]) / STEP_MM) + 1)
        pair = [
            points_at(line, np.linspace(at[i], at[i + 1], count)) for line, at in zip((one, other), stops, strict=True)
        ]
        parts.append(0.5 * (pair[0] + pair[1])[:-1] if i < len(stops[0]) - 2 else 0.5 * (pair[0] + pair[1]))
    return np.vstack(parts)


def _corners_along(line: Floats) -> Floats:
    """Return how far along the line its corners lie [mm]."""
    return np.array([corner.along_mm for corner in find_line_corners(line, REACH_MM, CORNER_TURN_DEG)])
