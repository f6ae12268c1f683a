"""What findings say: an option of the command line stands in brackets, so that paper can leave it out."""

import ast
import re
from pathlib import Path

import pytest

import outgrown
from outgrown.findings import Finding, without_options

OPTION = re.compile(r"(?<![\w-])--[a-z]")


def sentences():
    """Every piece of text in the source that a finding or an offer is made with."""
    for file in Path(outgrown.__file__).parent.rglob("*.py"):
        for call in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(call, ast.Call) and getattr(call.func, "id", "") in ("Finding", "Offer"):
                for argument in (*call.args, *(keyword.value for keyword in call.keywords)):
                    yield "".join(
                        part.value if isinstance(part, ast.Constant) and isinstance(part.value, str) else "x"
                        for part in (argument.values if isinstance(argument, ast.JoinedStr) else [argument])
                    )


def test_every_option_that_a_finding_names_stands_in_brackets():
    told = [words for words in sentences() if OPTION.search(words)]
    assert len(told) > 10
    assert [words for words in told if OPTION.search(re.sub(r"\([^()]*\)", "", words))] == []


@pytest.mark.parametrize(
    ("told", "on_paper"),
    [
        ("Give the waist, too (--waist).", "Give the waist, too."),
        ("The band sewn from two (--split “band”): then it fits.", "The band sewn from two: then it fits."),
        ("Let tops point either way (leave --one-way out); more.", "Let tops point either way; more."),
        ("Measure the waist and give it with --waist-flat.", "Measure the waist and give it with “waist flat”."),
        ("It lay 3 mm (1/8 in) off -- no more.", "It lay 3 mm (1/8 in) off -- no more."),
    ],
)
def test_paper_leaves_options_out(told, on_paper):
    assert without_options(told) == on_paper
    assert Finding("code", told).plain() == on_paper
    assert Finding("code", told).sentence() == told
