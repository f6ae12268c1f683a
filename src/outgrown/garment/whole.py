"""Whole outlines: any garment kept as it lies, with its overall size."""

import numpy as np

from ..arrays import frozen
from ..geometry.rings import as_ring, closed
from ..outline.outline import Outline
from .garment import Edge, EdgeName, Garment, Laid, Measurement
from .measuring import ScaleDoubt


def read_whole(outline: Outline, kind: str, laid: Laid, scale_doubt: ScaleDoubt = 0.0) -> Garment:
    """Return the outline as one edge called `outline`, its lowest left corner at (0, 0), with width and height."""
    ring = as_ring(outline.ring_mm)
    low, high = ring.min(axis=0), ring.max(axis=0)
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
        edges=(Edge(EdgeName.OUTLINE, frozen(closed(ring - low))),),
        measurements=tuple(measurements),
    )
