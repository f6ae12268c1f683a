"""Lettering: the font that goes with the product, how wide its lines are, and how they are broken."""

import re
import unicodedata
from functools import cache, lru_cache
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

_EMPTIED = re.compile(r"\s*(?:\(\s*\)|“\s*”)")
"""Brackets and quotes of which letters that cannot be printed were all."""
_LOOSE = " ,;:·"


def read_font(is_bold: bool = False) -> bytes:
    """Return the font file that goes with the product: Latin, Greek, Cyrillic, Armenian and Georgian letters."""
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


class _Widths(dict[str, float]):
    """Width of each letter of a font at size 1, looked up in the font once."""

    def __init__(self, font: str) -> None:
        self._font = font

    def __missing__(self, letter: str) -> float:
        self[letter] = width = float(pdfmetrics.stringWidth(letter, self._font, 1.0))
        return width


@cache
def _widths(is_bold: bool) -> _Widths:
    return _Widths(font_name(is_bold))


@lru_cache(4096)
def clean_words(words: str) -> str:
    r"""Return `words` on one line, composed, without what the font cannot show; see `missing_letters`.

    Spaces that do not break are kept.

    >>> clean_words("Zoë\nŁucja"), clean_words("Bär 🐻"), clean_words("leg (花子)")
    ('Zoë Łucja', 'Bär', 'leg')
    """
    kept = _visible(words)
    if not (lost := set(_lost(kept))):
        return kept
    shown = _EMPTIED.sub("", "".join(c for c in kept if c not in lost))
    return re.sub(r" {2,}", " ", shown).strip(_LOOSE)


def missing_letters(words: str) -> str:
    """Return the letters and signs of `words` that the font cannot show, each once.

    >>> missing_letters("花子 🐻 Zoë 子")
    '花子🐻'
    """
    return "".join(dict.fromkeys(c for c in _lost(_visible(words)) if unicodedata.category(c) not in _MODIFY))


_MODIFY = frozenset({"Mn", "Me", "Sk"})
"""Signs that only change the one before them, as the colour of an emoji: nobody knows them by name."""


def _visible(words: str) -> str:
    composed = unicodedata.normalize("NFC", words)
    spaced = re.sub(r"[^\S\u00a0]+", " ", composed).strip()
    return "".join(c for c in spaced if unicodedata.category(c) not in {"Cc", "Cf", "Cs", "Co", "Cn"})


def _lost(visible: str) -> list[str]:
    letters = _letters()
    return [c for c in visible if ord(c) not in letters]


def measure_words_mm(words: str, size_mm: float, is_bold: bool = False) -> float:
    """Return the width of one line of text [mm] at `size_mm`."""
    return size_mm * _measure(clean_words(words), is_bold)


@lru_cache(4096)
def _measure(cleaned: str, is_bold: bool) -> float:
    """Return the width of a line at size 1; letters keep their widths, whatever their neighbours (no kerning)."""
    return sum(map(_widths(is_bold).__getitem__, cleaned))


def break_words(words: str, width_mm: float, size_mm: float, is_bold: bool = False) -> list[str]:
    """Return `words` broken into lines no wider than `width_mm`; a word too long for a line is broken itself."""
    return list(_break(clean_words(words), width_mm / size_mm, is_bold))


@lru_cache(4096)  # a page is written more than once to see how much room it needs
def _break(cleaned: str, limit: float, is_bold: bool) -> tuple[str, ...]:
    """Return a line broken into lines no wider than `limit` times the size."""
    space = _measure(" ", is_bold)
    lines: list[str] = []
    line, width = "", 0.0
    for word in cleaned.split(" "):
        wide = _measure(word, is_bold)
        if line and width + space + wide <= limit:
            line, width = f"{line} {word}", width + space + wide
            continue
        if line:
            lines.append(line)
        while wide > limit and len(word) > 1:
            fits = 1
            while _measure(word[: fits + 1], is_bold) <= limit:
                fits += 1
            lines.append(word[:fits])
            word = word[fits:]
            wide = _measure(word, is_bold)
        line, width = word, wide
    return (*lines, line) if line else tuple(lines)


def shorten_words(words: str, width_mm: float, size_mm: float, is_bold: bool = False) -> str:
    """Return `words`, or their beginning and an ellipsis where they are wider than `width_mm`."""
    words = clean_words(words)
    if measure_words_mm(words, size_mm, is_bold) <= width_mm:
        return words
    while words and measure_words_mm(words + "…", size_mm, is_bold) > width_mm:
        words = words[:-1]
    return words.rstrip() + "…"


def limit_lines(lines: list[str], most: int, width_mm: float, size_mm: float, is_bold: bool = False) -> list[str]:
    """Return at most `most` lines, the last one ending in an ellipsis where some were left out, none wider than before.

    Args:
        lines: from `break_words`.
        most: as many.
        width_mm: of the widest [mm].
        size_mm: of the letters [mm].
        is_bold: the letters are.
    """
    if len(lines) <= most:
        return lines
    last = lines[most - 1]
    while last and measure_words_mm(f"{last.rstrip()}…", size_mm, is_bold) > width_mm:
        last = last[:-1]
    return [*lines[: most - 1], f"{last.rstrip()}…"]
