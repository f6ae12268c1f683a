"""Reading a garment: an outline becomes named smooth edges, upright, with its measurements."""

import numpy as np

from ..arrays import Floats, frozen
from ..errors import GarmentError
from ..findings import Finding, Severity
from ..geometry.corners import sharpen_corner
from ..geometry.moves import Frame
from ..geometry.polylines import length_mm
from ..geometry.rings import as_ring, part_of_ring, perimeter_mm
from ..geometry.smoothing import SmoothLine, smooth_line
from ..outline.outline import Outline
from .fold import straighten_side
from .garment import Corner, Edge, EdgeFit, EdgeName, Garment, Laid
from .half_leg import WORST_COST, CornerName, HalfLegCorners, find_half_leg
from .measuring import ScaleDoubt, measure_half_leg
from .whole import read_whole

RIPPLE_MM = 28.0
"""Errors of the cloth's edge within this length hang together; ripples up to twice as long are smoothed away."""
ROUNDED_MM = 5.0
"""An edge this near to a corner is taken to be rounded by the cloth and the photo."""
SHAPED_SIDE_MM = 8.0
"""A side farther than this from straight is probably shaped by a seam."""
FAR_EDGE_MM = 6.0
"""A photographed edge farther than this from its smooth line deserves a look."""

_EDGE_NAMES = (EdgeName.SIDE, EdgeName.HEM, EdgeName.INSEAM, EdgeName.RISE, EdgeName.WAIST)


def read_garment(
    outline: Outline,
    *,
    kind: str = "leggings",
    laid: Laid = Laid.FOLDED,
    scale_doubt: ScaleDoubt = 0.0,
) -> Garment:
    """Return `outline` read as a garment.

    Args:
        outline: as seen from above; any turn, upside down or turned over.
        kind: what the person calls it, e.g. `leggings`.
        laid: how it lay. `FOLDED` gives the named edges of a half leg; others the whole outline as one edge.
        scale_doubt: standard deviation of lengths: a share, or a function of two points [mm].

    Raises:
        GarmentError: the outline is not like a folded pair.
    """
    if laid is Laid.FOLDED:
        return _read_folded(outline, kind, scale_doubt)
    return read_whole(outline, kind, laid, scale_doubt)


def _read_folded(outline: Outline, kind: str, scale_doubt: ScaleDoubt) -> Garment:
    ring = as_ring(outline.ring_mm)
    found = find_half_leg(ring)
    if found is None or found.cost > WORST_COST:
        raise GarmentError(
            f"This outline does not look like {kind} folded lengthwise, one leg on the other.",
            "Fold the pair so that both legs lie on one another and the rise is pulled out flat, "
            "or say how it lies with --laid open, panel or other.",
        )
    turned_over = ring[::-1] * np.array([-1.0, 1.0]) if found.is_mirrored else ring
    parts = _parts(turned_over, found)
    corners = _sharp_corners(parts)
    lines = [
        smooth_line(parts[i], corners[i], corners[(i + 1) % 5], ripple_mm=RIPPLE_MM, step_mm=2.0, skip_mm=ROUNDED_MM)
        for i in range(5)
    ]
    frame = _upright(lines, found.is_mirrored)
    flip = np.array([-1.0, 1.0]) if found.is_mirrored else np.ones(2)
    leg = straighten_side([frame.into(line.points_mm * flip) for line in lines])
    low = float(frame.into(corners[1:2] * flip)[0, 1])

    def seen(points: Floats) -> Floats:
        return frame.out_of(points + np.array([0.0, low]))

    edge_doubt = float(np.sqrt(np.mean(np.square(outline.error_mm)))) if len(outline.error_mm) else 0.0
    fits = tuple(EdgeFit(name, line.typical_mm, line.worst_mm) for name, line in zip(_EDGE_NAMES, lines, strict=True))
    return Garment(
        kind=kind,
        laid=Laid.FOLDED,
        edges=tuple(Edge(n, frozen(e)) for n, e in zip(_EDGE_NAMES, leg.edges_mm, strict=True)),
        measurements=measure_half_leg(leg.edges_mm, seen, edge_doubt, scale_doubt),
        findings=_findings(leg.bow_mm, fits, found),
        is_mirrored=found.is_mirrored,
        corners=tuple(
            Corner(str(name), frozen(edge[0]), frozen(corner * flip))
            for name, edge, corner in zip(CornerName, leg.edges_mm, corners, strict=True)
        ),
        fits=fits,
        frame=frame,
    )


def _parts(ring: Floats, found: HalfLegCorners) -> list[Floats]:
    """Return the stretches of the full ring between neighbouring corners."""
    share = perimeter_mm(ring) / len(found.ring_mm)
    at = [index * share for index in found.indices]
    return [part_of_ring(ring, at[i], at[(i + 1) % 5]) for i in range(5)]


def _sharp_corners(parts: list[Floats]) -> Floats:
    """Return the five corners where the smooth sides of each would meet."""
    corners = []
    for i, after in enumerate(parts):
        before = parts[i - 1]
        reach = float(np.clip(0.3 * min(length_mm(before), length_mm(after)), 20.0, 60.0))
        corners.append(sharpen_corner(before, after, after[0], skip_mm=ROUNDED_MM, reach_mm=reach, max_move_mm=9.0))
    return np.array(corners)


def _upright(lines: list[SmoothLine], is_mirrored: bool) -> Frame:
    """Return the frame with the side's own direction up and the hem's outer corner as origin."""
    side = lines[0].points_mm
    direction = np.linalg.svd(side - side.mean(axis=0), full_matrices=False)[2][0]
    if direction @ (side[0] - side[-1]) < 0:
        direction = -direction
    flip = np.array([-1.0, 1.0]) if is_mirrored else np.ones(2)
    origin, up = side[-1] * flip, direction * flip
    return Frame((float(origin[0]), float(origin[1])), (float(up[0]), float(up[1])), is_mirrored)


def _findings(bow_mm: float, fits: tuple[EdgeFit, ...], found: HalfLegCorners) -> tuple[Finding, ...]:
    findings = [
        Finding(
            "side-straightened",
            f"The side fold was made straight; it lay within {bow_mm:.1f} mm of a straight line.",
            severity=Severity.NOTE,
            place="side",
            amount_mm=bow_mm,
        )
    ]
    if bow_mm > SHAPED_SIDE_MM:
        findings.append(
            Finding(
                "side-probably-shaped",
                f"The side is {bow_mm:.0f} mm from straight, so the pair probably has shaped side seams.",
                "The widths are kept, but check the side against the garment before cutting.",
                place="side",
                amount_mm=bow_mm,
            )
        )
    worst = max(fits, key=lambda fit: fit.worst_mm)
    findings.append(
        Finding(
            "edges-smoothed",
            f"The smooth seam lines lie within {worst.worst_mm:.1f} mm of the photographed edge.",
            severity=Severity.NOTE,
            place=str(worst.name),
            amount_mm=worst.worst_mm,
        )
    )
    for fit in fits:
        if fit.worst_mm > FAR_EDGE_MM:
            findings.append(
                Finding(
                    "edge-far-from-smooth",
                    f"The photographed {fit.name} strays {fit.worst_mm:.0f} mm from its smooth line.",
                    "Look at it in the check picture: a fold, a label or the floor may have been taken for cloth.",
                    place=str(fit.name),
                    amount_mm=fit.worst_mm,
                )
            )
    if found.runner_up < found.cost + 0.75:
        findings.append(
            Finding(
                "waist-or-hem-unsure",
                "It is not quite sure which end is the waist.",
                "Look at the names of the edges in the check picture.",
            )
        )
    return tuple(findings)
