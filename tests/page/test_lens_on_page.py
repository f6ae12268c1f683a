"""A lens learned on the page: the sheet to print, photos of it, and that later photos are measured with it."""

import time

import pytest
import scenes
from page.conftest import FIXTURES, HOST, OWN, wait_for
from paper.reading import open_pdf
from starlette.testclient import TestClient

from outgrown.page.app import make_app
from outgrown.page.guard import Doorkeeper
from outgrown.page.workshop import Workshop

VIEWS = ((3, 30, 165, 4), (26, 0, 205, 0), (26, 180, 205, 0), (28, 90, 200, 180))


@pytest.fixture
def page(tmp_path, monkeypatch):
    monkeypatch.setenv("OUTGROWN_DATA", str(tmp_path / "data"))
    (tmp_path / "desk").mkdir()
    app = make_app(Doorkeeper({HOST}), workshop=Workshop(benches=1), folder=tmp_path / "desk")
    with TestClient(app, base_url=f"http://{HOST}", client=("127.0.0.1", 50000)) as client:
        client.headers.update(OWN)
        yield client


def learn(page, photos, seconds=90.0):
    key = None
    for number, content in enumerate(photos):
        said = page.post(f"/api/lens?name={number}.jpg" + (f"&work={key}" if key else ""), content=content)
        assert said.status_code == 200, said.text
        key = said.json()["work"]
    page.post(f"/api/lens/{key}/learn", json={})
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        state = page.get(f"/api/lens/{key}").json()
        if state["ended"]:
            return state
        time.sleep(0.05)
    raise AssertionError("the lens was not learned in time")


def test_sheets_to_print_are_those_of_the_library(page):
    assert len(open_pdf(page.get("/api/lens/sheets/targets.pdf?paper=letter").content)) == 3
    assert len(open_pdf(page.get("/api/lens/sheets/lens-sheet.pdf").content)) == 1
    assert page.get("/api/lens/sheets/other.pdf").status_code == 404
    assert page.get("/api/lens/sheets/targets.pdf?paper=b9").status_code == 422


def test_a_lens_is_learned_and_a_photo_on_the_desk_is_measured_with_it(page, tmp_path):
    shots = []
    for tilt, lean, height, roll in VIEWS:
        shot = scenes.Shot(1000, 750, 26.0, height, tilt, lean, roll, (0, 0), 0.03)
        scene = scenes.Scene(shot=shot, shape=None, things=(scenes.Thing("lens-sheet"),), floor=scenes.Floor("sheet"))
        scenes.write_jpeg(scenes.render(scene), tmp_path / "shot.jpg")
        shots.append((tmp_path / "shot.jpg").read_bytes())
    key = page.post("/api/photos?name=card.jpg", content=(FIXTURES / "card.jpg").read_bytes()).json()["work"]
    assert wait_for(page, key)["state"] == "done"
    page.post(f"/api/works/{key}/again", json={"role": "front"})
    assert wait_for(page, key)["state"] == "done"
    before = page.app.state.page.desk.find(key).photos["front"].ticket
    found = learn(page, shots)
    assert found["state"] == "done", found
    assert found["camera"] == "Larkfield Pebble 3" and found["photos"] == len(VIEWS)
    assert found["k1"] == pytest.approx(0.03, abs=0.005)
    assert list((tmp_path / "data" / "lenses").glob("*.json"))
    # Looked at again, and not remembered from before.
    page.post(f"/api/works/{key}/again", json={"role": "front"})
    assert page.app.state.page.desk.find(key).photos["front"].ticket is not before
    assert wait_for(page, key)["state"] == "done"


def test_what_teaches_no_lens_is_refused_and_nothing_kept(page, tmp_path):
    photo = (FIXTURES / "card.jpg").read_bytes()
    state = learn(page, [photo])
    assert state["state"] == "refused" and "4 at least" in state["problem"] and state["advice"]
    assert page.post("/api/lens?name=a.jpg", content=b"no photo at all, only words").status_code == 415
    assert page.get("/api/lens/nothing").status_code == 404
    assert not (tmp_path / "data").exists()


def test_more_photos_than_are_needed_are_refused(page):
    key = None
    for _ in range(12):
        key = page.post("/api/lens?name=a.jpg" + (f"&work={key}" if key else ""), content=b"\xff\xd8\xff" + bytes(40))
        key = key.json()["work"]
    said = page.post(f"/api/lens?name=a.jpg&work={key}", content=b"\xff\xd8\xff" + bytes(40))
    assert said.status_code == 503 and "six" in said.json()["advice"]
