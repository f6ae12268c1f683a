import json
from pathlib import Path

import numpy as np
import pytest
from pieces.legs import garment_of
from shapely import Polygon
from shapes import Leg

from outgrown import steps
from outgrown.drawer.archive import SCHEMA, VERSION, read_pattern_json, write_pattern_json
from outgrown.errors import ArchiveError
from outgrown.findings import Finding, Severity
from outgrown.garment.garment import EdgeName, Measurement
from outgrown.pieces.choices import Choices, Hem, Waist
from outgrown.pieces.drafting import draft_pattern
from outgrown.pieces.growing import grow_pattern
from outgrown.pieces.growth import Growth
from outgrown.pieces.leg_shape import measure_leg
from outgrown.pieces.piece import Finish
from outgrown.steps import draw_pattern_files

KEPT = Path(__file__).resolve().parent / "kept"
DOCS = Path(__file__).resolve().parents[2] / "docs" / "pattern-json.md"


def pattern(**choices):
    leg = Leg(waist_slant=9.0)
    from dataclasses import replace

    garment = replace(
        garment_of(leg),
        measurements=(Measurement("inseam", 381.23456789, 1.5, "along it"), Measurement("rise", 200.0)),
        findings=(Finding("a-code", "Seen “so”.", "Do this.", Severity.NOTE, "hem", 1.0 / 3.0),),
    )
    return draft_pattern(
        garment,
        Choices(title="Zoë's leggings", for_whom="Zoë, 104", waist_mm=520.0, date="2026-03-01", **choices),
        outline_mm=leg.ring() + 1.0 / 3.0,
        expected_error_mm=(0.41, 1.37),
        provenance={"photo": "IMG_1.jpg", "tilt_deg": 12.3456789, "references": [{"kind": "id-1"}], "focal_px": None},
    )


@pytest.mark.parametrize("choices", [{}, {"hem": Hem.RIBBED_CUFF, "waist": Waist.FOLDED_BAND}])
def test_a_pattern_comes_back_and_is_written_again_the_same(choices):
    text = write_pattern_json(pattern(**choices))
    back = read_pattern_json(text)
    assert write_pattern_json(back) == text
    assert write_pattern_json(read_pattern_json(write_pattern_json(back))) == text


def test_everything_comes_back_within_the_rounding():
    before = pattern(allowance_mm={EdgeName.HEM: 30.0})
    after = read_pattern_json(write_pattern_json(before))
    for name in ("title", "for_whom", "made_on", "choices", "expected_error_mm"):
        assert getattr(after, name) == getattr(before, name)
    assert after.provenance["tilt_deg"] == pytest.approx(12.3456789, abs=1e-4)
    assert np.allclose(after.outline_mm, before.outline_mm, atol=6e-5)
    assert [f.code for f in after.findings] == [f.code for f in before.findings]
    assert after.findings[0].severity is Severity.NOTE
    assert Choices.from_json(after.choices).allowance_mm == {EdgeName.HEM: 30.0}
    (one,), (two,) = before.pieces, after.pieces
    assert one.labels == two.labels
    assert np.allclose(one.cut_ring_mm, two.cut_ring_mm, atol=6e-5)
    for a, b in zip(one.edges, two.edges, strict=True):
        assert (a.name, a.allowance_mm, a.finish) == (b.name, b.allowance_mm, b.finish)
        assert np.allclose(a.points_mm, b.points_mm, atol=6e-5)
        assert not b.points_mm.flags.writeable
    for a, b in zip(one.notches, two.notches, strict=True):
        assert np.allclose(a.outward, b.outward, atol=6e-5)
    assert [line.name for line in two.inner_lines] == [line.name for line in one.inner_lines]
    assert after.cut_list == tuple(before.cut_list)


def test_numbers_have_at_most_four_decimals_and_no_minus_nought():
    text = write_pattern_json(pattern())
    assert "-0.0," not in text
    assert "-0.0]" not in text

    def walk(value):
        if isinstance(value, dict | list):
            for item in value.values() if isinstance(value, dict) else value:
                walk(item)
        elif isinstance(value, float):
            assert round(value, 4) == value

    walk(json.loads(text))


def test_the_derived_fields_are_those_of_the_piece():
    document = json.loads(write_pattern_json(pattern()))
    (leg,) = document["pieces"]
    seam = Polygon(leg["seam_ring_mm"])
    assert Polygon(leg["cut_ring_mm"]).buffer(0.01).covers(seam)
    assert [edge["name"] for edge in leg["edges"]] == ["side", "hem", "inseam", "rise", "waist"]
    assert sum(edge["length_mm"] for edge in leg["edges"]) == pytest.approx(seam.exterior.length, abs=0.01)
    crotch = document["girth_mm"][-1]
    assert crotch == pytest.approx([380.0, 330.0], abs=0.01)


@pytest.mark.parametrize("version", range(1, VERSION))
def test_every_older_schema_is_read_and_draws_what_it_kept(version):
    kept = (KEPT / f"schema-{version}.json").read_text(encoding="utf-8")
    old = json.loads(kept)
    assert old["schema"] == f"{SCHEMA}/{version}"
    pattern = read_pattern_json(kept)
    new = json.loads(write_pattern_json(pattern))
    assert new["schema"] == f"{SCHEMA}/{VERSION}"
    for name in ("title", "for_whom", "made_on", "choices", "measurements", "girth_mm", "cut_list", "outline_mm"):
        assert new[name] == old[name]
    for one, other in zip(old["pieces"], new["pieces"], strict=True):
        assert other["cut_ring_mm"] == one["cut_ring_mm"]
        assert other["seam_ring_mm"] == one["seam_ring_mm"]
    files = draw_pattern_files(pattern)
    assert files["pattern.pdf"].startswith(b"%PDF")
    assert draw_pattern_files(read_pattern_json(files["pattern.json"].decode("utf-8"))) == files
    grown = grow_pattern(pattern, Growth(longer_mm=15.0))
    assert measure_leg(grown.pieces).inseam == pytest.approx(measure_leg(pattern.pieces).inseam + 15.0, abs=0.05)


def test_a_mock_cuff_of_the_first_schema_is_known_for_one():
    pattern = read_pattern_json((KEPT / "schema-1.json").read_text(encoding="utf-8"))
    (hem,) = [edge for edge in pattern.pieces[0].edges if edge.name is EdgeName.HEM]
    assert hem.finish is Finish.MOCK_CUFF
    assert {line.name for line in pattern.pieces[0].inner_lines} == {
        "finished end",
        "turn the casing down here",
    }


def test_a_newer_schema_is_refused_kindly():
    text = write_pattern_json(pattern()).replace(f'"{SCHEMA}/{VERSION}"', f'"{SCHEMA}/{VERSION + 1}"')
    with pytest.raises(ArchiveError, match="newer") as told:
        read_pattern_json(text)
    assert "unharmed" in told.value.advice


@pytest.mark.parametrize(
    "text",
    [
        "",
        "no json",
        "[]",
        "{}",
        '{"schema": "something-else/1"}',
        f'{{"schema": "{SCHEMA}/x"}}',
        f'{{"schema": "{SCHEMA}/0"}}',
    ],
)
def test_what_is_no_pattern_is_refused_in_one_sentence(text):
    with pytest.raises(ArchiveError) as told:
        read_pattern_json(text)
    assert told.value.problem.endswith(".")


@pytest.mark.parametrize("field", ["title", "pieces", "cut_list", "outline_mm", "expected_error_mm", "choices"])
def test_a_damaged_pattern_names_what_is_missing(field):
    document = json.loads(write_pattern_json(pattern()))
    del document[field]
    with pytest.raises(ArchiveError, match=field):
        read_pattern_json(json.dumps(document))


@pytest.mark.parametrize(
    ("place", "nonsense"),
    [
        (("choices", "title"), float("nan")),
        (("choices", "units"), None),
        (("choices", "waist"), 7),
        (("choices", "waist_mm"), {"a": 1}),
        (("choices", "allowance_mm"), True),
        (("choices", "grown", "sizes"), -1.0),
        (("choices", "grown", "sizes", 3, "what"), [[1]]),
        (("choices", "grown", "sizes", 4, "after_mm"), "1e999"),
        (("choices", "grown", "body", 5, "why"), None),
        (("choices", "grown"), 1.5),
        (("choices", "fabric"), {"sizes": [{}]}),
        (("choices", "nested"), [1]),
        (("provenance", "taken"), "leggings"),
        (("provenance", "walked"), [{"seam": "side"}]),
        (("cut_list", 1, "name"), [1]),
        (("cut_list", 1, "material"), {"a": 1}),
        (("measurements", 1, "name"), -1e9),
        (("measurements", 0, "value_mm"), None),
        (("title",), "half a letter: \ud83d"),
        (("pieces", 0, "edges"), []),
        (("pieces", 0, "edges", 0, "allowance_mm"), "nan"),
        (("pieces", 0, "edges", 2, "allowance_mm"), -6.0),
        (("pieces", 0, "edges", 1, "points_mm", 1, 0), 1e9),
        (("pieces", 0, "cut_ring_mm", 2), [0.0, None]),
        (("pieces", 0, "notches", 0, "point_mm"), [1.0]),
        (("pieces", 0, "grainline_mm"), []),
    ],
)
def test_a_pattern_edited_by_hand_to_nonsense_is_refused_when_it_is_read(place, nonsense):
    grown = grow_pattern(pattern(), Growth(height_then_mm=1040.0, height_now_mm=1100.0))
    document = json.loads(write_pattern_json(grown))
    read_pattern_json(json.dumps(document))
    *way, last = place
    part = document
    for step in way:
        part = part[step]
    part[last] = nonsense
    with pytest.raises(ArchiveError) as told:
        read_pattern_json(json.dumps(document))
    assert told.value.advice.endswith(".")


@pytest.mark.parametrize(
    ("way", "nonsense"),
    [
        ((), [1]),
        (("110 cm",), "1e400"),
        (("110 cm", "sizes", 3, "before_mm"), {}),
        (("116 cm", "body"), [{"what": "height"}]),
        (("116 cm", "height_now_mm"), "tall"),
    ],
)
def test_nonsense_told_of_one_of_several_nested_sizes_is_refused_too(way, nonsense):
    heights = [Growth(height_then_mm=1040.0, height_now_mm=height) for height in (1100.0, 1160.0)]
    document = json.loads(write_pattern_json(steps.grow(pattern(), heights, is_nested=True)))
    read_pattern_json(json.dumps(document))
    *before, last = ("grown_sizes", *way)
    part = document["choices"]
    for step in before:
        part = part[step]
    part[last] = nonsense
    with pytest.raises(ArchiveError) as told:
        read_pattern_json(json.dumps(document))
    assert told.value.advice.endswith(".")


def test_fields_added_later_are_passed_over():
    document = json.loads(write_pattern_json(pattern()))
    document["thumbnail"] = "..."
    document["pieces"][0]["note"] = "..."
    document["pieces"][0]["edges"][0]["note"] = "..."
    document["cut_list"][0]["colour"] = "blue"
    document["measurements"][0]["by"] = "tape"
    document["findings"][0]["seen_on"] = "paper"
    assert read_pattern_json(json.dumps(document)).title == "Zoë's leggings"


def test_every_field_is_documented():
    text = DOCS.read_text(encoding="utf-8")
    document = json.loads(write_pattern_json(pattern()))
    piece = document["pieces"][0]
    names = {*document, *piece, *piece["edges"][0], *piece["notches"][0], *piece["inner_lines"][0]}
    names |= {*document["cut_list"][0], *document["measurements"][0], *document["findings"][0]}
    missing = [name for name in sorted(names) if f"`{name}`" not in text]
    assert missing == []
