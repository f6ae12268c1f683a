"""The lay drawn over the photo of the cloth, for a person to say yes or no by."""

from collections.abc import Callable, Sequence
from io import BytesIO

import numpy as np
from PIL import Image

from ..arrays import Bytes, Floats
from ..lay.lay import Lay
from ..lay.marks import grain_arrow, hatch
from .check_picture import Marks, with_caption
from .lay_words import describe_placed

_LONG_SIDE_PX = 2000
_WHITE, _BLACK = (255, 255, 255), (0, 0, 0)
_CUT, _MIRRORED = (213, 94, 0), (0, 114, 178)
"""Vermilion and blue: told apart by every kind of eye; mirrored pieces are hatched and named besides."""
_HATCH_PX = 46.0
_STEP_MM = 5.0
_ROUND_SHARE = 0.08
"""Of the cloth's longer side in the photo, kept of the floor round it."""


def draw_lay_photo(
    pixels: Bytes, lay: Lay, to_px: Callable[[Floats], Floats], ring_px: Floats, lines: Sequence[str], title: str
) -> bytes:
    """Return the part of the photo with the cloth, every piece drawn where it goes, a caption below, as PNG.

    Args:
        pixels: (H, W, 3) uint8 RGB, the upright photo.
        lay: on the cloth in the photo.
        to_px: carries the cloth's millimetres to the photo's pixels.
        ring_px: (N, 2) the cloth's outline as found.
        lines: of the caption.
        title: heading of the caption.
    """
    pixels, corner = _cropped(pixels, ring_px)
    height, width = pixels.shape[:2]
    scale = min(1.0, _LONG_SIDE_PX / max(width, height))
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    photo = Image.fromarray(pixels).resize(size, Image.Resampling.BOX) if scale < 1.0 else Image.fromarray(pixels)
    factors = np.array([photo.width / width, photo.height / height])

    def small(points_px: Floats) -> Floats:
        scaled: Floats = (np.asarray(points_px) - corner + 0.5) * factors - 0.5
        return scaled

    def move(points_mm: Floats) -> Floats:
        return small(to_px(points_mm))

    marks = Marks(photo)
    ring = small(ring_px)
    marks.paths([np.vstack([ring, ring[:1]])], 1.2, _WHITE, _BLACK)
    labels = []
    for one in lay.placed:
        words = describe_placed(one)
        is_mirrored = "mirrored" in words
        colour = _MIRRORED if is_mirrored else _CUT
        cut = move(densified(one.ring_mm))
        if is_mirrored:
            strokes = hatch(cut, _HATCH_PX * marks.unit)
            if strokes:
                marks.paths(strokes, 0.8, colour, _WHITE)
        marks.paths([np.vstack([cut, cut[:1]])], 2.4, colour, _WHITE)
        arrow = grain_arrow(one, move, 8.0 * marks.unit)
        if arrow is not None:
            marks.paths([arrow, *_head(arrow, 24.0 * marks.unit)], 1.8, _BLACK, _WHITE)
        named = f"{one.item.part.label}{f', {words}' if words else ''}"
        labels.append((named, move(np.array([one.shape.representative_point().coords[0]]))[0]))
    for named, at in labels:
        marks.label(named, at, 26.0)
    buffer = BytesIO()
    with_caption(photo, title, (), lines).save(buffer, "PNG", compress_level=6)
    return buffer.getvalue()


def _cropped(pixels: Bytes, ring_px: Floats) -> tuple[Bytes, Floats]:
    """Return the part of the photo with the cloth and some floor round it, and its upper left corner [px]."""
    if len(ring_px) == 0:
        return pixels, np.zeros(2)
    size = np.array(pixels.shape[1::-1])
    low, high = ring_px.min(axis=0), ring_px.max(axis=0)
    room = _ROUND_SHARE * float((high - low).max())
    x0, y0 = np.clip(np.floor(low - room), 0, size - 1).astype(int).tolist()
    x1, y1 = np.clip(np.ceil(high + room), 1, size).astype(int).tolist()
    return np.ascontiguousarray(pixels[y0:y1, x0:x1]), np.array([x0, y0], dtype=np.float64)


def densified(ring_mm: Floats) -> Floats:
    """Return the ring with points close enough that a bent lens bends its lines too."""
    ends = np.roll(ring_mm, -1, axis=0)
    counts = np.maximum(np.ceil(np.hypot(*(ends - ring_mm).T) / _STEP_MM).astype(int), 1)
    parts = [
        start + (end - start) * np.arange(count)[:, None] / count
        for start, end, count in zip(ring_mm, ends, counts, strict=True)
    ]
    return np.vstack(parts)


def _head(arrow: Floats, long: float) -> list[Floats]:
    way = arrow[1] - arrow[0]
    way = way / np.hypot(*way)
    side = np.array([-way[1], way[0]])
    tip = arrow[1]
    return [np.array([tip - way * long + side * long * 0.4, tip, tip - way * long - side * long * 0.4])]
