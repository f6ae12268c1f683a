"""Girths: how far it is round a leg at each height, from the seam lines of its piece."""

import numpy as np

from ..garment.garment import EdgeName
from ..geometry.sections import crossings_mm
from .piece import Finish, Piece

STEP_MM = 50.0


def measure_girths(piece: Piece, step_mm: float = STEP_MM) -> list[tuple[float, float]]:
    """Return (height, girth) [mm] of a leg cut on the fold, heights counted from the hem's end at the fold.

    The girth is twice the width from fold to inseam, from the hem's highest point up to the crotch point;
    the last row is the crotch point itself. Empty when the piece has no folded side.
    """
    by_name = {edge.name: edge for edge in piece.edges}
    side, inseam = by_name.get(EdgeName.SIDE), by_name.get(EdgeName.INSEAM)
    if side is None or inseam is None or side.finish is not Finish.FOLD:
        return []
    fold_x, zero = float(side.points_mm[-1, 0]), float(side.points_mm[-1, 1])
    line = inseam.points_mm
    crotch = float(line[-1, 1])
    rows = []
    for height in np.arange(step_mm, crotch - zero - 0.5, step_mm):
        found = crossings_mm(line, zero + float(height))
        if len(found):
            rows.append((float(height), 2.0 * (float(found.max()) - fold_x)))
    rows.append((crotch - zero, 2.0 * (float(line[-1, 0]) - fold_x)))
    return rows
