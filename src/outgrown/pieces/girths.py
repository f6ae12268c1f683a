"""Girths: how far it is round a leg at each height, from the seam lines of its pieces."""

from collections.abc import Sequence

import numpy as np

from ..arrays import Floats
from ..garment.garment import EdgeName
from ..geometry.sections import crossings_mm
from .piece import Finish, Piece

STEP_MM = 50.0


def measure_leg_girths(pieces: Sequence[Piece], step_mm: float = STEP_MM) -> list[tuple[float, float]]:
    """Return (height, girth) [mm] of a leg, heights counted from the hem's end at the side.

    The girth runs all round: twice the width of a leg cut on the fold, the width of a one-piece leg, or the
    widths of front and back together; up to the lower of the crotch points, which is the last row. Empty when
    the pieces are no leg.
    """
    halves: list[tuple[Floats, Floats]] = []
    for piece in pieces:
        found = _halves(piece)
        if len(found) == 2:
            return _girths(found, step_mm)
        if found and piece.edges[0].finish is Finish.FOLD:
            return _girths(found * 2, step_mm)
        halves += found
        if len(halves) == 2:
            break
    return _girths(halves * 2 if len(halves) == 1 else halves, step_mm) if halves else []


def _halves(piece: Piece) -> list[tuple[Floats, Floats]]:
    """Return inseam and side of each half of a leg, both from the hem up, the inseam's x counted outward."""
    inseams = [edge for edge in piece.edges if edge.name is EdgeName.INSEAM]
    sides = [edge.points_mm[::-1] for edge in piece.edges if edge.name is EdgeName.SIDE]
    if len(inseams) == 2:
        up = [
            edge.points_mm if edge.points_mm[-1, 1] > edge.points_mm[0, 1] else edge.points_mm[::-1] for edge in inseams
        ]
        middle = np.array([[0.0, min(line[0, 1] for line in up)], [0.0, max(line[-1, 1] for line in up)]])
        return [(line * np.array([np.sign(line[-1, 0]), 1.0]), middle) for line in up]
    return [(inseams[0].points_mm, sides[0])] if inseams and sides else []


def _girths(halves: Sequence[tuple[Floats, Floats]], step_mm: float) -> list[tuple[float, float]]:
    zero = float(halves[0][1][0, 1])
    crotch = min(float(inseam[-1, 1]) for inseam, _ in halves)

    def girth(height: float) -> float | None:
        total = 0.0
        for inseam, side in halves:
            out, inner = crossings_mm(inseam, height), crossings_mm(side, height)
            if len(out) == 0:
                if abs(height - inseam[-1, 1]) > 1e-6:
                    return None
                out = inseam[-1:, 0]
            total += float(out.max()) - (float(inner.min()) if len(inner) else 0.0)
        return total

    rows = []
    for height in [*np.arange(step_mm, crotch - zero - 0.5, step_mm), crotch - zero]:
        found = girth(zero + float(height))
        if found is not None:
            rows.append((float(height), found))
    return rows
