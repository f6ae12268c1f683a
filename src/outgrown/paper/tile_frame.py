"""Tile frame: what stands in the margins of a tile: where its neighbours lie, its name, and a scale bar."""

from . import styles
from .lettering import measure_words_mm, shorten_words
from .scale import BAR_LENGTH_MM, draw_scale_bar
from .surface import Anchor, Lettering, Pages
from .tiles import FOOT_MARGIN_MM, SIDE_MARGIN_MM, Join, Page, Tile, Tiling

_WORDS_MM = 2.5


def draw_borders(
    surface: Pages, tiling: Tiling, tile: Tile, low: tuple[float, float], high: tuple[float, float]
) -> None:
    """Draw where neighbours meet the tile: lines at the left and the top to lay, others at the right and the foot.

    Args:
        surface: to draw on.
        tiling: all tiles.
        tile: whose page it is.
        low: lower left corner of the window on the page [mm].
        high: its upper right corner [mm].
    """
    (x0, y0), (x1, y1), strip = low, high, tiling.page.overlap_mm
    for join in tiling.joins:
        anchor = Anchor.MIDDLE
        if join.above == tile:
            with surface.group("trim line", styles.TRIM):
                surface.polyline([(x0, y0), (x0, y1)] if join.is_upright else [(x0, y1), (x1, y1)])
            if join.is_upright:
                place, turn = (x0 - 1.2, (y0 + y1) / 2), 90.0
            else:
                place, turn = ((x0 + x1) / 2, y1 + 1.2), 0.0
            words = _words_above(join, tiling.page)
        elif join.below == tile:
            with surface.group("glue line", styles.TRIM if tiling.page.is_untrimmed else styles.GLUE):
                if join.is_upright:
                    surface.polyline([(x1 - strip, y0), (x1 - strip, y1)])
                else:
                    surface.polyline([(x0, y0 + strip), (x1, y0 + strip)])
            if join.is_upright:
                place, turn = (x1 + 0.8 + _WORDS_MM * 0.75, (y0 + y1) / 2), 90.0
            else:
                # At the left end, above the pattern's name: the right end is the scale bar's.
                place, turn, anchor = (x0, y0 - 0.8 - _WORDS_MM * 0.75), 0.0, Anchor.START
            words = f"glue: {join.above.name} lies on this strip"
        else:
            continue
        surface.text(words, place, Lettering(_WORDS_MM, False, turn, anchor, styles.TRIM_GREY))


def _words_above(join: Join, page: Page) -> str:
    if page.is_untrimmed:
        return f"do not cut: lay this line on the same line of {join.below.name}, pins through crosses {join.number}"
    return f"cut along this line, then lay it on {join.below.name}, button {join.number}"


def draw_foot(surface: Pages, page: Page, name: str, lines: tuple[str, ...], left_mm: float = SIDE_MARGIN_MM) -> None:
    """Write the page's name, up to three lines beside it and a scale bar below the window.

    Args:
        surface: to draw on.
        page: the paper.
        name: of the page, written large.
        lines: the first a little larger.
        left_mm: where the name begins [mm].
    """
    right, base = page.width_mm - SIDE_MARGIN_MM, FOOT_MARGIN_MM
    bar = right - BAR_LENGTH_MM
    surface.text(name, (left_mm, base + 0.8), Lettering(8.0, is_bold=True))
    after = left_mm + measure_words_mm(name, 8.0, True) + 4
    room = bar - 6 - after
    sizes, bases = ((2.8, 2.4), (4.3, 0.9)) if len(lines) < 3 else ((2.6, 2.2, 2.2), (5.2, 2.6, 0.2))
    for number, (words, size, up) in enumerate(zip(lines, sizes, bases, strict=True)):
        grey = 0.2 if number else 0.0
        surface.text(shorten_words(words, room, size), (after, base + up), Lettering(size, grey=grey))
    draw_scale_bar(surface, (bar, base + 4.4), size_mm=2.2)
