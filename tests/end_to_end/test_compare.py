"""`outgrown drawer compare` as a person runs it."""

import pytest
from paper.reading import open_pdf
from pieces.test_growing import kept

from outgrown.cli import run
from outgrown.drawer.archive import write_pattern_json


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("OUTGROWN_DRAWER", str(tmp_path / "drawer"))
    (tmp_path / "striped").mkdir()
    (tmp_path / "striped" / "pattern.json").write_text(write_pattern_json(kept()), encoding="utf-8")
    assert run(["grow", "striped", "--longer", "20mm"]) == 0
    assert run(["drawer", "keep", "striped-next", "--name", "Next year"]) == 0
    return tmp_path


def test_a_folder_and_a_name_are_compared(here, capsys):
    capsys.readouterr()
    assert run(["drawer", "compare", "striped", "Next year", "--out", "both"]) == 0
    said = capsys.readouterr().out
    assert "Next year" in said and "+20.0 mm" in said
    assert sorted(f.name for f in (here / "both").iterdir()) == ["difference.pdf", "difference.svg"]
    assert len(open_pdf((here / "both" / "difference.pdf").read_bytes())) >= 1
    assert run(["drawer", "compare", "striped", "Next year", "--out", "both"]) == 2
    assert "already holds" in capsys.readouterr().err


def test_lengths_and_differences_stand_in_one_unit(here, capsys):
    capsys.readouterr()
    assert run(["drawer", "compare", "striped", "Next year", "--units", "inch"]) == 0
    said = capsys.readouterr().out
    assert "+13/16 in" in said and " cm" not in said.replace("104 cm", "")


def test_what_is_not_there_is_said(here, capsys):
    assert run(["drawer", "compare", "striped", "Somebody else's"]) == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1
