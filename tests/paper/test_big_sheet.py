import re

import numpy as np
import pytest
import shapely
from measuring import FINE_MM, all_paths, assert_all_drawn
from reading import fonts_are_embedded, open_pdf, page_paths, page_sizes_mm, page_text, squares
from sample_patterns import make_band, make_leg, make_pattern

from outgrown.errors import PieceError
from outgrown.paper.big_sheet import draw_sheet_pdf
from outgrown.paper.correction import make_correction
from outgrown.paper.packing import pack_area, pack_pages

ADULT = make_pattern(make_leg(330, 1050, 320, 130, 10, 40, 46), make_band(700, 160, 10))
MANY = make_pattern(*[make_leg(330, 1050, 320, 130, 10, 40, 46) for _ in range(5)])


@pytest.mark.source("ISO 216:2007, A0, A1, A2")
@pytest.mark.parametrize(("paper", "size"), [("a0", (841, 1189)), ("a1", (594, 841)), ("a2", (420, 594))])
def test_sheets_have_the_published_size(paper, size):
    (page,) = page_sizes_mm(open_pdf(draw_sheet_pdf(make_pattern(make_band(300, 60)), paper)))
    assert sorted(page) == pytest.approx(size, abs=0.01)


@pytest.mark.parametrize("pattern", [make_pattern(), ADULT, MANY], ids=["child", "adult", "many"])
@pytest.mark.parametrize("paper", [{"paper": "a0"}, {"roll_mm": 914.0}, {"roll_mm": 610.0}], ids=str)
def test_every_line_has_its_length_and_lies_on_the_paper(pattern, paper):
    document = open_pdf(draw_sheet_pdf(pattern, **paper))
    assert_all_drawn(pattern, all_paths(document), within_mm=FINE_MM)
    for page, size in zip(document, page_sizes_mm(document), strict=True):
        points = np.vstack([path.points_mm for path in page_paths(page)])
        assert points.min() > 6.4
        assert (points.max(axis=0) < np.array(size) - 6.4).all()


def test_every_sheet_has_squares_and_bars_and_says_which_it_is():
    document = open_pdf(draw_sheet_pdf(MANY))
    count = len(document)
    assert count > 1
    for number, page in enumerate(document, start=1):
        paths = page_paths(page)
        assert len(squares(paths, 50.0)) == len(squares(paths, 50.8)) == 1
        for axis in (0, 1):
            assert any(abs(p.size_mm()[axis] - 101.6) < FINE_MM for p in paths if len(p.points_mm) == 2)
        assert f"sheet {number} of {count}" in page_text(page)
        assert all(fonts_are_embedded(page))


def test_pieces_and_squares_keep_apart():
    for page in open_pdf(draw_sheet_pdf(MANY)):
        paths = page_paths(page)
        cut = [shapely.LineString(p.points_mm).envelope for p in paths if abs(p.width_mm - 0.7) < 1e-3]
        cut = [box for box in cut if box.bounds[2] - box.bounds[0] > 100]
        apart = [shapely.box(*s.points_mm.min(axis=0), *s.points_mm.max(axis=0)) for s in squares(paths, 50.0)]
        for box in cut:
            assert not any(box.intersects(square) for square in apart)
        for i, box in enumerate(cut):
            assert not any(box.buffer(-0.1).intersects(other) for other in cut[i + 1 :])


def test_a_roll_is_as_wide_as_said_and_as_long_as_needed():
    (size,) = page_sizes_mm(open_pdf(draw_sheet_pdf(make_pattern(), roll_mm=36 * 25.4)))
    assert size[0] == pytest.approx(914.4, abs=0.01)
    assert size[1] < 560 + 51 + 2 * 12 + 60 + 110


def test_a_piece_wider_than_the_roll_is_turned_where_that_helps():
    """A strip of 98 cm lies along a roll of 61 cm."""
    wide = make_pattern(make_band(980, 100, 10))
    (size,) = page_sizes_mm(open_pdf(draw_sheet_pdf(wide, roll_mm=610.0)))
    assert size[0] == pytest.approx(610.0, abs=0.01) and size[1] > 1000


def test_a_roll_too_narrow_says_what_it_takes():
    with pytest.raises(PieceError, match=r"needs a roll of 3\d\.\d cm .* and this one has 30\.5 cm"):
        draw_sheet_pdf(ADULT, roll_mm=305.0)


@pytest.mark.parametrize("bars", [(), ([98.0],)])
def test_a_roll_as_wide_as_it_takes_is_wide_enough(bars):
    correction = make_correction(*bars)
    with pytest.raises(PieceError) as refused:
        draw_sheet_pdf(ADULT, roll_mm=305.0, correction=correction)
    takes_cm = float(re.findall(r"needs a roll of ([\d.]+) cm", str(refused.value))[0])
    assert draw_sheet_pdf(ADULT, roll_mm=10 * takes_cm, correction=correction)
    with pytest.raises(PieceError):
        draw_sheet_pdf(ADULT, roll_mm=10 * takes_cm - 2, correction=correction)


def test_a_sheet_too_small_names_the_piece():
    with pytest.raises(PieceError, match=r"leg is .* too large for a sheet of A2"):
        draw_sheet_pdf(ADULT, "a2")


def test_unknown_paper_and_empty_patterns_are_refused():
    with pytest.raises(PieceError, match="foolscap"):
        draw_sheet_pdf(make_pattern(), "foolscap")
    with pytest.raises(PieceError, match="no piece"):
        draw_sheet_pdf(make_pattern(pieces=()))


def test_small_rectangles_lie_beside_and_below_one_another():
    """Hand-computed: the tall one at the left, the two low ones stacked at its right."""
    packed = pack_area([(60, 100), (30, 40), (30, 50)], [0, 1, 2], 100, 10)
    assert packed.height_mm == 100
    assert not any(place.is_turned for place in packed.places.values())


def test_a_rectangle_is_turned_only_where_that_saves_length():
    packed = pack_area([(40, 200), (90, 30), (10, 10)], [0, 1, 2], 100, 5, upright=[2])
    assert packed.height_mm == 200
    assert packed.places[1].is_turned and not packed.places[0].is_turned


def test_on_a_sheet_nothing_is_turned_that_fits_upright():
    sizes = [(40, 200), (90, 30), (10, 10)]
    for is_shortest in (False, True):
        (page,) = pack_pages(sizes, 2, (100, 300), 5, is_shortest)
        assert page.places[1].is_turned is is_shortest
    (page,) = pack_pages(sizes, 2, (100, 210), 5)
    assert page.places[1].is_turned


def test_nothing_overlaps():
    rng = np.random.default_rng(5)
    for count in (3, 4, 5, 9):
        sizes = [tuple(size) for size in rng.uniform(10, 90, (count, 2))]
        packed = pack_area(sizes, range(count), 200, 7)
        boxes = []
        for index, place in packed.places.items():
            width, height = sizes[index][::-1] if place.is_turned else sizes[index]
            boxes.append(shapely.box(place.x_mm, place.y_mm, place.x_mm + width, place.y_mm + height))
            assert place.x_mm + width <= 200 and place.y_mm + height <= packed.height_mm + 1e-9
        for i, box in enumerate(boxes):
            assert all(box.distance(other) > 7 - 1e-6 for other in boxes[i + 1 :])


def test_a_new_page_begins_where_one_is_full():
    pages = pack_pages([(90, 90), (90, 90), (10, 10)], 2, (100, 110), 5)
    assert len(pages) == 2
    assert all(2 in page.places for page in pages)
    assert pack_pages([(200, 120), (10, 10)], 1, (100, 100), 5) is None
