from importlib.resources import files
from io import BytesIO

import pytest
from PIL import ImageFont

from outgrown.paper.lettering import (
    break_words,
    clean_words,
    limit_lines,
    measure_words_mm,
    missing_letters,
    read_font,
    shorten_words,
)

NAMES = [
    "Zoë",
    "Łucja",
    "Jürgen",
    "Şule",
    "Ελένη",
    "Ζωή",
    "Đorđe",
    "Þórunn",
    "Ţăran",
    "Ивана",
    "Ґалаґан",
    "Ḃríd",
    "Անի",
    "ნინო",
    "Mia ♥ ☆",
]
NAMES += ["Mañana", "Œuvre", "Æsa", "Ĳsbrand", "½×3/4″–“ok”…"]


@pytest.mark.parametrize("words", NAMES)
def test_font_shows_the_names_of_europe(words):
    assert clean_words(words) == words and missing_letters(words) == ""
    for is_bold in (False, True):
        font = ImageFont.truetype(BytesIO(read_font(is_bold)), 40)
        for letter in words:
            assert letter.isspace() or font.getmask(letter).getbbox() is not None


def test_combining_accents_become_one_letter():
    assert clean_words("Zoe\u0308") == "Zoë"


def test_controls_and_unknown_signs_vanish():
    assert clean_words("a\x00b\u200bc\n d\t🐻") == "abc d"
    assert missing_letters("a\x00b\u200bc\n d\t🐻") == "🐻"


def test_what_unknown_signs_leave_behind_vanishes_with_them():
    assert clean_words("Lay plan: 花子") == "Lay plan"
    assert clean_words("1  leg (花子), pattern “ 子 ”") == "1 leg, pattern"
    assert clean_words("花子, size 98") == "size 98"
    assert clean_words("a () “” ,") == "a () “” ,"  # typed so


def test_a_coloured_heart_is_a_heart():
    assert clean_words("Mia ♥\ufe0f") == "Mia ♥"
    assert missing_letters("Mia ♥\ufe0f 👍🏽") == "👍"


def test_fonts_are_small_and_come_with_their_licence():
    fonts = files("outgrown.paper") / "fonts"
    assert len(read_font()) + len(read_font(True)) < 250_000
    assert "Bitstream Vera" in (fonts / "LICENSE-DejaVu.txt").read_text(encoding="utf-8")


def test_width_agrees_with_another_library():
    """Pillow's FreeType measures the same font apart from us, within a hundredth."""
    font = ImageFont.truetype(BytesIO(read_font()), 1000)
    for words in ("inseam", "Łucja und Zoë", "49.2 × 9.2 cm"):
        assert measure_words_mm(words, 10.0) == pytest.approx(font.getlength(words) / 100, rel=0.01)


def test_no_line_is_wider_than_asked():
    words = "Donaudampfschifffahrtsgesellschaftskapitän mit Taschen " * 3
    for width in (12.0, 30.0, 80.0):
        lines = break_words(words, width, 5.0)
        assert max(measure_words_mm(line, 5.0) for line in lines) <= width
        assert "".join(lines).replace(" ", "") == words.replace(" ", "")


def test_a_length_is_not_broken_between_number_and_unit():
    lines = break_words("inseam 6\xa0mm\xa0(1/4\xa0in)", 52.0, 5.0)
    assert lines == ["inseam", "6\xa0mm\xa0(1/4\xa0in)"]


def test_shortened_words_fit_and_say_so():
    short = shorten_words("a very long name indeed", 30.0, 5.0)
    assert short.endswith("…") and measure_words_mm(short, 5.0) <= 30.0
    assert shorten_words("short", 30.0, 5.0) == "short"
    assert limit_lines(["a", "b"], 2, 50.0, 5.0) == ["a", "b"]
    assert limit_lines(["a", "b", "cd"], 2, 50.0, 5.0) == ["a", "b…"]


@pytest.mark.parametrize("words", ["l" * 200, "W" * 200, "il " * 66])
def test_the_ellipsis_of_lines_left_out_stays_within_their_width(words):
    lines = limit_lines(break_words(words, 80.0, 6.0, True), 2, 80.0, 6.0, True)
    assert len(lines) == 2 and lines[1].endswith("…")
    assert max(measure_words_mm(line, 6.0, True) for line in lines) <= 80.0
