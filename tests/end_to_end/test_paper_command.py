"""`outgrown paper` as a person runs it, from a kept pattern."""

import pytest
from pieces.test_growing import kept

from outgrown.cli import run
from outgrown.drawer.archive import write_pattern_json


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "striped").mkdir()
    (tmp_path / "striped" / "pattern.json").write_text(write_pattern_json(kept()), encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("form", "begins"),
    [("tiles", b"%PDF"), ("sheet", b"%PDF"), ("projector", b"%PDF"), ("svg", b"<svg"), ("dxf", b"  0\nSECTION")],
)
def test_every_form_is_written_under_the_patterns_name(folder, capsys, form, begins):
    assert run(["paper", "striped", "--as", form]) == 0
    name = f"striped-{form}.{form if form in ('svg', 'dxf') else 'pdf'}"
    assert begins in (folder / name).read_bytes()[:200]
    assert f"Written: {name}" in capsys.readouterr().out


def test_tiles_are_what_is_made_without_saying_so(folder):
    assert run(["paper", "striped/pattern.json", "--out", "a.pdf"]) == 0
    assert run(["paper", "striped", "--as", "tiles", "--paper", "a4", "--out", "b.pdf"]) == 0
    assert (folder / "a.pdf").read_bytes() == (folder / "b.pdf").read_bytes()


@pytest.mark.parametrize("command", [["paper", "striped", "--out", "x.pdf"], ["grow", "striped", "--longer", "1cm"]])
@pytest.mark.parametrize("paper", ["a4", "letter", "a3", "tabloid"])
def test_all_home_papers_are_known_to_commands(folder, command, paper):
    assert run([*command, "--paper", paper]) == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--paper", "foolscap"], "foolscap"),
        (["--paper", "a0"], "no paper for tiles"),
        (["--as", "sheet", "--paper", "a4"], "no paper for sheet"),
        (["--as", "sheet", "--roll", "914mm", "--paper", "a0"], "--paper or --roll"),
        (["--as", "sheet", "--roll", "10cm"], "roll"),
        (["--as", "sheet", "--roll", "914 furlongs"], "unit"),
        (["--as", "svg", "--paper", "a4"], "--paper does not go with --as svg"),
        (["--roll", "914mm"], "--roll does not go with --as tiles"),
        (["--dark"], "It goes with --as projector"),
        (["--as", "projector", "--untrimmed"], "--untrimmed does not go"),
        (["--as", "dxf", "--bar-across", "100.5mm"], "does not go with --as dxf"),
        (["--overlap", "1mm"], "overlap"),
        (["--bar-across", "112mm"], "5 % off"),
        (["--bar-down", "101.6mm"], "whole bar"),
        (["--out", "nowhere/x.pdf"], "nowhere"),
        (["--out", "striped"], "folder"),
    ],
)
def test_what_is_wrong_is_said_in_one_sentence(folder, capsys, arguments, words):
    assert run(["paper", "striped", *arguments]) == 2
    told = capsys.readouterr().err
    assert words in told and "Traceback" not in told and "fault" not in told
    assert sorted(place.name for place in folder.iterdir()) == ["striped"]


def test_the_terminal_says_how_the_same_correction_is_had_again(folder, capsys):
    assert run(["paper", "striped", "--bar-across", "100.8mm", "--bar-across", "4 1/16in", "--out", "x.pdf"]) == 0
    assert "keep “--bar-across 100.8mm --bar-across 4.062in” and add" in capsys.readouterr().out
    assert run(["paper", "striped", "--out", "y.pdf"]) == 0
    assert "keep" not in capsys.readouterr().out


@pytest.mark.parametrize(
    "command", [["grow", "striped", "--longer", "1cm", "--for", "花子"], ["paper", "striped-next"]]
)
def test_letters_that_cannot_be_printed_are_named(folder, capsys, command):
    if command[0] == "paper":
        run(["grow", "striped", "--longer", "1cm", "--for", "花子"])
        capsys.readouterr()
    assert run(command) == 0
    assert "left out on paper: 花 子." in capsys.readouterr().out


def test_nothing_is_written_over_unless_told(folder, capsys):
    (folder / "mine.pdf").write_bytes(b"mine")
    assert run(["paper", "striped", "--out", "mine.pdf"]) == 2
    assert "--replace" in capsys.readouterr().err
    assert (folder / "mine.pdf").read_bytes() == b"mine"
    assert run(["paper", "striped", "--out", "mine.pdf", "--replace"]) == 0
    assert (folder / "mine.pdf").read_bytes().startswith(b"%PDF")


def test_what_is_no_pattern_is_refused(folder, capsys):
    assert run(["paper", "dotted"]) == 2
    assert "dotted" in capsys.readouterr().err
