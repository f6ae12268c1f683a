"""Cloth: a length off the roll, single or folded, or a leftover of any shape."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import shapely
from shapely import Polygon, box

from ..arrays import Floats
from ..errors import LayError
from ..practice import LAY_GAP_MM, SELVEDGE_MM


class Stretch(StrEnum):
    """Which way the cloth stretches most."""

    ACROSS = "across"
    ALONG = "along"


_MOST_SEED = 1_000_000


@dataclass(frozen=True)
class Rules:
    """How pieces may lie.

    Attributes:
        gap_mm: at least between two pieces [mm].
        grain_tolerance_deg: how far a grainline may be off the cloth's grain.
        is_one_way: all tops point the same way: nap, or a print that has an up.
        stretch: which way the cloth stretches most; pieces are turned by a quarter where it is along its grain.
        seconds: how long is searched, about.
        seed: of the search; the same gives the same lay.
    """

    gap_mm: float = LAY_GAP_MM.value
    grain_tolerance_deg: float = 0.0
    is_one_way: bool = False
    stretch: Stretch = Stretch.ACROSS
    seconds: float = 5.0
    seed: int = 1

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if not 0.0 <= self.gap_mm <= 50.0:
            raise LayError(f"A gap of {self.gap_mm:g} mm cannot be.", "Give one between 0 and 50 mm.")
        if not 0.0 <= self.grain_tolerance_deg <= 45.0:
            raise LayError(
                f"A grainline {self.grain_tolerance_deg:g}° off the grain is none.", "Allow 45° at most; 2° is usual."
            )
        if not 0.05 <= self.seconds <= 600.0:
            raise LayError(f"I cannot search for {self.seconds:g} seconds.", "Give between 0.05 and 600.")
        if not 0 <= self.seed <= _MOST_SEED:
            raise LayError(f"There is no search {self.seed}.", f"Give a whole number from 0 to {_MOST_SEED}.")

    def turns_deg(self) -> tuple[float, ...]:
        """Return the turns a piece at rest may have on a cloth whose grain runs along x."""
        t = self.grain_tolerance_deg
        offs = (0.0,) if t == 0.0 else (0.0, -t, t, -0.5 * t, 0.5 * t)
        base = 0.0 if self.stretch is Stretch.ACROSS else 90.0
        ways = (0.0,) if self.is_one_way else (0.0, 180.0)
        return tuple(base + way + off for way in ways for off in offs)


@dataclass(frozen=True)
class Bolt:
    """Cloth off the roll, its length along x, as long as is needed.

    Attributes:
        width_mm: from edge to edge, opened flat [mm].
        is_folded: folded lengthwise, right sides together, the fold on y = 0.
        selvedge_mm: left free along each edge [mm].
    """

    width_mm: float
    is_folded: bool = False
    selvedge_mm: float = SELVEDGE_MM.value

    def __post_init__(self) -> None:
        """Refuse what no shop sells."""
        if not 50.0 <= self.width_mm <= 6000.0:
            raise LayError(
                f"A cloth {self.width_mm:g} mm wide cannot be.", "Give its width with the unit, for example 150cm."
            )
        if not 0.0 <= self.selvedge_mm < self.width_mm / 4:
            raise LayError(
                f"A selvedge of {self.selvedge_mm:g} mm leaves nothing of the cloth.",
                "Give the width of one edge, for example 15mm.",
            )

    @property
    def lying_mm(self) -> float:
        """Return the width as it lies on the table [mm]."""
        return self.width_mm / 2 if self.is_folded else self.width_mm

    @property
    def low_mm(self) -> float:
        """Return the lowest y pieces may reach [mm]."""
        return 0.0 if self.is_folded else self.selvedge_mm

    @property
    def high_mm(self) -> float:
        """Return the highest y pieces may reach [mm]."""
        return self.lying_mm - self.selvedge_mm

    @property
    def layers(self) -> int:
        """Return how many layers are cut at once."""
        return 2 if self.is_folded else 1

    def area(self, length_mm: float) -> Polygon:
        """Return where pieces may lie on so much of it."""
        return box(0.0, self.low_mm, length_mm, self.high_mm)


@dataclass(frozen=True, eq=False)
class Leftover:
    """A piece of cloth of any shape.

    Attributes:
        ring_mm: (N, 2) its edge.
        holes_mm: rings of holes.
        margin_mm: kept free along every edge [mm].
        grain_deg: direction of its grain, counter-clockwise from x.
        layers: 2 for a shirt cut through front and back at once.
        hem_mm: (2, 2) the ends of a finished edge on y = 0 that pieces' hems lie on, cloth above it; or None.
    """

    ring_mm: Floats
    holes_mm: tuple[Floats, ...] = ()
    margin_mm: float = 0.0
    grain_deg: float = 90.0
    layers: int = 1
    hem_mm: Floats | None = None

    def whole(self) -> Polygon:
        """Return the cloth itself."""
        shape = Polygon(self.ring_mm).buffer(0)
        holes = [Polygon(hole).buffer(0) for hole in self.holes_mm if len(hole) >= 3]
        return shape.difference(shapely.union_all(holes)) if holes else shape

    def area(self) -> shapely.Geometry:
        """Return where pieces may lie: the margin taken off."""
        inner = self.whole().buffer(-self.margin_mm, join_style="mitre") if self.margin_mm else self.whole()
        return inner if self.hem_mm is None else shapely.union_all([inner, self.hem_area(0.0)])

    def hem_area(self, below_mm: float) -> shapely.Geometry:
        """Return where pieces may lie whose hem is held on the cloth's: no margin there, and a little below it."""
        assert self.hem_mm is not None
        left, right = np.sort(self.hem_mm[:, 0]).tolist()
        whole = self.whole()
        deep = 2.0 * self.margin_mm + below_mm + 1.0
        kept = whole.union(box(left, -deep, right, 0.01)).buffer(-self.margin_mm, join_style="mitre")
        low_x, _, high_x, high_y = whole.bounds
        return kept.intersection(box(low_x, -below_mm, high_x, high_y))


Cloth = Bolt | Leftover


def turned_matrix(turn_deg: float, is_mirrored: bool) -> Floats:
    """Return (2, 2) what a piece at rest is multiplied by from the right: mirrored on its grain, then turned."""
    a = np.radians(turn_deg)
    rotation = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    if turn_deg % 90.0 == 0.0:
        rotation = np.round(rotation)
    matrix: Floats = np.diag([1.0, -1.0 if is_mirrored else 1.0]) @ rotation
    return matrix
