"""T-shirt: sleeves to either side, the wider end up."""

import numpy as np

from ...arrays import Floats
from ...geometry.rings import closed
from ...geometry.sections import crossings_mm
from ..garment import EdgeName
from ..kind import IN, OUT, Kind, Span, span_across
from ..laying import find_notches

BELOW_ARMPIT_MM = 25.0
"""The chest is measured this far below the armpit: 1 in, common practice, no source."""


def find_spans(ring_mm: Floats) -> tuple[Span, ...]:
    """Return chest, hem, length and the span of the sleeves."""
    low, high = ring_mm.min(axis=0), ring_mm.max(axis=0)
    middle = crossings_mm(closed(ring_mm)[:, ::-1], 0.0)
    spans = [
        Span(
            "length",
            np.array([[0.0, middle.min()], [0.0, middle.max()]]),
            "along the middle, neck edge to hem",
        ),
        span_across(ring_mm, "half hem", 0.04 * float(high[1]), "straight across, just above the hem"),
        Span("sleeve to sleeve", np.array([[low[0], 0.0], [high[0], 0.0]]), "farthest to farthest"),
    ]
    armpits = find_notches(ring_mm)
    left, right = armpits[armpits[:, 0] < 0], armpits[armpits[:, 0] > 0]
    if len(left) and len(right):
        height = min(float(left[:, 1].min()), float(right[:, 1].min())) - BELOW_ARMPIT_MM
        if height > 0:
            how = f"straight across, {BELOW_ARMPIT_MM:.0f} mm below the armpits"
            # Sleeves may hang lower than the armpits; the body is what is nearest to the middle.
            found = crossings_mm(closed(ring_mm), height)
            ends = np.array([[found[found < 0].max(), height], [found[found > 0].min(), height]])
            spans.insert(0, Span("half chest", ends, how))
    return tuple(spans)


KIND = Kind(
    "t-shirt",
    is_mirrored=True,
    wide_end="top",
    find_spans=find_spans,
    half_edges=(
        EdgeName.HEM,
        EdgeName.SIDE,
        EdgeName.UNDERARM,
        EdgeName.SLEEVE_HEM,
        EdgeName.SHOULDER,
        EdgeName.NECK,
    ),
    half_corners=(OUT, IN, OUT, OUT, OUT),
)
