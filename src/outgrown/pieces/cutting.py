"""Cutting: how often a piece is cut, how many of these mirrored, whether on a fold, and from what."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from ..arrays import Floats, frozen
from ..errors import PieceError
from ..geometry.moves import reflect
from ..geometry.rings import as_ring
from .band_pieces import is_band
from .piece import CutListRow, Finish, Piece

MAIN = "main fabric"
_STRAIGHT_MM = 0.5
"""A fold further from a straight line than this cannot be laid on the fold of a cloth."""
_MOST = 20


@dataclass(frozen=True, eq=False)
class Cutting:
    """How a piece is cut.

    Attributes:
        count: how many whole pieces, a half on the fold giving one.
        mirrored: how many of these are mirror images of the others; 0 where a piece is its own mirror image.
        fold_mm: (2, 2) the ends of the edge that lies on a fold, or None.
        material: `main fabric`, `rib`, ...
        is_sure: the pattern says how many; else one is taken.
    """

    count: int
    mirrored: int
    fold_mm: Floats | None
    material: str
    is_sure: bool = True


def read_cutting(piece: Piece, rows: Iterable[CutListRow] = ()) -> Cutting:
    """Return how `piece` is cut: from its edges, its row of the cut list and, without one, its quantity in words.

    Raises:
        PieceError: its fold is not straight.
    """
    row = next((row for row in rows if row.name == piece.name), None)
    words = piece.quantity.lower()
    said = re.search(r"\bcut (\d+)\b", words)
    material = row.material if row is not None else MAIN
    if row is None and (found := re.search(r"\bof ([a-z ]+?)(?:,|$)", words)) and is_band(piece):
        material = found[1].strip()
    count = int(said[1]) if said else row.quantity if row is not None else 1
    if not 1 <= count <= _MOST:
        raise PieceError(f"The {piece.name} is to be cut {count} times.", "Make the pattern again from its photo.")
    fold = find_fold(piece)
    mirrored = count // 2 if "mirror" in words and fold is None else 0
    return Cutting(count, mirrored, fold, material, is_sure="garment needs" not in words)


def find_fold(piece: Piece) -> Floats | None:
    """Return the ends (2, 2) of the straight run of the cut line that lies on the fold, or None without a fold.

    Raises:
        PieceError: it is not straight, or there are two.
    """
    folds = [edge for edge in piece.edges if edge.finish is Finish.FOLD]
    if not folds:
        return None
    points = np.vstack([edge.points_mm for edge in folds])
    start = points[0]
    far = points[np.argmax(((points - start) ** 2).sum(axis=1))]
    way = (far - start) / np.hypot(*(far - start))
    off = (points - start) @ np.array([-way[1], way[0]])
    if np.abs(off).max() > _STRAIGHT_MM:
        raise PieceError(
            f"The fold of the {piece.name} is not straight.", "Make the pattern again, with a seam at its side."
        )
    ring = piece.cut_ring_mm
    on_fold = np.abs((ring - start) @ np.array([-way[1], way[0]])) <= _STRAIGHT_MM
    along = (ring[on_fold] - start) @ way
    return frozen([start + along.min() * way, start + along.max() * way])


def open_ring(ring_mm: Floats, fold_mm: Floats) -> Floats:
    """Return the ring of the whole piece: the half with its mirror image across the fold, counter-clockwise.

    Raises:
        PieceError: the half does not reach its fold.
    """
    way = fold_mm[1] - fold_mm[0]
    normal = np.array([-way[1], way[0]]) / np.hypot(*way)
    off = (ring_mm - fold_mm[0]) @ normal
    # What lies a hair beside the fold is drawn onto it, so that both halves meet without a gap.
    snapped = np.where((np.abs(off) <= _STRAIGHT_MM)[:, None], ring_mm - off[:, None] * normal, ring_mm)
    both = [Polygon(snapped).buffer(0), Polygon(reflect(snapped, fold_mm[0], way)).buffer(0)]
    whole = shapely.union_all(both, grid_size=1e-6)
    if whole.geom_type != "Polygon":
        raise PieceError("Half of a piece does not reach its fold.", "Make the pattern again from its photo.")
    return as_ring(np.asarray(whole.exterior.coords)[:-1])
