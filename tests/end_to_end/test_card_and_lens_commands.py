"""`outgrown card` and `outgrown lens` as a person runs them."""

from pathlib import Path

import pytest
import scenes
from pypdfium2 import PdfDocument

from outgrown.cli import run

DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "demo.jpg"


@pytest.fixture(autouse=True)
def shelf(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("OUTGROWN_DATA", str(tmp_path / "data"))


def test_card_writes_three_pages_and_never_over_what_is_there(capsys):
    assert run(["card", "--paper", "letter"]) == 0
    first = Path("outgrown-card.pdf").read_bytes()
    assert len(PdfDocument(first)) == 3
    assert run(["card"]) == 2
    assert "--replace" in capsys.readouterr().err
    assert Path("outgrown-card.pdf").read_bytes() == first
    assert run(["card", "--lens-sheet", "--out", "sheet.pdf"]) == 0
    assert len(PdfDocument(Path("sheet.pdf").read_bytes())) == 1


@pytest.mark.parametrize("length", ["120mm", "7in", "wide"])
def test_a_bar_that_cannot_be_is_refused(length, capsys):
    assert run(["outline", str(DEMO), "--json", "a.json", "--bar", length]) == 2
    said = capsys.readouterr().err
    assert "--bar" in said
    assert said.count("\n") == 1


def test_lens_refuses_too_few_photos_and_photos_of_something_else(capsys):
    assert run(["lens", str(DEMO)]) == 2
    assert "4 at least" in capsys.readouterr().err
    assert run(["lens", "none.jpg"]) == 2
    assert "none.jpg" in capsys.readouterr().err


def test_a_lens_file_that_is_none_is_refused(capsys):
    Path("lens.json").write_text("[]", encoding="utf-8")
    assert run(["outline", str(DEMO), "--json", "a.json", "--lens", "lens.json"]) == 2
    assert "lens.json" in capsys.readouterr().err
    assert not Path("a.json").exists()


def test_a_lens_is_learned_kept_and_used_by_itself(capsys):
    names = []
    for tilt, lean, height, roll in ((3, 30, 165, 4), (26, 0, 205, 0), (26, 180, 205, 0), (28, 90, 200, 180)):
        shot = scenes.Shot(1000, 750, 26.0, height, tilt, lean, roll, (0, 0), 0.03)
        scene = scenes.Scene(shot=shot, shape=None, things=(scenes.Thing("lens-sheet"),), floor=scenes.Floor("sheet"))
        names.append(f"{len(names)}.jpg")
        scenes.write_jpeg(scenes.render(scene), names[-1])
    assert run(["lens", *names, "--out", "mine.json"]) == 0
    assert "--lens mine.json" in capsys.readouterr().out
    assert run(["lens", *names]) == 0
    assert "Larkfield Pebble 3" in capsys.readouterr().out
    from outgrown import steps
    from outgrown.photo import read_photo

    kept = steps.choose_profile(read_photo(Path(names[0])))
    assert kept == steps.choose_profile(read_photo(DEMO), Path("mine.json"))
    assert kept.distortion[0] == pytest.approx(0.03, abs=0.005)
