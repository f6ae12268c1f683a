"""Reading a garment: an outline becomes named smooth edges, upright, with its measurements."""

from collections.abc import Container, Mapping, Sequence
from dataclasses import replace

import numpy as np

from ..arrays import Floats, frozen
from ..errors import GarmentError
from ..findings import Finding, Severity
from ..geometry.corners import sharpen_corner
from ..geometry.moves import Frame
from ..geometry.polylines import length_mm, resample
from ..geometry.rings import as_ring, part_of_ring, perimeter_mm
from ..geometry.smoothing import quiet_line, smooth_line
from ..outline.outline import Outline
from .bands import CLEAR_OF_STEP_MM, LegOutline, take_off_bands
from .fold import straighten_side
from .garment import Band, Corner, Edge, EdgeFit, EdgeName, Garment, Laid
from .half_leg import WORST_COST, CornerName, HalfLegCorners, find_half_leg
from .kinds import KINDS
from .laying import count_notches
from .measuring import ScaleDoubt, measure_half_leg
from .open_legs import read_open
from .panel import read_panel
from .whole import read_whole

RIPPLE_MM = 40.0
"""Errors of the cloth's edge within this length hang together; ripples up to twice as long are smoothed away."""
ROUNDED_MM = 1.5
"""An edge this near to a corner is taken to be rounded by the cloth and the photo."""
CORNER_REACH_MM = 60.0
"""How far along both edges is looked to place a corner. Of 1 to 5 mm left out and 35 to 120 mm looked at, 1.5 and 60
placed corners of invented legs best, whether cut sharp or rounded by 4 mm."""
SHAPED_SIDE_MM = 8.0
"""A side farther than this from straight is probably shaped by a seam."""
FAR_EDGE_MM = 6.0
"""A photographed edge farther than this from its smooth line deserves a look."""

UNSURE_COST = 0.5
"""Readings this near in cost to another order of corners are doubtful."""

_EDGE_NAMES = (EdgeName.SIDE, EdgeName.HEM, EdgeName.INSEAM, EdgeName.RISE, EdgeName.WAIST)


def read_garment(
    outline: Outline,
    *,
    kind: str = "leggings",
    laid: Laid = Laid.FOLDED,
    scale_doubt: ScaleDoubt = 0.0,
    corners_mm: Mapping[str, Floats] | None = None,
) -> Garment:
    """Return `outline` read as a garment.

    Args:
        outline: as seen from above; any turn, upside down or turned over.
        kind: what the person calls it, e.g. `leggings`.
        laid: how it lay. `FOLDED` gives the named edges of a half leg, `OPEN` the same with a straight centre for the
            rise, `PANEL` those of a leg's piece; others the whole outline as one edge.
        scale_doubt: standard deviation of lengths: a share, or a function of two points [mm].
        corners_mm: name of a corner -> (2,) where the person says it is, in the outline's mm; of folded legs only.

    Raises:
        GarmentError: the outline is not like a folded pair, or has no such corner.
    """
    if laid is Laid.FOLDED:
        return _read_folded(outline, kind, scale_doubt, corners_mm or {})
    if corners_mm:
        raise GarmentError(
            "Corners can be moved on legs folded lengthwise only.",
            "Draw the outline to where the cloth's edge is instead.",
        )
    if laid is Laid.OPEN and KINDS.get(kind, KINDS["other"]).has_legs:
        return read_open(outline, kind, scale_doubt)
    if laid is Laid.PANEL and KINDS.get(kind, KINDS["other"]).has_legs:
        return read_panel(outline, kind, scale_doubt)
    return read_whole(outline, kind, laid, scale_doubt)


def _read_folded(outline: Outline, kind: str, scale_doubt: ScaleDoubt, corners_mm: Mapping[str, Floats]) -> Garment:
    ring = as_ring(outline.ring_mm)
    found = find_half_leg(ring)
    if count_notches(ring) > 0:
        raise GarmentError(
            "This outline has a gap, as between two legs lying side by side or under a sleeve; "
            f"{kind} folded lengthwise have none.",
            "Fold the pair lengthwise, one leg on the other, or say how it lies with --laid open or --laid other.",
        )
    if found is None or found.cost > WORST_COST:
        raise GarmentError(
            f"This outline does not look like {kind} folded lengthwise, one leg on the other.",
            "Fold the pair so that both legs lie on one another and the rise is pulled out flat, "
            "or say how it lies with --laid panel or --laid other.",
        )
    moved = _named_places(corners_mm, found)
    found = _with_moved(found, moved)
    turned_over = ring[::-1] * np.array([-1.0, 1.0]) if found.is_mirrored else ring
    flip = np.array([-1.0, 1.0]) if found.is_mirrored else np.ones(2)
    parts = [part * flip for part in _parts(turned_over, found)]
    corners = _sharp_corners(parts, fixed=moved)
    rough = _frame(corners[0] - corners[1], corners[1], found.is_mirrored)
    whole = LegOutline(tuple(rough.into(part) for part in parts), rough.into(corners))
    shape = take_off_bands(whole)
    frame = _upright(shape.parts_mm[0], rough)
    turned = [frame.into(rough.out_of(part)) for part in shape.parts_mm]
    corners = frame.into(rough.out_of(shape.corners_mm))
    if shape.cuff_mm is None and shape.waistband_mm is None:
        # Side and hem are so nearly straight that all of their length tells where their ends are. Measured on 100
        # invented legs with ripples up to 3 mm: corners within 2.6 instead of 3.1 mm (p95); with the inseam or the
        # waist, which bend into their corners, it was worse.
        quiet = [quiet_line(part, ripple_mm=RIPPLE_MM, skip_mm=ROUNDED_MM) for part in turned[:2]]
        corners = _sharp_corners([*quiet, *turned[2:]], fixed=moved)
    lines = [
        smooth_line(turned[i], corners[i], corners[(i + 1) % 5], ripple_mm=RIPPLE_MM, step_mm=2.0, skip_mm=ROUNDED_MM)
        for i in range(5)
    ]
    leg = straighten_side([line.points_mm for line in lines])
    low = leg.lowered_mm
    cuff = _band(whole, shape.cuff_mm, EdgeName.HEM)
    waistband = _band(whole, shape.waistband_mm, EdgeName.WAIST)

    def seen(points: Floats) -> Floats:
        return frame.out_of(points + np.array([0.0, low]))

    edge_doubt = float(np.sqrt(np.mean(np.square(outline.error_mm)))) if len(outline.error_mm) else 0.0
    fits = tuple(EdgeFit(name, line.typical_mm, line.worst_mm) for name, line in zip(_EDGE_NAMES, lines, strict=True))
    return Garment(
        kind=kind,
        laid=Laid.FOLDED,
        edges=tuple(Edge(n, frozen(e)) for n, e in zip(_EDGE_NAMES, leg.edges_mm, strict=True)),
        measurements=measure_half_leg(leg.edges_mm, seen, edge_doubt, scale_doubt, cuff, waistband),
        findings=_findings(_bow_mm(lines[0].points_mm), fits, found, cuff, waistband),
        is_mirrored=found.is_mirrored,
        corners=tuple(
            Corner(str(name), frozen(edge[0]), frozen(frame.out_of(corner)), i in moved)
            for i, (name, edge, corner) in enumerate(zip(CornerName, leg.edges_mm, corners, strict=True))
        ),
        fits=fits,
        frame=frame,
        cuff=cuff,
        waistband=waistband,
        side_shape_mm=_side_shape(lines[0].points_mm, low),
    )


def _parts(ring: Floats, found: HalfLegCorners) -> list[Floats]:
    """Return the stretches of the full ring between neighbouring corners."""
    share = perimeter_mm(ring) / len(found.ring_mm)
    at = [index * share for index in found.indices]
    return [part_of_ring(ring, at[i], at[(i + 1) % 5]) for i in range(5)]


def _named_places(corners_mm: Mapping[str, Floats], found: HalfLegCorners) -> dict[int, int]:
    """Return number of a corner -> index into the found ring, for the corners that the person moved."""
    names = list(CornerName)
    flip = np.array([-1.0, 1.0]) if found.is_mirrored else np.ones(2)
    moved = {}
    for name, place in corners_mm.items():
        if name not in names:
            raise GarmentError(f"There is no corner called “{name}”.", f"The corners are {', '.join(names)}.")
        away = np.hypot(*(found.ring_mm - np.asarray(place, dtype=np.float64) * flip).T)
        moved[names.index(CornerName(name))] = int(np.argmin(away))
    return moved


def _with_moved(found: HalfLegCorners, moved: Mapping[int, int]) -> HalfLegCorners:
    """Return the reading with corners moved.

    Raises:
        GarmentError: they are no longer in order round the outline.
    """
    if not moved:
        return found
    indices = tuple(moved.get(i, index) for i, index in enumerate(found.indices))
    count = len(found.ring_mm)
    gaps = [(indices[(i + 1) % 5] - indices[i]) % count for i in range(5)]
    if sum(gaps) != count or min(gaps) < 0.01 * count:
        raise GarmentError(
            "The corners no longer follow one another round the outline: top of the side, hem outside, hem inside, "
            "crotch point, waist at the centre.",
            "Put the corner back between its neighbours.",
        )
    return replace(found, indices=indices)


def _sharp_corners(parts: Sequence[Floats], reach_mm: float = CORNER_REACH_MM, fixed: Container[int] = ()) -> Floats:
    """Return the five corners where the smooth sides of each would meet; those in `fixed` where they are."""
    corners = []
    for i, after in enumerate(parts):
        if i in fixed:
            corners.append(after[0])
            continue
        before = parts[i - 1]
        corners.append(sharpen_corner(before, after, after[0], skip_mm=ROUNDED_MM, reach_mm=reach_mm, max_move_mm=9.0))
    return np.array(corners)


def _frame(up: Floats, origin: Floats, is_mirrored: bool) -> Frame:
    return Frame((float(origin[0]), float(origin[1])), (float(up[0]), float(up[1])), is_mirrored)


def _upright(side_mm: Floats, rough: Frame) -> Frame:
    """Return the frame with the side's own direction up, the origin kept."""
    even = resample(side_mm, 1.0)
    direction = np.linalg.svd(even - even.mean(axis=0), full_matrices=False)[2][0]
    up = direction if direction[1] > 0 else -direction
    return _frame(rough.out_of(up) - rough.out_of(np.zeros(2)), np.array(rough.origin_mm), rough.is_mirrored)


def _band(whole: LegOutline, height_mm: float | None, edge: EdgeName) -> Band | None:
    """Return the band of a given height at the hem or waist of the whole outline, its free edge measured."""
    if height_mm is None:
        return None
    # Only the band itself tells where its corners are; the leg beyond its seam is wider.
    corners = _sharp_corners(whole.parts_mm, min(CORNER_REACH_MM, height_mm - CLEAR_OF_STEP_MM))
    i = _EDGE_NAMES.index(edge)
    start, end = corners[i], corners[(i + 1) % 5]
    line = smooth_line(whole.parts_mm[i], start, end, ripple_mm=RIPPLE_MM, step_mm=2.0, skip_mm=ROUNDED_MM)
    return Band(height_mm, length_mm(line.points_mm))


def _bow_mm(side_mm: Floats) -> float:
    """Return how far the side is from the straight line between its ends [mm]."""
    chord = side_mm[-1] - side_mm[0]
    return float(np.abs((side_mm - side_mm[0]) @ np.array([-chord[1], chord[0]])).max() / np.hypot(*chord))


def _side_shape(side_mm: Floats, low_mm: float) -> Floats | None:
    """Return height and distance from the chord along the side, or None where it is as good as straight."""
    if _bow_mm(side_mm) <= SHAPED_SIDE_MM:
        return None
    up = side_mm[::-1]
    up = up[np.concatenate([[True], up[1:, 1] > np.maximum.accumulate(up[:, 1])[:-1]])]
    chord = np.interp(up[:, 1], up[[0, -1], 1], up[[0, -1], 0])
    return frozen(np.column_stack([up[:, 1] - low_mm, up[:, 0] - chord]))


def _findings(
    bow_mm: float,
    fits: tuple[EdgeFit, ...],
    found: HalfLegCorners,
    cuff: Band | None,
    waistband: Band | None,
) -> tuple[Finding, ...]:
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
                "The widths are kept. To keep the side's own shape have a seam at the side (--side-seam).",
                place="side",
                amount_mm=bow_mm,
            )
        )
    findings += [*_band_findings(cuff, waistband), *_fit_findings(fits)]
    if found.runner_up < found.cost + UNSURE_COST:
        findings.append(
            Finding(
                "waist-or-hem-unsure",
                "It is not quite sure which end is the waist.",
                "Look at the names of the edges in the check picture.",
            )
        )
    return tuple(findings)


def _band_findings(cuff: Band | None, waistband: Band | None) -> list[Finding]:
    findings = []
    if cuff is not None:
        findings.append(
            Finding(
                "cuff-seen",
                f"The leg ends in a narrower cuff, {cuff.height_mm:.0f} mm high.",
                "With a ribbed cuff it becomes a piece of its own; with another hem the leg is drawn on to the hem.",
                Severity.NOTE,
                "hem",
                cuff.height_mm,
            )
        )
    if waistband is not None:
        findings.append(
            Finding(
                "waistband-seen",
                f"The waist is narrower than the leg below it: a waistband or gathered casing, "
                f"{waistband.height_mm:.0f} mm high.",
                "With a folded band it becomes a piece of its own; else the leg is drawn on to the waist, ungathered.",
                Severity.NOTE,
                "waist",
                waistband.height_mm,
            )
        )
    return findings


def _fit_findings(fits: tuple[EdgeFit, ...]) -> list[Finding]:
    worst = max(fits, key=lambda fit: fit.worst_mm)
    findings = [
        Finding(
            "edges-smoothed",
            f"The smooth seam lines lie within {worst.worst_mm:.1f} mm of the photographed edge.",
            severity=Severity.NOTE,
            place=str(worst.name),
            amount_mm=worst.worst_mm,
        )
    ]
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
    return findings
