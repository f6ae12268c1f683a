"""Garment: named edges and measurements, whatever the kind."""

from dataclasses import dataclass, field
from enum import StrEnum

from ..arrays import Floats
from ..findings import Finding
from ..geometry.moves import Frame


class EdgeName(StrEnum):
    """Edges in the trade's words."""

    WAIST = "waist"
    RISE = "rise"
    INSEAM = "inseam"
    HEM = "hem"
    SIDE = "side"
    CENTRE = "centre"
    NECK = "neck"
    SHOULDER = "shoulder"
    SLEEVE_HEM = "sleeve hem"
    UNDERARM = "underarm"
    END = "end"
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
        part: `front` or `back` where the garment shows both; else empty.
    """

    name: EdgeName
    points_mm: Floats
    part: str = ""


@dataclass(frozen=True, eq=False)
class Corner:
    """A named corner where two edges meet.

    Attributes:
        name: e.g. `crotch`.
        point_mm: (2,) in the upright garment.
        seen_mm: (2,) in the outline's millimetres, as it lay.
        is_moved: the person said where it is.
    """

    name: str
    point_mm: Floats
    seen_mm: Floats
    is_moved: bool = False


@dataclass(frozen=True, eq=False)
class EdgeFit:
    """How well the smooth edge follows the photographed one.

    Attributes:
        name: which edge.
        typical_mm: root mean square distance [mm].
        worst_mm: greatest distance [mm], the rounded corners left out.
    """

    name: EdgeName
    typical_mm: float
    worst_mm: float


@dataclass(frozen=True)
class Band:
    """A cuff or waistband seen on the garment, narrower than the leg it is sewn to.

    Attributes:
        height_mm: finished height [mm].
        edge_mm: length of its free edge on the folded leg: half a cuff's girth, a quarter of a waistband's [mm].
    """

    height_mm: float
    edge_mm: float


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
        corners: where edges meet, in the order of the edges: the corner an edge begins at.
        fits: how well each smooth edge follows the outline.
        cuff: a narrower cuff at the hem, when there is one; the edges end at its seam.
        waistband: a narrower waistband, when there is one; the edges end at its seam.
        is_upright: a whole outline stands as worn, its middle line on x = 0.
        side_shape_mm: (N, 2) height and how far the side lay from the straight line between its ends (negative =
            bulging outward), heights rising, where that was too far for a fold; else None [mm].
        frame: from the outline's millimetres to the upright garment before the side was straightened.
    """

    kind: str
    laid: Laid
    edges: tuple[Edge, ...]
    measurements: tuple[Measurement, ...] = ()
    findings: tuple[Finding, ...] = field(default_factory=tuple)
    is_mirrored: bool = False
    corners: tuple[Corner, ...] = ()
    fits: tuple[EdgeFit, ...] = ()
    frame: Frame | None = None
    cuff: Band | None = None
    waistband: Band | None = None
    is_upright: bool = False
    side_shape_mm: Floats | None = None

    def edge(self, name: EdgeName) -> Edge:
        """Return the first edge called `name`.

        Raises:
            KeyError: there is none.
        """
        for edge in self.edges:
            if edge.name == name:
                return edge
        raise KeyError(name)

    def measured(self, name: str) -> Measurement:
        """Return the first measurement called `name`.

        Raises:
            KeyError: there is none.
        """
        for measurement in self.measurements:
            if measurement.name == name:
                return measurement
        raise KeyError(name)
