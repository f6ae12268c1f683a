"""`--garment`, `--floor-at` and `--floor`: what they refuse, and that what was said is kept."""

import json
from pathlib import Path

import pytest

from outgrown.cli import run

DEMO = Path(__file__).parents[2] / "fixtures" / "demo.jpg"


@pytest.mark.parametrize("option", ["--garment", "--floor-at"])
def test_a_place_outside_the_photo_is_refused_in_one_sentence(tmp_path, capsys, option):
    out = tmp_path / "outline.json"
    assert run(["outline", str(DEMO), "--json", str(out), option, "9000,10"]) == 2
    message = capsys.readouterr().err
    assert "9000,10" in message and "lies outside the photo, which is 4032 x 3024 pixels" in message
    assert not out.exists()


def test_what_is_no_place_is_refused(tmp_path, capsys):
    assert run(["outline", str(DEMO), "--json", str(tmp_path / "outline.json"), "--garment", "here"]) == 2
    assert "not a place" in capsys.readouterr().err


def test_what_was_said_is_kept_in_the_outline(tmp_path):
    out = tmp_path / "outline.json"
    said = ["--garment", "2000,1800", "--floor-at", "100,100 200,120"]
    assert run(["outline", str(DEMO), "--json", str(out), *said]) == 0
    assert json.loads(out.read_text(encoding="utf-8"))["hints"] == [
        {"side": "garment", "points_px": [[2000.0, 1800.0]]},
        {"side": "floor", "points_px": [[100.0, 100.0], [200.0, 120.0]]},
    ]


def test_four_corners_of_a_card_are_asked_for(tmp_path, capsys):
    out = tmp_path / "outline.json"
    said = ["--reference-corners", "100,100 200,100 200,160"]
    assert run(["outline", str(DEMO), "--json", str(out), *said]) == 2
    assert "has four corners, and 3 were given" in capsys.readouterr().err
    assert not out.exists()


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (None, "nothing of known size"),  # it is the only one
        ("100,100", "Nothing at 100,100 was taken for a card or sheet"),
    ],
)
def test_what_is_said_to_be_no_card_is_not_measured_by(tmp_path, capsys, place, words):
    out = tmp_path / "outline.json"
    card = json.loads(DEMO.with_suffix(".truth.json").read_text(encoding="utf-8"))["references"][0]["corners_px"]
    x, y = (sum(corner[k] for corner in card) / 4 for k in (0, 1))
    assert run(["outline", str(DEMO), "--json", str(out), "--no-reference", place or f"{x},{y}"]) == 2
    assert words in capsys.readouterr().err
    assert not out.exists()
