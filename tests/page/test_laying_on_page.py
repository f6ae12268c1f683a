"""Laying on the page: cloth off the roll, a measured shirt, a leftover in a photo."""

import json
import time
import xml.etree.ElementTree as ET
from io import BytesIO

import numpy as np
import pytest
import scenes
from page.conftest import FIXTURES, wait_for
from paper.reading import open_pdf
from PIL import Image
from shapely import Polygon


def lay(page, key, seconds=60.0, **said):
    begun = page.post(f"/api/works/{key}/lay", json=said)
    if begun.status_code != 200:
        return begun.status_code, begun.json()
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        state = page.get(f"/api/works/{key}/lay").json()
        if state["ended"]:
            return 200, state
        time.sleep(0.05)
    raise AssertionError("it was not laid in time")


@pytest.fixture(scope="module", autouse=True)
def pattern(page, card):
    page.post(f"/api/works/{card}/pattern", json={"answers": {"waist": "casing"}})


def test_cloth_off_the_roll(page, card):
    status, found = lay(page, card, how="width", width="150", folded=True)
    assert status == 200 and found["state"] == "done", found
    assert ET.fromstring(found["svg"]).tag.endswith("svg")
    placed = json.loads(page.get(f"/api/works/{card}/lay/lay.json").text)
    rings = [Polygon(one["ring_mm"]) for one in placed["pieces"]]
    assert rings and all(ring.is_valid for ring in rings)
    assert np.max([ring.bounds[3] for ring in rings]) < 750.0
    assert len(open_pdf(page.get(f"/api/works/{card}/lay/lay.pdf").content)) == 1


def test_a_measured_shirt_too_small_is_said_to_be(page, card):
    status, found = lay(page, card, how="shirt", shirt_width="30 cm", shirt_length="25 cm")
    assert status == 200 and found["state"] == "done", found
    assert "fit" in found["answer"]


def test_a_leftover_in_a_photo_is_drawn_on(page, card, tmp_path):
    status, answer = lay(page, card, how="photo")
    assert status == 404 and "no such photo" in answer["problem"]
    scene = scenes.random_scene(
        103,
        width_px=1000,
        height_px=750,
        cloth_per_mm=1.5,
        garment="leftover",
        references=("letter",),
        floor_kind="tiles",
    )
    scenes.write_jpeg(scenes.render(scene), tmp_path / "leftover.jpg")
    content = (tmp_path / "leftover.jpg").read_bytes()
    assert page.post(f"/api/photos?role=cloth&work={card}&name=leftover.jpg", content=content).status_code == 200
    assert wait_for(page, card, "cloth")["state"] == "done"
    status, found = lay(page, card, how="photo")
    assert status == 200 and found["state"] == "done" and found["has_photo"], found
    assert "fit" in found["answer"]
    assert page.get(f"/api/works/{card}/lay/lay.png").content.startswith(b"\x89PNG")
    # It is mended as a garment's photo is: brushed, and its edge pulled inward.
    seen = page.get(f"/api/works/{card}/seen/cloth").json()["outline"]
    hints = [["garment", [[500, 400]]], ["floor", [[8, 8]]]]
    page.post(f"/api/works/{card}/again", json={"role": "cloth", "hints": hints})
    assert wait_for(page, card, "cloth")["state"] == "done"
    middle = np.mean(seen, axis=0)
    pulls = [{"from": seen[0], "to": (0.7 * np.array(seen[0]) + 0.3 * middle).tolist()}]
    status, found = lay(page, card, how="photo", pulls=pulls)
    assert status == 200 and found["state"] == "done", found
    pulled = page.get(f"/api/works/{card}/seen/cloth").json()["outline"]
    assert Polygon(pulled).area < 0.995 * Polygon(seen).area
    edits = page.get(f"/api/works/{card}/said").json()["edits"]
    assert edits["pulls"]["cloth"] == pulls and edits["hints"]["cloth"][0][0] == "garment"


def test_what_is_pointed_at_on_a_cloth_has_the_pages_name(page, card):
    grey = BytesIO()
    Image.fromarray(np.random.default_rng(1).integers(90, 160, (900, 1200, 3), dtype=np.uint8)).save(grey, "JPEG")
    page.post(f"/api/photos?role=cloth&work={card}&name=bare.jpg", content=grey.getvalue())
    advice = wait_for(page, card, "cloth")["advice"]
    assert "“Point at the card”" in advice and "--" not in advice


def test_the_floor_of_a_cloth_and_the_bar_of_its_targets_are_said(page, card):
    content = (FIXTURES / "card.jpg").read_bytes()
    before = page.get(f"/api/works/{card}").json()["stamp"]

    def put(role):
        page.post(f"/api/photos?role={role}&work={card}&name={role}.jpg", content=content)
        return wait_for(page, card, "cloth")

    assert put("cloth")["state"] == "done"
    assert "not one of the empty floor" in put("cloth-floor")["problem"]  # it is the same picture
    told = page.get(f"/api/works/{card}").json()
    assert told["photos"]["front"]["state"] == "done" and told["stamp"] == before
    assert page.post(f"/api/works/{card}/photos/cloth-floor/away", json={}).status_code == 200
    assert wait_for(page, card, "cloth")["state"] == "done"
    page.post(f"/api/works/{card}/again", json={"role": "cloth", "bar": "148.6"})
    assert wait_for(page, card, "cloth")["state"] == "done"
    bars = page.get(f"/api/works/{card}/said").json()["edits"]["bars"]
    assert bars["cloth"] == "148.6 mm" and bars["front"] == ""
    # A floor belongs to the cloth photographed on it.
    put("cloth-floor")
    assert put("cloth")["state"] == "done"
    assert "cloth-floor" not in page.get(f"/api/works/{card}").json()["photos"]


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({}, "which cloth"),
        ({"how": "width"}, "not said"),
        ({"how": "width", "width": "wide"}, "not a length"),
        ({"how": "width", "width": "1 mm"}, "cannot be"),
    ],
)
def test_cloths_that_cannot_be_are_refused(page, card, said, words):
    status, answer = lay(page, card, **said)
    assert status == 422 and words in answer["problem"]


def test_nothing_is_shown_before_it_is_laid(page):
    key = page.post("/api/sample", json={}).json()["work"]
    assert page.get(f"/api/works/{key}/lay").status_code == 404
    assert page.post(f"/api/works/{key}/lay", json={"how": "width", "width": "150"}).status_code == 409
    page.post(f"/api/works/{key}/stop", json={})
