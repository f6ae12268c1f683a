"""`outgrown sewn` as a person runs it: the garment a pattern was taken from does not differ from it."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from paper.reading import open_pdf
from paper.sample_patterns import make_pattern

from outgrown import steps
from outgrown.cli import run
from outgrown.errors import GarmentError

PHOTO = str(Path(__file__).resolve().parents[2] / "fixtures" / "card.jpg")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("sewn")
    assert run(["pattern", PHOTO, "--name", "Dotted leggings", "--out", str(made / "dotted")]) == 0
    return made


def test_the_garment_itself_does_not_differ(folder, capsys):
    arguments = [PHOTO, str(folder / "dotted"), "--out", str(folder / "check"), "--washed", "--kind", "shorts"]
    assert run(["sewn", *arguments]) == 0
    assert sorted(f.name for f in (folder / "check").iterdir()) == ["difference.pdf", "sewn.png"]
    said = capsys.readouterr().out
    assert "(--kind) changed nothing: they are compared as leggings are" in said
    assert "(--washed) changed nothing: the pattern allows for no shrinkage" in said
    assert "What was sewn beside pattern “Dotted leggings”:" in said
    table = said.split("beside pattern")[1].split("Its edges")[0]
    assert "+" not in table and "−" not in table


def test_a_pattern_in_inches_is_compared_in_inches_on_paper_too(folder, capsys):
    kept = json.loads((folder / "dotted" / "pattern.json").read_text(encoding="utf-8"))
    kept["choices"]["units"] = "inch"
    (folder / "inches").mkdir()
    (folder / "inches" / "pattern.json").write_text(json.dumps(kept), encoding="utf-8")
    assert run(["sewn", PHOTO, str(folder / "inches"), "--out", str(folder / "in inches")]) == 0
    page = open_pdf((folder / "in inches" / "difference.pdf").read_bytes())[0].get_textpage().get_text_bounded()
    for said in (capsys.readouterr().out.split("beside pattern")[1], page.split("Lengths")[1]):
        assert "15 5/16 in" in said and " cm" not in said


@pytest.mark.parametrize(
    ("own", "said", "taken"),
    [
        ("leggings", "", "leggings"),
        ("leggings", "shorts", "shorts"),
        ("", "skirt", "skirt"),
        ("", "", "leggings"),
        ("other", "skirt", "skirt"),
        ("skirt", "other", "other"),
        ("leggings", "skirt", None),
        ("leggings", "other", None),
        ("skirt", "leggings", None),
        ("skirt", "t-shirt", None),
    ],
)
def test_what_was_sewn_is_of_the_patterns_kind(own, said, taken):
    pattern = make_pattern()
    pattern = replace(pattern, provenance={"taken": {"kind": own, "laid": "other"}} if own else {})
    if taken is not None:
        assert steps.choose_sewn_kind(pattern, said) == taken
        return
    with pytest.raises(GarmentError, match="cannot be compared") as told:
        steps.choose_sewn_kind(pattern, said)
    assert told.value.advice.endswith("leave --kind out.")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["nowhere.jpg", "dotted"], "nowhere.jpg"),
        ([PHOTO, "nothing-here"], "nothing-here"),
        ([PHOTO, "dotted", "--back", PHOTO, "--backs-out"], "--backs-out"),
        ([PHOTO, "dotted", "--back", PHOTO], "“card.jpg” was given as fronts and as backs"),
        ([PHOTO, "dotted", "--kind", "skirt"], "“Dotted leggings” is of leggings, and a skirt cannot be compared"),
        ([PHOTO, "dotted", "--out", "dotted/pattern.json"], "is a file"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_sentence(folder, monkeypatch, capsys, arguments, words):
    monkeypatch.chdir(folder)
    before = sorted(folder.rglob("*"))
    assert run(["sewn", *arguments]) == 2
    said = capsys.readouterr()
    assert words in said.err and len(said.err.strip().splitlines()) == 1 and not said.out
    assert sorted(folder.rglob("*")) == before
