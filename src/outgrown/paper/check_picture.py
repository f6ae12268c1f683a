"""Check picture: the photo with what was found drawn on it, for a person to say yes or no by."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from io import BytesIO

import numpy as np
from numpy.typing import ArrayLike
from PIL import Image, ImageDraw, ImageFont

from ..arrays import Bytes, Floats
from ..camera.reference import Kind, Reference
from ..findings import Finding, Severity
from ..geometry.polylines import resample
from ..geometry.rings import closed
from ..units import Units
from .lettering import clean_words, read_font
from .plates import choose_place, list_places_beside

_LONG_SIDE_PX = 2000
_FINE = 2
"""Masks are drawn so much larger and then reduced: smooth lines."""
DOUBTFUL = 0.5
"""Below this confidence a stretch is drawn as doubtful."""
_LIGHT, _DARK = (255, 255, 255), (0, 0, 0)
_SURE, _UNSURE = (0, 114, 178), (240, 228, 66)
_REFERENCE, _WANTED = (213, 94, 0), (230, 159, 0)
"""Blue, yellow, vermilion and orange: told apart by every kind of eye, and lighter or darker besides."""
_KIND_WORDS = {
    Kind.CARD: "bank card, 85.6 × 54.0 mm",
    Kind.A4: "A4 sheet, 297 × 210 mm",
    Kind.LETTER: "Letter sheet, 279.4 × 215.9 mm (11 × 8 1/2 in)",
    Kind.TARGET: "printed target",
}


@dataclass(frozen=True)
class LengthArrow:
    """A length measured in the photo.

    Attributes:
        start_px: (x, y) in the upright photo.
        end_px: (x, y) in the upright photo.
        words: e.g. `inseam 48.2 cm`.
    """

    start_px: tuple[float, float]
    end_px: tuple[float, float]
    words: str


class Marks:
    """Lines over a picture, in two shades each so that they show on any cloth."""

    def __init__(self, picture: Image.Image) -> None:
        self.picture = picture
        self.unit = max(picture.size) / _LONG_SIDE_PX

    def paths(
        self, paths: Sequence[Floats], width_px: float, core: tuple[int, int, int], rim: tuple[int, int, int]
    ) -> None:
        """Draw lines with a core and a rim."""
        wide = width_px * self.unit
        for width, colour in ((wide * 2.4, rim), (wide, core)):
            mask = Image.new("L", (self.picture.width * _FINE, self.picture.height * _FINE))
            pen = ImageDraw.Draw(mask)
            thick = max(2, round(width * _FINE))
            for path in paths:
                points = [(float(x), float(y)) for x, y in (path + 0.5) * _FINE]
                pen.line(points, fill=255, width=thick, joint="curve")
                for x, y in (points[0], points[-1]):
                    pen.ellipse((x - thick / 2, y - thick / 2, x + thick / 2, y + thick / 2), fill=255)
            self.picture.paste(colour, mask=mask.reduce(_FINE))

    def label(
        self, words: str, at_px: Floats, size_px: float = 30.0, beside: Floats | None = None, off: Floats | None = None
    ) -> None:
        """Write words on a plate centred at `at_px`, moved to lie inside the picture.

        Args:
            words: to write.
            at_px: (2,) where.
            size_px: height of the letters.
            beside: (4, 2) corners that the plate keeps out of, below, above or to one side of them.
            off: (N, 2) points that it covers as few as possible of then.
        """
        font = _font(max(11, round(size_px * self.unit)), True)
        pen = ImageDraw.Draw(self.picture)
        left, top, right, bottom = pen.textbbox((0, 0), clean_words(words), font=font)
        pad = round(8 * self.unit) + 2
        wide, high = right - left + 2 * pad, bottom - top + 2 * pad
        size = (wide, high)
        if beside is None:
            places = [(float(at_px[0]) - wide / 2, float(at_px[1]) - high / 2)]
        else:
            places = list_places_beside(beside, size, 12 * self.unit)
        keep_off = np.zeros((0, 2)) if off is None else off
        x, y = choose_place(places, size, self.picture.size, keep_off, 6 * self.unit)
        pen.rectangle((x, y, x + wide, y + high), fill=_LIGHT, outline=_DARK, width=max(1, round(2 * self.unit)))
        pen.text((x + pad - left, y + pad - top), clean_words(words), font=font, fill=_DARK)


def draw_check_picture(
    pixels: Bytes,
    ring_px: ArrayLike,
    references: Sequence[Reference] = (),
    *,
    confidence: ArrayLike | None = None,
    holes_px: Sequence[ArrayLike] = (),
    wanted_px: Sequence[ArrayLike] = (),
    arrows: Sequence[LengthArrow] = (),
    findings: Sequence[Finding] = (),
    title: str = "",
    details: Sequence[str] = (),
    units: Units = Units.MM,
) -> bytes:
    """Return the photo with outline and references drawn on it, and a caption below, as PNG.

    Args:
        pixels: (H, W, 3) uint8 RGB, the upright photo.
        ring_px: (N, 2) outline, closed, first point not repeated; pixel centres at whole numbers; may be empty.
        references: drawn round and named with their size.
        confidence: (N,) 0..1 along the ring; doubtful stretches are drawn dashed.
        holes_px: rings of holes.
        wanted_px: rings of the seam lines that the garment was sewn from, drawn dashed beside its outline.
        arrows: measured lengths to draw.
        findings: warnings are written below.
        title: heading of the caption.
        details: further lines of the caption.
        units: which lengths are written in.
    """
    height, width = pixels.shape[:2]
    photo = _resize_photo(pixels)
    factors = np.array([photo.width / width, photo.height / height])

    def small(points: ArrayLike) -> Floats:
        scaled: Floats = (np.asarray(points, dtype=np.float64).reshape(-1, 2) + 0.5) * factors - 0.5
        return scaled

    marks = Marks(photo)
    ring = small(ring_px)
    doubtful = _draw_outline(marks, ring, confidence)
    holes = [small(hole) for hole in holes_px]
    if holes:
        marks.paths([np.vstack([hole, hole[:1]]) for hole in holes], 2.0, _LIGHT, _SURE)
    for wanted in wanted_px:
        line = small(wanted)
        marks.paths(_dashes(np.vstack([line, line[:1]]), 22.0 * marks.unit, 10.0 * marks.unit), 2.0, _WANTED, _DARK)
    for reference in references:
        corners = small(reference.corners_px)
        marks.paths([np.vstack([corners, corners[:1]])], 2.6, _REFERENCE, _LIGHT)
    for arrow in arrows:
        _draw_arrow(marks, small(arrow.start_px)[0], small(arrow.end_px)[0], arrow.words)
    drawn = [one for one in (ring, *holes, *(small(one.corners_px) for one in references)) if len(one)]
    lines_drawn = np.vstack([resample(closed(one), 8.0 * marks.unit) for one in drawn]) if drawn else ring
    for reference in references:
        corners = small(reference.corners_px)
        words = reference.name or units.said(_KIND_WORDS[reference.kind])
        marks.label(words, corners.mean(axis=0), beside=corners, off=lines_drawn)
    lines = [*map(units.said, _caption("comparison" if len(wanted_px) else "pattern", details, findings))]
    known = (
        ("outline found", "sure", len(ring) > 0),
        ("not sure here: look closely", "unsure", doubtful),
        ("seam line of the pattern", "wanted", len(wanted_px) > 0),
        ("known size", "reference", len(references) > 0),
    )
    legend = [(words, look) for words, look, is_drawn in known if is_drawn]
    buffer = BytesIO()
    with_caption(photo, title, legend, lines).save(buffer, "PNG", optimize=False, compress_level=6)
    return buffer.getvalue()


def _resize_photo(pixels: Bytes) -> Image.Image:
    """Return the photo small enough to be looked at; a small one is enlarged so that lines and words have room."""
    height, width = pixels.shape[:2]
    scale = _LONG_SIDE_PX / max(width, height)
    photo = Image.fromarray(pixels)
    if scale < 1.0:
        size = (max(1, round(width * scale)), max(1, round(height * scale)))
        return photo.resize(size, Image.Resampling.BOX, reducing_gap=2.0)
    larger = max(1, min(4, int(scale)))
    return photo.resize((width * larger, height * larger), Image.Resampling.NEAREST)


def _draw_outline(marks: Marks, ring: Floats, confidence: ArrayLike | None) -> bool:
    """Draw the ring, doubtful stretches dashed; tell whether there were any."""
    if len(ring) < 2:
        return False
    closed = np.vstack([ring, ring[:1]])
    if confidence is None:
        marks.paths([closed], 2.0, _LIGHT, _SURE)
        return False
    doubtful = np.asarray(confidence) < DOUBTFUL
    if not doubtful.any():
        marks.paths([closed], 2.0, _LIGHT, _SURE)
        return False
    sure_runs, unsure_runs = split_runs(ring, doubtful)
    if sure_runs:
        marks.paths(sure_runs, 2.0, _LIGHT, _SURE)
    dashes = [dash for run in unsure_runs for dash in _dashes(run, 18.0 * marks.unit, 14.0 * marks.unit)]
    if dashes:
        marks.paths(dashes, 2.6, _UNSURE, _DARK)
    return True


def split_runs(ring: Floats, doubtful: np.ndarray) -> tuple[list[Floats], list[Floats]]:
    """Return the ring's sure and doubtful runs, each ending where the next begins."""
    count = len(ring)
    if doubtful.all() or not doubtful.any():
        whole = [np.vstack([ring, ring[:1]])]
        return ([], whole) if doubtful.all() else (whole, [])
    first = next(i for i in range(count) if doubtful[i] != doubtful[i - 1])
    runs: tuple[list[Floats], list[Floats]] = ([], [])
    start = first
    for i in range(first + 1, first + count + 1):
        if i == first + count or doubtful[i % count] != doubtful[start % count]:
            runs[int(doubtful[start % count])].append(ring[np.arange(start, i + 1) % count])
            start = i
    return runs


def _dashes(path: Floats, dash: float, gap: float) -> list[Floats]:
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    dashes = []
    for start in np.arange(0.0, run[-1], dash + gap):
        end = min(start + dash, run[-1])
        inner = run[(run > start) & (run < end)]
        at = np.concatenate([[start], inner, [end]])
        dashes.append(np.column_stack([np.interp(at, run, path[:, 0]), np.interp(at, run, path[:, 1])]))
    return dashes


def _draw_arrow(marks: Marks, start: Floats, end: Floats, words: str) -> None:
    way = end - start
    length = float(np.hypot(*way))
    if length < 1:
        return
    along = way / length
    side = np.array([-along[1], along[0]])
    head = min(22.0 * marks.unit, length / 3)
    heads = [
        np.array([tip + back * head + side * head * 0.4, tip, tip + back * head - side * head * 0.4])
        for tip, back in ((start, along), (end, -along))
    ]
    marks.paths([np.array([start, end]), *heads], 2.2, _DARK, _LIGHT)
    marks.label(words, (start + end) / 2, 24.0)


def _caption(what: str, details: Sequence[str], findings: Sequence[Finding]) -> list[str]:
    warnings = [f"• {finding.plain()}" for finding in findings if finding.severity is Severity.WARNING]
    return [
        f"Does the line follow the edge of the cloth all the way round? Only then use the {what}.",
        *details,
        *warnings,
    ]


def with_caption(
    photo: Image.Image, title: str, legend: Sequence[tuple[str, str]], lines: Sequence[str]
) -> Image.Image:
    """Return the picture with title, legend (words, kind) and lines of text below it."""
    width = max(photo.width, 640)
    size = max(14, round(width / 52))
    pad, lead = size, round(size * 1.5)
    heads = _break(title, width - 2 * pad, round(size * 1.25), True)
    rows = [row for words in lines for row in _break(words, width - 2 * pad, size, False)]
    keys = _legend_rows(legend, width - 2 * pad, size)
    strip_height = 2 * pad + round(lead * (1.2 * len(heads) + len(rows) + 1.1 * len(keys)))
    canvas = Image.new("RGB", (width, photo.height + strip_height), _LIGHT)
    canvas.paste(photo, ((width - photo.width) // 2, 0))
    pen = ImageDraw.Draw(canvas)
    y = float(photo.height + pad)
    for words in heads:
        pen.text((pad, y), words, font=_font(round(size * 1.25), True), fill=_DARK)
        y += lead * 1.2
    for row in keys:
        x = pad
        for words, kind in row:
            _draw_key(pen, (x, y + size * 0.62), size, kind)
            pen.text((x + size * 3.4, y), clean_words(words), font=_font(size, False), fill=_DARK)
            x += _key_width(words, size)
        y += lead * 1.1
    for words in rows:
        pen.text((pad, y), words, font=_font(size, False), fill=_DARK)
        y += lead
    return canvas


def _legend_rows(legend: Sequence[tuple[str, str]], width: int, size: int) -> list[list[tuple[str, str]]]:
    rows: list[list[tuple[str, str]]] = []
    used = width + 1
    for words, kind in legend:
        wide = _key_width(words, size)
        if used + wide > width:
            rows.append([])
            used = 0
        rows[-1].append((words, kind))
        used += wide
    return rows


def _key_width(words: str, size: int) -> int:
    return round(_font(size, False).getlength(clean_words(words)) + size * 5.2)


def _draw_key(pen: ImageDraw.ImageDraw, at: tuple[float, float], size: int, kind: str) -> None:
    core, rim = {
        "sure": (_LIGHT, _SURE),
        "unsure": (_UNSURE, _DARK),
        "wanted": (_WANTED, _DARK),
        "reference": (_REFERENCE, _DARK),
    }[kind]
    x, y = at
    pieces = [(0.0, 1.0), (1.4, 2.4)] if kind in ("unsure", "wanted") else [(0.0, 2.8)]
    for start, end in pieces:
        for width, colour in ((size * 0.42, rim), (size * 0.18, core)):
            pen.line((x + start * size, y, x + end * size, y), fill=colour, width=max(1, round(width)))


def _break(words: str, width: float, size: int, is_bold: bool) -> list[str]:
    font = _font(size, is_bold)
    lines, line = [], ""
    for word in clean_words(words).split(" "):
        longer = f"{line} {word}".strip()
        if font.getlength(longer) <= width:
            line = longer
            continue
        if line:
            lines.append(line)
        line = word
        while font.getlength(line) > width and len(line) > 1:
            fits = max(1, int(len(line) * width / font.getlength(line)) - 1)
            lines.append(line[:fits])
            line = line[fits:]
    return [*lines, line] if line else lines


@cache
def _font(size: int, is_bold: bool) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(BytesIO(read_font(is_bold)), size)
