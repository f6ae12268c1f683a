"""Lay: the result, checked."""

from dataclasses import dataclass

import shapely

from ..findings import Finding
from ..practice import SOLD_BY_MM
from .buying import round_up_mm, round_up_yard_mm
from .checking import check_lay
from .cloth import Bolt, Cloth, Rules
from .part import Part
from .placing import Item, Placed
from .strip import used_length_mm


@dataclass(frozen=True)
class Offer:
    """A change that would help.

    Attributes:
        change: what to do, in words.
        gain: what comes of it, in words.
    """

    change: str
    gain: str

    def sentence(self) -> str:
        """Return it as one line."""
        return f"{self.change}: {self.gain}."


@dataclass(frozen=True, eq=False)
class Lay:
    """Where each piece lies. Making one checks that no two overlap and none reaches outside.

    Attributes:
        cloth: what they lie on.
        rules: how they may lie.
        parts: what was wanted.
        placed: where each lies.
        missing: what found no place.
        offers: changes that would help.
        findings: what the person should know.
        sold_by_mm: cloth is sold in such steps [mm].
    """

    cloth: Cloth
    rules: Rules
    parts: tuple[Part, ...]
    placed: tuple[Placed, ...]
    missing: tuple[Item, ...] = ()
    offers: tuple[Offer, ...] = ()
    findings: tuple[Finding, ...] = ()
    sold_by_mm: float = SOLD_BY_MM.value

    def __post_init__(self) -> None:
        """Check every placed piece with exact geometry."""
        check_lay(self.placed, self.area())

    def area(self) -> shapely.Geometry:
        """Return where pieces may lie."""
        return self.cloth.area(self.length_mm) if isinstance(self.cloth, Bolt) else self.cloth.area()

    @property
    def length_mm(self) -> float:
        """Return the length used of cloth off the roll [mm]; 0 without a piece."""
        return used_length_mm(self.placed) if self.placed else 0.0

    @property
    def bought_mm(self) -> float:
        """Return the length to buy by the metre [mm]."""
        return round_up_mm(self.length_mm, self.sold_by_mm)

    @property
    def bought_yard_mm(self) -> float:
        """Return the length to buy by the yard [mm]."""
        return round_up_yard_mm(self.length_mm)

    @property
    def fits(self) -> bool:
        """Everything found a place."""
        return not self.missing

    @property
    def used_share(self) -> float:
        """Return the share of the cloth that pieces take."""
        area = self.area().area
        return sum(one.shape.area for one in self.placed) / area if area else 0.0
