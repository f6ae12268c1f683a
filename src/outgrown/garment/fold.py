"""Fold: the side of a folded leg made straight, its widths kept."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from ..arrays import Floats
from ..geometry.polylines import length_mm


@dataclass(frozen=True, eq=False)
class StraightLeg:
    """A half leg whose side is the line x = 0.

    Attributes:
        edges_mm: side, hem, inseam, rise, waist; counter-clockwise; the side ends at (0, 0).
        lowered_mm: the height that became nought [mm].
    """

    edges_mm: tuple[Floats, ...]
    lowered_mm: float


def straighten_side(edges_mm: Sequence[Floats]) -> StraightLeg:
    """Return the upright half leg with its side straightened to x = 0.

    Every point moves level by as much as the side at its height, so the width at every height stays; below
    the crotch the heights are then scaled by the tiny share that keeps the inseam's length.

    Args:
        edges_mm: side, hem, inseam, rise, waist, counter-clockwise, upright, the side on the left.
    """
    side, hem, inseam, rise, waist = edges_mm
    heights = side[::-1, 1]
    is_rising = np.concatenate([[True], heights[1:] > np.maximum.accumulate(heights)[:-1]])
    level, offset = heights[is_rising], side[::-1, 0][is_rising]

    def moved(points: Floats) -> Floats:
        shift = np.interp(points[:, 1], level, offset)
        return np.column_stack([points[:, 0] - shift, points[:, 1]])

    hem, inseam, rise, waist = (moved(edge) for edge in (hem, inseam, rise, waist))
    crotch_height = float(inseam[-1, 1])
    wanted = length_mm(edges_mm[2])

    def scaled(points: Floats, scale: float) -> Floats:
        below = np.minimum(points[:, 1] - crotch_height, 0.0)
        return np.column_stack([points[:, 0], points[:, 1] + (scale - 1.0) * below])

    scale = float(brentq(lambda k: length_mm(scaled(inseam, k)) - wanted, 0.8, 1.25, xtol=1e-10))
    hem, inseam = scaled(hem, scale), scaled(inseam, scale)
    rise, waist = scaled(rise, scale), scaled(waist, scale)  # neither reaches below the crotch, as a rule
    foot = np.array([0.0, hem[0, 1]])
    hem, inseam, rise, waist = (edge - foot for edge in (hem, inseam, rise, waist))
    hem[0] = (0.0, 0.0)
    waist[-1, 0] = 0.0
    straight = np.array([waist[-1], [0.0, 0.0]])
    return StraightLeg((straight, hem, inseam, rise, waist), float(foot[1]))
