"""Lens profiles as files: the documented form, what is refused, and the shelf they are kept on."""

import json

import numpy as np
import pytest

from outgrown.arrays import frozen_bytes
from outgrown.camera.profile import Doubts, LensError, LensProfile
from outgrown.drawer.lens_json import read_lens_json, write_lens_json
from outgrown.drawer.lens_shelf import find_lens, lens_folder, read_lens, write_lens
from outgrown.photo import Photo

LEAST = {
    "schema": "outgrown-lens/1",
    "width_px": 4032,
    "height_px": 3024,
    "focal_px": 3028.7,
    "centre_px": [2015.5, 1511.5],
    "distortion": [0.05, 0.0, 0.0, 0.0, 0.0],
}
PROFILE = LensProfile(
    4032, 3024, 3028.7, (2020.0, 1500.0), (0.05, -0.01, 0.0, 0.0, 0.0), 1, "Larkfield", "Pebble 3", 4.26, 26.0,
    Doubts(0.0001, 0.2, 0.0003, 0.1), 6,
)  # fmt: skip


@pytest.fixture(autouse=True)
def shelf(tmp_path, monkeypatch):
    monkeypatch.setenv("OUTGROWN_DATA", str(tmp_path / "data"))


def photo(**facts):
    told = {"make": "Larkfield", "model": "Pebble 3", "focal_mm": 4.26, "focal_35_mm": 26.0}
    return Photo(frozen_bytes(np.zeros((300, 400, 3), np.uint8)), **told | facts)


def test_the_six_documented_fields_are_enough():
    profile = read_lens_json(json.dumps(LEAST))
    assert (profile.focal_px, profile.centre_px, profile.distortion[0]) == (3028.7, (2015.5, 1511.5), 0.05)
    assert profile.quarter_turns is None


def test_a_profile_comes_back_as_it_was_written():
    assert read_lens_json(write_lens_json(PROFILE)) == PROFILE


@pytest.mark.parametrize(
    "change",
    [
        {"schema": "outgrown-lens/9"},
        {"focal_px": 0},
        {"focal_px": "wide"},
        {"focal_px": float("nan")},
        {"width_px": -4},
        {"centre_px": [1, 2, 3]},
        {"centre_px": [9000, 10]},
        {"distortion": [0.1, 0.2]},
        {"distortion": [50, 0, 0, 0, 0]},
        {"distortion": None},
        {"doubts": 3},
    ],
)
def test_what_cannot_be_a_lens_is_refused_with_advice(change):
    with pytest.raises(LensError) as refused:
        read_lens_json(json.dumps(LEAST | change), "mine.json")
    assert "mine.json" in refused.value.problem
    assert refused.value.advice


@pytest.mark.parametrize("text", ["", "[]", "{}", "null", "\x00", '{"schema": 1}'])
def test_other_files_are_refused(text):
    with pytest.raises(LensError):
        read_lens_json(text)


def test_a_kept_lens_is_found_again_by_its_photos_only():
    path = write_lens(PROFILE)
    assert path.parent == lens_folder()
    assert find_lens(photo()) == PROFILE
    assert find_lens(photo(model="Pebble 4")) is None
    assert find_lens(photo(focal_mm=2.0)) is None


def test_learning_again_takes_the_place_of_the_older_one():
    write_lens(PROFILE)
    newer = LensProfile(**vars(PROFILE) | {"focal_px": 3000.0})
    write_lens(newer)
    assert len(list(lens_folder().glob("*.json"))) == 1
    assert find_lens(photo()) == newer


def test_a_broken_file_on_the_shelf_is_passed_over():
    write_lens(PROFILE)
    (lens_folder() / "aa.json").write_text("{", encoding="utf-8")
    assert find_lens(photo()) == PROFILE


def test_a_lens_without_a_name_is_not_kept():
    with pytest.raises(LensError, match="--out FILE"):
        write_lens(LensProfile(**vars(PROFILE) | {"make": "", "model": ""}))


def test_a_missing_file_is_refused(tmp_path):
    with pytest.raises(LensError, match="cannot be read"):
        read_lens(tmp_path / "none.json")
