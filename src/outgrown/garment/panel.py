"""Panel: a leg's piece taken apart, front and back in one; its outline becomes named edges round."""

import numpy as np

from ..arrays import Floats, frozen
from ..errors import GarmentError
from ..findings import Finding, Severity
from ..geometry.corners import sharpen_corner
from ..geometry.moves import Frame
from ..geometry.polylines import length_mm
from ..geometry.rings import as_ring, part_of_ring, perimeter_mm, resample_ring
from ..geometry.sections import crossings_mm
from ..geometry.smoothing import smooth_line
from ..outline.outline import Outline
from ..practice import THIGH_BELOW_CROTCH_MM
from .garment import Corner, Edge, EdgeFit, EdgeName, Garment, Laid, Measurement
from .measuring import CORNER_DOUBT_MM, ScaleDoubt
from .panel_corners import WORST_PANEL_COST, find_panel_corners

RIPPLE_MM = 30.0
"""Shorter than for folded legs: one layer of cloth lies flatter than a garment."""
ROUNDED_MM = 1.0
CORNER_REACH_MM = 50.0
UNSURE_MM = 5.0
"""Rises that differ by less do not tell front from back."""
_NAMES = (
    (EdgeName.HEM, ""),
    (EdgeName.INSEAM, "front"),
    (EdgeName.RISE, "front"),
    (EdgeName.WAIST, ""),
    (EdgeName.RISE, "back"),
    (EdgeName.INSEAM, "back"),
)
_CORNERS = ("hem-back", "hem-front", "crotch-front", "waist-front", "waist-back", "crotch-back")


def read_panel(outline: Outline, kind: str, scale_doubt: ScaleDoubt = 0.0) -> Garment:
    """Return a leg's piece taken apart: hem, inseam, rise, waist, rise, inseam, the front at x > 0.

    The half with the longer rise is the back. The hem's middle lies at the origin, the way from there to the
    middle between the crotch points points up.

    Raises:
        GarmentError: the outline is not like such a piece.
    """
    ring = as_ring(outline.ring_mm)
    ring = resample_ring(ring, max(len(ring), int(perimeter_mm(ring))))
    found = find_panel_corners(ring)
    if found is None or found.cost > WORST_PANEL_COST:
        raise GarmentError(
            "This outline does not look like one leg's piece, with two inseams and two rises.",
            "Lay the piece flat and alone, or say how it lies with --laid.",
        )
    share = perimeter_mm(ring) / len(found.ring_mm)
    at = [index * share for index in found.indices]
    parts = [part_of_ring(ring, at[i], at[(i + 1) % 6]) for i in range(6)]
    corners = [
        sharpen_corner(parts[i - 1], part, part[0], skip_mm=ROUNDED_MM, reach_mm=CORNER_REACH_MM, max_move_mm=7.0)
        for i, part in enumerate(parts)
    ]
    fitted = [
        smooth_line(part, corners[i], corners[(i + 1) % 6], ripple_mm=RIPPLE_MM, step_mm=2.0, skip_mm=ROUNDED_MM)
        for i, part in enumerate(parts)
    ]
    lines = [line.points_mm for line in fitted]
    is_mirrored = length_mm(lines[2]) > length_mm(lines[4])
    origin = 0.5 * (corners[0] + corners[1])
    up = 0.5 * (corners[2] + corners[5]) - origin
    frame = Frame(tuple(origin.tolist()), tuple(up.tolist()), is_mirrored)
    upright = [frame.into(line) for line in lines]
    if is_mirrored:
        upright = [upright[i][::-1] for i in (0, 5, 4, 3, 2, 1)]
        corners = [corners[i] for i in (1, 0, 5, 4, 3, 2)]
        fitted = [fitted[i] for i in (0, 5, 4, 3, 2, 1)]
    edge_doubt = float(np.sqrt(np.mean(np.square(outline.error_mm)))) if len(outline.error_mm) else 0.0
    return Garment(
        kind=kind,
        laid=Laid.PANEL,
        edges=tuple(Edge(n, frozen(line), part) for (n, part), line in zip(_NAMES, upright, strict=True)),
        measurements=_measure(upright, frame, edge_doubt, scale_doubt),
        findings=_findings(upright),
        is_mirrored=is_mirrored,
        corners=tuple(
            Corner(name, frozen(line[0]), frozen(seen))
            for name, line, seen in zip(_CORNERS, upright, corners, strict=True)
        ),
        fits=tuple(EdgeFit(n, line.typical_mm, line.worst_mm) for (n, _), line in zip(_NAMES, fitted, strict=True)),
        frame=frame,
    )


def _measure(lines: list[Floats], frame: Frame, edge_doubt: float, scale_doubt: ScaleDoubt) -> tuple[Measurement, ...]:
    hem, front_inseam, front_rise, waist, back_rise, back_inseam = lines
    ring = np.vstack(lines)
    crotch = min(float(front_inseam[-1, 1]), float(back_inseam[0, 1]))
    thigh = max(crotch - THIGH_BELOW_CROTCH_MM.value, 0.5 * crotch)

    def measured(name: str, length: float, a: Floats, b: Floats, end: float, how: str) -> Measurement:
        one, two = frame.out_of(np.array([a, b]))
        scale = scale_doubt(one, two) if callable(scale_doubt) else scale_doubt * length
        return Measurement(name, length, 1.96 * float(np.sqrt(2.0 * end**2 + scale**2)), how)

    corner = float(np.hypot(edge_doubt, CORNER_DOUBT_MM))

    def along(name: str, line: Floats, how: str) -> Measurement:
        return measured(name, length_mm(line), line[0], line[-1], corner, how)

    def across(name: str, height: float, how: str) -> Measurement:
        found = crossings_mm(ring, height)
        low, high = float(found.min()), float(found.max())
        ends = np.array([[low, height], [high, height]])
        return measured(name, high - low, ends[0], ends[1], edge_doubt, how)

    return (
        along("front inseam", front_inseam, "along the piece's edge"),
        along("back inseam", back_inseam, "along the piece's edge"),
        along("front rise", front_rise, "along the piece's edge"),
        along("back rise", back_rise, "along the piece's edge"),
        along("waist edge", waist, "along the piece's edge: half of the waist"),
        across("thigh", thigh, f"across the piece, {crotch - thigh:.0f} mm below the crotch point"),
        across("knee", 0.5 * crotch, "across the piece, halfway between crotch point and hem"),
        along("hem", hem, "along the piece's edge"),
    )


def _findings(lines: list[Floats]) -> tuple[Finding, ...]:
    more = length_mm(lines[4]) - length_mm(lines[2])
    return (
        Finding(
            "back-told-by-rise",
            f"The half whose rise is {more:.0f} mm longer is taken for the back.",
            "" if more > UNSURE_MM else "They are nearly alike: mark front and back yourself.",
            Severity.NOTE if more > UNSURE_MM else Severity.WARNING,
            "rise",
            more,
        ),
    )
