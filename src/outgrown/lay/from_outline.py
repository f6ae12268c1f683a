"""From an outline: the leftover or the shirt in a photo becomes cloth to lay pieces on."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon, box

from ..arrays import Floats, frozen
from ..errors import LayError
from ..findings import Finding, Severity
from ..geometry.moves import Frame
from ..geometry.rings import as_ring
from ..units import write_inch
from .cloth import Leftover

_DOWN_DEG = 25.0
"""A hem runs so nearly across the shirt."""
_NEAR_MM = 12.0
_NOT_STRAIGHT_MM = 4.0
_CORNER_MM = 6.0
_STEP_MM, _LOOK_BACK, _HEM_ZONE_MM = 4.0, 5, 40.0
_JUMP_SHARE = 0.1
"""Of the hem: a body that gets so much wider or narrower within 2 cm has come to its sleeves."""


@dataclass(frozen=True, eq=False)
class SeenCloth:
    """Cloth as it lies in a photo.

    Attributes:
        cloth: in its own millimetres.
        frame: carries the photo's floor millimetres into those.
        findings: what the person should know.
    """

    cloth: Leftover
    frame: Frame
    findings: tuple[Finding, ...] = ()


def see_leftover(
    ring_mm: Floats, holes_mm: Sequence[Floats], up: tuple[float, float], margin_mm: float, grain_deg: float = 90.0
) -> SeenCloth:
    """Return a leftover, what is up in its photo being up.

    Args:
        ring_mm: its outline on the floor.
        holes_mm: rings of its holes.
        up: direction on the floor that is up in the photo.
        margin_mm: kept free along its edges.
        grain_deg: of its grain, 90 being up in the photo, counter-clockwise.
    """
    low = ring_mm.mean(axis=0)
    frame = Frame((float(low[0]), float(low[1])), up)
    corner = frame.into(ring_mm).min(axis=0)
    origin = frame.out_of(corner)
    frame = Frame((float(origin[0]), float(origin[1])), up)
    holes = tuple(frozen(frame.into(hole)) for hole in holes_mm)
    return SeenCloth(Leftover(frozen(frame.into(ring_mm)), holes, margin_mm, grain_deg), frame)


def see_shirt(ring_mm: Floats, holes_mm: Sequence[Floats], up: tuple[float, float], margin_mm: float) -> SeenCloth:
    """Return a shirt lying flat, its hem downwards in the photo: front and back at once, the hem on y = 0.

    Raises:
        LayError: no edge is like a hem.
    """
    flat = see_leftover(ring_mm, holes_mm, up, margin_mm)
    start, end = find_hem(flat.cloth.ring_mm)
    way = end - start
    origin, upward = (
        flat.frame.out_of(start),
        flat.frame.out_of(start + np.array([-way[1], way[0]])) - flat.frame.out_of(start),
    )
    frame = Frame((float(origin[0]), float(origin[1])), (float(upward[0]), float(upward[1])))
    ring = frame.into(ring_mm)
    wide = float(np.hypot(*way))
    near = ring[(np.abs(ring[:, 1]) < _NEAR_MM) & (ring[:, 0] > 2 * _CORNER_MM) & (ring[:, 0] < wide - 2 * _CORNER_MM)]
    off = float(np.percentile(np.abs(near[:, 1]), 95)) if len(near) else 0.0
    findings = [
        Finding(
            "body-of-the-shirt",
            "Only the body of the shirt is used, from its hem to the underarm: above it are sleeves and seams.",
            severity=Severity.NOTE,
        )
    ]
    if off > _NOT_STRAIGHT_MM:
        findings.append(
            Finding(
                "hem-not-straight",
                f"The shirt's hem is up to {off:.0f} mm ({write_inch(off, 16)}) off a straight line in the photo.",
                "Lay it flat again, or straighten the hem before cutting.",
                Severity.WARNING,
                "hem",
                off,
            )
        )
    shape = Polygon(ring).buffer(0)
    # The hem is drawn straight: what hangs below it is left out, what is missing above it is within the margin's doubt.
    shape = shapely.union_all([shape, box(0.0, 0.0, wide, _NEAR_MM)]).intersection(
        box(shape.bounds[0], 0.0, shape.bounds[2], shape.bounds[3])
    )
    underarm = _find_underarm(shape, wide)
    shape = shape.intersection(box(shape.bounds[0], 0.0, shape.bounds[2], underarm))
    parts = [part for part in getattr(shape, "geoms", [shape]) if isinstance(part, Polygon)]
    whole = as_ring(np.asarray(max(parts, key=lambda part: part.area).exterior.coords)[:-1])
    holes = tuple(frozen(frame.into(hole)) for hole in holes_mm)
    hem = frozen([[_CORNER_MM, 0.0], [wide - _CORNER_MM, 0.0]])
    return SeenCloth(Leftover(frozen(whole), holes, margin_mm, 90.0, 2, hem), frame, tuple(findings))


def _find_underarm(shape: shapely.Geometry, wide_mm: float) -> float:
    """Return how high above the hem the body ends [mm]: where the sleeves, or armholes, begin."""
    high = float(shape.bounds[3])
    levels = np.arange(_STEP_MM, high, _STEP_MM)
    middle = shapely.Point(0.5 * wide_mm, 0.0)
    widths: list[float] = []
    for level in levels:
        across = shape.intersection(shapely.LineString([(shape.bounds[0] - 1, level), (shape.bounds[2] + 1, level)]))
        runs = [run for run in getattr(across, "geoms", [across]) if not run.is_empty]
        if not runs:
            return float(level)
        run = min(runs, key=lambda line: line.distance(shapely.Point(middle.x, level)))
        widths.append(float(run.bounds[2] - run.bounds[0]))
        before = widths[max(0, len(widths) - 1 - _LOOK_BACK)]
        if abs(widths[-1] - before) > _JUMP_SHARE * wide_mm and level > _HEM_ZONE_MM:
            return float(level - (_LOOK_BACK + 1) * _STEP_MM)
    return high


def find_hem(ring: Floats) -> tuple[Floats, Floats]:
    """Return the ends, left and right, of the straight edge that faces down (y up).

    It is the longest edge of the ring's convex hull that faces down, fitted to all points of the ring beside it.

    Raises:
        LayError: there is none.
    """
    hull = np.asarray(Polygon(ring).convex_hull.simplify(3.0).exterior.coords)[:-1]
    if Polygon(hull).exterior.is_ccw is False:
        hull = hull[::-1]
    ways = np.roll(hull, -1, axis=0) - hull
    lengths = np.hypot(*ways.T)
    faces_down = np.abs(np.degrees(np.arctan2(ways[:, 1], ways[:, 0]))) < _DOWN_DEG
    wide = float(np.ptp(ring[:, 0]))
    if not faces_down.any() or lengths[faces_down].max() < 0.3 * wide:
        raise LayError(
            "No straight hem faces down in the photo.", "Turn the photo so that the shirt's hem is at the bottom."
        )
    at = int(np.argmax(np.where(faces_down, lengths, 0.0)))
    start, way, long = hull[at], ways[at] / lengths[at], float(lengths[at])
    along = (ring - start) @ way
    off = (ring - start) @ np.array([-way[1], way[0]])
    beside = (np.abs(off) < _NEAR_MM) & (along > _CORNER_MM) & (along < long - _CORNER_MM)
    if beside.sum() >= 3:
        slope, level = np.polyfit(along[beside], off[beside], 1)
        normal = np.array([-way[1], way[0]])
        start = start + level * normal
        way = way + slope * normal
        way = way / np.hypot(*way)
    return start, start + long * way


def measured_shirt(width_mm: float, length_mm: float, margin_mm: float) -> Leftover:
    """Return the body of a shirt from what was measured: side to side, and hem to underarm.

    Raises:
        LayError: no shirt is like that.
    """
    for name, value in (("wide", width_mm), ("long", length_mm)):
        if not 80.0 <= value <= 2000.0:
            raise LayError(f"A shirt {value:g} mm {name} cannot be.", "Give it with its unit, for example 48cm.")
    ring = frozen([[0.0, 0.0], [width_mm, 0.0], [width_mm, length_mm], [0.0, length_mm]])
    return Leftover(ring, (), margin_mm, 90.0, 2, frozen([[0.0, 0.0], [width_mm, 0.0]]))
