"""Names in letters that the font does not have: something legible is printed, and what is left out is told."""

import re
from dataclasses import replace

import pytest
from reading import open_pdf, page_text
from sample_patterns import make_pattern

from outgrown.page.wire import describe_pattern
from outgrown.paper.big_sheet import draw_sheet_pdf
from outgrown.paper.pages import draw_tiles_pdf
from outgrown.paper.projector import draw_projector_pdf
from outgrown.paper.words import find_unprintable, headline


def named(title, for_whom=""):
    pattern = make_pattern()
    pieces = tuple(
        replace(piece, labels=(title, f"for {for_whom}", *piece.labels[2:]) if for_whom else (title,))
        for piece in pattern.pieces
    )
    provenance = {**pattern.provenance, "taken": {"kind": "leggings", "laid": "folded"}}
    return replace(pattern, title=title, for_whom=for_whom, pieces=pieces, provenance=provenance)


@pytest.mark.parametrize(
    ("title", "for_whom", "printed", "lost"),
    [
        ("legíny", "Ивана", "Legíny · for Ивана", ""),
        ("ნინო ♥", "Անի", "ნინო ♥ · for Անի", ""),
        ("Κολάν", "Ζωή", "Κολάν · for Ζωή", ""),
        ("花のレギンス", "花子", "Leggings", "花 の レ ギ ン ス 子"),
        ("leggings 🐻", "花子 98", "Leggings · size 98", "🐻 花 子"),
        ("🐻!", "Mia 🐻", "Leggings · for Mia", "🐻"),
        ("טייץ", "", "Leggings", "ט י ץ"),
    ],
)
def test_what_can_be_printed_is_and_the_rest_is_named(title, for_whom, printed, lost):
    pattern = named(title, for_whom)
    assert headline(pattern) == printed
    told = find_unprintable(pattern)
    if not lost:
        assert told == ()
        return
    assert f"left out on paper: {lost}." in told[0].text
    assert f"It says “{printed}” there" in told[0].advice
    assert told[0].code in [row["code"] for row in describe_pattern(pattern, "")["findings"]]


@pytest.mark.parametrize("draw", [draw_tiles_pdf, draw_sheet_pdf, draw_projector_pdf])
def test_no_box_is_printed(draw):
    text = "\n".join(page_text(page) for page in open_pdf(draw(named("花のレギンス", "花子"))))
    assert "Leggings" in text
    assert not re.findall("[□\ufffd花の子]", text)
    assert "for\n" not in text


def test_a_pattern_without_a_kind_goes_without_a_name():
    pattern = replace(make_pattern(), title="花", for_whom="", provenance={})
    assert headline(pattern) == ""
    assert "It has no name there" in find_unprintable(pattern)[0].advice
    assert open_pdf(draw_tiles_pdf(pattern))
