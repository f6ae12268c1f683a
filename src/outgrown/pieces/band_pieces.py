"""Band pieces: waistband and cuffs, from their rows of the cut list, drawn as half a strip on a fold."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from ..arrays import frozen
from ..garment.garment import EdgeName
from .choices import Allowance, Choices
from .labelling import write_headings
from .piece import CutListRow, Finish, InnerLine, Notch, Piece, SeamEdge

WAISTBAND, CUFF = "waistband", "ribbed cuff"
_SEWN_TO = {WAISTBAND: EdgeName.WAIST, CUFF: EdgeName.HEM}
_MEET = {
    WAISTBAND: "place on fold: centre front; ends: centre back; notches: sides",
    CUFF: "place on fold: side of the leg; ends: inseam",
}


def is_band(piece: Piece) -> bool:
    """Tell whether a piece is a strip whose ends are sewn to each other."""
    return any(edge.name is EdgeName.END for edge in piece.edges)


def draw_bands(
    rows: Iterable[CutListRow],
    choices: Choices,
    allowances: Mapping[EdgeName, Allowance],
    side_share: float | None = None,
) -> tuple[Piece, ...]:
    """Return the drawn pieces of those rows that are cloth: waistband and cuffs.

    Args:
        rows: of the cut list.
        choices: what the person decided.
        allowances: of each edge of the garment; a waistband's ends have that of the waist, a cuff's the inseam's.
        side_share: where the side lies on the waist edge, a share of the way from the front's middle to the back's.
    """
    pieces = []
    for row in rows:
        if row.name in _SEWN_TO and row.length_mm is not None and row.width_mm is not None:
            along = allowances[_SEWN_TO[row.name]].amount_mm
            end = along if row.name == WAISTBAND else allowances[EdgeName.INSEAM].amount_mm
            labels = (*write_headings(choices), "folded in half along its length", _MEET[row.name])
            share = side_share if row.name == WAISTBAND else None
            pieces.append(_draw_band(row, along, end, share, labels))
    return tuple(pieces)


def read_band_seams(pieces: Iterable[Piece]) -> dict[str, tuple[float, float]]:
    """Return by name of each band what its seams take of its length and of its width as cut [mm]."""
    taken = {}
    for piece in pieces:
        if is_band(piece):
            amounts = {edge.name: edge.allowance_mm for edge in piece.edges}
            taken[piece.name] = 2.0 * amounts[EdgeName.END], 2.0 * piece.edges[0].allowance_mm
    return taken


def refit_bands(pieces: Sequence[Piece], rows: Sequence[CutListRow]) -> tuple[Piece, ...]:
    """Return the pieces with those that are bands drawn again as long and as wide as their rows say."""
    sizes = {row.name: row for row in rows if row.length_mm is not None and row.width_mm is not None}
    return tuple(_refit(p, sizes[p.name]) if is_band(p) and p.name in sizes else p for p in pieces)


def _refit(piece: Piece, row: CutListRow) -> Piece:
    amounts = {edge.name: edge.allowance_mm for edge in piece.edges}
    reach = float(piece.edges[0].points_mm[-1, 0])
    share = float(piece.notches[0].point_mm[0]) / reach if piece.notches else None
    return _draw_band(row, amounts[piece.edges[0].name], amounts[EdgeName.END], share, piece.labels)


def _draw_band(
    row: CutListRow, along_mm: float, end_mm: float, side_share: float | None, labels: tuple[str, ...]
) -> Piece:
    """Return half of the strip, its middle a fold on x = 0, its lower seam line on y = 0."""
    sewn_to = _SEWN_TO[row.name]
    cut_long, cut_high = 0.5 * float(row.length_mm or 0.0), float(row.width_mm or 0.0)
    long, high = cut_long - end_mm, cut_high - 2.0 * along_mm
    corners = np.array([[0.0, 0.0], [long, 0.0], [long, high], [0.0, high]])
    sides = (
        (sewn_to, along_mm, Finish.SEAM),
        (EdgeName.END, end_mm, Finish.SEAM),
        (sewn_to, along_mm, Finish.SEAM),
        (EdgeName.CENTRE, 0.0, Finish.FOLD),
    )
    edges = tuple(
        SeamEdge(name, frozen(np.array([corners[i], corners[(i + 1) % 4]])), amount, finish)
        for i, (name, amount, finish) in enumerate(sides)
    )
    notches: tuple[Notch, ...] = ()
    if side_share is not None and along_mm > 0.0:
        x = side_share * long
        notches = tuple(
            Notch(frozen(np.array([x, y])), frozen(np.array([0.0, way])), along_mm)
            for y, way in ((0.0, -1.0), (high, 1.0))
        )
    ring = np.array([[0.0, -along_mm], [cut_long, -along_mm], [cut_long, high + along_mm], [0.0, high + along_mm]])
    return Piece(
        name=row.name,
        edges=edges,
        cut_ring_mm=frozen(ring),
        quantity=f"cut {row.quantity} of {row.material}, on fold",
        grainline_mm=frozen(np.array([[0.9 * long, 0.08 * high], [0.9 * long, 0.92 * high]])),
        stretch_mm=frozen(np.array([[0.3 * long, 0.12 * high], [0.8 * long, 0.12 * high]])),
        notches=notches,
        inner_lines=(InnerLine("fold along here", frozen(np.array([[0.0, 0.5 * high], [cut_long, 0.5 * high]]))),),
        labels=labels,
    )
