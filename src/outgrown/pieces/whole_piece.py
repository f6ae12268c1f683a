"""Whole piece: any garment's outline as one piece with one allowance all round."""

import numpy as np
from numpy.typing import ArrayLike
from shapely import LineString, Polygon

from ..arrays import Floats, frozen
from ..garment.garment import EdgeName, Garment
from ..geometry.offsets import offset_closed
from .choices import Allowance
from .piece import Piece, SeamEdge


def whole_name(garment: Garment) -> str:
    """Return what a whole or half outline's piece is called."""
    return "garment" if garment.kind == "other" else garment.kind


def build_whole(garment: Garment, allowance: Allowance, labels: tuple[str, ...]) -> Piece:
    """Return the garment's outline as a piece, its seam line as photographed, an allowance all round."""
    line = garment.edge(EdgeName.OUTLINE).points_mm
    ring = line[:-1]
    shape = Polygon(ring).buffer(0)
    low_x, low_y, high_x, high_y = shape.bounds
    middle_x, middle_y = 0.5 * (low_x + high_x), 0.5 * (low_y + high_y)
    return Piece(
        name=whole_name(garment),
        edges=(SeamEdge(EdgeName.OUTLINE, line, allowance.amount_mm, allowance.finish),),
        cut_ring_mm=frozen(offset_closed(ring, allowance.amount_mm)),
        quantity="cut as the garment needs",
        grainline_mm=frozen(run_inside(shape, np.array([[middle_x, low_y], [middle_x, high_y]]))),
        stretch_mm=frozen(run_inside(shape, np.array([[low_x, middle_y], [high_x, middle_y]]))),
        labels=labels,
    )


def run_inside(shape: Polygon, line_mm: ArrayLike) -> Floats:
    """Return the middle 70 % of the longest stretch of a straight line inside the shape."""
    common = shape.intersection(LineString(np.asarray(line_mm)))
    parts = [part for part in getattr(common, "geoms", [common]) if part.length > 0]
    ends = np.asarray(max(parts, key=lambda part: part.length).coords)[[0, -1]]
    return np.asarray(ends.mean(axis=0) + 0.7 * (ends - ends.mean(axis=0)))
