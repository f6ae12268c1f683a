"""Contour: the garment's edge in the photo, with its doubt."""

from dataclasses import dataclass

from ..arrays import Floats
from ..findings import Finding


@dataclass(frozen=True, eq=False)
class Contour:
    """The edge of the one garment lying flat, in the upright photo.

    Attributes:
        ring_px: (N, 2) closed ring, first point not repeated, counter-clockwise as seen on the screen's
            picture with y turned up (that is, positive shoelace area after y -> -y); subpixel; corners kept.
        sigma_px: (N,) standard deviation of each point along the ring's normal [px].
        confidence: (N,) 0..1, how sure it is that this is the cloth's edge and not another's.
        holes_px: rings of holes, same form.
        findings: what the person should know.
    """

    ring_px: Floats
    sigma_px: Floats
    confidence: Floats
    holes_px: tuple[Floats, ...] = ()
    findings: tuple[Finding, ...] = ()
