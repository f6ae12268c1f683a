"""Packing: rectangles on as short a page, or as few pages, as found."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import permutations, product

Size = tuple[float, float]

_EVERY_ORDER = 5
"""Up to so many rectangles all orders are tried."""
_EVERY_TURN = 4
"""Up to so many, each of them lying as well."""


@dataclass(frozen=True)
class Place:
    """Where a rectangle lies: its upper left corner, y down [mm], and whether it is turned by a quarter."""

    x_mm: float
    y_mm: float
    is_turned: bool = False


@dataclass(frozen=True)
class Packed:
    """Rectangles on one page.

    Attributes:
        places: by the rectangles' numbers.
        height_mm: that they take together [mm].
    """

    places: dict[int, Place]
    height_mm: float


def pack_area(
    sizes: Sequence[Size], chosen: Sequence[int], width_mm: float, gap_mm: float, upright: Collection[int] = ()
) -> Packed | None:
    """Return the chosen rectangles within a width, as short as found; None where one is too wide.

    Args:
        sizes: width and height of every rectangle [mm].
        chosen: indices into them.
        width_mm: of the page.
        gap_mm: between rectangles.
        upright: indices of those that may not be turned.
    """
    if len(chosen) <= _EVERY_ORDER:
        orders: Iterable[Sequence[int]] = permutations(chosen)
    else:
        orders = [sorted(chosen, key=lambda i: -sizes[i][1]), sorted(chosen, key=lambda i: -sizes[i][0])]
    is_few = len(chosen) <= _EVERY_TURN
    can_turn = [index for index in chosen if index not in upright] if is_few else []
    # Upright comes first, so that nothing is turned in vain.
    turns = [dict(zip(can_turn, flags, strict=True)) for flags in product((False, True), repeat=len(can_turn))]
    best: Packed | None = None
    for order, turned in product(orders, turns):
        packed = _drop(sizes, order, turned, width_mm, gap_mm)
        if packed is not None and (best is None or packed.height_mm < best.height_mm - 1e-6):
            best = packed
    return best


def _drop(
    sizes: Sequence[Size], order: Sequence[int], turned: dict[int, bool], width_mm: float, gap_mm: float
) -> Packed | None:
    """Lay one rectangle after the other as high up as it goes, then as far left."""
    places: dict[int, Place] = {}
    boxes: list[tuple[float, float, float, float]] = []
    for index in order:
        width, height = sizes[index]
        if turned.get(index):
            width, height = height, width
        if width > width_mm:
            return None
        spot = None
        for x in sorted({0.0, *(right + gap_mm for _, _, right, _ in boxes)}):
            if x + width <= width_mm:
                under = (bottom for left, _, right, bottom in boxes if left < x + width + gap_mm and x < right + gap_mm)
                y = max((bottom + gap_mm for bottom in under), default=0.0)
                if spot is None or y < spot[1]:
                    spot = x, y
        assert spot is not None  # x = 0 always fits
        places[index] = Place(*spot, bool(turned.get(index)))
        boxes.append((spot[0], spot[1], spot[0] + width, spot[1] + height))
    return Packed(places, max(bottom for *_, bottom in boxes))


def pack_pages(
    sizes: Sequence[Size], on_every_page: int, page_mm: Size, gap_mm: float, is_shortest: bool = False
) -> list[Packed] | None:
    """Return the rectangles on as few pages as found, or None where one fits no page.

    Args:
        sizes: width and height of every rectangle [mm].
        on_every_page: index of the one which every page has, upright.
        page_mm: width and height that may be used [mm].
        gap_mm: between rectangles.
        is_shortest: rectangles are turned to make a page shorter; else only to make it hold more.
    """
    width, height = page_mm
    left = sorted((i for i in range(len(sizes)) if i != on_every_page), key=lambda i: -max(sizes[i]))
    pages = []
    while left:
        chosen, page = [on_every_page], None
        for index in left:
            wanted = [*chosen, index]
            for upright in ((on_every_page,),) if is_shortest else (wanted, (on_every_page,)):
                tried = pack_area(sizes, wanted, width, gap_mm, upright)
                if tried is not None and tried.height_mm <= height:
                    chosen, page = wanted, tried
                    break
        if page is None:
            return None
        pages.append(page)
        left = [index for index in left if index not in chosen]
    return pages
