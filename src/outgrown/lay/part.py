"""Part: a piece as it is put on cloth: its whole ring, grain to the right, and how often it is wanted."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import Polygon, box

from ..arrays import Floats, frozen
from ..errors import LayError
from ..findings import Finding, Severity
from ..garment.garment import EdgeName
from ..geometry.moves import reflect, turn
from ..geometry.rings import as_ring
from ..pieces.cutting import MAIN, find_fold, open_ring, read_cutting
from ..pieces.piece import Finish, Pattern, Piece
from ..practice import OVERLOCKED_SEAM_MM

_ALONG_DEG = 0.1
_SAME_SHARE = 1e-3
"""Of its area; a piece that differs less from its mirror image is its own."""


@dataclass(frozen=True, eq=False)
class Part:
    """A piece at rest: its grain runs along x, its top end is at the right.

    Attributes:
        number: written on the plan.
        name: of the piece.
        title: of its pattern, with the size.
        ring_mm: (N, 2) ring to cut along; of the whole piece, opened along its fold.
        half_mm: ring of the half that lies on a fold, above the fold on y = 0; None without a fold along the grain.
        count: how many whole pieces are wanted.
        mirrored: how many of these are mirror images.
        is_own_mirror: its mirror image is itself.
        hem_mm: (N, 2) its hem edge, at the left; None without one.
        is_band: a strip that may be sewn together from two.
        seam_mm: allowance of its seams [mm].
    """

    number: int
    name: str
    title: str
    ring_mm: Floats
    half_mm: Floats | None
    count: int
    mirrored: int
    is_own_mirror: bool
    hem_mm: Floats | None = None
    is_band: bool = False
    seam_mm: float = 0.0

    @property
    def label(self) -> str:
        """Return the number and the name: `2 leg`."""
        return f"{self.number} {self.name}"

    @property
    def area_mm2(self) -> float:
        """Return the area of one whole piece [mm²]."""
        return float(Polygon(self.ring_mm).area)


def read_parts(
    patterns: Sequence[Pattern], counts: Mapping[str, int] | None = None
) -> tuple[tuple[Part, ...], tuple[Finding, ...]]:
    """Return what is laid on the main cloth, numbered through all patterns, and what is not.

    Args:
        patterns: kept.
        counts: how often the person wants pieces of these names, whatever the pattern says; 0 leaves one out.

    Raises:
        LayError: nothing is left to lay, or no piece is called so.
        PieceError: a piece cannot be cut as it says.
    """
    parts: list[Part] = []
    findings: list[Finding] = []
    counts = dict(counts or {})
    there = {piece.name for pattern in patterns for piece in pattern.pieces}
    for name in counts:
        if name not in there:
            raise LayError(f"There is no piece called {name}.", f"The pieces are: {', '.join(sorted(there))}.")
    for pattern in patterns:
        title = f"{pattern.title}, {pattern.for_whom}" if pattern.for_whom else pattern.title
        nested = pattern.choices.get("nested")
        if nested:
            title = f"{pattern.title}, {nested[0]}"
            findings.append(
                Finding(
                    "largest-size-laid",
                    f"“{pattern.title}” holds several sizes: the largest, {nested[0]}, is laid.",
                    "For another size, give its own pattern.",
                    Severity.NOTE,
                )
            )
        for piece in pattern.pieces:
            cutting = read_cutting(piece, pattern.cut_list)
            if cutting.material != MAIN:
                findings.append(
                    Finding(
                        "not-of-this-cloth",
                        f"The {piece.name} is cut of {cutting.material} and is not laid on this cloth.",
                        severity=Severity.NOTE,
                    )
                )
                continue
            if piece.name in counts:
                count = counts[piece.name]
                if count:
                    mirrored = count // 2 if cutting.mirrored else 0
                    parts.append(_read_part(piece, len(parts) + 1, title, count, mirrored))
                continue
            if not cutting.is_sure:
                findings.append(
                    Finding(
                        "count-not-known",
                        f"The pattern does not say how often the {piece.name} is cut: it is laid once.",
                        f"Say how often you want it (--count {_quoted(piece.name)}=2).",
                    )
                )
            parts.append(_read_part(piece, len(parts) + 1, title, cutting.count, cutting.mirrored))
    if not parts:
        raise LayError("There is no piece for this cloth.", "Give a pattern with pieces of the main fabric.")
    return tuple(parts), tuple(findings)


def _quoted(name: str) -> str:
    return f'"{name}"' if " " in name else name


def _read_part(piece: Piece, number: int, title: str, count: int, mirrored: int) -> Part:
    start, end = np.asarray(piece.grainline_mm)
    way = end - start
    grain_deg = float(np.degrees(np.arctan2(way[1], way[0])))
    if not 0.0 < grain_deg % 360.0 <= 180.0:  # pieces of a pattern stand upright; the arrow may be drawn from its top
        grain_deg += 180.0
    fold = find_fold(piece)
    ring = piece.cut_ring_mm if fold is None else open_ring(piece.cut_ring_mm, fold)
    ring = turn(ring, -grain_deg)
    half = None
    if fold is not None:
        half = turn(piece.cut_ring_mm, -grain_deg)
        line = turn(fold, -grain_deg)
        along = line[1] - line[0]
        if abs(along[1]) < np.tan(np.radians(_ALONG_DEG)) * abs(along[0]):
            half = half - np.array([0.0, line[:, 1].mean()])
            if half[:, 1].mean() < 0.0:
                half = reflect(half, np.zeros(2), np.array([1.0, 0.0]))[::-1]
            half = np.column_stack([half[:, 0], np.maximum(half[:, 1], 0.0)])
        else:
            half = None
    hems = [turn(e.points_mm, -grain_deg) for e in piece.edges if e.name is EdgeName.HEM]
    middle = 0.5 * (ring.min(axis=0) + ring.max(axis=0))
    ends = [e.allowance_mm for e in piece.edges if e.name is EdgeName.END]
    seams = ends or [e.allowance_mm for e in piece.edges if e.finish is Finish.SEAM]
    return Part(
        number=number,
        name=piece.name,
        title=title,
        ring_mm=frozen(ring - middle),
        half_mm=None if half is None else frozen(half - [0.5 * (half[:, 0].min() + half[:, 0].max()), 0.0]),
        count=count,
        mirrored=mirrored,
        is_own_mirror=_is_own_mirror(ring - middle),
        hem_mm=frozen(np.vstack(hems) - middle) if hems else None,
        is_band=bool(ends),
        seam_mm=seams[0] if seams else OVERLOCKED_SEAM_MM.value,
    )


def hem_at_nought(part: Part) -> Part:
    """Return the part cut off along its hem, the hem on x = 0: for a cloth whose own finished edge is the hem.

    Raises:
        LayError: nothing is left of it.
    """
    assert part.hem_mm is not None
    at = float(np.median(part.hem_mm[:, 0]))
    _, low_y, high_x, high_y = Polygon(part.ring_mm).bounds
    kept = Polygon(part.ring_mm).buffer(0).intersection(box(at, low_y - 1.0, high_x + 1.0, high_y + 1.0))
    if not isinstance(kept, Polygon) or kept.is_empty:
        raise LayError(f"The hem of the {part.name} does not run across it.", "Lay it without --on-hem.")
    ring = as_ring(np.asarray(kept.exterior.coords)[:-1])
    return replace(part, ring_mm=frozen(ring - [at, 0.0]), hem_mm=frozen(part.hem_mm - [at, 0.0]))


def _is_own_mirror(ring: Floats) -> bool:
    shape = Polygon(ring).buffer(0)
    return bool(shape.symmetric_difference(Polygon(ring * [1.0, -1.0]).buffer(0)).area < _SAME_SHARE * shape.area)
