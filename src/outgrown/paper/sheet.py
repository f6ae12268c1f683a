"""Sheet: pieces side by side on one virtual sheet of paper, the grain upright."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import permutations, product

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats, frozen
from ..pieces.piece import Piece
from .size_lines import size_lines

GAP_MM = 10.0
"""Between pieces: room for scissors and for notches [mm]."""
_EVERY_ORDER = 3
"""Up to so many pieces all orders and all breaks into rows are tried; nine pieces would take seconds."""


@dataclass(frozen=True, eq=False)
class Sheet:
    """Pieces placed without overlap; the lower left of all is at (0, 0).

    Attributes:
        pieces: turned and moved to where they lie.
        width_mm: of all pieces together [mm].
        height_mm: of all pieces together [mm].
    """

    pieces: tuple[Piece, ...]
    width_mm: float
    height_mm: float


def move_piece(piece: Piece, rotation_deg: float = 0.0, shift_mm: ArrayLike = (0.0, 0.0)) -> Piece:
    """Return the piece turned counter-clockwise about the origin, then moved."""
    turn = np.deg2rad(rotation_deg)
    rotation = np.array([(np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))])
    shift = np.asarray(shift_mm, dtype=np.float64)

    def moved(points: ArrayLike) -> Floats:
        turned = np.asarray(points, dtype=np.float64)
        return frozen((turned @ rotation if rotation_deg else turned) + shift)

    return replace(
        piece,
        edges=tuple(replace(edge, points_mm=moved(edge.points_mm)) for edge in piece.edges),
        cut_ring_mm=moved(piece.cut_ring_mm),
        grainline_mm=moved(piece.grainline_mm),
        stretch_mm=moved(piece.stretch_mm),
        notches=tuple(
            replace(
                notch,
                point_mm=moved(notch.point_mm),
                outward=frozen(np.asarray(notch.outward, dtype=np.float64) @ rotation),
            )
            for notch in piece.notches
        ),
        inner_lines=tuple(replace(line, points_mm=moved(line.points_mm)) for line in piece.inner_lines),
    )


def stand_piece(piece: Piece) -> Piece:
    """Return the piece turned the short way so that its grainline is upright."""
    x, y = np.asarray(piece.grainline_mm[1]) - np.asarray(piece.grainline_mm[0])
    turn = 90.0 - float(np.degrees(np.arctan2(y, x)))
    turn = (turn + 90.0) % 180.0 - 90.0
    return move_piece(piece, turn) if abs(turn) > 0.01 else piece


def arrange_pieces(pieces: Sequence[Piece]) -> list[Sheet]:
    """Return the sheets worth trying: rows of pieces in different orders and row lengths, grain upright."""
    standing = [stand_piece(piece) for piece in pieces]
    boxes = [find_bounds(piece) for piece in standing]
    count = len(standing)
    orders: Sequence[tuple[int, ...]]
    if count <= _EVERY_ORDER:
        orders = list(permutations(range(count)))
    else:
        tall = tuple(sorted(range(count), key=lambda i: -(boxes[i][1] - boxes[i][0])[1]))
        orders = [tuple(range(count)), tall]
    if count <= _EVERY_ORDER:
        breaks: Sequence[tuple[bool, ...]] = list(product((False, True), repeat=max(count - 1, 0)))
    else:
        breaks = [tuple((i + 1) % length == 0 for i in range(count - 1)) for length in range(1, count + 1)]
    return [_lay_rows(standing, boxes, order, ends) for order in orders for ends in breaks]


def find_bounds(piece: Piece) -> Floats:
    """Return the piece's lower left and upper right corner, all nested sizes included [mm]."""
    ring = np.vstack([piece.cut_ring_mm, *(line.points_mm for line in size_lines(piece))])
    return np.array([ring.min(axis=0), ring.max(axis=0)])


def _lay_rows(pieces: Sequence[Piece], boxes: Sequence[Floats], order: Sequence[int], ends: Sequence[bool]) -> Sheet:
    rows: list[list[int]] = [[]]
    for index, ends_row in zip(order, (*ends, False), strict=True):
        rows[-1].append(index)
        if ends_row:
            rows.append([])
    placed: dict[int, Piece] = {}
    y = width = 0.0
    for row in reversed(rows):
        x = height = 0.0
        for index in row:
            low, high = boxes[index]
            placed[index] = move_piece(pieces[index], 0.0, np.array([x, y]) - low)
            x += high[0] - low[0] + GAP_MM
            height = max(height, high[1] - low[1])
        width = max(width, x - GAP_MM)
        y += height + GAP_MM
    return Sheet(tuple(placed[index] for index in sorted(placed)), width, y - GAP_MM)
