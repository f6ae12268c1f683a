"""The drawer on the page: kept, found, opened, grown, compared, renamed, put away; on a drawer of the test's own."""

import xml.etree.ElementTree as ET

import ezdxf
import pytest
from page.conftest import HOST, OWN
from paper.reading import open_pdf
from pieces.test_growing import kept
from starlette.testclient import TestClient

from outgrown.drawer.archive import write_pattern_json
from outgrown.drawer.keeping import prepare_pattern, put_in
from outgrown.drawer.place import Drawer
from outgrown.page.app import make_app
from outgrown.page.guard import Doorkeeper
from outgrown.page.workshop import Workshop


@pytest.fixture
def drawer(tmp_path):
    place = Drawer(tmp_path / "drawer")
    for name, whom in (("Striped leggings", "Zoë, 104 cm"), ("<b>Dots</b>", "Mika, 110 cm")):
        content = write_pattern_json(kept()).encode("utf-8")
        put_in(place, prepare_pattern(content, name=name, for_whom=whom))
    return place


@pytest.fixture
def page(drawer, tmp_path):
    (tmp_path / "desk").mkdir()
    app = make_app(Doorkeeper({HOST}), workshop=Workshop(benches=1), folder=tmp_path / "desk", drawer=drawer.folder)
    with TestClient(app, base_url=f"http://{HOST}", raise_server_exceptions=False) as client:
        client.headers.update(OWN)
        yield client


def entries(page, **query):
    return page.get("/api/drawer", params=query).json()["entries"]


def test_patterns_are_listed_found_and_shown(page):
    assert {e["name"] for e in entries(page)} == {"Striped leggings", "<b>Dots</b>"}
    (one,) = entries(page, words="zoe stripe")
    assert one["for_whom"] == "Zoë, 104 cm" and one["can_open"]
    picture = page.get(f"/api/drawer/{one['id']}/pictures/drawing")
    assert picture.headers["content-type"] == "image/png" and picture.content.startswith(b"\x89PNG")
    assert page.get(f"/api/drawer/{one['id']}/pictures/photo").status_code == 404
    assert page.get(f"/api/drawer/{one['id']}/pictures/..%2Fentry.json").status_code == 404


def test_an_opened_pattern_is_printed_and_grown(page):
    (one,) = entries(page, words="stripe")
    work = page.post(f"/api/drawer/{one['id']}/open", json={}).json()["work"]
    as_kept = page.post(f"/api/works/{work}/pattern", json={"answers": {}}).json()["pattern"]
    assert as_kept["title"] == "Striped leggings" and not as_kept["sizes"]
    answers = {"height_then_mm": "104", "height_now_mm": "110", "paper": "letter"}
    grown = page.post(f"/api/works/{work}/pattern", json={"answers": answers}).json()["pattern"]
    assert grown["sizes"] and grown["svg"] != as_kept["svg"]
    document = open_pdf(page.get(f"/api/works/{work}/files/pattern.pdf").content)
    assert document[0].get_size() == pytest.approx((612, 792), abs=0.01)
    again = page.post(f"/api/works/{work}/keep", json={}).json()
    assert again["is_new"] and len(entries(page)) == 3


@pytest.mark.parametrize("form", ["tiles", "sheet", "projector", "svg", "dxf"])
def test_every_form_can_be_taken(page, form, tmp_path):
    work = page.post(f"/api/drawer/{entries(page)[0]['id']}/open", json={}).json()["work"]
    page.post(f"/api/works/{work}/pattern", json={"answers": {}})
    got = page.get(f"/api/works/{work}/paper", params={"form": form})
    assert got.status_code == 200 and f'filename="pattern-{form}.' in got.headers["content-disposition"]
    if form == "svg":
        assert ET.fromstring(got.text).tag.endswith("svg")
    elif form == "dxf":
        (tmp_path / "pattern.dxf").write_bytes(got.content)
        assert not ezdxf.readfile(tmp_path / "pattern.dxf").audit().errors
    else:
        assert len(open_pdf(got.content)) >= 1


@pytest.mark.parametrize(
    "query", [{"form": "clay"}, {"form": "tiles", "bar_across": "2 m"}, {"form": "sheet", "roll": "x"}]
)
def test_wishes_that_cannot_be_are_refused(page, query):
    work = page.post(f"/api/drawer/{entries(page)[0]['id']}/open", json={}).json()["work"]
    said = page.get(f"/api/works/{work}/paper", params=query)
    assert said.status_code == 422 and said.json()["problem"]


def test_two_are_compared(page):
    first, second = entries(page)
    found = page.post("/api/drawer/compare", json={"first": first["id"], "second": second["id"]}).json()
    assert ET.fromstring(found["svg"]).tag.endswith("svg")
    assert {row["more"] for row in found["lengths"]} == {"0"}
    assert "<b>" not in found["svg"]
    assert page.post("/api/drawer/compare", json={"first": first["id"]}).status_code == 404


def test_renamed_noted_put_away_and_taken_out_again(page):
    (one,) = entries(page, words="dots")
    path = f"/api/drawer/{one['id']}"
    assert page.post(f"{path}/rename", json={"name": "Dotted", "for_whom": "Mika"}).json()["name"] == "Dotted"
    assert page.post(f"{path}/rename", json={"name": "  "}).status_code == 422
    assert page.post(f"{path}/note", json={"text": "sew with the stretch stitch"}).json()["notes"].startswith("sew")
    assert page.post(f"{path}/bin", json={}).status_code == 200
    assert [e["name"] for e in entries(page)] == ["Striped leggings"]
    assert [e["name"] for e in entries(page, binned="1")] == ["Dotted"]
    assert page.post(f"{path}/restore", json={}).status_code == 200
    assert len(entries(page)) == 2
    assert page.post("/api/drawer/nothing/bin", json={}).status_code == 404
