"""Half piece: a garment with mirrored halves, the two averaged, as half to cut on a fold."""

import numpy as np
from shapely import LineString, Point, Polygon, box

from ..arrays import Floats, frozen
from ..garment.garment import EdgeName, Garment
from ..geometry.offsets import offset_closed
from ..geometry.polylines import as_polyline, distances_to_line_mm
from ..geometry.rings import as_ring, closed
from .choices import Allowance
from .piece import Finish, Piece, SeamEdge

_FLIP = np.array([-1.0, 1.0])


def halves_apart_mm(garment: Garment) -> float:
    """Return how far one half's edge lies from the other's, mirrored, along 95 % of it [mm]."""
    ring = garment.edge(EdgeName.OUTLINE).points_mm[:-1]
    return float(np.percentile(distances_to_line_mm(ring * _FLIP, closed(ring)), 95))


def build_half(garment: Garment, allowance: Allowance, labels: tuple[str, ...]) -> Piece | None:
    """Return the right half, averaged with the left, its middle a fold on x = 0; None when it falls in two."""
    ring = garment.edge(EdgeName.OUTLINE).points_mm[:-1]
    outer = _averaged(ring)
    if outer is None:
        return None
    line = frozen(outer)
    fold = frozen([line[-1], line[0]])
    edges = (
        SeamEdge(EdgeName.CENTRE, fold, 0.0, Finish.FOLD),
        SeamEdge(EdgeName.OUTLINE, line, allowance.amount_mm, allowance.finish),
    )
    # Both halves together are widened, so that every corner is met truly, and the right one is kept.
    both = np.vstack([line, (line * _FLIP)[::-1][1:-1]])
    whole = Polygon(offset_closed(both, allowance.amount_mm))
    low, high = float(whole.bounds[1]), float(whole.bounds[3])
    right = whole.intersection(box(0.0, low - 1.0, whole.bounds[2] + 1.0, high + 1.0))
    shape = Polygon(line).buffer(0)
    grain_x = 0.12 * shape.bounds[2]
    middle_y = 0.5 * float(line[0, 1] + line[-1, 1])
    return Piece(
        name=garment.kind,
        edges=edges,
        cut_ring_mm=frozen(as_ring(np.asarray(right.exterior.coords)[:-1])),
        quantity="cut on fold, as often as the garment needs",
        grainline_mm=frozen(_within(shape, [[grain_x, low], [grain_x, high]])),
        stretch_mm=frozen(_within(shape, [[0.0, middle_y], [shape.bounds[2], middle_y]])),
        labels=labels,
    )


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
    beside = LineString(other)
    nearest = np.array([beside.interpolate(beside.project(Point(p))).coords[0] for p in one])
    mean = 0.5 * (one + nearest)
    mean[0], mean[-1] = 0.5 * (one[0] + other[0]), 0.5 * (one[-1] + other[-1])
    mean[[0, -1], 0] = 0.0
    return as_polyline(mean)


def _within(shape: Polygon, ends: list[list[float]]) -> Floats:
    """Return the middle 70 % of the longest stretch of a straight line inside the shape."""
    common = shape.intersection(LineString(ends))
    parts = [part for part in getattr(common, "geoms", [common]) if part.length > 0]
    found = np.asarray(max(parts, key=lambda part: part.length).coords)[[0, -1]]
    return np.asarray(found.mean(axis=0) + 0.7 * (found - found.mean(axis=0)))
