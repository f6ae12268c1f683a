"""Placing: what is to be put down on a cloth, and where each of it was put."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from ..arrays import Floats, frozen
from ..errors import LayError
from .cloth import Bolt, Cloth, Leftover, turned_matrix
from .part import Part, hem_at_nought


@dataclass(frozen=True, eq=False)
class Item:
    """One thing to put down.

    Attributes:
        part: what it is.
        copy: which of its copies, from 1.
        ring_mm: (N, 2) at rest; the half of a part that lies on the cloth's fold.
        mirrors: whether it may lie as it is, mirrored, or either.
        on_fold: its y = 0 lies on the cloth's fold.
        on_hem: its hem edge, at x = 0, lies on the cloth's finished edge.
        gives: how many whole pieces are cut by it.
    """

    part: Part
    copy: int
    ring_mm: Floats
    mirrors: tuple[bool, ...] = (False,)
    on_fold: bool = False
    on_hem: bool = False
    gives: int = 1

    @property
    def on_line(self) -> bool:
        """Its y = 0, or after turning its hem, is held on y = 0 of the cloth."""
        return self.on_fold or self.on_hem


@dataclass(frozen=True, eq=False)
class Placed:
    """An item where it lies.

    Attributes:
        item: what.
        is_mirrored: turned over.
        turn_deg: counter-clockwise from its rest, after mirroring.
        shift_mm: (2,) after turning.
    """

    item: Item
    is_mirrored: bool
    turn_deg: float
    shift_mm: Floats

    def moved(self, points_mm: Floats) -> Floats:
        """Return points of the item at rest where they lie on the cloth."""
        return np.asarray(points_mm @ turned_matrix(self.turn_deg, self.is_mirrored) + self.shift_mm)

    @property
    def ring_mm(self) -> Floats:
        """Return the ring to cut along on the cloth."""
        return frozen(self.moved(self.item.ring_mm))

    @property
    def shape(self) -> Polygon:
        """Return it as an area."""
        return Polygon(self.ring_mm)


def list_items(parts: Sequence[Part], cloth: Cloth, opens_folds: bool = False) -> tuple[Item, ...]:
    """Return what is put down on the cloth, the largest first.

    On one layer every copy is put down by itself. Through two layers a pair is cut at once, and what has a fold
    edge lies with it on the cloth's fold where the cloth has one; with `opens_folds` those wanted in pairs do not.

    Raises:
        LayError: copies and mirror images of a piece are not pairs.
    """
    items: list[Item] = []
    is_folded = isinstance(cloth, Bolt) and cloth.is_folded
    has_hem = isinstance(cloth, Leftover) and cloth.hem_mm is not None
    for part in parts:
        if has_hem and part.hem_mm is not None:
            _check_pairs(part)
            part = hem_at_nought(part)
            puts = -(-part.count // 2)
            mirrors = (False,) if part.is_own_mirror else (False, True)
            items += [
                Item(part, n + 1, part.ring_mm, mirrors, on_hem=True, gives=min(2, part.count - 2 * n))
                for n in range(puts)
            ]
        elif is_folded and part.half_mm is not None and not (opens_folds and part.count % 2 == 0):
            ring = part.half_mm
            items += [Item(part, n + 1, ring, (False,), on_fold=True) for n in range(part.count)]
        elif cloth.layers == 2:
            either = (False,) if part.is_own_mirror else (False, True)
            puts, rest = divmod(part.count, 2)
            _check_pairs(part)
            items += [Item(part, n + 1, part.ring_mm, either, gives=2) for n in range(puts)]
            items += [Item(part, puts + n + 1, part.ring_mm, either, gives=1) for n in range(rest)]
        else:
            plain = part.count - part.mirrored
            items += [Item(part, n + 1, part.ring_mm, (n >= plain,)) for n in range(part.count)]
    return tuple(sorted(items, key=lambda item: -Polygon(item.ring_mm).area))


def _check_pairs(part: Part) -> None:
    """Refuse a piece wanted more than once, but not in pairs: two layers give one and its mirror image."""
    if part.count > 1 and part.mirrored != part.count // 2 and not part.is_own_mirror:
        raise LayError(
            f"Two layers give the {part.name} and its mirror image, which is not wanted.",
            "Lay it on a single layer, or give its photo without --on-hem.",
        )
