"""Piece and Pattern: what is cut, and everything needed to draw it again."""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from ..arrays import Floats
from ..findings import Finding
from ..garment.garment import EdgeName, Measurement


class Finish(StrEnum):
    """How an edge is finished; decides its allowance and its form."""

    SEAM = "seam"
    FOLD = "fold"
    CASING = "casing"
    HEM = "hem"
    MOCK_CUFF = "mock-cuff"
    RAW = "raw"
    FINISHED = "finished"


@dataclass(frozen=True, eq=False)
class SeamEdge:
    """One edge of a piece on its seam line.

    Attributes:
        name: which edge.
        points_mm: (N, 2) along the seam line (or fold line), counter-clockwise round the piece.
        allowance_mm: cloth left beyond the line [mm]; 0 on a fold.
        finish: how it is finished.
        part: `front` or `back` where a piece has both; else empty.
    """

    name: EdgeName
    points_mm: Floats
    allowance_mm: float
    finish: Finish
    part: str = ""


@dataclass(frozen=True, eq=False)
class Notch:
    """A mark on the cut line that must meet its partner.

    Attributes:
        point_mm: (2,) on the seam line.
        outward: (2,) unit vector towards the cut line.
        depth_mm: from seam line to cut line along `outward` [mm].
        is_double: double = back, single = front.
    """

    point_mm: Floats
    outward: Floats
    depth_mm: float
    is_double: bool = False


@dataclass(frozen=True, eq=False)
class InnerLine:
    """A line drawn inside a piece and not cut, e.g. `turn hem up here`."""

    name: str
    points_mm: Floats


@dataclass(frozen=True, eq=False)
class Piece:
    """One pattern piece, y up, grain along y unless `grainline_mm` says otherwise.

    Attributes:
        name: e.g. `leg`.
        edges: seam edges, closed round, counter-clockwise.
        cut_ring_mm: (N, 2) the line to cut along, closed ring, first point not repeated, counter-clockwise.
        quantity: in words, e.g. `cut 2, mirrored, on fold`.
        grainline_mm: (2, 2) the ends of the grainline.
        stretch_mm: (2, 2) the ends of the arrow of greatest stretch.
        notches: marks that must meet.
        inner_lines: drawn, not cut.
        labels: further lines of text for the piece, in reading order.
    """

    name: str
    edges: tuple[SeamEdge, ...]
    cut_ring_mm: Floats
    quantity: str
    grainline_mm: Floats
    stretch_mm: Floats
    notches: tuple[Notch, ...] = ()
    inner_lines: tuple[InnerLine, ...] = ()
    labels: tuple[str, ...] = ()


@dataclass(frozen=True)
class CutListRow:
    """One line of the cut list: a piece, a strip or a length of elastic.

    Attributes:
        name: `waistband`, `elastic`, ...
        quantity: how many.
        length_mm: cut length [mm], or None for a drawn piece.
        width_mm: cut width [mm], or None for a drawn piece.
        material: `main fabric`, `rib`, `elastic`.
        note: e.g. the length halved for cutting on the fold.
    """

    name: str
    quantity: int
    length_mm: float | None
    width_mm: float | None
    material: str
    note: str = ""


@dataclass(frozen=True, eq=False)
class Pattern:
    """Pieces, every choice the person made, and where it all came from. Rebuilds every output alone.

    Attributes:
        title: garment name the person gave.
        for_whom: for whom or which size, as typed.
        made_on: ISO date.
        pieces: to print.
        cut_list: to cut.
        measurements: taken from the garment.
        choices: plain JSON values, by name.
        outline_mm: (N, 2) ring as photographed.
        expected_error_mm: (median, p95) of the outline [mm].
        provenance: plain JSON values: photo name, references, camera.
        findings: what the person should know.
    """

    title: str
    for_whom: str
    made_on: str
    pieces: tuple[Piece, ...]
    cut_list: tuple[CutListRow, ...]
    measurements: tuple[Measurement, ...]
    choices: dict[str, Any]
    outline_mm: Floats
    expected_error_mm: tuple[float, float]
    provenance: dict[str, Any] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
