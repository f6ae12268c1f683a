"""Plates: where a name written over a picture hides least."""

from collections.abc import Sequence

import numpy as np

from ..arrays import Floats

Place = tuple[float, float]


def list_places_beside(corners_px: Floats, size_px: tuple[float, float], gap_px: float) -> list[Place]:
    """Return where the top left corner of a plate may lie so that it does not cover a thing, the best first.

    Args:
        corners_px: (4, 2) of the thing.
        size_px: width and height of the plate.
        gap_px: kept between them.
    """
    (left, top), (right, bottom) = corners_px.min(axis=0), corners_px.max(axis=0)
    wide, high = size_px
    middle_x, middle_y = (left + right - wide) / 2, (top + bottom - high) / 2
    below, above = bottom + gap_px, top - gap_px - high
    after, before = right + gap_px, left - gap_px - wide
    across = [(x, y) for y in (below, above) for x in (middle_x, left, right - wide)]
    return [*across, (after, middle_y), (before, middle_y), *((x, y) for y in (below, above) for x in (after, before))]


def choose_place(
    places: Sequence[Place], size_px: tuple[float, float], room_px: tuple[int, int], off_px: Floats, margin_px: float
) -> Place:
    """Return the first of the places, each moved into the picture, at which a plate covers the fewest points.

    Args:
        places: of the plate's top left corner.
        size_px: width and height of the plate.
        room_px: width and height of the picture.
        off_px: (N, 2) points it is to keep off.
        margin_px: so near to it counts as covered.
    """
    size = np.array(size_px)
    within = [np.clip(place, 0, np.maximum(np.array(room_px) - size, 0)) for place in places]

    def count_covered(place: Floats) -> int:
        return int(((off_px > place - margin_px) & (off_px < place + size + margin_px)).all(axis=1).sum())

    x, y = min(within, key=count_covered)
    return float(x), float(y)
