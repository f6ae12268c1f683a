"""One limit for names, on paper inside the margins."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from paper.reading import open_pdf
from pieces.test_growing import kept

import outgrown
from outgrown.cli import run
from outgrown.drawer.archive import write_pattern_json
from outgrown.drawer.entry import clean_words
from outgrown.names import LONGEST_NAME
from outgrown.page.form import read_settings
from outgrown.paper.pages import draw_tiles_pdf
from outgrown.paper.tiles import SIDE_MARGIN_MM

LONGEST = "l" * LONGEST_NAME


def test_page_and_drawer_take_the_longest_name_whole():
    assert read_settings({"answers": {"title": LONGEST}}).choices.title == LONGEST
    assert clean_words(LONGEST) == LONGEST
    static = Path(outgrown.__file__).parent / "page" / "static"
    # The page asks the program for the limit, and knows none of its own.
    scripts = "".join(file.read_text(encoding="utf-8") for file in static.glob("*.js"))
    assert set(re.findall(r"maxlength: ([\w.]+)", scripts)) == {"limits.longest_name"}


def test_the_terminal_takes_it_too_and_refuses_a_longer_one(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "pattern.json").write_text(write_pattern_json(kept()), encoding="utf-8")
    assert run(["drawer", "keep", "a", "--name", LONGEST, "--drawer", "box"]) == 0
    capsys.readouterr()
    for command in (
        ["pattern", "photo.jpg", "--name", LONGEST + "l"],
        ["pattern", "photo.jpg", "--for", LONGEST + "l"],
        ["grow", "a", "--longer", "1cm", "--for", LONGEST + "l"],
        ["drawer", "keep", "a", "--name", LONGEST + "l", "--drawer", "box"],
        ["drawer", "rename", LONGEST, LONGEST + "l", "--drawer", "box"],
    ):
        assert run(command) == 2
        assert f"it has {LONGEST_NAME + 1} characters; use at most {LONGEST_NAME}" in capsys.readouterr().err
    assert sorted(place.name for place in tmp_path.iterdir()) == ["a", "box"]


@pytest.mark.parametrize("name", [LONGEST, "Leggings with the foxes " * 9, "il " * 66])
def test_the_longest_name_stays_inside_the_margins(name):
    document = open_pdf(draw_tiles_pdf(replace(kept(), title=name[:LONGEST_NAME])))
    for page in (document[0], document[len(document) - 1]):  # the first one, and the sewing page
        text = page.get_textpage()
        top = page.get_height() - 40.0 * 72 / 25.4
        boxes = [text.get_charbox(k) for k in range(text.count_chars())]
        rights = [right for _, bottom, right, _ in boxes if bottom > top]
        assert (page.get_width() - max(rights)) * 25.4 / 72 > SIDE_MARGIN_MM - 0.1
