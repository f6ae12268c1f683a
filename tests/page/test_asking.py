"""What the page answers: the same as the library, in plain words."""

import json
import xml.etree.ElementTree as ET
from io import BytesIO

import numpy as np
import pytest
from page.conftest import FIXTURES, wait_for
from paper.reading import open_pdf, page_text
from PIL import Image

from outgrown.drawer.archive import read_pattern_json
from outgrown.geometry.polylines import length_mm
from outgrown.page.form import read_settings
from outgrown.page.questions import QUESTIONS
from outgrown.pieces.choices import Choices


def make(page, key, **said):
    return page.post(f"/api/works/{key}/pattern", json={"answers": {}, **said})


def test_a_photo_becomes_a_pattern(page, card):
    made = make(page, card, answers={"title": "Dotted leggings", "waist_mm": "52"}).json()
    assert made["pattern"]["title"] == "Dotted leggings"
    assert made["seen"]["front"]["corners"][0]["name"] == "waist-side"
    assert made["seen"]["front"]["references"][0]["name"] == "bank card"
    assert ET.fromstring(made["pattern"]["svg"]).tag.endswith("svg")
    # 52 without a unit are centimetres; 0.93 of the waist and 2 cm overlap.
    assert any("50.4 cm" in row["size"] for row in made["pattern"]["cut_list"])
    outline = np.array(made["seen"]["front"]["outline"])
    truth = json.loads((FIXTURES / "card.truth.json").read_text(encoding="utf-8"))
    assert outline.shape[1] == 2 and len(outline) > 50 and "ring_mm" in truth


def test_files_are_those_of_the_pattern_made_last(page, card):
    make(page, card, answers={"title": "Second name"})
    pdf = page.get(f"/api/works/{card}/files/pattern.pdf")
    assert pdf.headers["content-type"] == "application/pdf"
    assert pdf.headers["content-disposition"].startswith("inline")
    assert len(open_pdf(pdf.content)) > 3
    kept = read_pattern_json(page.get(f"/api/works/{card}/files/pattern.json?save").text)
    assert kept.title == "Second name"
    picture = Image.open(BytesIO(page.get(f"/api/works/{card}/files/check.png").content))
    assert picture.size[0] > 600


def test_a_bar_may_be_typed_in_inches_and_the_whole_bar_is_no_correction(page, card):
    make(page, card)
    ask = f"/api/works/{card}/paper?form=tiles"
    plain = open_pdf(page.get(ask).content)
    right = page.get(f"{ask}&corrected=1&bar_across=4 in")
    assert right.status_code == 200 and "unchanged" in page_text(open_pdf(right.content)[0])
    assert "unchanged" not in page_text(plain[0])
    whole = page.get(f"{ask}&bar_across=101.6")
    assert whole.status_code == 422 and "is the whole bar" in whole.json()["problem"]
    nothing = page.get(f"{ask}&corrected=1")
    assert nothing.status_code == 422 and "not said what the bars measure" in nothing.json()["problem"]


def test_pages_to_look_at_are_as_many_as_are_printed(page, card):
    make(page, card)
    pages = page.get(f"/api/works/{card}/pages").json()["pages"]
    document = open_pdf(page.get(f"/api/works/{card}/files/pattern.pdf").content)
    assert len(pages) == len(document)
    for svg, printed in zip(pages, document, strict=True):
        root = ET.fromstring(svg)
        wide = float(root.get("width").removesuffix("mm"))
        assert wide == pytest.approx(printed.get_size()[0] * 25.4 / 72, abs=0.01)


def test_a_pulled_edge_and_a_moved_corner_change_the_pattern_and_are_kept(page, card):
    before = make(page, card).json()
    seen = before["seen"]["front"]
    hem = np.mean([c["at"] for c in seen["corners"] if c["name"].startswith("hem")], axis=0)
    side = np.array(next(c["at"] for c in seen["corners"] if c["name"] == "waist-side"))
    start = min(seen["outline"], key=lambda p: np.hypot(*(np.array(p) - hem)))
    way = (hem - side) / np.hypot(*(hem - side)) * 40.0
    pulls = {"front": [{"from": start, "to": (np.array(start) + way).tolist()}]}
    crotch = next(c["at"] for c in seen["corners"] if c["name"] == "crotch")
    after = make(page, card, pulls=pulls, corners={"crotch": crotch}).json()
    assert after["pattern"]["svg"] != before["pattern"]["svg"]
    assert [c["name"] for c in after["seen"]["front"]["corners"] if c["moved"]] == ["crotch"]
    mended = page.get(f"/api/works/{card}/files/check.png").content
    kept = read_pattern_json(page.get(f"/api/works/{card}/files/pattern.json").text)
    assert len(kept.provenance["pulled"]) == 1
    assert kept.provenance["corners_moved"] == ["crotch"]
    make(page, card)
    assert page.get(f"/api/works/{card}/files/check.png").content != mended


def test_the_next_size_is_grown(page, card):
    made = make(page, card, answers={"height_then_mm": "104", "height_now_mm": "110"}).json()
    assert made["pattern"]["sizes"][0]["what"]
    kept = read_pattern_json(page.get(f"/api/works/{card}/files/pattern.json").text)
    assert kept.choices["grown"]["height_now_mm"] == 1100.0
    assert max(length_mm(edge.points_mm) for edge in kept.pieces[0].edges) > 300


def test_several_sizes_are_nested_in_one_print(page, card):
    base = {"height_then_mm": "104", "height_now_mm": "110"}
    made = make(page, card, answers={**base, "is_nested": True}).json()["pattern"]
    assert made["sizes"]
    first = page.get(f"/api/works/{card}/files/pattern.svg").text
    assert "104 cm" in first and "110 cm" in first and "116 cm" not in first
    # A unit said once, at the end, is that of all.
    for more in ("116, 122", "116; 122 cm", "116 and 122 cm", "116 cm, 122 cm"):
        assert make(page, card, answers={**base, "more_heights_mm": more}).status_code == 200
        svg = page.get(f"/api/works/{card}/files/pattern.svg").text
        assert all(f"{height} cm" in svg for height in (104, 110, 116, 122))
    # By the further heights alone.
    answers = {"height_then_mm": "104", "more_heights_mm": "116"}
    assert make(page, card, answers=answers).status_code == 200
    assert "116 cm" in page.get(f"/api/works/{card}/files/pattern.svg").text


@pytest.mark.parametrize(
    ("answers", "question", "words"),
    [
        ({"is_nested": True}, "is_nested", "no new size yet"),
        (
            {"height_then_mm": "104", "height_now_mm": "110", "more_heights_mm": "a lot"},
            "more_heights_mm",
            "not a length",
        ),
        (
            {"height_then_mm": "104", "height_now_mm": "110", "more_heights_mm": "116 mm"},
            "more_heights_mm",
            "cannot be",
        ),
        ({"height_then_mm": "104", "height_now_mm": "110", "more_heights_mm": "111 112 113"}, "more_heights_mm", ""),
        (
            {"height_then_mm": "104", "height_now_mm": "105", "more_heights_mm": "106, 107, 108, 109, 110"},
            "",
            "two to 6 sizes",
        ),
    ],
)
def test_sizes_that_cannot_be_nested_are_told(page, card, answers, question, words):
    said = make(page, card, answers=answers)
    assert said.status_code == 422 and words in said.json()["problem"] + said.json()["advice"]
    assert said.json()["question"] == question


def test_by_age_and_with_allowances_of_her_own(page, card):
    answers = {
        "age_then_months": "4",
        "age_now_months": "5y6m",
        "sex": "girl",
        "allowance_mm": "inseam 1 cm, hem: 1 1/2 in",
    }
    assert make(page, card, answers=answers).status_code == 200
    kept = read_pattern_json(page.get(f"/api/works/{card}/files/pattern.json").text)
    assert kept.choices["grown"]["age_now_months"] == 66.0
    own = {str(edge.name): edge.allowance_mm for edge in kept.pieces[0].edges}
    assert own["inseam"] == 10.0 and own["hem"] == pytest.approx(38.1)
    assert make(page, card, answers={"allowance_mm": "inseam=1cm"}).status_code == 200


def test_what_is_missing_is_asked_for_in_the_pages_words(page, card):
    said = make(page, card, answers={"height_now_mm": "110"})
    assert "“Height when it fitted”" in said.json()["advice"] and "--" not in said.json()["advice"]
    said = make(page, card, answers={"waist_now_mm": "54", "waist_then_mm": "52"})
    assert said.status_code == 200
    assert not [f for f in said.json()["pattern"]["findings"] if "--" in f["text"]]


def test_the_bar_of_printed_targets_is_kept_in_mind(page, card):
    refused = page.post(f"/api/works/{card}/again", json={"bar": "90 mm"})
    assert refused.status_code == 422 and "cannot have become" in refused.json()["problem"]
    assert page.post(f"/api/works/{card}/again", json={"bar": "148.6"}).status_code == 200
    assert wait_for(page, card)["state"] == "done"
    page.post(f"/api/works/{card}/again", json={})
    assert wait_for(page, card)["state"] == "done"


def test_brushing_looks_at_the_photo_again(page, card):
    seen = make(page, card).json()["seen"]["front"]
    inside = np.mean(seen["outline"], axis=0).tolist()
    assert page.post(f"/api/works/{card}/again", json={"hints": [["garment", [inside]]]}).status_code == 200
    assert wait_for(page, card)["state"] == "done"
    make(page, card)
    kept = read_pattern_json(page.get(f"/api/works/{card}/files/pattern.json").text)
    assert kept.provenance["hints"][0]["side"] == "garment"


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        ({"waist_mm": "a lot"}, "Body waist"),
        ({"waist_mm": "9 m"}, "cannot be"),
        ({"hem": "lettuce"}, "no answer to “Hem”"),
        ({"stretch_new": "much"}, "not a percentage"),
        ({"title": "x" * 201}, "too long"),
        ({"longer_mm": "900 cm"}, "cannot be"),
        ({"age_now_months": "old"}, "not an age"),
        ({"allowance_mm": "knee 1 cm"}, "not an allowance"),
        ({"allowance_mm": "hem 90 cm"}, "cannot be"),
    ],
)
def test_answers_that_cannot_be_are_refused_in_words(page, card, answers, words):
    said = make(page, card, answers=answers)
    assert said.status_code == 422
    assert words in said.json()["problem"] and "Traceback" not in said.text


def test_a_wrong_answer_is_told_from_a_photo_that_does_not_do(page, card):
    """The field is named where it is known; a garment that is none of that kind is the photo's trouble."""
    assert make(page, card, answers={"waist_mm": "a lot"}).json()["question"] == "waist_mm"
    assert make(page, card, answers={"height_now_mm": "110"}).json()["question"] == ""
    assert "question" not in make(page, card, answers={"laid": "open"}).json()


def test_what_was_typed_before_a_question_was_hidden_counts_no_more(page, card):
    made = make(page, card, answers={"waist": "casing", "band_height_mm": "high", "cuff_height_mm": "long"})
    assert made.status_code == 200
    assert make(page, card, answers={"waist": "folded-band", "band_height_mm": "high"}).status_code == 422


def test_a_number_alone_is_read_in_the_unit_that_stands_beside_it(page, card):
    make(page, card, answers={"elastic_width_mm": "25", "longer_mm": "20", "waist_mm": "52"})
    kept = read_pattern_json(page.get(f"/api/works/{card}/files/pattern.json").text)
    assert kept.choices["elastic_width_mm"] == 25.0 and kept.choices["waist_mm"] == 520.0
    assert kept.choices["grown"]["longer_mm"] == 20.0


def test_a_garment_without_a_name_is_called_what_it_is_taken_for(page, card):
    assert make(page, card).json()["pattern"]["title"] == "leggings"
    assert make(page, card, answers={"kind": "skirt"}).json()["pattern"]["title"] == "skirt"
    assert make(page, card, answers={"laid": "other"}).json()["pattern"]["title"] == "garment"


def test_sizes_before_and_after_are_in_the_chosen_unit(page, card):
    answers = {"units": "inch", "height_then_mm": "104", "height_now_mm": "110"}
    sizes = make(page, card, answers=answers).json()["pattern"]["sizes"]
    assert sizes and all(row[when].endswith(" in") for row in sizes for when in ("before", "after"))


def test_what_a_pattern_was_made_with_can_be_gone_on_with(page, card):
    seen = make(page, card).json()["seen"]["front"]
    crotch = next(c["at"] for c in seen["corners"] if c["name"] == "crotch")
    pull = {"from": seen["outline"][0], "to": [x + 4.0 for x in seen["outline"][0]]}
    make(page, card, answers={"title": "Begun"}, pulls={"front": [pull]}, corners={"crotch": crotch})
    assert make(page, card, answers={"waist_mm": "a lot"}).status_code == 422  # what was refused is not kept
    said = page.get(f"/api/works/{card}/said").json()
    assert said["answers"] == {"title": "Begun"}
    assert said["edits"]["pulls"] == {"front": [pull], "back": [], "cloth": []}
    assert said["edits"]["corners"] == {"crotch": crotch} and not any(said["edits"]["card"].values())
    assert page.get("/api/works/nothing/said").status_code == 404


@pytest.mark.parametrize("body", [b"", b"[]", b"{", b'{"answers": 5}', b'{"answers": {}, "pulls": 3}', b"\xff"])
def test_nonsense_is_refused(page, card, body):
    said = page.post(f"/api/works/{card}/pattern", content=body)
    assert said.status_code in (400, 422)
    assert said.json()["problem"]


def test_second_photos_can_be_left_out_again(page, card):
    content = (FIXTURES / "card.jpg").read_bytes()
    assert page.post(f"/api/photos?role=back&work={card}&name=card.jpg", content=content).status_code == 200
    assert wait_for(page, card, "back")["size"] == [4032, 3024]
    refused = make(page, card)
    assert refused.status_code in (400, 422) and "fronts and as backs" in refused.json()["problem"]
    darker = BytesIO()
    with Image.open(BytesIO(content)) as picture:
        picture.point(lambda value: value * 0.85).save(darker, "JPEG", quality=95, exif=picture.info["exif"])
    url = f"/api/photos?role=back&work={card}&name=backs.jpg"
    assert page.post(url, content=darker.getvalue()).status_code == 200
    assert wait_for(page, card, "back")["state"] == "done"
    # The first photo comes first, and corners can be moved in it alone.
    seen = make(page, card).json()["seen"]
    assert [(role, row["moves_corners"]) for role, row in seen.items()] == [("front", True), ("back", False)]
    assert len(seen["back"]["corners"]) == 5
    assert page.post(f"/api/works/{card}/photos/back/away", json={}).status_code == 200
    assert list(page.get(f"/api/works/{card}").json()["photos"]) == ["front"]
    assert page.post(f"/api/works/{card}/photos/front/away", json={}).status_code == 400
    assert page.get(f"/api/works/{card}/seen/front").json()["outline"]
    assert card in {row["work"] for row in page.get("/api/works").json()["works"]}


def test_a_photo_seen_before_is_known_at_once(page, card):
    key = page.post("/api/photos?name=card.jpg", content=(FIXTURES / "card.jpg").read_bytes()).json()["work"]
    assert key != card
    assert page.get(f"/api/works/{key}").json()["photos"]["front"]["state"] == "done"


def test_every_question_has_words_and_every_default_is_an_answer():
    for question in QUESTIONS:
        assert question.label and question.why
        if question.options:
            assert question.default in {option.value for option in question.options}
    assert read_settings({"answers": {}}).choices.hem == Choices().hem
    assert read_settings({"answers": {}}).growths == ()


def test_a_broken_photo_is_called_what_the_person_calls_it(page):
    content = (FIXTURES / "card.jpg").read_bytes()[:60_000]
    key = page.post("/api/photos?name=Mika's pair.jpg", content=content).json()["work"]
    assert wait_for(page, key)["problem"].startswith("“Mika's pair.jpg” is broken")


def test_a_photo_without_a_reference_is_refused_with_advice(page):
    grey = BytesIO()
    Image.fromarray(np.random.default_rng(1).integers(90, 160, (900, 1200, 3), dtype=np.uint8)).save(grey, "JPEG")
    key = page.post("/api/photos?name=floor.jpg", content=grey.getvalue()).json()["work"]
    photo = wait_for(page, key)
    assert photo["state"] == "refused" and photo["problem"] and photo["advice"]
    assert make(page, key).status_code == 409


def test_a_card_is_found_by_its_four_corners(page, card):
    seen = page.get(f"/api/works/{card}/seen/front").json()["references"][0]["corners"]
    corners = [[x + off, y - off] for (x, y), off in zip(seen, (9, -7, 6, -8), strict=True)]
    page.post(f"/api/works/{card}/again", json={"role": "front", "reference_corners": corners[:3]})
    assert "four corners, and 3 were given" in wait_for(page, card)["problem"]
    page.post(f"/api/works/{card}/again", json={"role": "front", "reference_corners": corners})
    assert wait_for(page, card)["state"] == "done"
    kept = page.get(f"/api/works/{card}/said").json()["edits"]["frame"]["front"]
    assert kept == corners
    again = page.get(f"/api/works/{card}/seen/front").json()["references"]
    assert len(again) == 1
    page.post(f"/api/works/{card}/again", json={"role": "front"})
    assert wait_for(page, card)["state"] == "done"
    said = page.post(f"/api/works/{card}/again", json={"role": "front", "reference_corners": [[1, "x"]]})
    assert said.status_code == 400


def test_what_is_no_card_is_left_out_and_had_back(page, card):
    corners = page.get(f"/api/works/{card}/seen/front").json()["references"][0]["corners"]
    middle = [sum(corner[k] for corner in corners) / 4 for k in (0, 1)]
    page.post(f"/api/works/{card}/again", json={"role": "front", "no_references": [middle]})
    assert wait_for(page, card)["state"] == "refused"
    assert page.get(f"/api/works/{card}/said").json()["edits"]["none"]["front"] == [middle]
    page.post(f"/api/works/{card}/again", json={"role": "front", "no_references": []})
    assert wait_for(page, card)["state"] == "done"
    for unread in ([1], [[1, "x"]], 7):
        said = page.post(f"/api/works/{card}/again", json={"role": "front", "no_references": unread})
        assert said.status_code == 400


def test_what_rests_on_an_earlier_state_is_refused(page, card):
    first = make(page, card, answers={"title": "First"}).json()["stamp"]
    assert page.get(f"/api/works/{card}").json()["stamp"] == first
    assert make(page, card, answers={"title": "First"}, after=first).json()["stamp"] == first
    second = make(page, card, answers={"title": "Second"}, after=first).json()["stamp"]
    assert second != first
    refused = [
        make(page, card, answers={"title": "Third"}, after=first),
        page.get(f"/api/works/{card}/files/pattern.pdf?of={first}"),
        page.get(f"/api/works/{card}/pages?of={first}"),
        page.get(f"/api/works/{card}/paper?form=svg&of={first}"),
        page.post(f"/api/works/{card}/keep", json={"of": first}),
        page.post(f"/api/works/{card}/lay", json={"how": "width", "width": "150", "of": first}),
        page.post(f"/api/works/{card}/again", json={"role": "front", "after": first}),
    ]
    assert [one.status_code for one in refused] == [412] * len(refused)
    assert "changed meanwhile" in refused[0].json()["problem"]
    seen = page.get(f"/api/works/{card}/files/pattern.pdf?of={first}", headers={"accept": "text/html"})
    assert seen.text.startswith("This was changed meanwhile") and "{" not in seen.text
    assert page.get(f"/api/works/{card}/files/pattern.pdf?of={second}").status_code == 200
    # Pointed at anew, the pattern made before is of another state.
    hints = [["floor", [[5, 5]]]]
    page.post(f"/api/works/{card}/again", json={"role": "front", "hints": hints, "after": second})
    assert page.get(f"/api/works/{card}/files/pattern.pdf?of={second}").status_code == 412
    page.post(f"/api/works/{card}/again", json={"role": "front"})
    assert wait_for(page, card)["state"] == "done"
    assert page.get(f"/api/works/{card}").json()["stamp"] == second


def test_what_the_page_refuses_is_said_in_her_units(page, card):
    assert make(page, card, answers={"units": "inch"}).status_code == 200
    stay = page.post(f"/api/works/{card}/lay", json={"how": "width", "width": "5 mm"}).json()
    assert stay["problem"].startswith("A cloth 3/16 in wide")
    said = make(page, card, answers={"units": "inch", "elastic_width_mm": "900 mm"}).json()
    assert " mm" not in said["problem"] + said["advice"] and " in" in said["problem"]
    assert make(page, card, answers={"elastic_width_mm": "900 mm"}).json()["problem"] != said["problem"]
    assert make(page, card).status_code == 200
