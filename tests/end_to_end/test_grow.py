"""`outgrown grow` as a person runs it, from a kept pattern."""

import json

import pytest
from pieces.test_growing import kept, kept_pair

from outgrown.cli import run
from outgrown.cli.types import AGE, PERCENT
from outgrown.cli.wording import write_fabric
from outgrown.drawer.archive import read_pattern_json, write_pattern_json
from outgrown.pieces.fabric import Fabric, apply_fabric
from outgrown.pieces.leg_shape import measure_leg
from outgrown.steps import draw_pattern_files
from outgrown.units import write_cm, write_inch

HEIGHTS = ["--height-then", "104cm", "--height-now", "110cm"]


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "striped").mkdir()
    (tmp_path / "striped" / "pattern.json").write_text(write_pattern_json(kept()), encoding="utf-8")
    return tmp_path


def kept_in(place):
    return read_pattern_json((place / "pattern.json").read_text(encoding="utf-8"))


def test_it_makes_a_folder_like_pattern_does_and_says_what_grew(folder, capsys):
    assert run(["grow", "striped", *HEIGHTS]) == 0
    made = folder / "striped-next"
    assert sorted(f.name for f in made.iterdir()) == ["pattern.json", "pattern.pdf", "pattern.svg"]
    said = capsys.readouterr().out
    assert "before and after" in said and "+3.5 cm" in said and "published" in said
    before, after = kept_in(folder / "striped"), kept_in(made)
    assert measure_leg(after.pieces).inseam - measure_leg(before.pieces).inseam == pytest.approx(35.4, abs=0.1)


def test_the_cut_list_stands_in_the_units_the_pattern_was_made_with(folder, capsys):
    said = {}
    for units in ("mm", "inch"):
        text = json.loads(write_pattern_json(kept()))
        text["choices"]["units"] = units
        (folder / "striped" / "pattern.json").write_text(json.dumps(text), encoding="utf-8")
        assert run(["grow", "striped", "--longer", "2cm", "--out", units]) == 0
        (said[units],) = (line for line in capsys.readouterr().out.splitlines() if " x elastic, " in line)
    (elastic,) = (row for row in kept().cut_list if row.name == "elastic")
    assert f"elastic, {write_cm(elastic.length_mm)} x 2.0 cm" in said["mm"]
    assert f"elastic, {write_inch(elastic.length_mm)} x 3/4 in" in said["inch"]


def test_what_stays_is_not_told_to_shrink(folder, capsys):
    assert run(["grow", "striped", "--longer", "2cm"]) == 0
    assert "-0.0" not in capsys.readouterr().out


def test_its_pattern_alone_gives_the_same_files_again(folder):
    assert run(["grow", "striped/pattern.json", *HEIGHTS, "--nested", "--out", "both"]) == 0
    again = draw_pattern_files(kept_in(folder / "both"))
    for name, content in again.items():
        assert (folder / "both" / name).read_bytes() == content


def test_it_never_writes_over_a_pattern_unless_told(folder, capsys):
    old = (folder / "striped" / "pattern.json").read_bytes()
    assert run(["grow", "striped", *HEIGHTS, "--out", "striped"]) == 2
    assert "--replace" in capsys.readouterr().err
    assert (folder / "striped" / "pattern.json").read_bytes() == old
    assert run(["grow", "striped", "--longer", "2cm", "--out", "striped", "--replace"]) == 0
    assert (folder / "striped" / "pattern.json").read_bytes() != old


def test_ages_as_people_say_them(folder):
    assert run(["grow", "striped", "--age-then", "4y6m", "--age", "66m", "--sex", "boy", "--out", "a"]) == 0
    grown = json.loads((folder / "a" / "pattern.json").read_text(encoding="utf-8"))["choices"]["grown"]
    assert (grown["age_then_months"], grown["age_now_months"]) == (54.0, 66.0)
    # Median boys grow by 6.5 to 6.7 cm between four and a half and five and a half.
    assert 63 < grown["height_now_mm"] - grown["height_then_mm"] < 68


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "Nothing is said"),
        (["--height-now", "110cm"], "height"),
        (["--height-then", "104cm", "--height-now", "110cm", "--height-now", "116cm"], "--nested"),
        (["--age", "five"], "age"),
        (["--longer", "20 furlongs"], "unit"),
    ],
)
def test_what_is_missing_or_wrong_is_said_in_one_sentence(folder, capsys, arguments, words):
    assert run(["grow", "striped", *arguments]) == 2
    told = capsys.readouterr().err
    assert words in told and "Traceback" not in told
    assert not (folder / "striped-next").exists()


@pytest.mark.parametrize("place", ["nowhere", "empty", "broken.json", "photo.jpg"])
def test_what_is_no_pattern_is_refused(folder, capsys, place):
    (folder / "empty").mkdir()
    (folder / "broken.json").write_text("{", encoding="utf-8")
    (folder / "photo.jpg").write_bytes(b"\xff\xd8\xff\xe0")
    assert run(["grow", place, *HEIGHTS]) == 2
    assert "pattern.json" in capsys.readouterr().err


def test_front_and_back_grow_together(folder, capsys):
    (folder / "pair").mkdir()
    (folder / "pair" / "pattern.json").write_text(write_pattern_json(kept_pair(side_seam=True)), encoding="utf-8")
    assert run(["grow", "pair", *HEIGHTS, "--paper", "letter"]) == 0
    assert "sewn together differ by: inseam 0." in capsys.readouterr().out


@pytest.mark.parametrize(("typed", "share"), [("40", 0.4), ("40%", 0.4), ("12,5 %", 0.125)])
def test_percentages_as_people_say_them(typed, share):
    assert PERCENT.convert(typed, None, None) == pytest.approx(share)


@pytest.mark.parametrize(
    ("typed", "months"), [("5", 60), ("5.5", 66), ("5y6m", 66), ("66m", 66), ("5 years", 60), ("5y 6 months", 66)]
)
def test_ages_are_read_to_the_month(typed, months):
    assert AGE.convert(typed, None, None) == months


def test_the_cloths_table_says_what_and_why():
    cloth = Fabric(0.5, 0.25, shrink_wide=0.04, hip_mm=600.0)
    lines = write_fabric(apply_fabric(kept(), cloth))
    hip = next(line for line in lines if line.strip().startswith("hip"))
    assert "60.0 cm" in hip and "the same share of the new cloth's 25 %" in hip and "shrinks by 4 %" in hip
    assert write_fabric(kept()) == []
