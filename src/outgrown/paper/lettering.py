"""Lettering: the font that goes with the product, how wide its lines are, and how they are broken."""

import re
import unicodedata
from functools import cache
from importlib.resources import files
from io import BytesIO

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

FAMILY = "DejaVu Sans"
CAP_SHARE = 0.729
"""Height of a capital as a share of the size."""
DESCENT_SHARE = 0.236
"""Depth below the baseline as a share of the size."""
ASCENT_SHARE = 0.76
"""Height of the tallest unaccented letter above the baseline as a share of the size."""
LINE_SHARE = 1.35
"""Distance of two baselines as a share of the size."""

_MISSING = "□"


def read_font(is_bold: bool = False) -> bytes:
    """Return the font file that goes with the product (DejaVu Sans, Latin, Greek and Cyrillic)."""
    name = "DejaVuSans-Bold.ttf" if is_bold else "DejaVuSans.ttf"
    return (files(__package__) / "fonts" / name).read_bytes()


@cache
def font_name(is_bold: bool = False) -> str:
    """Return the name under which the PDF library knows the font, registering it on first use."""
    name = "OutgrownSans-Bold" if is_bold else "OutgrownSans"
    pdfmetrics.registerFont(TTFont(name, BytesIO(read_font(is_bold))))
    return name


@cache
def _letters() -> frozenset[int]:
    return frozenset(pdfmetrics.getFont(font_name()).face.charToGlyph)


def clean_words(words: str) -> str:
    r"""Return `words` on one line, composed, with what the font cannot show replaced by a hollow square.

    Spaces that do not break are kept.

    >>> clean_words("Zoë\nŁucja"), clean_words("Bär 🐻")
    ('Zoë Łucja', 'Bär □')
    """
    composed = unicodedata.normalize("NFC", words)
    spaced = re.sub(r"[^\S\u00a0]+", " ", composed).strip()
    kept = (c for c in spaced if unicodedata.category(c) not in {"Cc", "Cf", "Cs", "Co", "Cn"})
    letters = _letters()
    return "".join(c if ord(c) in letters else _MISSING for c in kept)


def measure_words_mm(words: str, size_mm: float, is_bold: bool = False) -> float:
    """Return the width of one line of text [mm] at `size_mm`."""
    return float(pdfmetrics.stringWidth(clean_words(words), font_name(is_bold), size_mm))


def break_words(words: str, width_mm: float, size_mm: float, is_bold: bool = False) -> list[str]:
    """Return `words` broken into lines no wider than `width_mm`; a word too long for a line is broken itself."""
    lines: list[str] = []
    line = ""
    for word in clean_words(words).split(" "):
        longer = f"{line} {word}" if line else word
        if measure_words_mm(longer, size_mm, is_bold) <= width_mm:
            line = longer
            continue
        if line:
            lines.append(line)
        line = word
        while measure_words_mm(line, size_mm, is_bold) > width_mm and len(line) > 1:
            fits = 1
            while measure_words_mm(line[: fits + 1], size_mm, is_bold) <= width_mm:
                fits += 1
            lines.append(line[:fits])
            line = line[fits:]
    return [*lines, line] if line else lines


def shorten_words(words: str, width_mm: float, size_mm: float, is_bold: bool = False) -> str:
    """Return `words`, or their beginning and an ellipsis where they are wider than `width_mm`."""
    words = clean_words(words)
    if measure_words_mm(words, size_mm, is_bold) <= width_mm:
        return words
    while words and measure_words_mm(words + "…", size_mm, is_bold) > width_mm:
        words = words[:-1]
    return words.rstrip() + "…"


def limit_lines(lines: list[str], most: int) -> list[str]:
    """Return at most `most` lines, the last one ending in an ellipsis where some were left out."""
    if len(lines) <= most:
        return lines
    kept = lines[:most]
    return [*kept[:-1], kept[-1][:-1].rstrip() + "…"]
