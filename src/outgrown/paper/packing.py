"""Packing: rectangles side by side in rows, on as few pages as found."""

from collections.abc import Sequence
from itertools import permutations

Size = tuple[float, float]
Places = dict[int, tuple[float, float]]

_EVERY_ORDER = 5
"""Up to so many rectangles all orders are tried."""


def pack_rows(sizes: Sequence[Size], chosen: Sequence[int], width_mm: float, gap_mm: float) -> tuple[Places, float]:
    """Return where each chosen rectangle's upper left corner lies, y down, and the height of all rows [mm].

    Args:
        sizes: width and height of every rectangle [mm]; none of the chosen is wider than `width_mm`.
        chosen: indices into them.
        width_mm: of the page.
        gap_mm: between rectangles.
    """
    orders: Sequence[Sequence[int]]
    if len(chosen) <= _EVERY_ORDER:
        orders = list(permutations(chosen))
    else:
        orders = [sorted(chosen, key=lambda i: -sizes[i][1]), sorted(chosen, key=lambda i: -sizes[i][0]), chosen]
    tried = [_fill_rows(sizes, order, width_mm, gap_mm) for order in orders]
    return min(tried, key=lambda packed: packed[1])


def _fill_rows(sizes: Sequence[Size], order: Sequence[int], width_mm: float, gap_mm: float) -> tuple[Places, float]:
    places: Places = {}
    x = y = high = 0.0
    for index in order:
        width, height = sizes[index]
        if x > 0 and x + width > width_mm:
            x, y, high = 0.0, y + high + gap_mm, 0.0
        places[index] = (x, y)
        x += width + gap_mm
        high = max(high, height)
    return places, y + high


def pack_pages(
    sizes: Sequence[Size], on_every_page: int, page_mm: Size, gap_mm: float
) -> list[tuple[Places, float]] | None:
    """Return for each page where rectangles lie and how high they are together, or None where one fits no page.

    Args:
        sizes: width and height of every rectangle [mm].
        on_every_page: index of the one which every page has.
        page_mm: width and height that may be used [mm].
        gap_mm: between rectangles.
    """
    width, height = page_mm
    if any(w > width or h > height for w, h in sizes):
        return None
    left = sorted((i for i in range(len(sizes)) if i != on_every_page), key=lambda i: -sizes[i][1])
    pages = []
    while left:
        chosen, packed = [on_every_page], None
        for index in left:
            tried = pack_rows(sizes, [*chosen, index], width, gap_mm)
            if tried[1] <= height:
                chosen.append(index)
                packed = tried
        if packed is None:
            return None
        pages.append(packed)
        left = [index for index in left if index not in chosen]
    return pages
