"""The end of a card that sticks out from under the garment, and was taken for cloth."""

import math
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np

from ..arrays import Floats
from ..findings import Finding
from ..geometry.polylines import meet_lines
from ..standards import CARD_LONG_MM, CARD_SHORT_MM
from ..units import write_cm

CODE = "card-under-garment"
_STRAIGHT_MM = 0.8
"""A side may leave its straight line by so much; a card's corner, 3.18 mm round, is cut by short chords."""
_LEAST_SIDE_MM, _MOST_ROUND_MM = 6.0, 9.0
_WIDTH_RIGHT_MM = 1.0
"""Both sides of it are cloth's edges for the tracer: good to some tenths of a millimetre each, and the slant."""
_SQUARE_DEG = 6.0
"""The short sides of an end that sticks out by a centimetre are told to some degrees."""
_LEAST_INWARD_DEG = 20.0
"""Where it comes out of the cloth the outline turns inward at both ends; a hem of that width has no such turn."""


@dataclass(frozen=True, eq=False)
class _Side:
    start_mm: Floats
    end_mm: Floats

    @property
    def length_mm(self) -> float:
        return float(np.linalg.norm(self.end_mm - self.start_mm))

    def turn_deg(self, following: "_Side") -> float:
        """Return how far the outline turns from here to `following` [deg], positive outward (to the left)."""
        (ax, ay), (bx, by) = self.end_mm - self.start_mm, following.end_mm - following.start_mm
        return math.degrees(math.atan2(ax * by - ay * bx, ax * bx + ay * by))

    def gap_mm(self, following: "_Side") -> float:
        """Return how far `following` begins from where this one ends [mm]."""
        return float(np.linalg.norm(following.start_mm - self.end_mm))

    def meet(self, other: "_Side") -> Floats:
        """Return where the two sides meet, prolonged [mm]."""
        return meet_lines(self.start_mm, self.end_mm - self.start_mm, other.start_mm, other.end_mm - other.start_mm)


def find_card_ends(ring_mm: Floats, ring_px: Floats) -> list[Finding]:
    """Return a finding for each place where the outline goes round the end of a card.

    Told by its shape alone: an end as wide as a card is long or short, square at both corners, whose sides come out of
    the rest of the outline at inward corners.

    Args:
        ring_mm: (N, 2) the outline, counter-clockwise [mm].
        ring_px: (N, 2) the same in the photo, to name the place.
    """
    sides = _find_sides(ring_mm)
    count = len(sides)
    findings = []
    for index in range(count if count >= 5 else 0):
        before, left, end, right, after = (sides[(index + step) % count] for step in range(5))
        width_mm = _card_width_mm(before, left, end, right, after)
        if width_mm is None:
            continue
        middle = (end.start_mm + end.end_mm) / 2
        nearest = int(np.argmin(np.linalg.norm(ring_mm - middle, axis=1)))
        findings.append(
            Finding(
                CODE,
                f"What sticks out of the outline, {write_cm(width_mm)} wide and square, looks like the end of a card "
                "under the garment.",
                "Lay the card beside the garment and take the photo again, or point at what sticks out (--floor-at).",
                place=f"at {ring_px[nearest].round().astype(int).tolist()} px",
                amount_mm=max(left.length_mm, right.length_mm),
            )
        )
    return findings


def _card_width_mm(before: _Side, left: _Side, end: _Side, right: _Side, after: _Side) -> float | None:
    """Return how wide the end is where five sides that follow each other are a card's end and its joints, or None."""
    sides = (before, left, end, right, after)
    if any(one.gap_mm(other) > _MOST_ROUND_MM for one, other in pairwise(sides)):
        return None
    if before.turn_deg(left) > -_LEAST_INWARD_DEG or right.turn_deg(after) > -_LEAST_INWARD_DEG:
        return None
    if any(abs(one.turn_deg(other) - 90) > _SQUARE_DEG for one, other in ((left, end), (end, right))):
        return None
    width_mm = float(np.linalg.norm(left.meet(end) - end.meet(right)))
    is_right = any(abs(width_mm - known.value) < _WIDTH_RIGHT_MM for known in (CARD_LONG_MM, CARD_SHORT_MM))
    return width_mm if is_right else None


def _find_sides(ring_mm: Floats) -> list[_Side]:
    """Return the straight stretches of the outline that follow each other but for a rounded corner."""
    corners = (
        cv2.approxPolyDP(ring_mm.astype(np.float32)[:, None], _STRAIGHT_MM, True).reshape(-1, 2).astype(np.float64)
    )
    chords = [_Side(start, end) for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True)]
    return [chord for chord in chords if chord.length_mm >= _LEAST_SIDE_MM]
