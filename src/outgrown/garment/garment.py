"""Garment: named edges and measurements, whatever the kind."""

from dataclasses import dataclass, field
from enum import StrEnum

from ..arrays import Floats
from ..findings import Finding


class EdgeName(StrEnum):
    """Edges in the trade's words."""

    WAIST = "waist"
    RISE = "rise"
    INSEAM = "inseam"
    HEM = "hem"
    SIDE = "side"
    OUTLINE = "outline"


class Laid(StrEnum):
    """How the garment was laid for the photo."""

    FOLDED = "folded"
    OPEN = "open"
    PANEL = "panel"
    OTHER = "other"


@dataclass(frozen=True, eq=False)
class Edge:
    """One named edge between two corners.

    Attributes:
        name: which edge.
        points_mm: (N, 2) from its first corner to its second, going counter-clockwise round the garment.
    """

    name: EdgeName
    points_mm: Floats


@dataclass(frozen=True)
class Measurement:
    """One length taken from the garment lying flat.

    Attributes:
        name: in the trade's words, e.g. `half thigh`.
        value_mm: the length [mm].
        doubt_mm: half of its 95 % band [mm], or None when not known.
        how: where it was taken, a few words.
    """

    name: str
    value_mm: float
    doubt_mm: float | None = None
    how: str = ""


@dataclass(frozen=True, eq=False)
class Garment:
    """An outline read as a garment: upright (waist up, y up), side fold on the left (x = 0).

    Attributes:
        kind: `leggings` and so on.
        laid: how it lay.
        edges: closed round, counter-clockwise; each ends where the next begins.
        measurements: taken from the edges.
        findings: what the person should know.
        is_mirrored: the outline was turned over to bring the side to the left.
    """

    kind: str
    laid: Laid
    edges: tuple[Edge, ...]
    measurements: tuple[Measurement, ...] = ()
    findings: tuple[Finding, ...] = field(default_factory=tuple)
    is_mirrored: bool = False

    def edge(self, name: EdgeName) -> Edge:
        """Return the first edge called `name`.

        Raises:
            KeyError: there is none.
        """
        for edge in self.edges:
            if edge.name == name:
                return edge
        raise KeyError(name)
