"""What the page says: sentences of the library in the page's own words."""

import re
from pathlib import Path

import outgrown
from outgrown.page import wire
from outgrown.page.questions import QUESTIONS

ROOMS = ("camera/**/*.py", "garment/**/*.py", "lay/*.py", "outline/*.py", "paper/*.py", "pieces/*.py", "*steps.py")
NEVER_SEEN = {
    "--lens",  # the lens of a photo is chosen by itself
    "--washed",  # a sewn pair is checked in the terminal alone
    "--stretch",  # in the source only; -old or -new is put behind it
    *("--as", "--paper", "--orientation", "--overlap", "--untrimmed", "--dark", "--grid", "--units"),  # never wrong
}
"""Options that no sentence on the page can name."""


def options_named():
    root = Path(outgrown.__file__).parent
    files = [file for room in ROOMS for file in root.glob(room)]
    text = "".join(file.read_text(encoding="utf-8") for file in files)
    return set(re.findall(r"(?<![\w-])--[a-z]+(?:-[a-z]+)*", text))


def test_no_sentence_on_the_page_names_an_option_of_the_command_line():
    named = options_named() - NEVER_SEEN
    assert len(named) > 20
    assert {option for option in named if wire.say(f"Give {option}.") == f"Give {option}."} == set()


def test_what_the_page_calls_things_is_there():
    labels = {question.label for question in QUESTIONS}
    static = Path(wire.__file__).parent / "static"
    scripts = "".join(file.read_text(encoding="utf-8") for file in static.glob("*.js"))
    for words in wire._ON_PAGE.values():
        called = re.sub("^the brush “|[“”]", "", words)
        assert called in labels or called in scripts, words


def test_options_with_values_and_options_that_begin_alike_are_told_apart():
    assert wire.say("Give --waist-then.") == "Give “Body waist then”."
    assert wire.say("Use --as sheet with --roll.") == "Use “One large sheet” with “Width of the roll”."
    assert wire.say("Up to 3° off (--grain-tolerance 3)") == "Up to 3° off (“outgrown lay” with --grain-tolerance 3)"
