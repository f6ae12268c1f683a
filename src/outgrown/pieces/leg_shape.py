"""Leg shape: where hem, knee, crotch and waist lie, how far round it is, and moves of lengths and girths apart."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Floats
from ..errors import PieceError
from ..garment.garment import EdgeName
from ..geometry.polylines import length_mm
from ..geometry.sections import crossings_mm
from ..practice import HIP_ABOVE_CROTCH_MM, THIGH_BELOW_CROTCH_MM
from .band_pieces import is_band
from .piece import Finish, Piece
from .reshaping import Move, is_inseam, is_rise


@dataclass(frozen=True)
class Levels:
    """Heights on a leg piece [mm], in its own y.

    Attributes:
        hem: lower end of the inseam.
        crotch: crotch point, the mean of two.
        waist: upper end of the rise, the mean of two.
    """

    hem: float
    crotch: float
    waist: float

    @property
    def knee(self) -> float:
        """Halfway between hem and crotch."""
        return 0.5 * (self.hem + self.crotch)

    @property
    def thigh(self) -> float:
        """Where the thigh is measured."""
        return max(self.crotch - THIGH_BELOW_CROTCH_MM.value, self.knee)

    @property
    def hip(self) -> float:
        """Where the hip is measured, or halfway up a low rise."""
        return min(self.crotch + HIP_ABOVE_CROTCH_MM.value, 0.5 * (self.crotch + self.waist))


def is_leg(piece: Piece) -> bool:
    """Tell whether a piece has rise and inseam."""
    return any(is_rise(e.name) for e in piece.edges) and any(is_inseam(e.name) for e in piece.edges)


def find_levels(piece: Piece) -> Levels:
    """Return the heights of a leg piece; see `is_leg`."""
    inseams = [e.points_mm for e in piece.edges if is_inseam(e.name)]
    rises = [e.points_mm for e in piece.edges if is_rise(e.name)]
    return Levels(
        float(np.mean([line[:, 1].min() for line in inseams])),
        float(np.mean([line[:, 1].max() for line in inseams])),
        float(np.mean([line[:, 1].max() for line in rises])),
    )


def is_on_fold(piece: Piece) -> bool:
    """Tell whether the piece is half of what is cut."""
    return any(edge.finish is Finish.FOLD for edge in piece.edges)


def count_layers(piece: Piece, legs: Sequence[Piece]) -> int:
    """Return how often the piece goes round one leg: twice on a fold, or where it serves as front and as back."""
    inseams = sum(is_inseam(edge.name) for edge in piece.edges)
    return 2 if is_on_fold(piece) or (len(legs) == 1 and inseams == 1) else 1


def measure_width_mm(piece: Piece, height_mm: float) -> float:
    """Return how wide the seam line is at a height [mm]; 0 beyond its ends."""
    ring = np.vstack([edge.points_mm[:-1] for edge in piece.edges] + [piece.edges[0].points_mm[:1]])
    found = crossings_mm(ring, height_mm)
    return float(found.max() - found.min()) if len(found) > 1 else 0.0


def measure_edge_mm(piece: Piece, name: EdgeName) -> float:
    """Return the length of all edges of a name [mm]."""
    return sum(length_mm(edge.points_mm) for edge in piece.edges if edge.name is name)


@dataclass(frozen=True)
class LegSizes:
    """How large the finished leg is, all pieces of it together [mm].

    Attributes:
        inseam: along the seam; the mean where front and back differ.
        outside: along the side from hem to waist, or upright where there is no side.
        front_rise: along the curve; the only one where they are alike.
        back_rise: along the curve.
        waist: all round, both legs.
        hip: all round, both legs.
        thigh: round one leg.
        knee: round one leg.
        hem: round one leg.
    """

    inseam: float
    outside: float
    front_rise: float
    back_rise: float
    waist: float
    hip: float
    thigh: float
    knee: float
    hem: float


def measure_leg(pieces: Sequence[Piece]) -> LegSizes:
    """Return the sizes of a leg from its piece, or its front and back.

    Raises:
        PieceError: no piece is a leg.
    """
    legs = [piece for piece in pieces if is_leg(piece)]
    if not legs:
        raise PieceError(
            "This pattern has no leg with rise and inseam.", "Only trousers and leggings can be measured here."
        )
    levels = [find_levels(leg) for leg in legs]
    inseams = [length_mm(e.points_mm) for leg in legs for e in leg.edges if is_inseam(e.name)]
    rises = sorted(length_mm(e.points_mm) for leg in legs for e in leg.edges if is_rise(e.name))
    sides = [length_mm(e.points_mm) for leg in legs for e in leg.edges if e.name is EdgeName.SIDE]

    layers = [count_layers(leg, legs) for leg in legs]

    def round_(height: str) -> float:
        widths = [measure_width_mm(leg, getattr(level, height)) for leg, level in zip(legs, levels, strict=True)]
        return sum(width * count for width, count in zip(widths, layers, strict=True))

    def along(name: EdgeName) -> float:
        return sum(measure_edge_mm(leg, name) * count for leg, count in zip(legs, layers, strict=True))

    return LegSizes(
        inseam=float(np.mean(inseams)),
        outside=float(np.mean(sides)) if sides else float(np.mean([v.waist - v.hem for v in levels])),
        front_rise=rises[0],
        back_rise=rises[-1],
        waist=2.0 * along(EdgeName.WAIST),
        hip=2.0 * round_("hip"),
        thigh=round_("thigh"),
        knee=round_("knee"),
        hem=along(EdgeName.HEM),
    )


def measure_opening_mm(pieces: Sequence[Piece]) -> float | None:
    """Return the waist edge all round [mm]: of the legs, or of a half that is cut twice; None where there is none."""
    if any(is_leg(piece) for piece in pieces):
        return measure_leg(pieces).waist
    waists = [e for piece in pieces if not is_band(piece) for e in piece.edges if e.name is EdgeName.WAIST]
    return 4.0 * length_mm(waists[0].points_mm) if waists else None


def compare_openings(before: Sequence[Piece], after: Sequence[Piece], otherwise: float) -> float:
    """Return the waist edge after over the one before, or `otherwise` where the pieces have none."""
    was, now = measure_opening_mm(before), measure_opening_mm(after)
    return now / was if was and now else otherwise


@dataclass(frozen=True)
class LegChange:
    """What is added to a leg piece and by what its widths are multiplied; the neutral change by default.

    Attributes:
        calf_mm: spread along a line halfway between hem and knee [mm].
        thigh_mm: spread along a line halfway between knee and crotch [mm].
        rise_mm: spread along a line halfway between crotch and waist [mm].
        tilt_mm: the right of two crotch points goes up, the left one down by so much [mm].
        waist: widths at the waist times this.
        hip: widths at the hip.
        thigh: widths at the thigh and the crotch.
        knee: widths at the knee.
        hem: widths at the hem.
    """

    calf_mm: float = 0.0
    thigh_mm: float = 0.0
    rise_mm: float = 0.0
    tilt_mm: float = 0.0
    waist: float = 1.0
    hip: float = 1.0
    thigh: float = 1.0
    knee: float = 1.0
    hem: float = 1.0


def change_leg(piece: Piece, change: LegChange) -> Move:
    """Return the move that makes `change` on a leg piece.

    Lengths are spread not at one cut but over the whole zone round its line, most at the line itself and
    nothing at hem, knee, crotch and waist; girths change smoothly from level to level and are steady at each.
    So curves stay smooth, and corners turn only by what differing widths ask.

    Raises:
        PieceError: a zone would be shortened by more than a third.
    """
    at = find_levels(piece)
    zones = (
        (at.hem, at.knee, change.calf_mm),
        (at.knee, at.crotch, change.thigh_mm),
        (at.crotch, at.waist, change.rise_mm),
    )
    for low, high, more in zones:
        if more < -(high - low) / 3.0:
            raise PieceError(
                f"The leg cannot be made {-more:.0f} mm shorter over {high - low:.0f} mm.", "Choose a smaller change."
            )
    heights = np.array([at.hem, at.knee, at.thigh, at.crotch, at.hip, at.waist])
    ratios = np.array([change.hem, change.knee, change.thigh, change.thigh, change.hip, change.waist])
    axis = find_axis(piece)
    x_right = max(float(e.points_mm[:, 0].max()) for e in piece.edges if is_inseam(e.name) or is_rise(e.name)) - axis

    def move(points: Floats) -> Floats:
        x, y = points[:, 0] - axis, points[:, 1]
        wide = axis + x * blend_ratios(y, heights, ratios)
        up = y.copy()
        for low, high, more in zones:
            share = np.clip((y - low) / (high - low), 0.0, 1.0)
            # The raised cosine's integral: its slope is nought at both ends of the zone.
            up += more * (share - np.sin(2.0 * np.pi * share) / (2.0 * np.pi))
        if change.tilt_mm:
            nearness = np.clip(1.0 - np.abs(y - at.crotch) / (at.crotch - at.knee), 0.0, 1.0)
            up += change.tilt_mm * np.clip(x / x_right, -1.0, 1.0) * nearness**2 * (3.0 - 2.0 * nearness)
        return np.column_stack([wide, up])

    return move


def find_axis(piece: Piece) -> float:
    """Return the x that stays when widths change: the side where there is one, else the middle of the piece."""
    sides = [edge.points_mm for edge in piece.edges if edge.name.value in ("side", "centre")]
    if sides:
        return float(np.mean([line[:, 0].mean() for line in sides]))
    ring = np.vstack([edge.points_mm for edge in piece.edges])
    low, high = float(ring[:, 0].min()), float(ring[:, 0].max())
    return 0.0 if low < 0.0 < high else 0.5 * (low + high)


def blend_ratios(y: Floats, heights: Floats, ratios: Floats) -> Floats:
    """Return ratios at heights y [mm]: as given at each level, level there, smooth between and steady beyond."""
    place = np.clip(np.searchsorted(heights, y, side="right") - 1, 0, len(heights) - 2)
    span = np.maximum(heights[place + 1] - heights[place], 1e-9)
    share = np.clip((y - heights[place]) / span, 0.0, 1.0)
    share = share * share * (3.0 - 2.0 * share)
    return np.asarray(ratios[place] + (ratios[place + 1] - ratios[place]) * share)
