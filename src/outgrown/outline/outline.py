"""Outline: the garment's edge in millimetres, as seen from above."""

from dataclasses import dataclass, field

from ..arrays import Floats
from .hints import Hints
from .pulling import Pull


@dataclass(frozen=True, eq=False)
class Outline:
    """The garment's edge on the floor.

    Attributes:
        ring_mm: (N, 2) closed ring, first point not repeated, y up, not mirrored, counter-clockwise.
        ring_px: (N, 2) the same points in the upright photo.
        holes_mm: rings of holes.
        error_mm: (N,) standard deviation of each point along the ring's normal [mm], all causes together.
        confidence: (N,) 0..1, how sure it is that this is the cloth's edge.
        hints: what the person pointed at.
        pulls: where the person drew the outline.
    """

    ring_mm: Floats
    ring_px: Floats
    holes_mm: tuple[Floats, ...]
    error_mm: Floats
    confidence: Floats
    hints: Hints = field(default_factory=Hints)
    pulls: tuple[Pull, ...] = ()
