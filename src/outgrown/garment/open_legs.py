"""Open legs: a pair laid open, front up, becomes one half leg, the two legs averaged; its rise is hidden."""

import numpy as np

from ..arrays import Floats, frozen
from ..errors import GarmentError
from ..findings import Finding, Severity
from ..geometry.corners import sharpen_corner
from ..geometry.moves import Frame
from ..geometry.polylines import arc_lengths_mm, length_mm, point_at, points_at, resample
from ..geometry.rings import as_ring, part_of_ring, perimeter_mm, resample_ring
from ..geometry.sections import crossings_mm
from ..geometry.smoothing import smooth_line
from ..outline.outline import Outline
from ..practice import SEAT_ABOVE_CROTCH_MM, THIGH_BELOW_CROTCH_MM
from .garment import Corner, Edge, EdgeName, Garment, Laid, Measurement
from .measuring import CORNER_DOUBT_MM, ScaleDoubt
from .open_corners import WORST_OPEN_COST, find_open_corners

RIPPLE_MM = 40.0
ROUNDED_MM = 1.5
CORNER_REACH_MM = 60.0
"""As for folded legs, see `reading`."""
UNEVEN_MM = 10.0
"""Legs that differ by more in any width were probably not laid alike."""
MOST_TILT_MM = 15.0
"""The waist is not tilted farther at the side: beyond it the legs' spread shows, not the garment's cut."""
SPREAD_DEG = 25.0
"""Legs farther apart than this pull the cloth at the crotch out of its shape."""
TOUCHING_RISE = 1.7
"""The rise, straight up from the gap's top, is seldom so many times the half thigh where the gap reaches the crotch.
Measured: 500 invented legs 1.44 at most; nine photos of open trousers and shorts 0.93 to 1.62, a tenth, its crotch
bunched, 1.72; an invented pair of 400 mm inseam 1.24, its legs touching for 30 mm 1.5 (not told), for 70 mm 1.86.
How sharp the gap's top is tells nothing: legs that part lower down part as sharply."""
SHORT_LEG = 1.0
"""An inseam shorter than so many times the half thigh is that of shorts: there a hidden touch of 20 or 30 mm, which
the rise does not tell, is a third of the inseam, so it is always said how to look for it."""
_STEPS = 240
_FLIP = np.array([-1.0, 1.0])


def read_open(outline: Outline, kind: str, scale_doubt: ScaleDoubt = 0.0) -> Garment:
    """Return a pair laid open as one half leg: side on x = 0, hem, inseam, centre (straight up to the waist), waist.

    Both legs are read, each square to its own side below the crotch and to the middle line above it, and averaged.
    The edge called `centre` stands where the rise is hidden.

    Raises:
        GarmentError: the outline is not like a pair laid open.
    """
    ring = as_ring(outline.ring_mm)
    ring = resample_ring(ring, max(len(ring), int(perimeter_mm(ring))))
    found = find_open_corners(ring)
    if found is None or found.cost > WORST_OPEN_COST:
        raise GarmentError(
            f"This outline does not look like {kind} laid open, with a gap between the legs.",
            "Lay both legs side by side with the floor showing between them, or say how it lies with --laid.",
        )
    share = perimeter_mm(ring) / len(found.ring_mm)
    at = [index * share for index in found.indices]
    parts = [part_of_ring(ring, at[i], at[(i + 1) % 7]) for i in range(7)]
    corners = [
        sharpen_corner(
            parts[i - 1], parts[i], parts[i][0], skip_mm=ROUNDED_MM, reach_mm=CORNER_REACH_MM, max_move_mm=9.0
        )
        for i in range(7)
    ]
    corners[0] = parts[0][0]  # between the legs cloth gathers; the innermost place is all there is
    lines = [
        smooth_line(part, corners[i], corners[(i + 1) % 7], ripple_mm=RIPPLE_MM, step_mm=2.0, skip_mm=ROUNDED_MM)
        for i, part in enumerate(parts)
    ]
    crotch, waist = corners[0], lines[3].points_mm
    top = point_at(waist, 0.5 * length_mm(waist))
    middle = int(np.searchsorted(arc_lengths_mm(waist), 0.5 * length_mm(waist)))
    # One leg's edges, counter-clockwise from the top of its side; the other's turned over to run the same way.
    smooth = [line.points_mm for line in lines]
    one = (smooth[4], smooth[5], smooth[6], np.vstack([top, waist[middle:]]))
    other = tuple((line[::-1] * _FLIP) for line in (smooth[2], smooth[1], smooth[0], np.vstack([waist[:middle], top])))
    legs = [_half_leg(one, crotch, top), _half_leg(other, crotch * _FLIP, top * _FLIP)]
    edges = tuple(frozen(0.5 * (a + b)) for a, b in zip(*legs, strict=True))
    apart = max(float(np.abs(a - b)[:, 0].max()) for a, b in zip(*[leg[1:3] for leg in legs], strict=True))
    frame = Frame(tuple(corners[5].tolist()), tuple((top - crotch).tolist()))
    names = (EdgeName.SIDE, EdgeName.HEM, EdgeName.INSEAM, EdgeName.CENTRE, EdgeName.WAIST)
    edge_doubt = float(np.sqrt(np.mean(np.square(outline.error_mm)))) if len(outline.error_mm) else 0.0
    seen = ("waist-side", "hem-outer", "hem-inner", "crotch", "waist-centre")
    places = (corners[4], corners[5], corners[6], crotch, top)
    measurements = _measure(edges, corners, edge_doubt, scale_doubt)
    return Garment(
        kind=kind,
        laid=Laid.OPEN,
        edges=tuple(Edge(name, line) for name, line in zip(names, edges, strict=True)),
        measurements=measurements,
        findings=(*_find_touching(measurements), *_findings(apart, _spread_deg(corners))),
        corners=tuple(
            Corner(name, frozen(line[0]), frozen(place)) for name, line, place in zip(seen, edges, places, strict=True)
        ),
        frame=frame,
    )


def _half_leg(edges: tuple[Floats, ...], crotch: Floats, top: Floats) -> tuple[Floats, ...]:
    """Return side, hem, inseam, centre and waist of one leg, its side straightened to x = 0.

    Args:
        edges: side (waist to hem), hem, inseam, waist (middle to side), as they lie.
        crotch: innermost point between the legs.
        top: middle of the waist edge.
    """
    side, hem, inseam, waist = edges
    below = _leg_frame(side, hem[0], crotch)
    leg_side, leg_hem, leg_inseam = (below.into(line) for line in (side, hem, inseam))
    crotch_height = float(below.into(crotch[None])[0, 1])
    above = Frame(tuple(crotch.tolist()), tuple((top - crotch).tolist()))
    body_side, body_waist = above.into(side), above.into(waist)

    def straightened(points: Floats, along: Floats) -> Floats:
        rising = along[::-1]
        keep = np.concatenate([[True], rising[1:, 1] > np.maximum.accumulate(rising[:, 1])[:-1]])
        shift = np.interp(points[:, 1], rising[keep, 1], rising[keep, 0])
        return np.column_stack([points[:, 0] - shift, points[:, 1]])

    new_hem, new_inseam = (straightened(line, leg_side) for line in (leg_hem, leg_inseam))
    new_waist = straightened(body_waist, body_side) + np.array([0.0, crotch_height])
    rise = float(np.hypot(*(top - crotch)))
    levels = np.linspace(0.0, rise, _STEPS)
    centre = straightened(np.column_stack([np.zeros(_STEPS), levels]), body_side) + np.array([0.0, crotch_height])
    # The side fold is as long as it lies, curved over the hip; the waist's outer end is tilted to it.
    by = float(np.clip(length_mm(side) - new_waist[-1, 1], -MOST_TILT_MM, MOST_TILT_MM))
    out = np.clip(1.0 - new_waist[:, 0] / float(new_waist[0, 0]), 0.0, 1.0)
    new_waist[:, 1] += by * out * out * (3.0 - 2.0 * out)
    new_hem[0], new_waist[-1, 0] = (0.0, 0.0), 0.0
    new_waist[0] = centre[-1]
    new_inseam[-1] = (float(new_inseam[-1, 0]), crotch_height)
    centre[0] = new_inseam[-1]
    return (
        _even(np.array([new_waist[-1], [0.0, 0.0]])),
        _even(new_hem),
        _even(new_inseam),
        centre,
        _even(new_waist),
    )


def _leg_frame(side: Floats, foot: Floats, crotch: Floats) -> Frame:
    """Return the frame of the leg below the crotch: its side's own direction up, from the hem's outer corner."""
    even = resample(side, 2.0)
    up = crotch - foot
    for _ in range(3):
        level = float((crotch - foot) @ up / np.hypot(*up))
        height = (even - foot) @ up / np.hypot(*up)
        lower = even[(height > 0.03 * level) & (height < 0.9 * level)]
        if len(lower) < 3:
            break
        direction = np.linalg.svd(lower - lower.mean(axis=0), full_matrices=False)[2][0]
        up = direction if direction @ up > 0 else -direction
    return Frame(tuple(foot.tolist()), tuple(up.tolist()))


def _even(line: Floats) -> Floats:
    return points_at(line, np.linspace(0.0, length_mm(line), _STEPS))


def _measure(
    edges: tuple[Floats, ...], corners: list[Floats], edge_doubt: float, scale_doubt: ScaleDoubt
) -> tuple[Measurement, ...]:
    side, hem, inseam, centre, waist = edges
    crotch, rise = float(inseam[-1, 1]), float(centre[-1, 1] - centre[0, 1])
    thigh = max(crotch - THIGH_BELOW_CROTCH_MM.value, 0.5 * crotch)
    seat = min(SEAT_ABOVE_CROTCH_MM.value, 0.5 * rise)

    def doubt(length: float, a: Floats, b: Floats, end: float) -> float:
        scale = scale_doubt(a, b) if callable(scale_doubt) else scale_doubt * length
        return 1.96 * float(np.sqrt(2.0 * end**2 + scale**2))

    corner = float(np.hypot(edge_doubt, CORNER_DOUBT_MM))

    def across(height: float) -> float:
        return float(crossings_mm(np.vstack([hem[:-1], inseam]), height).max())

    at_seat = float(np.interp(crotch + seat, centre[:, 1], centre[:, 0]))
    rows: list[tuple[str, float, Floats, Floats, float, str]] = [
        ("inseam", length_mm(inseam), corners[0], corners[6], corner, "crotch to hem, both legs' mean"),
        ("outer length", length_mm(side), corners[4], corners[5], corner, "along the side fold, both legs' mean"),
        ("front rise, straight", rise, corners[0], corners[3], corner, "straight from the crotch to the waist edge"),
        ("half waist", 2.0 * length_mm(waist), corners[3], corners[4], corner, "along the waist edge"),
        (
            "half seat",
            2.0 * at_seat,
            corners[3],
            corners[4],
            corner,
            f"straight across, {seat:.0f} mm above the crotch",
        ),
        ("half thigh", across(thigh), corners[0], corners[5], edge_doubt, f"{crotch - thigh:.0f} mm below the crotch"),
        ("half knee", across(0.5 * crotch), corners[6], corners[5], edge_doubt, "halfway from crotch to hem"),
        ("half hem", length_mm(hem), corners[6], corners[5], corner, "along the hem edge"),
    ]
    return tuple(Measurement(name, length, doubt(length, a, b, end), how) for name, length, a, b, end, how in rows)


def _spread_deg(corners: list[Floats]) -> float:
    """Return the angle between the two legs' middle lines [deg]."""
    crotch = corners[0]
    ways = [0.5 * (corners[i] + corners[j]) - crotch for i, j in ((1, 2), (5, 6))]
    inner = float(ways[0] @ ways[1]) / float(np.hypot(*ways[0]) * np.hypot(*ways[1]))
    legs_wide = np.degrees(np.arctan2(np.hypot(*(corners[1] - corners[2])) / 2, np.hypot(*ways[0])))
    return float(max(0.0, np.degrees(np.arccos(np.clip(inner, -1.0, 1.0))) - 2.0 * legs_wide))


def _find_touching(measurements: tuple[Measurement, ...]) -> tuple[Finding, ...]:
    """Return what to say where the crotch lies so low that the legs probably touch below it, hiding the gap."""
    found = {m.name: m.value_mm for m in measurements}
    rise, thigh, inseam = (found[name] for name in ("front rise, straight", "half thigh", "inseam"))
    if rise <= TOUCHING_RISE * thigh:
        if inseam >= SHORT_LEG * thigh:
            return ()
        return (
            Finding(
                "short-inseam-unsure",
                f"The gap between the legs is {inseam:.0f} mm long; whether it reaches the crotch seam, or the legs "
                "touch for a little below it, the outline of so short a leg does not tell.",
                "Measure the inseam on the garment; if it is longer, pull the legs apart and take the photo again.",
                place="crotch",
                amount_mm=inseam,
            ),
        )
    return (
        Finding(
            "legs-touching",
            f"The gap between the legs ends {rise:.0f} mm below the waist, low for a leg {thigh:.0f} mm wide: the legs "
            f"seem to touch below the crotch, so the inseam of {inseam:.0f} mm is too short and the rise too long.",
            "Pull the legs apart until the gap reaches the crotch seam and take the photo again, or fold the pair "
            "lengthwise; a crotch cut that low on purpose is right as it is.",
            place="crotch",
            amount_mm=rise,
        ),
    )


def _findings(apart_mm: float, spread_deg: float) -> tuple[Finding, ...]:
    spread = (
        Finding(
            "legs-spread",
            f"The legs lie {spread_deg:.0f} degrees apart, which pulls hip and crotch out of their shape.",
            "Lay them closer, with just a strip of floor between them.",
        ),
    )
    return (
        *(spread if spread_deg > SPREAD_DEG else ()),
        Finding(
            "legs-averaged",
            f"The two legs' edges lay within {apart_mm:.1f} mm of mirror images of each other and were averaged.",
            "" if apart_mm < UNEVEN_MM else "Smooth both legs flat and alike, and photograph them again.",
            Severity.NOTE if apart_mm < UNEVEN_MM else Severity.WARNING,
            amount_mm=apart_mm,
        ),
    )
