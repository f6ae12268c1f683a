"""Thumbnails: a pattern's pieces and its check picture, small."""

import io

import numpy as np
from PIL import Image, ImageDraw

from ..errors import ArchiveError
from ..paper.sheet import arrange_pieces
from ..pieces.piece import Pattern

SIDE_PX = 480
_FINE = 4
"""Drawn so many times larger, then made smaller, for smooth lines."""
_MARGIN = 0.04
_PAPER, _CLOTH, _LINE, _SEAM = (255, 255, 255), (226, 232, 240), (20, 30, 50), (120, 130, 150)
_LARGEST_PX = 120_000_000
_MOST_PIECES = 200
_AGAIN = "Make it again from its photo."


def draw_pieces_png(pattern: Pattern) -> bytes:
    """Return the pieces side by side as PNG: cut line, seam line, grain upright.

    Raises:
        ArchiveError: there is nothing that could be drawn.
    """
    if not 0 < len(pattern.pieces) <= _MOST_PIECES:
        raise ArchiveError(f"The pattern has {len(pattern.pieces)} pieces.", _AGAIN)
    try:
        with np.errstate(all="ignore"):  # what is not finite ends as a ValueError
            return _draw(pattern)
    except (ValueError, ArithmeticError, IndexError, MemoryError) as error:
        raise ArchiveError("The pattern is damaged: its lines cannot be drawn.", _AGAIN) from error


def _draw(pattern: Pattern) -> bytes:
    sheet = min(arrange_pieces(pattern.pieces), key=lambda s: max(s.width_mm, s.height_mm))
    side = SIDE_PX * _FINE
    scale = side * (1.0 - 2.0 * _MARGIN) / max(sheet.width_mm, sheet.height_mm, 1.0)
    size = (
        round(sheet.width_mm * scale + 2 * _MARGIN * side),
        round(sheet.height_mm * scale + 2 * _MARGIN * side),
    )
    picture = Image.new("RGB", size, _PAPER)
    draw = ImageDraw.Draw(picture)

    def to_px(points_mm: np.ndarray) -> list[tuple[float, float]]:
        xy = np.asarray(points_mm) * scale + _MARGIN * side
        return [(float(x), size[1] - float(y)) for x, y in xy]

    for piece in sheet.pieces:
        ring = to_px(piece.cut_ring_mm)
        draw.polygon(ring, fill=_CLOTH)
        for edge in piece.edges:
            draw.line(to_px(edge.points_mm), fill=_SEAM, width=_FINE, joint="curve")
        for inner in piece.inner_lines:
            draw.line(to_px(inner.points_mm), fill=_SEAM, width=_FINE)
        draw.line([*ring, ring[0]], fill=_LINE, width=2 * _FINE, joint="curve")
    small = picture.resize((max(1, size[0] // _FINE), max(1, size[1] // _FINE)), Image.Resampling.BOX)
    return _encode(small.quantize(64), "PNG", optimize=True)


def shrink_photo(content: bytes) -> bytes | None:
    """Return the picture in `content` as a small JPEG without its EXIF data, or None where it is no picture."""
    try:
        with Image.open(io.BytesIO(content), formats=("PNG", "JPEG")) as picture:
            if picture.width * picture.height > _LARGEST_PX:
                return None
            picture.draft("RGB", (SIDE_PX, SIDE_PX))
            small = picture.convert("RGB")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError, Image.DecompressionBombWarning):
        return None
    small.thumbnail((SIDE_PX, SIDE_PX), Image.Resampling.LANCZOS)
    plain = Image.new("RGB", small.size)
    plain.paste(small)
    return _encode(plain, "JPEG", quality=82, optimize=True)


def _encode(picture: Image.Image, form: str, **how: object) -> bytes:
    made = io.BytesIO()
    picture.save(made, form, **how)
    return made.getvalue()
