"""Sentences of the library, which are in millimetres, said in inches to who asked for inches."""

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from paper.reading import open_pdf, page_text
from pieces.test_growing import kept, kept_pair

from outgrown.cli import run
from outgrown.drawer.archive import write_pattern_json
from outgrown.findings import Finding, Severity
from outgrown.garment.garment import Measurement
from outgrown.page.wire import describe_pattern
from outgrown.paper.pages import draw_tiles_pdf
from outgrown.units import Units, in_inches, read_length_mm

DEMO = Path(__file__).parents[1] / "fixtures" / "demo.jpg"


@pytest.mark.parametrize(
    ("metric", "inches"),
    [
        ("It strays 12 mm.", "It strays 1/2 in."),
        ("within 0.6 mm", "within 0.02 in"),
        ("± 5.6 mm, ± 2.9 mm", "± 0.22 in, ± 0.11 in"),
        ("within 0.1 mm", "within 0.004 in"),
        ("0.0 mm of both", "0.00 in of both"),
        ("245.3 mm in front and 246.4 mm behind", "9 21/32 in in front and 9 11/16 in behind"),
        ("with forks of 40 and 80 mm", "with forks of 1 9/16 in and 3 1/8 in"),
        ("from 2.5 to about 0.5 mm", "from 0.10 in to about 0.02 in"),
        ("bank card, 85.6 × 54.0 mm", "bank card, 3 3/8 in × 2 1/8 in"),
        ("Letter sheet, 279.4 × 215.9 mm (11 × 8 1/2 in)", "Letter sheet, 11 × 8 1/2 in"),
        ("±\u00a01.3\u00a0mm", "±\u00a00.05 in"),
        ("98.3 cm above the floor, 12° off", "38 11/16 in above the floor, 12° off"),
        ("good to 1 %, 6 photos, 2 layers", "good to 1 %, 6 photos, 2 layers"),
        ("0.24.1 mm of ISO 12.3.4 mmm", "0.24.1 mm of ISO 12.3.4 mmm"),
    ],
)
def test_millimetres_become_inches_as_fine_as_they_were(metric, inches):
    assert in_inches(metric) == inches
    assert Units.INCH.said(metric) == inches and Units.MM.said(metric) == metric


def in_inch(pattern):
    """The pattern as one in inches, with findings and measurements that only the photo knows."""
    far = Finding("edge-far-from-smooth", "The photographed hem strays 14 mm from its smooth line.", place="hem")
    note = Finding("edges-smoothed", "They lie within 0.8 mm of it.", severity=Severity.NOTE)
    measured = Measurement("half thigh", 182.0, 1.3, how="25 mm below the crotch point, square to the side")
    return replace(
        pattern,
        choices={**pattern.choices, "units": "inch"},
        findings=(*pattern.findings, far, note),
        measurements=(measured,),
        expected_error_mm=(0.4, 1.1),
    )


BOTH = re.compile(
    r"\([^()]*\d (?:mm|cm)\)|0\.5 mm \(1/64 in\)|50 mm|Zoë, 104 cm|(?:8|to) 10 cm\b|about 1 mm wide and 2\.5 mm long"
)
"""Beside inches, in what she typed, on the squares and bars to measure, and what a sewing machine's dials say."""


@pytest.mark.parametrize("pattern", [kept, kept_pair])
def test_paper_in_inches_speaks_of_inches(pattern):
    pages = open_pdf(draw_tiles_pdf(in_inch(pattern(units=Units.INCH))))
    text = re.sub(r"\s+", " ", " ".join(page_text(page) for page in pages))
    assert "strays 9/16 in from" in text and "± 0.05 in" in text and "within 0.02 in at half" in text
    assert re.findall(r".{30}\d (?:mm|cm)\b", BOTH.sub("", text)) == []


def test_page_in_inches_speaks_of_inches():
    told = describe_pattern(in_inch(kept()), "")
    measured = [{k: v for k, v in row.items() if k != "cm"} for row in told["measurements"]]
    assert "strays 9/16 in" in str(told["findings"]) and "± 0.05 in" in str(measured)
    assert re.findall(r"\d mm", json.dumps([told["findings"], measured])) == []


def test_terminal_in_inches_speaks_of_inches(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "pattern.json").write_text(write_pattern_json(in_inch(kept_pair())), encoding="utf-8")
    drawer = ["--drawer", str(tmp_path / "drawer")]
    assert run(["drawer", "keep", "a", "--name", "one", *drawer]) == 0
    capsys.readouterr()
    assert run(["drawer", "show", "one", *drawer]) == 0
    assert run(["grow", "a", "--height-then", "104cm", "--height-now", "110cm", *drawer]) == 0
    said = capsys.readouterr().out
    assert "strays 9/16 in" in said and "± 0.05 in" in said and "differ by" in said
    assert re.findall(r".*\d mm.*", said) == []


@pytest.mark.parametrize(
    ("units", "words"),
    [([], "A garment 40 mm thick"), (["--units", "inch"], "A garment 1 9/16 in thick")],
)
def test_what_the_command_line_refuses_is_said_in_her_units(tmp_path, capsys, units, words):
    said = ["outline", str(DEMO), "--json", str(tmp_path / "outline.json"), "--thickness", "40mm", *units]
    assert run(said) == 2
    assert words in capsys.readouterr().err


def test_what_is_typed_wrongly_is_refused_in_her_units_wherever_they_are_typed(capsys):
    assert run(["pattern", str(DEMO), "--bar", "20cm", "--units", "inch"]) == 2
    assert "the bar is 5 7/8 in long and cannot have become 7 7/8 in" in capsys.readouterr().err


def test_a_kept_patterns_units_are_those_it_is_refused_in(tmp_path, capsys):
    pattern = replace(kept(), choices={**kept().choices, "units": "inch"})
    path = tmp_path / "pattern.json"
    path.write_text(write_pattern_json(pattern), encoding="utf-8")
    assert run(["lay", str(path), "--width", "5mm", "--out", str(tmp_path / "lay")]) == 2
    assert "A cloth 3/16 in wide cannot be." in capsys.readouterr().err
    assert run(["grow", str(path), "--longer", "9000mm", "--out", str(tmp_path / "next")]) == 2
    assert " mm" not in (said := capsys.readouterr().err) and " in" in said


def test_an_outline_is_told_in_inches(tmp_path, capsys):
    card = DEMO.with_name("card.jpg")
    assert run(["outline", str(card), "--json", str(tmp_path / "o.json"), "--units", "inch"]) == 0
    told = capsys.readouterr().out
    assert re.search(r"camera \d+.* in above the floor", told) and not re.search(r"\d (mm|cm)\b", told)


def test_names_and_what_was_typed_stay_as_they_are():
    assert in_inches("“Mika, 110 cm” is 12 mm longer.") == "“Mika, 110 cm” is 1/2 in longer."


@pytest.mark.parametrize("typed", ["99999999", "1000m", "9" * 400 + "mm"])
def test_a_length_that_no_cloth_has_is_refused_as_it_was_typed(typed):
    with pytest.raises(ValueError, match="is longer than any cloth; check the number and its unit") as refused:
        read_length_mm(typed)
    assert f"“{typed}”" in str(refused.value)
    assert read_length_mm("100m") == 100_000.0
