"""The plan of a lay: the cloth to scale, each piece on it, rulers along it in cm and inch."""

from collections.abc import Callable, Sequence

import numpy as np

from ..arrays import Floats
from ..findings import without_options
from ..lay.cloth import Bolt
from ..lay.lay import Lay
from ..lay.marks import Move, hatch
from ..standards import INCH_MM
from ..units import write_cm, write_inch
from .lay_piece import draw_lay_piece
from .lay_words import describe_answer, describe_cloth, describe_placed, told_findings
from .lettering import LINE_SHARE, break_words, shorten_words
from .pdf import PdfSurface
from .png import PngSurface
from .surface import Anchor, Lettering, Pen, Surface
from .svg import SvgSurface

WIDTH_MM, HEIGHT_MM = 297.0, 210.0
_MARGIN_MM = 12.0
_TITLE_MM, _TEXT_MM, _SMALL_MM = 5.4, 3.4, 2.6
_EDGE, _SELVEDGE, _RULE = Pen(0.35), Pen(0.2, grey=0.3), Pen(0.2)
_FOLD, _END = Pen(0.7, (6.0, 1.4, 1.4, 1.4)), Pen(0.35, (2.0, 1.5))
_UPWARDS = Lettering(_SMALL_MM, rotation_deg=90.0, anchor=Anchor.MIDDLE)
_ONE_COLUMN = 5
_SCALES = (4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200)


def draw_lay_pdf(lay: Lay, draw: Callable[[Surface, Lay], None]) -> bytes:
    """Return the plan that `draw` draws as PDF, one page."""
    surface = PdfSurface(WIDTH_MM, HEIGHT_MM, "Lay plan", describe_answer(lay))
    draw(surface, lay)
    surface.end_page()
    return surface.write()


def draw_lay_png(lay: Lay, draw: Callable[[Surface, Lay], None]) -> bytes:
    """Return the plan that `draw` draws as PNG."""
    surface = PngSurface(WIDTH_MM, HEIGHT_MM)
    draw(surface, lay)
    return surface.write()


def draw_lay_svg(lay: Lay, draw: Callable[[Surface, Lay], None]) -> str:
    """Return the plan that `draw` draws as SVG."""
    surface = SvgSurface(WIDTH_MM, HEIGHT_MM, describe_answer(lay), "lay-")
    draw(surface, lay)
    return surface.write()


def draw_plan(surface: Surface, lay: Lay) -> None:
    """Draw the plan of cloth off the roll on one page."""
    assert isinstance(lay.cloth, Bolt)
    left, right = _MARGIN_MM, WIDTH_MM - _MARGIN_MM
    top = write_head(surface, lay, left, right, HEIGHT_MM - _MARGIN_MM)
    foot = _MARGIN_MM + _list_height(lay, right - left)
    room = np.array([right - left - 12.0, top - foot - 22.0])
    long = max(lay.length_mm, 100.0)
    scale = next((s for s in _SCALES if long / s <= room[0] and lay.cloth.lying_mm / s <= room[1]), _SCALES[-1])
    low = np.array([left + 10.0, top - 10.0 - lay.cloth.lying_mm / scale])

    def move(points: Floats) -> Floats:
        moved: Floats = np.asarray(points, dtype=np.float64) / scale + low
        return moved

    _draw_bolt(surface, lay, lay.cloth, move, scale)
    for one in lay.placed:
        draw_lay_piece(surface, one, move)
    words = f"Drawn 1 : {scale}. The arrow lies on the grain, its head at the top of the piece."
    if any("mirrored" in describe_placed(one) for one in lay.placed):
        words += " Hatched: the pattern turned over, written side down."
    surface.text(words, (left, float(low[1]) - 13.0), Lettering(_SMALL_MM))
    _write_list(surface, lay, left, right, float(low[1]) - 19.0)


def write_head(surface: Surface, lay: Lay, left: float, right: float, top: float) -> float:
    """Write the answer and what it rests on; return the lowest y used."""
    titles = " + ".join(dict.fromkeys(part.title for part in lay.parts))
    y = top - _TITLE_MM
    surface.text(
        shorten_words(f"Lay plan: {titles}", right - left, _TITLE_MM, True), (left, y), Lettering(_TITLE_MM, True)
    )
    y -= 1.0
    for n, words in enumerate([describe_answer(lay), *describe_cloth(lay)]):
        size = _TEXT_MM * (1.25 if n == 0 else 1.0)
        for line in break_words(words, right - left, size, n == 0):
            y -= size * LINE_SHARE
            surface.text(line, (left, y), Lettering(size, n == 0))
    for offer in lay.offers:
        for line in break_words(f"• {without_options(offer.sentence())}", right - left, _TEXT_MM):
            y -= _TEXT_MM * LINE_SHARE
            surface.text(line, (left, y), Lettering(_TEXT_MM))
    return y


def _draw_bolt(surface: Surface, lay: Lay, bolt: Bolt, move: Move, scale: int) -> None:
    length, wide = lay.length_mm, bolt.lying_mm
    ends = {y: move(np.array([[0.0, y], [length, y]])) for y in (0.0, wide)}
    with surface.group("cloth edge", _EDGE):
        surface.polyline(move(np.array([[0.0, 0.0], [0.0, wide]])))
        for y, line in ends.items():
            if y or not bolt.is_folded:
                surface.polyline(line)
    with surface.group("cut off here", _END):
        surface.polyline(move(np.array([[length, 0.0], [length, wide]])))
    if bolt.is_folded:
        with surface.group("fold", _FOLD):
            surface.polyline(ends[0.0])
    if bolt.selvedge_mm > 0.0:
        strips = [(wide - bolt.selvedge_mm, wide)] + ([] if bolt.is_folded else [(0.0, bolt.selvedge_mm)])
        with surface.group("selvedge", _SELVEDGE):
            for low, high in strips:
                (x0, y0), (x1, y1) = move(np.array([[0.0, low], [length, high]]))
                for stroke in hatch(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]), 1.6):
                    surface.polyline(stroke)
                edge = low if high == wide else high
                surface.polyline(move(np.array([[0.0, edge], [length, edge]])))
    (x0, y0), (x1, y1) = move(np.array([[0.0, 0.0], [length, wide]]))
    upper = "selvedges" if bolt.is_folded else "selvedge"
    for words, y in ((upper, (y0 + 3 * y1) / 4), ("fold" if bolt.is_folded else "selvedge", (3 * y0 + y1) / 4)):
        surface.text(words, (x0 - 1.5, y), _UPWARDS)
    surface.text("cut off", (x1 + 1.0 + _SMALL_MM, (y0 + y1) / 2), _UPWARDS)
    draw_ruler(surface, (x0, y1 + 1.5), length, scale, is_above=True)
    draw_ruler(surface, (x0, y0 - 1.5), length, scale, is_above=False)
    surface.text(
        f"{write_cm(wide)} · {write_inch(wide)}",
        (x0 - 5.0, (y0 + y1) / 2),
        Lettering(_SMALL_MM, True, 90.0, Anchor.MIDDLE),
    )


def draw_ruler(surface: Surface, at: tuple[float, float], length_mm: float, scale: float, *, is_above: bool) -> None:
    """Draw a ruler along the cloth: cm above it, inches below."""
    x, y = at
    way = 1.0 if is_above else -1.0
    unit, many = (10.0, 10) if is_above else (INCH_MM.value, 6)
    large_mm = many * unit
    with surface.group("ruler", _RULE):
        surface.polyline([(x, y), (x + length_mm / scale, y)])
        step = unit if unit / scale >= 0.8 else large_mm / 2
        for at_mm in np.arange(0.0, length_mm + 1e-6, step):
            is_large = abs(at_mm / large_mm - round(at_mm / large_mm)) < 1e-6
            tall = 2.6 if is_large else 1.2
            surface.polyline([(x + at_mm / scale, y), (x + at_mm / scale, y + way * tall)])
    every = 1 if large_mm / scale >= 9.0 else 2 if large_mm / scale >= 4.5 else 5
    for n in range(0, int(length_mm / large_mm) + 1, every):
        words = f"{n * large_mm / unit:.0f}" + ((" cm" if is_above else " in") if n == 0 else "")
        place = (x + n * large_mm / scale, y + (3.2 if is_above else -3.2 - _SMALL_MM * 0.73))
        surface.text(words, place, Lettering(_SMALL_MM, anchor=Anchor.START if n == 0 else Anchor.MIDDLE))


def list_rows(lay: Lay) -> list[str]:
    """Return one line per part: how often it lies where, and what to watch."""
    rows = []
    for part in lay.parts:
        mine = [one for one in lay.placed if one.item.part is part or one.item.part.number == part.number]
        count = sum(one.item.gives for one in mine)
        said = [f"{count} of {part.count}" if count < part.count else f"{part.count} ×"]
        mirrored = sum("mirrored" in describe_placed(one) for one in mine)
        if mine and mine[0].item.on_fold:
            said.append("each with its fold edge on the fold")
        elif mine and mine[0].item.on_hem:
            said.append("its hem on the shirt’s hem, cut through both layers")
        elif mine and mine[0].item.gives == 2:
            said.append(f"{len(mine)} cut through both layers")
        elif mine and lay.cloth.layers == 2:
            said.append("cut through one layer only")
        elif part.mirrored:
            said.append(f"{mirrored} of them mirrored")
        if part.half_mm is not None and mine and not mine[0].item.on_fold:
            said.append("opened along its fold")
        rows.append(f"{part.label} ({part.title}): {', '.join(said)}")
    return rows


def _list_height(lay: Lay, width: float) -> float:
    return len(_columns(lay, width)[0]) * _TEXT_MM * LINE_SHARE


def list_lines(lay: Lay, width: float) -> list[str]:
    """Return the rows of `list_rows` and what is not laid, broken to a width."""
    rows: Sequence[str] = [*list_rows(lay), *(f"• {without_options(words)}" for words in told_findings(lay))]
    return [line for row in rows for line in break_words(row, width, _TEXT_MM)]


def _columns(lay: Lay, width: float) -> list[list[str]]:
    """Return the lines of the list in one column, or in two where they are many."""
    lines = list_lines(lay, width)
    if len(lines) <= _ONE_COLUMN:
        return [lines]
    lines = list_lines(lay, width / 2 - _MARGIN_MM / 2)
    half = -(-len(lines) // 2)
    return [lines[:half], lines[half:]]


def _write_list(surface: Surface, lay: Lay, left: float, right: float, top: float) -> None:
    columns = _columns(lay, right - left)
    for n, lines in enumerate(columns):
        x = left + n * (right - left + _MARGIN_MM) / 2
        for row, line in enumerate(lines):
            surface.text(line, (x, top - row * _TEXT_MM * LINE_SHARE), Lettering(_TEXT_MM))
