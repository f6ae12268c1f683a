"""Check block: squares and bars to measure a print by, and the key to its lines."""

from ..standards import INCH_MM
from .key import draw_key
from .lettering import break_words
from .scale import BAR_LENGTH_MM, draw_scale_bar, draw_square
from .surface import Lettering, Surface
from .words import IF_OFF

_INCHES_MM = 2 * INCH_MM.value
_BAR_INSET_MM = 5.0
_INSET_MM = 14.0
_GAP_MM = 5.0
_WORDS_MM = 3.1
_LEADING = 1.22
BLOCK_WIDTH_MM = _INSET_MM + 50 + _GAP_MM + _INCHES_MM
BLOCK_HEIGHT_MM = BAR_LENGTH_MM + 7.5


def draw_check_block(surface: Surface, top_left_mm: tuple[float, float]) -> None:
    """Draw an upright bar, two squares, the key and a bar across, in `BLOCK_WIDTH_MM` by `BLOCK_HEIGHT_MM`."""
    left, top = top_left_mm
    bottom = top - BLOCK_HEIGHT_MM
    inner, right = left + _INSET_MM, left + BLOCK_WIDTH_MM
    draw_scale_bar(surface, (left + _BAR_INSET_MM, top - BAR_LENGTH_MM), is_upright=True)
    draw_square(surface, (inner, top - 50), 50.0, "50 mm")
    draw_square(surface, (right - _INCHES_MM, top - _INCHES_MM), _INCHES_MM, "2 in")
    y = top - _INCHES_MM - 1.5
    for line in break_words(IF_OFF, right - inner, _WORDS_MM):
        y -= _WORDS_MM * _LEADING
        surface.text(line, (inner, y), Lettering(_WORDS_MM))
    draw_key(surface, (inner, y - 4), right - inner)
    draw_scale_bar(surface, (inner, bottom + 5.5))
