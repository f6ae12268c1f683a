"""Differences drawn: scales, marks and tables read back with other libraries than those that wrote them."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from paper.reading import open_pdf, page_paths, page_text
from pieces.legs import STRAIGHT_ENDS, garment_of
from pieces.test_front_and_back import PAIRS, matching_back

from outgrown.paper.draw_difference import draw_difference_pdf, draw_difference_svg, write_more
from outgrown.paper.lettering import measure_words_mm
from outgrown.pieces.choices import Choices
from outgrown.pieces.difference import compare_patterns
from outgrown.pieces.drafting import draft_pattern
from outgrown.units import Units


def difference(more_mm=20.0):
    one = STRAIGHT_ENDS
    other = replace(one, inseam_height=one.inseam_height + more_mm)
    patterns = [draft_pattern(garment_of(leg), Choices()) for leg in (one, other)]
    return compare_patterns(*patterns, ("Mika 2025", "Mika 2026"))


def test_the_drawing_keeps_the_scale_it_states():
    found = difference()
    page = open_pdf(draw_difference_pdf([found]))[0]
    words = page_text(page)
    scale = float(re.search(r"drawn at 1 : ([\d.]+)", words).group(1))
    tall = [path.size_mm()[1] * scale for path in page_paths(page) if path.is_closed and path.size_mm()[1] > 50]
    heights = sorted(float(np.ptp(shape.ring_mm()[:, 1])) for shape in found.shapes[0])
    assert sorted(tall) == pytest.approx(heights, abs=0.1)
    assert "Mika 2025" in words and "Mika 2026" in words and "+20.0 mm" in words


def test_front_and_back_share_a_page_and_all_words_lie_on_it():
    front, back = PAIRS["adult's"]
    back = matching_back(front, back)
    pair = draft_pattern(garment_of(front), Choices(), back=garment_of(back))
    wide = draft_pattern(
        garment_of(replace(front, crotch_width=front.crotch_width + 8)), Choices(), back=garment_of(back)
    )
    found = compare_patterns(pair, wide, ("a", "b"))
    document = open_pdf(draw_difference_pdf([found, found], paper="letter"))
    assert 2 <= len(document) <= 4
    for page in document:
        wide_pt, tall_pt = page.get_size()
        for item in page.get_objects():
            low_x, low_y, high_x, high_y = item.get_bounds()
            assert low_x >= 0 and low_y >= 0 and high_x <= wide_pt and high_y <= tall_pt


def test_the_svg_is_true_to_size():
    found = difference()
    root = ET.fromstring(draw_difference_svg(found))
    tall = []
    for group in root.iter("{http://www.w3.org/2000/svg}g"):
        if (group.get("class") or "") in ("first-half-leg", "second-half-leg"):
            numbers = np.array(re.findall(r"-?[\d.]+,-?[\d.]+", group[0].get("d")))
            points = np.array([[float(v) for v in pair.split(",")] for pair in numbers])
            tall.append(float(np.ptp(points[:, 1])))
    heights = sorted(float(np.ptp(shape.ring_mm()[:, 1])) for shape in found.shapes[0])
    assert sorted(tall) == pytest.approx(heights, abs=0.01)


def test_differences_are_written_with_their_sign():
    assert [write_more(v, Units.MM) for v in (3.21, -0.04, -2.0)] == ["+3.2 mm", "0", "−2.0 mm"]
    assert [write_more(v, Units.INCH) for v in (25.4, -3.175, 0.2)] == ["+1 in", "−1/8 in", "0"]


def test_no_difference_is_written_over_another():
    found = difference(30.0)
    hem = next(row for row in found.edges if row.edge == "hem")
    # The legs' sides may part most right beside the hem, whose own words stand above its middle.
    x, y = found.shapes[0][1].lines["hem"].mean(axis=0)
    at = float(x) - 20.0, float(y) + 15.0
    beside = [replace(row, worst_mm=-3.1, worst_at_mm=at) for row in found.edges if row != hem]
    root = ET.fromstring(draw_difference_svg(replace(found, edges=(*beside[:2], hem)), is_small=True))
    spans = []
    for text in root.iter("{http://www.w3.org/2000/svg}text"):
        words = "".join(text.itertext())
        if re.fullmatch(r"[+−]\d+\.\d mm", words):
            x, y, wide = float(text.get("x")), float(text.get("y")), measure_words_mm(words, 3.0)
            left = x - wide * {None: 0.0, "start": 0.0, "middle": 0.5, "end": 1.0}[text.get("text-anchor")]
            spans.append((left, left + wide, y))
    assert len(spans) == 3
    for one, other in combinations(spans, 2):
        assert one[1] < other[0] or other[1] < one[0] or abs(one[2] - other[2]) >= 3.0
