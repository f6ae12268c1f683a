"""Whole outlines: any garment kept as it lies, with its overall size."""

import numpy as np

from ..arrays import Floats, frozen
from ..geometry.corners import find_corners, sharpen_corner
from ..geometry.rings import as_ring, closed, part_of_ring, perimeter_mm, resample_ring, smooth_ring
from ..geometry.smoothing import smooth_line
from ..outline.outline import Outline
from .garment import Edge, EdgeFit, EdgeName, Garment, Laid, Measurement
from .measuring import ScaleDoubt

RIPPLE_MM = 15.0
"""Shorter than for a known garment: a neckline or a cuff is a real curve here."""
CORNER_TURN_DEG = 40.0
"""Lesser turns are drawn as curves."""
_POINTS = 1500


def read_whole(outline: Outline, kind: str, laid: Laid, scale_doubt: ScaleDoubt = 0.0) -> Garment:
    """Return the outline, smoothed between its corners, as one edge called `outline`, with width and height.

    It keeps its turn; its lowest and its leftmost place come to lie on the axes.
    """
    ring = as_ring(outline.ring_mm)
    quiet, fit = _smooth_between_corners(ring)
    low, high = quiet.min(axis=0), quiet.max(axis=0)
    edge_doubt = float(np.sqrt(np.mean(np.square(outline.error_mm)))) if len(outline.error_mm) else 0.0
    ends = {
        "overall width": (np.array([low[0], low[1]]), np.array([high[0], low[1]])),
        "overall height": (np.array([low[0], low[1]]), np.array([low[0], high[1]])),
    }
    measurements = []
    for name, (a, b) in ends.items():
        length = float(np.hypot(*(b - a)))
        scale = scale_doubt(a, b) if callable(scale_doubt) else scale_doubt * length
        doubt = 1.96 * float(np.sqrt(2 * edge_doubt**2 + scale**2))
        measurements.append(Measurement(name, length, doubt, "farthest to farthest, as it lies"))
    return Garment(
        kind=kind,
        laid=laid,
        edges=(Edge(EdgeName.OUTLINE, frozen(closed(quiet - low))),),
        measurements=tuple(measurements),
        fits=(fit,),
    )


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
