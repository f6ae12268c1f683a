"""Whole outlines: any garment kept as it lies, with its overall size."""

import numpy as np

from ..arrays import Floats, frozen
from ..findings import Finding, Severity
from ..geometry.corners import find_corners, sharpen_corner
from ..geometry.moves import Frame
from ..geometry.rings import as_ring, closed, part_of_ring, perimeter_mm, resample_ring, smooth_ring
from ..geometry.smoothing import smooth_line
from ..geometry.symmetry import MirrorAxis, find_mirror_axis
from ..outline.outline import Outline
from .garment import Edge, EdgeFit, EdgeName, Garment, Laid, Measurement
from .kind import Kind, Span
from .kinds import KINDS
from .measuring import ScaleDoubt

RIPPLE_MM = 15.0
"""Shorter than for a known garment: a neckline or a cuff is a real curve here."""
CORNER_TURN_DEG = 40.0
"""Lesser turns are drawn as curves."""
ALIKE_SHARE = 0.93
"""Halves whose common area, one mirrored on the other, is a lesser share of their union are not averaged."""
_POINTS = 1500


def read_whole(outline: Outline, kind: str, laid: Laid, scale_doubt: ScaleDoubt = 0.0) -> Garment:
    """Return the outline, smoothed between its corners, as one edge called `outline`, with its measurements.

    Kinds with mirrored halves come to stand upright, their middle line on x = 0 and the lowest place on y = 0, when
    the halves are near enough alike; others keep their turn, lowest and leftmost on the axes.
    """
    ring = as_ring(outline.ring_mm)
    quiet, fit = _smooth_between_corners(ring)
    known = KINDS.get(kind, KINDS["other"])
    axis = find_mirror_axis(quiet) if known.is_mirrored else None
    if axis is not None and axis.share >= ALIKE_SHARE:
        up = _which_is_up(quiet, axis, known)
        frame = Frame(tuple(axis.through_mm.tolist()), tuple((axis.direction * up).tolist()))
        upright = frame.into(quiet)
        low = np.array([0.0, upright[:, 1].min()])
        spans = known.find_spans(upright - low) if known.find_spans else ()
    else:
        frame, axis = Frame((0.0, 0.0), (0.0, 1.0)), None
        upright, low, spans = quiet, quiet.min(axis=0), ()
    turned = upright - low
    edge_doubt = float(np.sqrt(np.mean(np.square(outline.error_mm)))) if len(outline.error_mm) else 0.0

    def measured(span: Span) -> Measurement:
        a, b = frame.out_of(span.ends_mm + low)
        length = float(np.hypot(*(b - a)))
        scale = scale_doubt(a, b) if callable(scale_doubt) else scale_doubt * length
        return Measurement(span.name, length, 1.96 * float(np.sqrt(2 * edge_doubt**2 + scale**2)), span.how)

    least, most = turned.min(axis=0), turned.max(axis=0)
    how = "farthest to farthest, as it lies" if axis is None else "farthest to farthest, upright"
    overall = (
        Span("overall width", np.array([[least[0], 0.0], [most[0], 0.0]]), how),
        Span("overall height", np.array([[0.0, least[1]], [0.0, most[1]]]), how),
    )
    findings: tuple[Finding, ...] = ()
    if axis is None and known.is_mirrored:
        findings = (
            Finding(
                "halves-not-alike",
                "The two halves of the garment are not mirror images as it lies, so its whole outline is kept.",
                "Smooth it flat and straight for half a pattern on the fold.",
                Severity.NOTE,
            ),
        )
    return Garment(
        kind=kind,
        laid=laid,
        edges=(Edge(EdgeName.OUTLINE, frozen(closed(turned))),),
        measurements=tuple(measured(span) for span in (*spans, *overall)),
        findings=findings,
        fits=(fit,),
        frame=frame,
        is_upright=axis is not None,
    )


def _which_is_up(ring: Floats, axis: MirrorAxis, kind: Kind) -> float:
    """Return 1 when the axis points up on the garment as worn, else -1."""
    along = (ring - axis.through_mm) @ axis.direction
    across = np.abs((ring - axis.through_mm) @ np.array([-axis.direction[1], axis.direction[0]]))
    low, high = along.min(), along.max()
    third = (high - low) / 3.0
    wider_ahead = across[along > high - third].max() > across[along < low + third].max()
    if kind.wide_end:
        return 1.0 if wider_ahead == (kind.wide_end == "top") else -1.0
    return 1.0 if axis.direction[1] >= 0 else -1.0


def _smooth_between_corners(ring: Floats) -> tuple[Floats, EdgeFit]:
    """Return the ring with its corners kept sharp and ripples between them gone, and how well it follows."""
    even = resample_ring(ring, _POINTS)
    step = perimeter_mm(even) / _POINTS
    coarse = smooth_ring(even, 3.0 / step)
    reach = max(6, round(20.0 / step))
    corners = [
        corner.index
        for inward in (False, True)
        for corner in find_corners(coarse, (reach,), CORNER_TURN_DEG, inward=inward)
    ]
    if len(corners) < 2:
        # A round thing: any two opposite places serve as ends of smooth halves.
        corners = [0, _POINTS // 2]
    total = perimeter_mm(ring)
    at = [index * total / _POINTS for index in sorted(corners)]
    parts = [part_of_ring(ring, at[i], at[(i + 1) % len(at)]) for i in range(len(at))]
    sharp = [
        sharpen_corner(parts[i - 1], parts[i], parts[i][0], skip_mm=2.0, reach_mm=30.0, max_move_mm=5.0)
        for i in range(len(parts))
    ]
    lines = [
        smooth_line(part, sharp[i], sharp[(i + 1) % len(sharp)], ripple_mm=RIPPLE_MM, step_mm=2.0, skip_mm=2.0)
        for i, part in enumerate(parts)
    ]
    typical = float(np.sqrt(np.mean([line.typical_mm**2 for line in lines])))
    fit = EdgeFit(EdgeName.OUTLINE, typical, max(line.worst_mm for line in lines))
    return np.vstack([line.points_mm[:-1] for line in lines]), fit
