"""Leg seams: the half leg's seam lines, cut back for band and cuff, drawn on, and trued."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from shapely import LineString, Point

from ..arrays import Floats
from ..errors import PieceError
from ..findings import Finding, Severity
from ..garment.garment import EdgeName, Garment
from ..geometry.curves import fit_segment
from ..geometry.offsets import offset_edge
from ..geometry.polylines import (
    as_polyline,
    length_mm,
    part_between,
    resample,
    tangent_at_end,
    tangent_at_start,
)
from ..geometry.truing import angle_between_deg, bend_start

ORDER = (EdgeName.SIDE, EdgeName.HEM, EdgeName.INSEAM, EdgeName.RISE, EdgeName.WAIST)


@dataclass(frozen=True, eq=False)
class LegSeams:
    """Seam lines of a half leg, side fold on x = 0, counter-clockwise."""

    side_mm: Floats
    hem_mm: Floats
    inseam_mm: Floats
    rise_mm: Floats
    waist_mm: Floats

    @classmethod
    def of(cls, garment: Garment) -> "LegSeams":
        """Return the seam lines of a garment read as a half leg."""
        return cls(*(garment.edge(name).points_mm for name in ORDER))

    def shaped(self, side_shape_mm: Floats) -> "LegSeams":
        """Return the seams with the side bent to its own shape, widths and the inseam's length kept.

        Args:
            side_shape_mm: (N, 2) height and distance from the straight side, heights rising.
        """
        heights, aside = side_shape_mm.T

        def moved(line: Floats) -> Floats:
            return np.column_stack([line[:, 0] + np.interp(line[:, 1], heights, aside), line[:, 1]])

        bent = LegSeams(moved(resample(self.side_mm, 2.0)), *(moved(line) for line in self.lines()[1:]))
        return bent.with_inseam(length_mm(self.inseam_mm))

    def with_inseam(self, wanted_mm: float) -> "LegSeams":
        """Return the half stretched along the leg below the crotch point until its inseam is `wanted_mm` long."""
        crotch, zero = float(self.inseam_mm[-1, 1]), float(self.side_mm[-1, 1])

        def moved(points: Floats, scale: float) -> Floats:
            below = np.minimum(points[:, 1], crotch) - zero
            return np.column_stack([points[:, 0], points[:, 1] + (scale - 1.0) * below])

        scale = float(brentq(lambda k: length_mm(moved(self.inseam_mm, k)) - wanted_mm, 0.5, 2.0, xtol=1e-12))
        return LegSeams(*(moved(line, scale) for line in self.lines()))

    def lines(self) -> tuple[Floats, ...]:
        """Return them in the order of `ORDER`."""
        return (self.side_mm, self.hem_mm, self.inseam_mm, self.rise_mm, self.waist_mm)


SQUARE_WITHIN_MM = 35.0
SQUARE_UP_TO_DEG = 20.0
"""A corner within this of a right angle is made square over the last `SQUARE_WITHIN_MM` of one edge, which moves
nothing by more than 2 mm. Beyond it the shape is meant, or wants the person's eye."""
ANGLE_OVER_MM = 12.0
"""How much of a line tells in which direction it leaves its corner: more than the photo's ripples, less than a hook."""
END_OVER_MM = 1.0
"""How much of a smooth seam line tells in which direction it arrives at its corner. It may bend there, an inseam to a
crotch point by a degree a millimetre; what is drawn is sewn. Measured on 150 invented pairs: joined crotch points
within 2.6 degrees of smooth over their first millimetre, and within 12 when 4 mm were looked at."""
SQUARE_HANDLE = 0.2
"""Handles of a trued hem or waist, as a share of its length: square over the seam allowance, no hook at the end."""
QUIET_MM = 2.0
"""Hem and waist become one simple square-ended curve if that moves them no farther than this: what the photo
shows finer than that is cloth, not cut."""


def true_corners(
    seams: LegSeams, crotch_deg: float = 90.0, *, has_side: bool = True
) -> tuple[LegSeams, tuple[Finding, ...]]:
    """Return the seams with square corners where pieces join or open out, and what was too far from square.

    Hem and waist leave the side fold square, so that the opened piece has no point there; the waist meets the
    rise square, so that the joined waist runs smooth; the rise leaves the inseam square, so that it runs
    smooth through the crotch point. Ends stay where they are.

    Args:
        seams: of a half leg.
        crotch_deg: angle inside the leg at the crotch point [deg]; with the other half's, 180 runs smooth.
        has_side: hem and waist have an end at the side; without, they run on and are left as they are there.
    """
    # Square to the side, which is upright unless it has a shape of its own.
    at_waist = _left_of(tangent_at_start(seams.side_mm, END_OVER_MM))
    at_hem = _left_of(tangent_at_end(seams.side_mm, END_OVER_MM))
    findings = []
    inseam_end = tangent_at_end(seams.inseam_mm, END_OVER_MM)
    more = np.deg2rad(90.0 - crotch_deg)
    away = np.cos(more) * _left_of(inseam_end) - np.sin(more) * inseam_end
    rise, off = _square_start(seams.rise_mm, away)
    if off is not None:
        findings.append(_not_square("rise", "crotch point", 90.0 - off))
    across_rise = _left_of(tangent_at_end(rise, END_OVER_MM))
    if not has_side:
        kept, off = _square_start(seams.waist_mm, across_rise)
        if off is not None:
            findings.append(_not_square("waist", "rise", 90.0 - off))
        return LegSeams(seams.side_mm, seams.hem_mm, seams.inseam_mm, rise, kept), tuple(findings)
    waist = _quiet(seams.waist_mm, across_rise, -at_waist)
    if waist is None:
        waist, off = _square_start(seams.waist_mm, across_rise)
        if off is not None:
            findings.append(_not_square("waist", "rise", 90.0 - off))
        back, off = _square_start(waist[::-1], at_waist)
        if off is not None:
            findings.append(_not_square("waist", "side fold", 90.0 + off))
        waist = back[::-1]
    hem = _quiet(seams.hem_mm, at_hem, tangent_at_end(seams.hem_mm, 0.4 * length_mm(seams.hem_mm)))
    if hem is None:
        hem, off = _square_start(seams.hem_mm, at_hem)
        if off is not None:
            findings.append(_not_square("hem", "side fold", 90.0 - off))
    return LegSeams(seams.side_mm, hem, seams.inseam_mm, rise, waist), tuple(findings)


def _left_of(direction: Floats) -> Floats:
    return np.array([-direction[1], direction[0]])


def _quiet(line_mm: Floats, out_of: Floats, into: Floats) -> Floats | None:
    """Return one simple curve with these ends in place of the line, or None when it would stray too far."""
    curve = fit_segment(line_mm, out_of, into, SQUARE_HANDLE)
    return curve.points(2.0) if curve.deviation_mm <= QUIET_MM else None


def _square_start(line_mm: Floats, direction: Floats) -> tuple[Floats, float | None]:
    """Return the line bent to leave along `direction`, or as it was with the angle it is off [deg]."""
    within = min(SQUARE_WITHIN_MM, 0.35 * length_mm(line_mm))
    # Over a longer stretch a curve that hooks into its corner would seem to be off.
    off = angle_between_deg(direction, tangent_at_start(line_mm, min(within, ANGLE_OVER_MM)))
    if abs(off) > SQUARE_UP_TO_DEG:
        return line_mm, off
    return bend_start(line_mm, direction, within), None


def _not_square(edge: str, other: str, angle_deg: float) -> Finding:
    return Finding(
        "corner-not-square",
        f"The {edge} meets the {other} at {angle_deg:.0f} degrees; joined, it will have a point or a dent there.",
        "Draw it smooth by hand across the joined pieces if the garment has none.",
        Severity.NOTE,
        edge,
    )


def spread_waist(seams: LegSeams, edge_mm: float) -> LegSeams:
    """Return the leg with its waist edge made `edge_mm` long, spread evenly and fading to nothing at the crotch.

    For a waist photographed gathered by its elastic: `edge_mm` is the quarter of the waist pulled out flat.
    """
    crotch = float(seams.inseam_mm[-1, 1])
    top = float(seams.waist_mm[0, 1])

    def spread(points: Floats, share: float) -> Floats:
        up = np.clip((points[:, 1] - crotch) / (top - crotch), 0.0, 1.0)
        fading = up * up * (3.0 - 2.0 * up)
        return np.column_stack([points[:, 0] * (1.0 + (share - 1.0) * fading), points[:, 1]])

    low, high = 0.3, 4.0
    if not length_mm(spread(seams.waist_mm, low)) < edge_mm < length_mm(spread(seams.waist_mm, high)):
        raise PieceError(
            f"A waist of {4 * edge_mm:.0f} mm round cannot be drawn on this leg.",
            "Measure the waist pulled out flat again, side to side.",
        )
    share = float(brentq(lambda k: length_mm(spread(seams.waist_mm, k)) - edge_mm, low, high, xtol=1e-9))
    rise, waist = spread(seams.rise_mm, share), spread(seams.waist_mm, share)
    waist[-1, 0] = 0.0
    waist[0] = rise[-1]
    return LegSeams(seams.side_mm, seams.hem_mm, seams.inseam_mm, rise, waist)


def lengthen(seams: LegSeams, by_mm: float) -> LegSeams:
    """Return the leg drawn on by `by_mm` along its own taper, its hem moved down level."""
    leaving = tangent_at_start(seams.inseam_mm, 40.0)
    foot = seams.inseam_mm[0] - leaving * (by_mm / max(float(leaving[1]), 0.3))
    inseam = np.vstack([resample(np.array([foot, seams.inseam_mm[0]]), 2.0)[:-1], seams.inseam_mm])
    start, end = seams.hem_mm[0], seams.hem_mm[-1]
    share = float(foot[0]) / float(end[0])
    hem = (seams.hem_mm - start) * np.array([share, 1.0]) + start - np.array([0.0, by_mm])
    hem[-1] = foot
    return LegSeams(np.array([seams.side_mm[0], hem[0]]), hem, inseam, seams.rise_mm, seams.waist_mm)


def lower_waist(seams: LegSeams, by_mm: float) -> LegSeams:
    """Return the seams with the waist edge moved down by `by_mm`, square to itself; a band makes it up."""
    inner = offset_edge(seams.waist_mm, -by_mm)
    rise, waist = trim_to(seams.rise_mm, inner)
    waist[-1, 0] = 0.0
    return LegSeams(np.array([waist[-1], seams.side_mm[-1]]), seams.hem_mm, seams.inseam_mm, rise, waist)


def raise_hem(seams: LegSeams, by_mm: float) -> LegSeams:
    """Return the seams with the hem moved up by `by_mm`, square to itself; a cuff makes it up."""
    return _upside_down(lower_waist(_upside_down(seams), by_mm))


def heighten(seams: LegSeams, by_mm: float) -> LegSeams:
    """Return the leg drawn on upward by `by_mm` along its rise, its waist moved up level."""
    return _upside_down(lengthen(_upside_down(seams), by_mm))


def _upside_down(seams: LegSeams) -> LegSeams:
    """Return the seams turned over top to bottom: the waist becomes the hem, the rise the inseam."""
    side, hem, inseam, rise, waist = (line[::-1] * np.array([1.0, -1.0]) for line in seams.lines())
    return LegSeams(side, waist, rise, inseam, hem)


def trim_to(seam_mm: Floats, edge_mm: Floats) -> tuple[Floats, Floats]:
    """Return `seam_mm` up to where it meets `edge_mm`, and `edge_mm` from there to the fold at x = 0."""
    far = 400.0
    longer = np.vstack(
        [
            edge_mm[0] - far * tangent_at_start(edge_mm),
            edge_mm,
            edge_mm[-1] + far * tangent_at_end(edge_mm),
        ]
    )
    line = LineString(seam_mm)
    common = line.intersection(LineString(longer))
    places = [p for p in getattr(common, "geoms", [common]) if isinstance(p, Point) and not p.is_empty]
    if not places:
        raise PieceError("The band or cuff is higher than the leg has room for.", "Choose a lower one.")
    place = max(places, key=line.project)
    kept = part_between(seam_mm, 0.0, line.project(place))
    edge = part_between(longer, LineString(longer).project(place), length_mm(longer))
    edge = edge[edge[:, 0] > 1e-6]
    edge = np.vstack([np.asarray(place.coords), edge[1:]]) if len(edge) > 1 else edge
    edge = np.vstack([edge, [0.0, edge[-1, 1]]])
    kept[-1] = edge[0]
    return as_polyline(kept), as_polyline(edge)
