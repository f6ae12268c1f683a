"""Tiles: the sheet cut into pages that overlap, and which of them are needed."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats
from .choices import OVERLAP_MM
from .sheet import Sheet
from .size_lines import size_lines

Counts = NDArray[np.int64]

SIDE_MARGIN_MM = 10.0
"""Left and right [mm]; printers need 6.4."""
HEAD_MARGIN_MM = 10.0
FOOT_MARGIN_MM = 8.0
"""Below the foot line [mm]; older inkjet printers need 7."""
FOOT_LINE_MM = 11.0
"""Height of the line with the page's name and scale bar [mm]."""
_PAD_MM = 1.5
"""Between the drawing and the edge of the first tile, so that no cut line is clipped by half [mm]."""
_OFFSETS = 9
_SAMPLE_MM = 1.0


@dataclass(frozen=True)
class Page:
    """Paper and the window of it that shows the drawing.

    Attributes:
        width_mm: paper width [mm].
        height_mm: paper height [mm].
        overlap_mm: strip shared by neighbours [mm].
        is_untrimmed: pages are laid over one another as they are, none is trimmed.
    """

    width_mm: float
    height_mm: float
    overlap_mm: float = OVERLAP_MM
    is_untrimmed: bool = False

    @property
    def is_landscape(self) -> bool:
        """Wider than high."""
        return self.width_mm > self.height_mm

    @property
    def low_mm(self) -> tuple[float, float]:
        """Lower left corner of the window on the paper [mm]."""
        return SIDE_MARGIN_MM, FOOT_MARGIN_MM + FOOT_LINE_MM

    @property
    def window_mm(self) -> tuple[float, float]:
        """Width and height of the window [mm]."""
        low_x, low_y = self.low_mm
        return self.width_mm - low_x - SIDE_MARGIN_MM, self.height_mm - low_y - HEAD_MARGIN_MM

    @property
    def step_mm(self) -> tuple[float, float]:
        """From one tile to the next [mm]."""
        width, height = self.window_mm
        return width - self.overlap_mm, height - self.overlap_mm


@dataclass(frozen=True)
class Tile:
    """One page's window onto the sheet.

    Attributes:
        row: 0 at the top.
        column: 0 at the left.
        low_mm: lower left corner on the sheet [mm].
        high_mm: upper right corner on the sheet [mm].
    """

    row: int
    column: int
    low_mm: tuple[float, float]
    high_mm: tuple[float, float]

    @property
    def name(self) -> str:
        """Row letter and column number, `B3`."""
        return f"{row_letters(self.row)}{self.column + 1}"


@dataclass(frozen=True)
class Join:
    """Where two tiles meet: the first lies below, the second is laid on its strip, trimmed or as it is.

    Attributes:
        number: written on both.
        below: the tile whose strip is glued.
        above: the tile laid on it.
        start_mm: one end of the line where the upper tile's edge comes to lie [mm].
        end_mm: the other end [mm].
    """

    number: int
    below: Tile
    above: Tile
    start_mm: tuple[float, float]
    end_mm: tuple[float, float]

    @property
    def is_upright(self) -> bool:
        """The line runs along y: the two tiles are side by side."""
        return self.below.row == self.above.row


@dataclass(frozen=True, eq=False)
class Tiling:
    """A sheet and the tiles that show all of it.

    Attributes:
        sheet: the pieces.
        page: the paper.
        origin_mm: upper left corner of tile A1 on the sheet [mm].
        tiles: those needed, in reading order.
    """

    sheet: Sheet
    page: Page
    origin_mm: tuple[float, float]
    tiles: tuple[Tile, ...]

    @cached_property
    def joins(self) -> tuple[Join, ...]:
        """Where tiles meet, side by side first within each row, numbered in reading order."""
        by_place = {(tile.row, tile.column): tile for tile in self.tiles}
        joins: list[Join] = []
        for tile in self.tiles:
            right = by_place.get((tile.row, tile.column + 1))
            if right:
                x = right.low_mm[0]
                joins.append(Join(len(joins) + 1, tile, right, (x, tile.low_mm[1]), (x, tile.high_mm[1])))
            under = by_place.get((tile.row + 1, tile.column))
            if under:
                y = under.high_mm[1]
                joins.append(Join(len(joins) + 1, tile, under, (tile.low_mm[0], y), (tile.high_mm[0], y)))
        return tuple(joins)


def row_letters(row: int) -> str:
    """Return A to Z, then AA, AB ...

    >>> row_letters(0), row_letters(25), row_letters(26)
    ('A', 'Z', 'AA')
    """
    letters = ""
    row += 1
    while row:
        row, rest = divmod(row - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def make_tile(page: Page, origin_mm: tuple[float, float], row: int, column: int) -> Tile:
    """Return the tile in a row and column of the grid that begins at `origin_mm` (upper left)."""
    (width, height), (step_x, step_y) = page.window_mm, page.step_mm
    left, top = origin_mm[0] + column * step_x, origin_mm[1] - row * step_y
    return Tile(row, column, (left, top - height), (left + width, top))


def sample_segments(segments_mm: Floats, step_mm: float = _SAMPLE_MM) -> Floats:
    """Return (N, 2) points along (M, 2, 2) segments, ends included, no farther apart than `step_mm`."""
    lengths = np.hypot(*(segments_mm[:, 1] - segments_mm[:, 0]).T)
    counts = np.maximum(np.ceil(lengths / step_mm).astype(int), 1) + 1
    which = np.repeat(np.arange(len(segments_mm)), counts)
    step = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = (step / (counts[which] - 1))[:, None]
    points: Floats = segments_mm[which, 0] * (1 - share) + segments_mm[which, 1] * share
    return points


def find_tiles(page: Page, origin_mm: tuple[float, float], points_mm: Floats) -> tuple[Tile, ...]:
    """Return the fewest tiles found that show all of (N, 2) points, in reading order.

    A tile which alone shows some point is needed. Points in a strip that two tiles share are left to either.
    """
    return tuple(make_tile(page, origin_mm, row, column) for row, column in _find_cells(page, origin_mm, points_mm))


def _find_cells(page: Page, origin_mm: tuple[float, float], points_mm: Floats) -> list[tuple[int, int]]:
    (width, height), (step_x, step_y) = page.window_mm, page.step_mm
    across = _place(points_mm[:, 0] - origin_mm[0], width, step_x)
    return _fewest_cells(across, _place(origin_mm[1] - points_mm[:, 1], height, step_y))


def _place(along_mm: Floats, window_mm: float, step_mm: float) -> Counts:
    """Return for each point twice the number of its tile, and 1 more where the one before shows it as well."""
    # A point a hair outside of the first tile is still its own.
    last = np.maximum(np.floor(along_mm / step_mm).astype(np.int64), 0)
    # The strip at a tile's right and foot shows the beginning of the next one.
    is_shared = (along_mm - last * step_mm <= window_mm - step_mm) & (last > 0)
    return 2 * last + is_shared


def _fewest_cells(across: Counts, down: Counts, most: int | None = None) -> list[tuple[int, int]]:
    """Return rows and columns of the tiles that show points placed so (see `_place`); none where over `most` are."""
    columns = int(across.max()) + 2
    columns -= columns % 2  # so that a key is even where its column is
    found = np.flatnonzero(np.bincount(down * columns + across))
    if most is not None and np.count_nonzero((found | found // columns) % 2 == 0) > most:
        return []
    keys = found.tolist()
    needed: set[tuple[int, int]] = set()
    shared: list[list[tuple[int, int]]] = []
    for key in keys:
        (row, in_two_rows), (column, in_two_columns) = (divmod(place, 2) for place in divmod(key, columns))
        rows = (row - 1, row) if in_two_rows else (row,)
        cols = (column - 1, column) if in_two_columns else (column,)
        cells = [(r, c) for r in rows for c in cols]
        if len(cells) == 1:
            needed.add(cells[0])
        else:
            shared.append(cells)
    left = [cells for cells in shared if not needed.intersection(cells)]
    while left:
        choices = sorted({cell for cells in left for cell in cells})
        needed.add(max(choices, key=lambda cell: sum(cell in cells for cells in left)))
        left = [cells for cells in left if not needed.intersection(cells)]
    return sorted(needed)


def choose_tiling(sheets: Sequence[Sheet], pages: Sequence[Page]) -> Tiling:
    """Return the sheet, the page (upright or lying) and the grid position which need the fewest pages.

    Of equals: the page upright (grain along its long side), then the smaller sheet.
    """
    best: tuple[tuple[int, int, int, float], Tiling] | None = None
    for sheet in sheets:
        points = sample_segments(_cut_segments(sheet), 6.0)
        area = sheet.width_mm * sheet.height_mm
        for page in pages:
            (width, height), (step_x, step_y) = page.window_mm, page.step_mm
            lefts, tops = _origins(page, sheet)
            across = [_place(points[:, 0] - x, width, step_x) for x in lefts]
            down = [_place(y - points[:, 1], height, step_y) for y in tops]
            for (x, columns), (y, rows) in product(zip(lefts, across, strict=True), zip(tops, down, strict=True)):
                cells = _fewest_cells(columns, rows, None if best is None else best[0][0])
                if not cells:
                    continue
                grid = (cells[-1][0] + 1) * (max(column for _, column in cells) + 1)
                rank = (len(cells), int(page.is_landscape), grid, area)
                if best is None or rank < best[0]:
                    best = rank, Tiling(sheet, page, (x, y), find_tiles(page, (x, y), points))
    if best is None:
        raise ValueError("no sheet to cut into tiles")
    return _centred(best[1])


def _cut_segments(sheet: Sheet) -> Floats:
    rings = [np.asarray(piece.cut_ring_mm) for piece in sheet.pieces]
    rings += [np.asarray(line.points_mm) for piece in sheet.pieces for line in size_lines(piece)]
    return np.concatenate([np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for ring in rings])


def _origins(page: Page, sheet: Sheet) -> tuple[list[float], list[float]]:
    """Return left and upper edges of A1 to be tried: the sheet right at it, or moved in by part of a tile."""

    def insets(size: float, window: float, step: float) -> list[float]:
        if size + 2 * _PAD_MM <= window:
            return [_PAD_MM]
        return [_PAD_MM + share * step / _OFFSETS for share in range(_OFFSETS)]

    (width, height), (step_x, step_y) = page.window_mm, page.step_mm
    lefts = [-inset for inset in insets(sheet.width_mm, width, step_x)]
    return lefts, [sheet.height_mm + inset for inset in insets(sheet.height_mm, height, step_y)]


def _centred(tiling: Tiling) -> Tiling:
    """Return the tiling with the drawing moved to the middle of its pages, where this needs no other pages."""
    points = sample_segments(_cut_segments(tiling.sheet), _SAMPLE_MM)
    low = np.min([tile.low_mm for tile in tiling.tiles], axis=0)
    high = np.max([tile.high_mm for tile in tiling.tiles], axis=0)
    spare = (low + high) / 2 - np.array([tiling.sheet.width_mm, tiling.sheet.height_mm]) / 2
    places = [(tile.row, tile.column) for tile in tiling.tiles]
    for share_x, share_y in ((1, 1), (1, 0), (0, 1), (0.5, 0.5)):
        origin = (
            tiling.origin_mm[0] - float(spare[0]) * share_x,
            tiling.origin_mm[1] - float(spare[1]) * share_y,
        )
        tiles = find_tiles(tiling.page, origin, points)
        inside = all(tile.row >= 0 and tile.column >= 0 for tile in tiles)
        if inside and [(tile.row, tile.column) for tile in tiles] == places:
            return replace(tiling, origin_mm=origin, tiles=tiles)
    return replace(tiling, tiles=find_tiles(tiling.page, tiling.origin_mm, points))
