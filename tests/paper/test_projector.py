import numpy as np
import pytest
from measuring import FINE_MM, all_paths, assert_all_drawn
from reading import open_pdf, page_paths, page_sizes_mm, page_text, render_grey, squares
from sample_patterns import make_band, make_leg, make_pattern

from outgrown.errors import PieceError
from outgrown.paper.choices import Grid
from outgrown.paper.projector import draw_projector_pdf

ADULT = make_pattern(make_leg(330, 1050, 320, 130, 10, 40, 46), make_band(700, 160, 10))


def frame_of(page):
    size = np.array(page_sizes_mm([page])[0])
    (frame,) = [p for p in page_paths(page) if p.is_closed and p.is_stroked and np.allclose(size - p.size_mm(), 40)]
    return frame


@pytest.mark.parametrize("pattern", [make_pattern(), ADULT], ids=["child", "adult"])
@pytest.mark.parametrize("is_dark", [False, True])
def test_one_page_shows_everything_at_its_length(pattern, is_dark):
    document = open_pdf(draw_projector_pdf(pattern, is_dark=is_dark))
    assert len(document) == 1
    assert_all_drawn(pattern, all_paths(document), within_mm=FINE_MM)


def test_the_frame_measures_what_it_says():
    page = open_pdf(draw_projector_pdf(make_pattern()))[0]
    width, height = frame_of(page).size_mm()
    assert width % 100 == pytest.approx(0, abs=FINE_MM) or width % 100 == pytest.approx(100, abs=FINE_MM)
    assert f"Frame {width / 10:.0f} × {height / 10:.0f} cm" in page_text(page)


def test_the_inch_frame_is_whole_in_inches():
    page = open_pdf(draw_projector_pdf(make_pattern(), grid=Grid.INCH))[0]
    width, height = frame_of(page).size_mm() / 25.4
    assert (width / 4, height / 4) == pytest.approx((round(width / 4), round(height / 4)), abs=0.002)
    assert f"Frame {width:.0f} × {height:.0f} in" in page_text(page)


@pytest.mark.parametrize(("grid", "step"), [(Grid.CM, 100.0), (Grid.INCH, 101.6)])
def test_grid_lines_are_evenly_apart(grid, step):
    page = open_pdf(draw_projector_pdf(make_pattern(), grid=grid))[0]
    frame = frame_of(page)
    height = frame.size_mm()[1]
    upright = [p.points_mm[0, 0] for p in page_paths(page) if len(p.points_mm) == 2 and p.size_mm()[0] < 1e-3
               and abs(p.size_mm()[1] - height) < FINE_MM]  # fmt: skip
    at = np.sort([*upright, frame.points_mm[:, 0].min(), frame.points_mm[:, 0].max()])
    assert np.diff(at) == pytest.approx(np.full(len(at) - 1, step), abs=FINE_MM)


def test_squares_of_ten_centimetres_and_four_inches():
    paths = page_paths(open_pdf(draw_projector_pdf(make_pattern()))[0])
    assert len(squares(paths, 100.0)) == 1 and len(squares(paths, 101.6)) == 1


def test_lines_are_thick_enough_for_a_projectors_dots():
    """A picture of 1920 dots over two metres has dots of 1.04 mm."""
    for path in all_paths(open_pdf(draw_projector_pdf(make_pattern()))):
        assert path.width_mm > 1.04 or not path.is_stroked
    cut = [p for p in all_paths(open_pdf(draw_projector_pdf(make_pattern()))) if p.width_mm > 2]
    assert cut


def test_dark_is_white_on_black():
    light = render_grey(open_pdf(draw_projector_pdf(make_pattern()))[0], 20)
    dark = render_grey(open_pdf(draw_projector_pdf(make_pattern(), is_dark=True))[0], 20)
    assert np.median(light) == 255 and np.median(dark) == 0
    assert np.abs(light.astype(int) + dark.astype(int) - 255).mean() < 2


def test_nothing_is_said_of_printing():
    text = page_text(open_pdf(draw_projector_pdf(make_pattern()))[0]).lower()
    assert "print" not in text and "page" not in text
    assert "cut 2" in text


def test_what_no_pdf_page_holds_is_refused():
    with pytest.raises(PieceError, match="more than a PDF page can have"):
        draw_projector_pdf(make_pattern(make_band(6000, 100)))
    with pytest.raises(PieceError, match="no piece"):
        draw_projector_pdf(make_pattern(pieces=()))
