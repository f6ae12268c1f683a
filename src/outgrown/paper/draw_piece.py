"""The drawing of a piece: lines first, then words where there is room between them."""

from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from ..pieces.piece import Finish, Notch, Piece, SeamEdge
from . import styles
from .arrows import draw_filled_head, draw_straight_arrow, draw_wavy_arrow, left_of, unit
from .cut_line import Stretch, StretchKind, bracket_mm, is_named, split_ring
from .piece_words import place_words
from .recording import RecordingSurface
from .size_lines import draw_size_lines, layer_name, layers_of, size_lines
from .surface import Surface

_STRETCH_PENS = {
    StretchKind.CUT: styles.CUT,
    StretchKind.FOLD: styles.FOLD,
    StretchKind.FINISHED: styles.FINISHED_EDGE,
}


def draw_piece(
    surface: Surface,
    piece: Piece,
    lines: Sequence[str] = (),
    keep_clear_mm: ArrayLike = (),
    sizes: Sequence[str] = (),
    letters: float = 1.0,
) -> None:
    """Draw a piece with all its marks.

    Args:
        surface: to draw on.
        piece: what to draw, where it lies.
        lines: written below the piece's name, in reading order.
        keep_clear_mm: (N, 2, 2) lines which the label had better not cross, such as the edges of pages.
        sizes: nested in the pattern, the largest first; what belongs to one alone is drawn in its group.
        letters: how many times their usual size letters have.
    """
    recorded = RecordingSurface()
    with surface.group(piece.name):
        _draw_lines(recorded, piece, sizes, letters)
        _draw_lines(surface, piece, sizes, letters)
        clear = np.reshape(keep_clear_mm, (-1, 2, 2))
        words, leaders = place_words(piece, recorded.segments_mm(), lines, clear, sizes, letters)
        for leader in leaders:
            with _in_layer(surface, leader.names), surface.group("leader", styles.LEADER):
                surface.polyline(leader.points_mm)
                surface.ring(_dot(leader.points_mm[0]), is_filled=True)
        with surface.group("text"):
            for line in words:
                with _in_layer(surface, line.names):
                    surface.text(line.words, line.at_mm, line.lettering)


def _in_layer(surface: Surface, names: tuple[str, ...]) -> AbstractContextManager[None]:
    return surface.group(names[0]) if names else nullcontext()


def _draw_lines(surface: Surface, piece: Piece, sizes: Sequence[str], letters: float) -> None:
    stretches = split_ring(piece)
    # The ring is the largest size's; the fold is everyone's.
    own = tuple(map(layer_name, sizes[:1]))
    for kind, pen in _STRETCH_PENS.items():
        runs = [run for run in stretches if run.kind is kind]
        if runs:
            with _in_layer(surface, () if kind is StretchKind.FOLD else own), surface.group(kind.value, pen):
                for run in runs:
                    if run.is_closed:
                        surface.ring(run.points_mm)
                    else:
                        surface.polyline(run.points_mm)
    nested = size_lines(piece)
    # Among the cut lines of several sizes, the seam line of one would be one line too many.
    seams = [] if nested else [edge for edge in piece.edges if _has_seam_line(edge, piece)]
    if seams:
        with surface.group("seam line", styles.SEAM):
            for edge in seams:
                surface.polyline(edge.points_mm)
    with surface.group("grainline", styles.GRAIN):
        draw_straight_arrow(surface, piece.grainline_mm)
    with surface.group("greatest stretch", styles.STRETCH):
        draw_wavy_arrow(surface, piece.stretch_mm)
    for fold in _fold_runs(stretches):
        with surface.group("fold bracket", styles.BRACKET):
            _draw_bracket(surface, bracket_mm(fold, piece))
    if piece.notches:
        with _in_layer(surface, own), surface.group("notches", styles.NOTCH):
            for notch in piece.notches:
                _draw_notch(surface, notch, letters)
    inner = [line for line in piece.inner_lines if line not in nested]
    for layer in dict.fromkeys(layers_of(line.name, sizes) for line in inner):
        with _in_layer(surface, layer), surface.group("inner lines", styles.INNER):
            for line in inner:
                if layers_of(line.name, sizes) == layer:
                    surface.polyline(line.points_mm)
    draw_size_lines(surface, piece, sizes, letters)


def _has_seam_line(edge: SeamEdge, piece: Piece) -> bool:
    """Tell whether the edge's seam line is drawn: not on a fold, on the cut line, or under an inner line."""
    if edge.finish in (Finish.FOLD, Finish.FINISHED) or edge.allowance_mm == 0:
        return False
    return not is_named(edge, piece)


def _dot(middle_mm: Floats) -> Floats:
    """Return the ring of the dot that tells which of several lines a leader begins at."""
    turns = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)
    return middle_mm + styles.LEADER_DOT_MM * np.column_stack([np.cos(turns), np.sin(turns)])


def _fold_runs(stretches: Sequence[Stretch]) -> list[Floats]:
    return [run.points_mm for run in stretches if run.kind is StretchKind.FOLD and not run.is_closed]


def _draw_bracket(surface: Surface, corners: Floats) -> None:
    surface.polyline(corners)
    scale = min(1.0, float(np.hypot(*(corners[1] - corners[0]))) / 8)
    draw_filled_head(surface, corners[0], corners[0] - corners[1], scale)
    draw_filled_head(surface, corners[3], corners[3] - corners[2], scale)


def _draw_notch(surface: Surface, notch: Notch, letters: float) -> None:
    """Draw one or two triangles standing on the cut line and pointing to the seam line; wider among large letters."""
    outward = unit(notch.outward)
    along = left_of(outward)
    foot = np.asarray(notch.point_mm) + outward * notch.depth_mm
    height = min(notch.depth_mm, 5.0 * letters) if notch.depth_mm > 1 else 4.0
    apart, half = 3.0 * letters**0.5, 2.0 * letters**0.5
    for shift in (-apart, apart) if notch.is_double else (0.0,):
        base = foot + along * shift
        surface.ring([base + along * half, base - outward * height, base - along * half], is_filled=True)
