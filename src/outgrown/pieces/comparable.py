"""Comparable shapes: the seam lines of a pattern in a frame in which two patterns can be laid on one another.

Legs are taken as half legs whether they are cut on a fold, joined at the side or apart, so that a pair cut in one
piece compares with one that has side seams. The side runs upright on x = 0, the inseam lies at x > 0, and the crotch
point is at y = 0.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..arrays import Floats, frozen
from ..garment.garment import EdgeName
from .leg_shape import find_axis, is_leg
from .piece import Finish, Piece, SeamEdge

_FLIP = np.array([-1.0, 1.0])
STRIPS = ("waistband", "ribbed cuff")
"""Pieces that the cut list compares better than a drawing."""


@dataclass(frozen=True, eq=False)
class Shape:
    """Seam lines that are laid on another's.

    Attributes:
        name: `half leg`, `front half leg`, `back half leg`, or the piece's own name.
        lines: name of the edge -> (N, 2) points [mm], one after another counter-clockwise round the shape.
        shift_mm: what was added to the piece's own points to come here [mm].
        is_leg: half a leg.
    """

    name: str
    lines: Mapping[str, Floats]
    shift_mm: tuple[float, float]
    is_leg: bool = False

    def ring_mm(self) -> Floats:
        """Return the closed ring, first point not repeated."""
        return np.vstack([line[:-1] for line in self.lines.values()])


def find_shapes(pieces: Sequence[Piece]) -> tuple[Shape, ...]:
    """Return the comparable shapes of a pattern's pieces, strips left out."""
    shapes: list[Shape] = []
    for piece in pieces:
        if piece.name in STRIPS:
            continue
        shapes += _half_legs(piece) if is_leg(piece) else [_whole(piece)]
    return tuple(shapes)


def _half_legs(piece: Piece) -> list[Shape]:
    axis = find_axis(piece)
    inseams = [edge for edge in piece.edges if edge.name is EdgeName.INSEAM]
    if len(inseams) < 2:
        part = inseams[0].part
        return [_placed(_called(part), [(str(e.name), e.points_mm) for e in piece.edges], axis)]
    front, back = ([edge for edge in piece.edges if edge.part == part] for part in ("front", "back"))
    hem, waist = (next(e for e in piece.edges if e.name is name) for name in (EdgeName.HEM, EdgeName.WAIST))
    hem_back, hem_front = _split(hem.points_mm, axis)
    waist_front, waist_back = _split(waist.points_mm, axis)
    return [
        _placed(_called("front"), _round(hem_front, front, waist_front), axis),
        _placed(
            _called("back"),
            _round(_turned(hem_back, axis), [_behind(e, axis) for e in back], _turned(waist_back, axis)),
            axis,
        ),
    ]


def _called(part: str) -> str:
    return f"{part} half leg" if part else "half leg"


def _behind(edge: SeamEdge, axis: float) -> SeamEdge:
    return SeamEdge(edge.name, _turned(edge.points_mm, axis), edge.allowance_mm, edge.finish, edge.part)


def _turned(line: Floats, axis: float) -> Floats:
    """Return a line of the mirrored half as it would run on the other side of the axis."""
    shift = np.array([axis, 0.0])
    return frozen((line[::-1] - shift) * _FLIP + shift)


def _round(hem: Floats, edges: Sequence[SeamEdge], waist: Floats) -> list[tuple[str, Floats]]:
    """Return the lines of a half leg, the side drawn from waist to hem."""
    by_name = {edge.name: edge.points_mm for edge in edges}
    side = np.array([waist[-1], hem[0]])
    return [
        (str(EdgeName.SIDE), side),
        (str(EdgeName.HEM), hem),
        (str(EdgeName.INSEAM), by_name[EdgeName.INSEAM]),
        (str(EdgeName.RISE), by_name[EdgeName.RISE]),
        (str(EdgeName.WAIST), waist),
    ]


def _split(line: Floats, axis: float) -> tuple[Floats, Floats]:
    """Return the line up to the axis and on from it."""
    for i, (here, there) in enumerate(pairwise(line)):
        if (here[0] - axis) * (there[0] - axis) <= 0.0 and here[0] != there[0]:
            at = here + (axis - here[0]) / (there[0] - here[0]) * (there - here)
            first, second = np.vstack([line[: i + 1], at]), np.vstack([at, line[i + 1 :]])
            return _without_doubles(first), _without_doubles(second)
    nearest = int(np.argmin(np.abs(line[:, 0] - axis)))
    return line[: nearest + 1], line[nearest:]


def _without_doubles(line: Floats) -> Floats:
    keep = np.concatenate([[True], np.hypot(*np.diff(line, axis=0).T) > 1e-9])
    return np.asarray(line[keep])


def _placed(name: str, lines: list[tuple[str, Floats]], axis: float) -> Shape:
    inseam = next(line for edge, line in lines if edge == str(EdgeName.INSEAM))
    shift = np.array([-axis, -float(inseam[:, 1].max())])
    moved = {edge: frozen(line + shift) for edge, line in lines}
    return Shape(name, moved, (float(shift[0]), float(shift[1])), is_leg=True)


def _whole(piece: Piece) -> Shape:
    """Return a piece that is no leg, its fold on x = 0 where it has one, else its middle; its lowest place on y = 0."""
    ring = np.vstack([edge.points_mm for edge in piece.edges])
    folds = [edge.points_mm[:, 0].mean() for edge in piece.edges if edge.finish is Finish.FOLD]
    middle = folds[0] if folds else 0.5 * (ring[:, 0].min() + ring[:, 0].max())
    shift = np.array([-middle, -ring[:, 1].min()])
    lines: dict[str, Floats] = {}
    for edge in piece.edges:
        name, count = f"{edge.part} {edge.name}".strip(), 2
        while name in lines:
            name, count = f"{edge.part} {edge.name} {count}".strip(), count + 1
        lines[name] = frozen(edge.points_mm + shift)
    return Shape(piece.name, lines, (float(shift[0]), float(shift[1])))
