"""`outgrown lay --cloth` on drawn photos whose cloth is known."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import scenes
from cloths import make_band, make_front, make_pattern
from PIL import Image
from ring_error import align_rigidly
from shapely import LinearRing, Polygon, distance, points

from outgrown.cli import run
from outgrown.drawer.archive import write_pattern_json


@pytest.fixture(autouse=True)
def kept(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("doll").mkdir()
    pattern = replace(make_pattern(make_front(80, 230, 85, 45), make_band(220, 50), title="Doll"), cut_list=())
    (Path("doll") / "pattern.json").write_text(write_pattern_json(pattern), encoding="utf-8")


def render(number, **chosen):
    rendered = scenes.render(scenes.random_scene(number, width_px=1000, height_px=750, cloth_per_mm=1.5, **chosen))
    scenes.write_jpeg(rendered, "photo.jpg")
    return rendered


def draw(number, **chosen):
    scenes.write_truth(render(number, **chosen), "truth.json")
    return json.loads(Path("truth.json").read_text(encoding="utf-8"))


def carried(ring, moved, places):
    """Points carried by the rigid move that takes `ring` to `moved`."""
    a, b = ring - ring.mean(axis=0), moved - moved.mean(axis=0)
    turn = np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
    c, s = np.cos(turn), np.sin(turn)
    return (places - ring.mean(axis=0)) @ np.array([[c, s], [-s, c]]) + moved.mean(axis=0)


def test_pieces_lie_on_the_true_cloth_clear_of_its_edge_and_holes(capsys):
    truth = draw(103, garment="leftover", references=("letter",), floor_kind="tiles")
    assert run(["lay", "doll", "--cloth", "photo.jpg", "--grain-at", "20", "--seconds", "0.5", "--out", "out"]) == 0
    said = capsys.readouterr().out
    assert "It fits: all 3 pieces." in said and "Expected error" in said
    kept = json.loads(Path("out/lay.json").read_text(encoding="utf-8"))
    ring, true_ring = np.asarray(kept["cloth"]["ring_mm"]), np.asarray(truth["ring_mm"])[::8]
    assert len(kept["cloth"]["holes_mm"]) == len(truth["holes_mm"]) == 2
    moved = align_rigidly(ring, true_ring)
    assert np.percentile(distance(points(moved), LinearRing(true_ring)), 95) < 1.6  # the photo has a pixel a millimetre
    cloth = Polygon(true_ring)
    for hole in truth["holes_mm"]:
        cloth = cloth.difference(Polygon(hole))
    for piece in kept["pieces"]:
        shape = Polygon(carried(ring, moved, np.asarray(piece["ring_mm"])))
        assert cloth.covers(shape)
        assert cloth.boundary.distance(shape) > 2.0
    assert kept["cloth"]["margin_mm"] > 3.0
    with Image.open("out/lay.png") as picture:
        assert picture.mode == "RGB"


def test_the_check_picture_of_an_outline_shows_the_holes():
    holes_px = render(103, garment="leftover", references=("letter",), floor_kind="tiles").truth.holes_px
    assert run(["outline", "photo.jpg", "--check", "check.png"]) == 0
    with Image.open("check.png") as drawn:
        picture = np.asarray(drawn.convert("RGB")).astype(int)
    blue = np.abs(picture - (0, 114, 178)).max(axis=2) < 40
    assert len(holes_px) == 2
    for hole in holes_px:
        # The photo is drawn at twice its size.
        at = np.round(2 * np.asarray(hole) + 0.5).astype(int)
        assert np.mean([blue[y - 6 : y + 7, x - 6 : x + 7].any() for x, y in at]) > 0.95
