"""Attacks and accidents: others' sites, strange paths, too much, broken photos, a worker that dies."""

import os
import signal
import struct
import threading
import time
import zlib

import pytest
from page.conftest import FIXTURES, HOST, OWN, wait_for
from starlette.testclient import TestClient

from outgrown.page.app import make_app
from outgrown.page.guard import COOKIE, Doorkeeper
from outgrown.page.receiving import MOST_PHOTO_BYTES
from outgrown.page.workshop import BusyError, State, Workshop


@pytest.mark.parametrize("host", ["evil.example", "evil.example:8765", "127.0.0.1", "127.0.0.1:8765.evil.example", ""])
def test_other_hosts_are_not_answered(page, host):
    """A name that was pointed at this computer by others reaches nothing."""
    said = page.get("/", headers={"host": host})
    assert said.status_code in (400, 421) and "main.js" not in said.text


@pytest.mark.parametrize("origin", ["http://evil.example", "null", f"https://{HOST}", "http://127.0.0.1:9999"])
def test_other_origins_change_nothing(page, origin):
    assert page.post("/api/sample", headers={"origin": origin}).status_code == 403
    assert page.get("/api/form", headers={"origin": origin}).status_code == 403


def test_changes_without_an_origin_are_refused(page):
    bare = TestClient(page.app, base_url=f"http://{HOST}")
    assert bare.post("/api/sample").status_code == 403
    assert page.post("/api/sample", headers={"sec-fetch-site": "cross-site"}).status_code == 403


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static/....//app.py",
        "/fonts/%2e%2e/pdf.py",
        "/api/works/../../etc/passwd",
        "/api/works/%2e%2e%2f%2e%2e%2fetc%2fpasswd/files/pattern.pdf",
    ],
)
def test_no_path_leads_out(page, path):
    said = page.get(path)
    assert said.status_code in (404, 405)
    assert "import" not in said.text and "root:" not in said.text


def test_file_names_are_from_a_list(page, card):
    for name in ("passwd", "..%2fcard.jpg", "pattern.pdf%00.png", "front-0.jpg"):
        assert page.get(f"/api/works/{card}/files/{name}").status_code == 404
    assert page.get(f"/api/works/{card}/photos/..%2ffront").status_code == 404


def test_every_answer_tells_browsers_to_be_careful(page, card):
    for path in ("/", "/static/main.js", f"/api/works/{card}", "/nowhere"):
        headers = page.get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["x-frame-options"] == "DENY"


def test_a_photo_said_to_be_too_large_is_refused_before_it_is_sent(page):
    said = page.post("/api/photos", headers={"content-length": str(2_000_000_000)}, content=b"\xff\xd8\xff")
    assert said.status_code == 413 and "80 MB" in said.json()["problem"]


def test_a_photo_that_grows_too_large_on_the_way_is_cut_off_and_leaves_nothing(page):
    sent = 0

    def endless():
        nonlocal sent
        yield b"\xff\xd8\xff" + bytes(13)
        while sent < 4 * MOST_PHOTO_BYTES:
            sent += 1 << 20
            yield bytes(1 << 20)

    said = page.post("/api/photos", content=endless())
    assert said.status_code == 413
    folder = page.app.state.page.desk._folder
    assert not [path for path in folder.rglob("*") if path.is_file() and path.stat().st_size > MOST_PHOTO_BYTES]


@pytest.mark.parametrize(
    "content", [b"", b"hello there, this is text", b"%PDF-1.7 and so on and so on", b"PK\x03\x04" + bytes(50)]
)
def test_what_is_no_photo_is_refused_by_its_first_bytes(page, content):
    said = page.post("/api/photos?name=photo.jpg", content=content)
    assert said.status_code == 415 and "not a photo" in said.json()["problem"]


def test_a_small_file_that_would_unpack_to_gigabytes_is_refused_from_its_header(page):
    """30,000 x 30,000 pixels of one colour in a few kilobytes of PNG."""

    def chunk(name, data):
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    bomb = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", 30000, 30000, 8, 2, 0, 0, 0))
    bomb += chunk(b"IDAT", zlib.compress(bytes(10_000_000), 9)) + chunk(b"IEND", b"")
    key = page.post("/api/photos?name=small.png", content=bomb).json()["work"]
    photo = wait_for(page, key)
    assert photo["state"] == "refused" and "megapixels" in photo["problem"]


def test_a_script_in_a_name_stays_text(page, card):
    name = "<script>alert(1)</script><img src=x onerror=alert(2)>"
    said = {"answers": {"title": name, "for_whom": '"><svg onload=1>'}}
    made = page.post(f"/api/works/{card}/pattern", json=said)
    if made.status_code == 409:  # photos of other tests took its place, and it is looked at again
        assert wait_for(page, card)["state"] == "done"
        made = page.post(f"/api/works/{card}/pattern", json=said)
    made = made.json()
    assert made["pattern"]["title"] == name
    assert "<script" not in made["pattern"]["svg"] and "<img" not in made["pattern"]["svg"]
    assert "&lt;script&gt;" in made["pattern"]["svg"]


def test_a_photo_s_name_is_never_a_path(page):
    sent = page.post(
        "/api/photos?name=..%2F..%2Fetc%2Fpasswd%00.jpg", content=(FIXTURES / "card.jpg").read_bytes()[:5000]
    )
    state = page.get(f"/api/works/{sent.json()['work']}").json()
    assert state["photos"]["front"]["name"] == "passwd.jpg"


def test_a_killed_worker_loses_no_photo(page, shop):
    key = page.post("/api/photos?name=other.jpg", content=(FIXTURES / "card.jpg").read_bytes()).json()["work"]
    until = time.monotonic() + 20
    while page.get(f"/api/works/{key}").json()["photos"]["front"]["state"] != "working" and time.monotonic() < until:
        time.sleep(0.01)
    while not shop.processes() and time.monotonic() < until:
        time.sleep(0.01)
    for pid in shop.processes():
        os.kill(pid, signal.SIGKILL)
    photo = wait_for(page, key)
    assert photo["state"] == "crashed" and "Your photo is safe" in photo["advice"]
    page.post(f"/api/works/{key}/again", json={})
    assert wait_for(page, key)["state"] == "done"


def test_work_can_be_stopped_waiting_or_begun(page):
    photo = (FIXTURES / "card.jpg").read_bytes()
    keys = [page.post("/api/photos", content=photo).json()["work"] for _ in range(2)]
    for key in reversed(keys):
        assert page.post(f"/api/works/{key}/stop", json={}).status_code == 200
        assert wait_for(page, key)["state"] == "stopped"


def test_what_is_not_on_the_desk_is_said_to_be_gone(page):
    for ask in (page.get, page.post):
        path = "/api/works/abcdefghijkl" + ("" if ask == page.get else "/pattern")
        said = ask(path)
        assert said.status_code == 404 and "no longer on the desk" in said.json()["problem"]


class TestPhones:
    @pytest.fixture
    def home(self, tmp_path):
        keeper = Doorkeeper({HOST, "192.168.7.7:8765"}, asks_code=True)
        app = make_app(keeper, address="http://192.168.7.7:8765", workshop=Workshop(benches=1), folder=tmp_path)
        phone = TestClient(
            app, base_url="http://192.168.7.7:8765", client=("192.168.7.9", 40000), follow_redirects=False
        )
        computer = TestClient(app, base_url=f"http://{HOST}", client=("127.0.0.1", 40000))
        yield keeper, phone, computer
        app.state.page.desk.workshop.close()

    def test_a_phone_comes_in_with_a_code_and_only_once(self, home):
        _, phone, computer = home
        assert phone.get("/").status_code == 401
        shown = computer.get("/api/phone").json()
        assert shown["qr"].startswith("<svg")
        path = shown["address"].removeprefix("http://192.168.7.7:8765")
        came = phone.get(path)
        assert came.status_code == 303 and "HttpOnly" in came.headers["set-cookie"]
        assert "samesite=lax" in came.headers["set-cookie"].lower()
        assert phone.get("/").status_code == 200
        other = TestClient(
            phone.app, base_url="http://192.168.7.7:8765", client=("192.168.7.10", 1), follow_redirects=False
        )
        assert other.get(path).status_code == 403
        other.cookies.set(COOKIE, "guessed")
        assert other.get("/").status_code == 401

    def test_codes_are_not_shown_to_phones_and_grow_old(self, home, monkeypatch):
        keeper, phone, computer = home
        path = computer.get("/api/phone").json()["address"].removeprefix("http://192.168.7.7:8765")
        later = time.monotonic() + 601
        monkeypatch.setattr("outgrown.page.guard.time.monotonic", lambda: later)
        assert phone.get(path).status_code == 403
        monkeypatch.undo()
        code = keeper.make_code()
        assert phone.get(f"/in/{code}").status_code == 303
        assert phone.get("/api/phone").json() == {"address": "", "qr": ""}


def test_the_queue_is_bounded_and_stops_where_it_is_asked_to():
    shop = Workshop(benches=1, most_waiting=3)
    try:
        tickets = []
        with pytest.raises(BusyError):
            for _ in range(9):
                tickets.append(shop.give("trace", {"path": "/nowhere/at/all.jpg", "name": "x"}))
        assert 3 <= len(tickets) <= 4
        with pytest.raises(BusyError):
            shop.check_room()
        for ticket in tickets[1:]:
            shop.stop(ticket)
        assert tickets[0].ended.wait(30) and tickets[0].state is State.REFUSED
        assert all(ticket.state is State.STOPPED for ticket in tickets[1:])
    finally:
        shop.close()
    assert not shop.processes()
    assert not [t for t in threading.enumerate() if t.name.startswith("bench") and t.is_alive() and not t.daemon]
    assert OWN["host"] == HOST
