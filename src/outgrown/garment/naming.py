"""Naming: the edges of a mirrored half by their names, where its corners are those its kind has."""

from ..arrays import Floats, frozen
from ..geometry.corners import find_line_corners
from ..geometry.polylines import length_mm, part_between
from .garment import Edge
from .kind import Kind

REACH_MM = 15.0
TURN_DEG = 35.0
"""A turn this sharp, seen over so much to either side, is a corner of the garment. A shoulder that drops into its
sleeve turns by 10 to 25 degrees, a hem's end by 70 to 110, a neck's by 50 and more (common practice, no source)."""


def name_half_edges(line_mm: Floats, kind: Kind) -> tuple[Edge, ...]:
    """Return a right half's line, from the hem's middle to the top's, cut at its corners into named edges.

    Empty where the kind has no names for them, or the corners found are not just those it has: then no edge can be
    told with confidence.
    """
    corners = find_line_corners(line_mm, REACH_MM, TURN_DEG)
    turns = tuple(1 if corner.turn_deg > 0 else -1 for corner in corners)
    if not kind.half_edges or turns != kind.half_corners:
        return ()
    ends = [0.0, *(corner.along_mm for corner in corners), length_mm(line_mm)]
    return tuple(
        Edge(name, frozen(part_between(line_mm, start, end)))
        for name, start, end in zip(kind.half_edges, ends[:-1], ends[1:], strict=True)
    )
