"""A page without a browser: asked as a browser of this household asks."""

import time
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from outgrown.page.app import make_app
from outgrown.page.guard import Doorkeeper
from outgrown.page.workshop import Workshop

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
HOST = "127.0.0.1:8765"
OWN = {"host": HOST, "origin": f"http://{HOST}", "sec-fetch-site": "same-origin"}


@pytest.fixture(scope="session")
def page(tmp_path_factory):
    """The page as an application, with one bench; photos lie in a folder of the test's."""
    app = make_app(Doorkeeper({HOST}), workshop=Workshop(benches=1), folder=tmp_path_factory.mktemp("desk"))
    with TestClient(
        app, base_url=f"http://{HOST}", client=("127.0.0.1", 50000), raise_server_exceptions=False
    ) as client:
        client.headers.update(OWN)
        yield client


@pytest.fixture(scope="session")
def shop(page):
    return page.app.state.page.desk.workshop


def wait_for(page, key, role="front", seconds=60.0):
    """Return the photo's state when there is nothing more to wait for."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        photo = page.get(f"/api/works/{key}").json()["photos"][role]
        if photo.get("ended"):
            return photo
        time.sleep(0.05)
    raise AssertionError("the photo was not done in time")


@pytest.fixture(scope="session")
def card(page):
    """The key of a garment whose photo is understood."""
    sent = page.post("/api/photos?name=card.jpg", content=(FIXTURES / "card.jpg").read_bytes())
    assert sent.status_code == 200, sent.text
    key = sent.json()["work"]
    assert wait_for(page, key)["state"] == "done"
    return key
