"""The commands as a person runs them, on photos whose truth is known."""

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from ring_error import measure_ring_error

from outgrown.cli import run

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"

# A hand with tape and felt pen is good to 2 to 5 mm; the photo must be better than the pen.
P95_MM = 2.0
LENGTH_SHARE = 0.005


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture(scope="session")
def traced(tmp_path_factory):
    """Return name -> (outline JSON, truth) for the fixture photos, each measured once."""
    folder = tmp_path_factory.mktemp("outlines")
    results = {}
    for name in ("card", "a4", "letter"):
        target = folder / f"{name}.json"
        assert run(["outline", str(FIXTURES / f"{name}.jpg"), "--json", str(target)]) == 0
        truth = json.loads((FIXTURES / f"{name}.truth.json").read_text(encoding="utf-8"))
        results[name] = (json.loads(target.read_text(encoding="utf-8")), truth)
    return results


@pytest.mark.parametrize("name", ["card", "a4", "letter"])
def test_the_outline_is_true_to_the_garment(traced, name):
    measured, truth = traced[name]
    error = measure_ring_error(np.array(measured["outline_mm"]), np.array(truth["ring_mm"]))
    assert np.percentile(error, 95) < P95_MM


@pytest.mark.parametrize("name", ["card", "a4", "letter"])
def test_lengths_are_true_to_half_a_percent(traced, name):
    measured, truth = traced[name]
    spans = [longest(np.array(ring)) for ring in (measured["outline_mm"], truth["ring_mm"])]
    assert abs(spans[0] / spans[1] - 1) < LENGTH_SHARE


@pytest.mark.parametrize(("name", "kind"), [("card", "id-1"), ("a4", "a4"), ("letter", "letter")])
def test_the_outline_keeps_its_contract(traced, name, kind):
    measured, _ = traced[name]
    ring, pixels = np.array(measured["outline_mm"]), np.array(measured["outline_px"])
    assert measured["schema"] == "outgrown-outline/1" and measured["units"] == "mm"
    assert ring.shape == pixels.shape and np.isfinite(ring).all()
    assert not np.allclose(ring[0], ring[-1])
    x, y = ring[:, 0], ring[:, 1]
    assert np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) > 0
    assert [r["kind"] for r in measured["references"]] == [kind]
    assert np.shape(measured["references"][0]["corners_px"]) == (4, 2)
    assert 2500 < measured["focal_px"] < 3500
    assert 0 <= measured["tilt_deg"] < 30
    assert 0 < measured["expected_error_mm"]["median"] < measured["expected_error_mm"]["p95"]
    assert isinstance(measured["warnings"], list)


def longest(ring):
    some = ring[:: max(1, len(ring) // 500)]
    return max(np.linalg.norm(some - point, axis=1).max() for point in some)


def test_demo_ends_with_a_printable_pattern(here, capsys):
    assert run(["demo"]) == 0
    said = capsys.readouterr().out
    folder = here / "outgrown-demo"
    assert sorted(p.name for p in folder.iterdir()) == ["check.png", "pattern.json", "pattern.pdf", "pattern.svg"]
    for words in (
        "inseam",
        "outer length",
        "rise",
        "half waist",
        "half thigh",
        "half hem",
        "Expected error",
        "elastic",
    ):
        assert words in said
    assert (folder / "pattern.pdf").read_bytes().startswith(b"%PDF")
    pattern = json.loads((folder / "pattern.json").read_text(encoding="utf-8"))
    assert pattern["schema"].startswith("outgrown-pattern/")
    with Image.open(folder / "check.png") as check:
        assert check.width >= 1200
    before = {p.name: p.read_bytes() for p in folder.iterdir()}
    assert run(["demo"]) == 2
    assert "already holds" in capsys.readouterr().err
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before


def photo_of(path, pixels):
    Image.fromarray(pixels).save(path)
    return str(path)


def refused(capsys, folder, arguments):
    """Run, and return the one sentence said; nothing may be written."""
    before = sorted(p.name for p in folder.rglob("*"))
    status = run(arguments)
    said = capsys.readouterr()
    assert status == 2, said.err
    assert said.out == ""
    assert "Traceback" not in said.err and len(said.err.strip().splitlines()) == 1
    assert sorted(p.name for p in folder.rglob("*")) == before
    return said.err


def test_a_photo_without_reference_is_refused(here, capsys):
    pixels = np.full((900, 1200, 3), 200, np.uint8)
    pixels[200:700, 300:900] = (40, 60, 120)
    said = refused(capsys, here, ["pattern", photo_of(here / "plain.png", pixels)])
    assert "known size" in said and "card" in said


def test_a_dark_blur_is_refused(here, capsys):
    rng = np.random.default_rng(0)
    pixels = np.clip(rng.normal(12, 3, (900, 1200, 3)), 0, 255).astype(np.uint8)
    refused(capsys, here, ["pattern", photo_of(here / "dark.png", pixels)])


def test_a_text_file_is_refused(here, capsys):
    (here / "note.jpg").write_text("elastic, thread", encoding="utf-8")
    assert "not a photo" in refused(capsys, here, ["pattern", "note.jpg"])


def test_a_single_pixel_is_refused(here, capsys):
    photo_of(here / "dot.png", np.zeros((1, 1, 3), np.uint8))
    assert "1 x 1" in refused(capsys, here, ["pattern", "dot.png"])


def test_a_missing_photo_is_refused(here, capsys):
    assert "no file" in refused(capsys, here, ["pattern", "gone.jpg"])


def test_a_target_that_is_a_file_is_refused(here, capsys):
    (here / "there").write_text("kept", encoding="utf-8")
    refused(capsys, here, ["pattern", str(FIXTURES / "a4.jpg"), "--out", "there"])
    assert (here / "there").read_text(encoding="utf-8") == "kept"


def test_a_target_under_a_file_is_refused(here, capsys):
    (here / "there").write_text("kept", encoding="utf-8")
    refused(capsys, here, ["outline", str(FIXTURES / "a4.jpg"), "--json", "there/outline.json"])


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--waist", "wide"], "not a length"),
        (["--waist", "-5cm"], "not a length"),
        (["--allowance", "collar=6mm"], "not an allowance"),
        (["--allowance", "inseam=900mm"], "between 0 and 150 mm"),
        (["--hem", "lettuce"], "lettuce"),
        (["--cuff-height", "5cm"], "--hem ribbed-cuff"),
        (["--thickness", "2in"], "does not lie flat"),
        (["--waist-finish", "casing", "--band-height", "6cm"], "--waist-finish folded-band"),
        (["--paper", "a9"], "a9"),
        (["--no-such-thing"], "no-such-thing"),
    ],
)
def test_a_choice_that_cannot_be_is_told_in_one_sentence(here, capsys, options, words):
    assert words in refused(capsys, here, ["pattern", str(FIXTURES / "a4.jpg"), *options])


def test_outline_wants_to_know_where_to_write(here, capsys):
    assert "--json" in refused(capsys, here, ["outline", str(FIXTURES / "a4.jpg")])


def test_an_existing_outline_is_not_written_over(here, capsys):
    (here / "o.json").write_text("mine", encoding="utf-8")
    assert "already" in refused(capsys, here, ["outline", str(FIXTURES / "a4.jpg"), "--json", "o.json"])
    assert (here / "o.json").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("options", [["--json", "one", "--check", "one"], ["--check", "pair.jpg", "--replace"]])
def test_outline_does_not_write_two_things_to_one_place_nor_over_its_photo(here, capsys, options):
    photo = (FIXTURES / "a4.jpg").read_bytes()
    (here / "pair.jpg").write_bytes(photo)
    assert "different files" in refused(capsys, here, ["outline", "pair.jpg", *options])
    assert (here / "pair.jpg").read_bytes() == photo


@pytest.mark.parametrize("options", [[], ["--replace"]])
def test_a_folder_is_no_place_for_the_outline_and_the_advice_can_be_followed(here, capsys, options):
    (here / "there").mkdir()
    said = refused(capsys, here, ["outline", str(FIXTURES / "a4.jpg"), "--json", "there", *options])
    assert "is a folder" in said and "--out" not in said


def test_a_folder_that_is_not_there_is_told_before_any_work_is_done(here, capsys, monkeypatch):
    monkeypatch.setattr("outgrown.cli.outline.trace_photo", lambda *_: pytest.fail("work in vain"))
    said = refused(capsys, here, ["outline", str(FIXTURES / "a4.jpg"), "--json", "gone/o.json"])
    assert "no folder “gone”" in said
