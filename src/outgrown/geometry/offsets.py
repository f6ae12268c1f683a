"""Offsets: a line beside each edge of a ring, each at its own distance, meeting in true corners."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import LineString, Point, Polygon

from ..arrays import Floats
from ..errors import GeometryError
from .moves import reflect
from .polylines import as_polyline, length_mm, part_between, tangent_at_end, tangent_at_start
from .rings import as_ring, signed_area_mm2

SPIKE_LIMIT = 2.0
"""A corner may reach this many times the greater distance from its point; beyond it is cut off square.
2 leaves every corner of 60 degrees and more whole."""

NEGLIGIBLE_MM = 1e-6
MIRROR_OVER_MM = 40.0
"""The stretch of a turned edge, from its end, whose chord its neighbours are mirrored on [mm]."""


@dataclass(frozen=True, eq=False)
class OffsetEdge:
    """One edge of a counter-clockwise ring and how far beyond it the outer line runs.

    Attributes:
        points_mm: (N, 2) along the edge.
        distance_mm: how far outward; 0 leaves the edge where it is.
        is_turned: what lies beyond is turned back along this edge, so its neighbours are continued mirrored.
        is_fold: a straight edge that is continued straight, whatever is beyond its ends.
        turn_mm: a turned edge is turned back so far beyond itself, not along itself; its neighbours run on to there.
    """

    points_mm: Floats
    distance_mm: float
    is_turned: bool = False
    is_fold: bool = False
    turn_mm: float = 0.0


def offset_edge(points_mm: Floats, distance_mm: float) -> Floats:
    """Return the line running beside the edge at `distance_mm`, in the same direction.

    Positive is outward: to the right of an edge that runs counter-clockwise round its piece. 0 returns the
    edge. Inside a bend tighter than the distance the crossing parts are left out.

    >>> offset_edge(np.array([[0.0, 0.0], [10.0, 0.0]]), 6.0).tolist()
    [[0.0, -6.0], [10.0, -6.0]]

    Raises:
        GeometryError: nothing of the line is left.
    """
    points = as_polyline(points_mm)
    if abs(distance_mm) < NEGLIGIBLE_MM:
        return points.copy()
    beside = LineString(points).offset_curve(-distance_mm, join_style="mitre", mitre_limit=SPIKE_LIMIT)
    parts = [np.asarray(part.coords) for part in getattr(beside, "geoms", [beside]) if not part.is_empty]
    if not parts:
        raise GeometryError(f"No line is left {abs(distance_mm):.1f} mm beside this edge; it bends too tightly.")
    found = parts[0] if len(parts) == 1 else np.vstack(parts)
    if float(np.hypot(*(found[-1] - points[0]))) < float(np.hypot(*(found[0] - points[0]))):
        found = found[::-1]
    return as_polyline(found)


def offset_ring(edges: Sequence[OffsetEdge]) -> Floats:
    """Return the ring that runs beside `edges`, each at its own distance, corners met truly.

    Neighbouring lines are continued straight and meet where they cross; a corner that would become a spike is
    cut off at `SPIKE_LIMIT`. Beside a turned edge the neighbours' lines are continued mirrored on it, so that
    what lies beyond, turned back, covers exactly what is there.

    Raises:
        GeometryError: the outer line would cross itself, or would not enclose the edges.
    """
    inner = as_ring(np.vstack([edge.points_mm[:-1] for edge in edges]))
    if signed_area_mm2(np.vstack([edge.points_mm[:-1] for edge in edges])) < 0:
        raise GeometryError("The edges of a piece must run counter-clockwise.")
    lines = [offset_edge(edge.points_mm, edge.distance_mm) for edge in edges]
    count = len(edges)
    for i, edge in enumerate(edges):
        if edge.is_turned and edge.distance_mm > NEGLIGIBLE_MM:
            before, after = (i - 1) % count, (i + 1) % count
            # Cloth folds on a straight line: the mirror follows the edge over a stretch, not its last millimetre.
            over = min(max(MIRROR_OVER_MM, 1.5 * edge.distance_mm), 0.5 * length_mm(edge.points_mm))
            if not edges[before].is_fold:
                way = tangent_at_start(edge.points_mm, over)
                through = edge.points_mm[0] + edge.turn_mm * _right_of(way)
                lines[before] = _continue_mirrored(lines[before], through, way, edge.distance_mm)
            if not edges[after].is_fold:
                way = tangent_at_end(edge.points_mm, over)
                through = edge.points_mm[-1] + edge.turn_mm * _right_of(way)
                lines[after] = _continue_mirrored(lines[after][::-1], through, way, edge.distance_mm)[::-1]
    corners: list[list[Floats]] = []
    for i in range(count):
        j = (i + 1) % count
        is_turned = (edges[i].is_turned and edges[i].distance_mm > NEGLIGIBLE_MM) or (
            edges[j].is_turned and edges[j].distance_mm > 0
        )
        reach = max(edges[i].distance_mm, edges[j].distance_mm)
        lines[i], lines[j], corner = _meet(lines[i], lines[j], edges[i].points_mm[-1], reach, is_turned)
        corners.append(corner)
    ring = as_ring(np.vstack([np.vstack([lines[i], *[c[None] for c in corners[i]]]) for i in range(count)]))
    ring = without_needless(ring)
    shape = Polygon(ring)
    if not shape.is_valid:
        raise GeometryError("The line beside these edges would cross itself; the distances are too large.")
    if not shape.buffer(1e-3).covers(Polygon(inner)):
        raise GeometryError("The line beside these edges does not enclose them.")
    return ring


def offset_closed(ring_mm: Floats, distance_mm: float) -> Floats:
    """Return the ring running round `ring_mm` at `distance_mm` outside, corners met truly; 0 returns it cleaned.

    Gaps narrower than twice the distance close.
    """
    ring = as_ring(ring_mm)
    if abs(distance_mm) < NEGLIGIBLE_MM:
        return ring
    shape = Polygon(ring).buffer(0).buffer(distance_mm, join_style="mitre", mitre_limit=SPIKE_LIMIT)
    return without_needless(as_ring(np.asarray(shape.exterior.coords)[:-1]))


def without_needless(ring_mm: Floats) -> Floats:
    """Return the ring without points that add nothing: doubled, or on the straight line between their neighbours."""
    ring = ring_mm[np.hypot(*(ring_mm - np.roll(ring_mm, 1, axis=0)).T) > 1e-3]
    while len(ring) > 3:
        before, after = np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0)
        chord = after - before
        aside = np.abs(chord[:, 0] * (ring - before)[:, 1] - chord[:, 1] * (ring - before)[:, 0])
        needless = (aside <= 1e-6 * np.hypot(*chord.T)) & (np.einsum("ij,ij->i", ring - before, after - ring) > 0)
        needless &= ~np.roll(needless, 1)  # never two neighbours at once
        if not needless.any():
            break
        ring = ring[~needless]
    return np.asarray(ring)


def _right_of(direction: Floats) -> Floats:
    return np.array([direction[1], -direction[0]])


def _continue_mirrored(line_mm: Floats, through_mm: Floats, direction: Floats, distance_mm: float) -> Floats:
    """Return `line_mm`, cut or lengthened to the mirror line at its end, then continued by its own mirror image."""
    far = 4.0 * distance_mm + 50.0
    normal = np.array([-direction[1], direction[0]])
    longer = np.vstack([line_mm, line_mm[-1] + far * tangent_at_end(line_mm)])
    side = (longer - through_mm) @ normal
    inside = np.sign(side[0])
    # The last place where the line passes from the piece's side to beyond the mirror line.
    cut = np.flatnonzero((side[:-1] * inside > 0) & (side[1:] * inside <= 0))
    if len(cut) == 0:
        return line_mm
    k = int(cut[-1])
    share = side[k] / (side[k] - side[k + 1])
    crossing = longer[k] + share * (longer[k + 1] - longer[k])
    kept = np.vstack([longer[: k + 1], crossing])
    kept = as_polyline(kept)
    back = kept[::-1]
    image = reflect(back, through_mm, direction)
    image = part_between(image, 0.0, min(length_mm(image), 2.0 * distance_mm + 20.0))
    return np.vstack([kept, image[1:]])


def _meet(
    one_mm: Floats, other_mm: Floats, corner_mm: Floats, reach_mm: float, is_turned: bool
) -> tuple[Floats, Floats, list[Floats]]:
    """Return the two lines trimmed or lengthened to where they meet, and the points between them."""
    if float(np.hypot(*(one_mm[-1] - other_mm[0]))) < 1e-9:
        return one_mm, other_mm, []
    far = 6.0 * reach_mm + 20.0
    toward, away = tangent_at_end(one_mm), tangent_at_start(other_mm)
    longer_one = np.vstack([one_mm, one_mm[-1] + far * toward])
    longer_other = np.vstack([other_mm[0] - far * away, other_mm])
    common = LineString(longer_one).intersection(LineString(longer_other))
    places = [np.asarray(part.coords)[0] for part in getattr(common, "geoms", [common]) if not part.is_empty]
    if not places:
        return one_mm, other_mm, []
    place = min(places, key=lambda p: float(np.hypot(*(p - corner_mm))))
    from_corner = float(np.hypot(*(place - corner_mm)))
    # Lines that cross without being lengthened meet inside a corner that turns inward, however sharp it is.
    at_place = Point(place)
    is_inward = max(LineString(one_mm).distance(at_place), LineString(other_mm).distance(at_place)) < NEGLIGIBLE_MM
    if not (is_turned or is_inward) and from_corner > SPIKE_LIMIT * reach_mm:
        middle = (place - corner_mm) / from_corner
        across = np.array([-middle[1], middle[0]])
        at = corner_mm + SPIKE_LIMIT * reach_mm * middle
        bar = LineString([at - far * across, at + far * across])
        first = LineString(longer_one).intersection(bar)
        second = LineString(longer_other).intersection(bar)
        if isinstance(first, Point) and isinstance(second, Point) and not (first.is_empty or second.is_empty):
            a, b = np.asarray(first.coords)[0], np.asarray(second.coords)[0]
            return _until(longer_one, a), _from(longer_other, b), []
    return _until(longer_one, place), _from(longer_other, place), []


def _until(line_mm: Floats, place_mm: Floats) -> Floats:
    """Return the line from its start to a place on it."""
    stop = LineString(line_mm).project(Point(place_mm))
    kept = part_between(line_mm, 0.0, stop)
    kept[-1] = place_mm
    return kept


def _from(line_mm: Floats, place_mm: Floats) -> Floats:
    """Return the line from a place on it to its end."""
    return _until(line_mm[::-1], place_mm)[::-1]
