"""`outgrown pattern` with one photo and two, told and said; the photo itself is measured once."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from outgrown import steps
from outgrown.cli import run
from outgrown.photo import read_photo

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
CARD, OTHER = FIXTURES / "card.jpg", FIXTURES / "letter.jpg"


@pytest.fixture(scope="module")
def measured_once():
    return steps.trace_outline(read_photo(CARD))


@pytest.fixture
def pattern(measured_once, tmp_path, monkeypatch, capsys):
    """Return a function that runs the command on the fixture photo, measured beforehand."""
    monkeypatch.chdir(tmp_path)
    # A second photo is another picture, taken for measured alike.
    monkeypatch.setattr(steps, "trace_outline", lambda photo, **_: replace(measured_once, photo=photo))

    def run_with(*words):
        status = run(["pattern", str(CARD), *words, "--out", "made"])
        said = capsys.readouterr()
        kept = tmp_path / "made" / "pattern.json"
        return status, said.out, said.err, json.loads(kept.read_text(encoding="utf-8")) if kept.exists() else None

    return run_with


def test_one_photo_tells_what_it_was_taken_for_what_is_lost_and_how_to_correct_it(pattern):
    status, out, _, kept = pattern()
    assert status == 0
    assert "Taken for leggings folded lengthwise" in out and "--laid open" in out
    assert "front and back are cut alike" in out
    assert "elastic's length is not known" in out and "--waist" in out  # it stands in no cut list
    assert kept["provenance"]["taken"] == {"kind": "leggings", "laid": "folded"}


def test_two_photos_say_the_numbers_of_the_walk(pattern, tmp_path):
    status, out, _, kept = pattern("--back", str(OTHER), "--side-seam")
    assert status == 0
    assert "walked along each other" in out and "after truing" in out and "180° together is smooth" in out
    assert [piece["name"] for piece in kept["pieces"]] == ["front", "back"]
    assert [seam["seam"] for seam in kept["provenance"]["walked"]] == ["inseam", "side"]
    assert (tmp_path / "made" / "check-back.png").exists()
    assert kept["choices"]["side_seam"] is True


def test_one_file_is_not_taken_for_both_sides_of_a_pair(pattern, tmp_path):
    status, _, err, kept = pattern("--back", str(CARD))
    assert status == 2 and kept is None
    assert "“card.jpg” was given as fronts and as backs. Fold the pair with its backs out" in err
    (tmp_path / "copy.jpg").write_bytes(CARD.read_bytes())
    assert "“card.jpg” and “copy.jpg” are the same file" in pattern("--back", "copy.jpg")[2]


def test_one_picture_sent_again_is_not_taken_for_both_sides_of_a_pair(pattern, tmp_path):
    with Image.open(CARD) as picture:
        picture.resize((picture.width // 2, picture.height // 2)).save(tmp_path / "sent.jpg", quality=80)
    status, _, err, kept = pattern("--back", "sent.jpg")
    assert status == 2 and kept is None
    assert "“card.jpg” and “sent.jpg” are the same picture" in err


def test_the_persons_word_is_taken(pattern):
    status, out, _, kept = pattern("--kind", "skirt", "--whole", "--allowance", "outline=12mm")
    assert status == 0
    assert "Taken for a skirt" in out
    assert kept["title"] == "skirt"
    (edge,) = kept["pieces"][0]["edges"]
    assert (edge["name"], edge["allowance_mm"]) == ("outline", 12.0)


def test_what_changes_nothing_is_told(pattern):
    status, out, _, _ = pattern("--whole", "--edge-is", "cut", "--share-up-to", "9mm", "--bar", "149mm")
    assert status == 0
    for option in ("--whole", "--edge-is", "--share-up-to"):
        assert f"({option}) changed nothing: " in out
    assert "changed nothing" not in pattern("--waist", "52cm", "--replace")[1]


def test_a_drawer_without_keeping_and_jobs_without_several_photos_are_refused(pattern):
    for words, said in (
        (("--drawer", "box"), "--drawer is for --keep"),
        (("--jobs", "2"), "--jobs is for several photos"),
    ):
        status, _, err, kept = pattern(*words)
        assert status == 2 and kept is None
        assert said in err


def test_what_the_outline_is_not_is_refused_in_one_sentence_and_nothing_is_written(pattern):
    status, _, err, kept = pattern("--laid", "open")
    assert status == 2 and kept is None
    assert "does not look like leggings laid open" in err


@pytest.mark.parametrize("words", [["--laid", "open"], ["--kind", "t-shirt"]])
def test_two_photos_are_of_folded_legs_only(pattern, words):
    status, _, err, kept = pattern("--back", str(OTHER), *words)
    assert status == 2 and kept is None
    assert "fronts out and backs out" in err


def test_waist_pulled_flat_band_and_cuff_heights_are_taken(pattern):
    status, out, _, kept = pattern(
        *("--waist-flat", "27cm", "--hem", "ribbed-cuff", "--cuff-height", "45mm"),
        *("--waist-finish", "folded-band", "--band-height", "2in", "--waist", "52cm"),
    )
    assert status == 0
    rows = {row["name"]: row for row in kept["cut_list"]}
    assert rows["ribbed cuff"]["width_mm"] == pytest.approx(2 * 45 + 12)
    assert rows["waistband"]["width_mm"] == pytest.approx(2 * 50.8 + 12)
    assert kept["choices"]["waist_flat_mm"] == pytest.approx(270.0)
    assert "ribbed cuff" in out
