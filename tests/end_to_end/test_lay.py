"""`outgrown lay` as a person runs it, from kept patterns."""

import json
from itertools import combinations
from pathlib import Path

import pytest
from cloths import make_band, make_front, make_leg, make_pattern
from pypdfium2 import PdfDocument
from shapely import Polygon

from outgrown.cli import run
from outgrown.drawer.archive import write_pattern_json

QUICK = ["--seconds", "0.2"]


@pytest.fixture(autouse=True)
def kept(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    patterns = {
        "fish": make_pattern(make_leg(), make_band(), title="Fish"),
        "small": make_pattern(make_front(110, 300, 100, 60), title="Small"),
    }
    for name, pattern in patterns.items():
        Path(name).mkdir()
        (Path(name) / "pattern.json").write_text(write_pattern_json(pattern), encoding="utf-8")


def read(folder):
    return json.loads((Path(folder) / "lay.json").read_text(encoding="utf-8"))


def test_it_says_how_much_to_buy_and_writes_plan_picture_and_rings(capsys):
    assert run(["lay", "fish", "small/pattern.json", "--width", "60in", *QUICK]) == 0
    said = capsys.readouterr().out
    assert "Buy " in said and " yd" in said and "152.4 cm (60 in)" in said
    kept = read("fish-lay")
    assert sorted(f.name for f in Path("fish-lay").iterdir()) == ["lay.json", "lay.pdf", "lay.png"]
    assert kept["schema"] == "outgrown-lay/1" and kept["fits"]
    assert [p["name"] for p in kept["pieces"]].count("leg") == 2
    assert sum(p["mirrored"] for p in kept["pieces"]) == 1
    shapes = [Polygon(p["ring_mm"]) for p in kept["pieces"]]
    assert max(shape.bounds[2] for shape in shapes) == pytest.approx(kept["length_mm"], abs=0.01)
    assert all(a.intersection(b).area < 0.01 for a, b in combinations(shapes, 2))
    assert kept["buy_mm"] >= kept["length_mm"] - 0.5
    assert len(PdfDocument((Path("fish-lay") / "lay.pdf").read_bytes())) == 1


def test_it_never_writes_over_a_lay_unless_told(capsys):
    assert run(["lay", "small", "--width", "90cm", "--folded", *QUICK]) == 0
    before = (Path("small-lay") / "lay.json").read_bytes()
    assert run(["lay", "small", "--width", "80cm", *QUICK]) == 2
    assert "--replace" in capsys.readouterr().err
    assert (Path("small-lay") / "lay.json").read_bytes() == before
    assert run(["lay", "small", "--width", "90cm", "--folded", "--replace", *QUICK]) == 0
    assert (Path("small-lay") / "lay.json").read_bytes() == before


def test_a_shirt_measured_by_hand_gives_its_hem(capsys):
    command = ["lay", "small", "--shirt-width", "48cm", "--shirt-length", "16in", "--out", "shirt", *QUICK]
    assert run(command) == 0
    assert "its hem on the shirt’s hem" in capsys.readouterr().out
    (piece,) = read("shirt")["pieces"]
    assert piece["gives"] == 2
    assert min(y for _, y in piece["ring_mm"]) == 0.0


def test_counts_and_splits_are_the_persons(capsys):
    assert (
        run(["lay", "fish", "--width", "150cm", "--folded", "--count", "leg=1", "--count", "waistband=0", *QUICK]) == 0
    )
    assert [p["name"] for p in read("fish-lay")["pieces"]] == ["leg"]
    assert run(["lay", "fish", "--width", "60cm", "--split", "leg", "--out", "split", *QUICK]) == 0
    pieces = [p for p in read("split")["pieces"] if p["name"] == "leg, half"]
    assert (len(pieces), sum(p["mirrored"] for p in pieces)) == (4, 2)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ([], "--width"),
        (["--width", "150cm", "--shirt-width", "40cm"], "only one"),
        (["--shirt-width", "40cm"], "--shirt-length"),
        (["--folded", "--shirt-width", "40cm", "--shirt-length", "40cm"], "--folded"),
        (["--width", "150cm", "--open-folds"], "--open-folds"),
        (["--width", "150cm", "--on-hem"], "--on-hem"),
        (["--width", "150cm", "--grain-at", "15"], "--grain-at"),
        (
            ["--shirt-width", "48cm", "--shirt-length", "60cm", "--sold-by", "10cm"],
            "--sold-by is for cloth off the roll",
        ),
        (["--shirt-width", "48cm", "--shirt-length", "60cm", "--selvedge", "1cm"], "--selvedge is for cloth off the"),
        (["--width", "150cm", "--margin", "5mm"], "--margin is for a leftover or a shirt"),
        (["--width", "150cm", "--thickness", "2mm"], "--thickness is for the photo of a cloth"),
        (["--width", "150cm", "--garment", "5,5"], "--garment is for the photo of a cloth"),
        (["--width", "150cm", "--lens", "none"], "--lens is for the photo of a cloth"),
        (["--width", "150cm", "--sold-by", "0cm"], "steps"),
        (["--width", "150cm", "--search", "-5"], "search"),
        (["--width", "150cm", "--search", "99999999999999999999999"], "search"),
        (["--width", "30cm"], "wide"),
        (["--width", "2mm"], "wide"),
        (["--width", "wide"], "length"),
        (["--width", "150cm", "--grain-tolerance", "80"], "45"),
        (["--width", "150cm", "--gap", "9in"], "gap"),
        (["--width", "150cm", "--seconds", "0"], "search"),
        (["--width", "150cm", "--selvedge", "80cm"], "selvedge"),
        (["--width", "150cm", "--count", "leg"], "leg=2".replace("leg", "skirt")),
        (["--width", "150cm", "--count", "collar=2"], "collar"),
        (["--width", "150cm", "--split", "collar"], "collar"),
        (["--width", "150cm", "--grain-at", "up"], "grain"),
        (["--cloth", "none.jpg"], "none.jpg"),
    ],
)
def test_what_cannot_be_is_said_in_one_line_and_nothing_is_written(more, said, capsys):
    assert run(["lay", "fish", *more]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1
    assert not Path("fish-lay").exists()


def test_a_pattern_that_is_none_is_refused(capsys):
    assert run(["lay", "nowhere", "--width", "150cm"]) == 2
    assert "nowhere" in capsys.readouterr().err
