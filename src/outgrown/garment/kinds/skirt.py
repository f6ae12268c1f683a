"""Skirt: pulled on, narrower at the waist."""

import numpy as np

from ...arrays import Floats
from ...geometry.rings import closed
from ...geometry.sections import crossings_mm, width_at_height
from ..garment import EdgeName
from ..kind import OUT, Kind, Span, span_across

NEAR_EDGE = 0.04
"""Waist and hem are measured this share of the length from their edges, clear of rounded corners."""


def find_spans(ring_mm: Floats) -> tuple[Span, ...]:
    """Return waist, hem and length."""
    top = float(ring_mm[:, 1].max())
    middle = crossings_mm(closed(ring_mm)[:, ::-1], 0.0)
    return (
        span_across(ring_mm, "half waist", (1.0 - NEAR_EDGE) * top, "straight across, just below the waist edge"),
        span_across(ring_mm, "half hem", _widest(ring_mm, top), "straight across, where the skirt is widest"),
        Span(
            "length",
            np.array([[0.0, middle.min()], [0.0, middle.max()]]),
            "along the middle, waist edge to hem",
        ),
    )


def _widest(ring_mm: Floats, top_mm: float) -> float:
    """Return the height in the lower third where it is widest: the ends of the hem, which may hang round below them."""
    heights = np.linspace(0.01, 1.0 / 3.0, 80) * top_mm
    return float(max(heights, key=lambda height: width_at_height(ring_mm, height)))


KIND = Kind(
    "skirt",
    is_mirrored=True,
    wide_end="bottom",
    find_spans=find_spans,
    half_edges=(EdgeName.HEM, EdgeName.SIDE, EdgeName.WAIST),
    half_corners=(OUT, OUT),
)
