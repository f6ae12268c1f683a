from io import BytesIO

import numpy as np
import pytest
from cloths import make_band, make_front, make_leg, parts_of
from paper.reading import open_pdf, page_text
from PIL import Image
from shapely import Polygon, box

from outgrown.arrays import frozen
from outgrown.lay.cloth import Bolt, Leftover, Rules
from outgrown.lay.distances import measure_distances
from outgrown.lay.on_bolt import lay_on_bolt
from outgrown.lay.on_leftover import lay_on_leftover
from outgrown.paper.lay_leftover import draw_leftover_plan
from outgrown.paper.lay_photo import densified, draw_lay_photo
from outgrown.paper.lay_plan import draw_lay_pdf, draw_lay_png, draw_plan
from outgrown.paper.recording import RecordingSurface, Stroke, Words

PIECES = (make_leg(), make_front(160, 450), make_band(320))
QUICK = Rules(seconds=0.2)


@pytest.fixture(scope="module")
def folded():
    return lay_on_bolt(parts_of(*PIECES), Bolt(1500.0, True), QUICK)


@pytest.fixture(scope="module")
def leftover():
    cloth = Leftover(frozen(np.asarray(box(0, 0, 700, 520).exterior.coords)[:-1]), margin_mm=4.0)
    return lay_on_leftover(parts_of(make_front(110, 300, 100, 60), make_band(250, 60)), cloth, QUICK)


def strokes(surface):
    return [item for item in surface.items if isinstance(item, Stroke)]


def words_of(surface):
    return [item for item in surface.items if isinstance(item, Words)]


def cut_rings(surface):
    return [s for s in strokes(surface) if s.names[-1] == "cut"]


def test_every_piece_is_drawn_to_one_scale_where_it_lies(folded):
    surface = RecordingSurface()
    draw_plan(surface, folded)
    rings = cut_rings(surface)
    assert len(rings) == len(folded.placed)
    scales = [
        (Polygon(one.ring_mm).area / Polygon(ring.points_mm).area) ** 0.5
        for one, ring in zip(folded.placed, rings, strict=True)
    ]
    assert np.ptp(scales) < 1e-6
    between = folded.placed[0].ring_mm[0] - folded.placed[1].ring_mm[0]
    drawn = rings[0].points_mm[0] - rings[1].points_mm[0]
    assert between / scales[0] == pytest.approx(drawn)
    assert f"1 : {scales[0]:.0f}" in " ".join(words.words for words in words_of(surface))


def test_each_piece_names_itself_inside_its_line(folded):
    surface = RecordingSurface()
    draw_plan(surface, folded)
    for one, ring in zip(folded.placed, cut_rings(surface), strict=True):
        names = [w for w in words_of(surface) if w.names and w.names[0] == one.item.part.label]
        inside = Polygon(ring.points_mm)
        assert any(str(one.item.part.number) in w.words and inside.covers(Polygon(w.path_mm())) for w in names)


def test_the_pdf_says_what_to_buy_in_both_units_and_how_the_cloth_lies(folded):
    text = page_text(open_pdf(draw_lay_pdf(folded, draw_plan))[0])
    assert f"Buy {folded.bought_mm / 1000:.2f} m" in text
    assert "yd" in text and "cm" in text and " in" in text
    assert "folded lengthwise" in text and "fold" in text and "selvedges" in text
    assert "half, on the fold" in text and "gives two" in text


def test_nothing_is_drawn_beyond_the_page(folded, leftover):
    for lay, draw in ((folded, draw_plan), (leftover, draw_leftover_plan)):
        surface = RecordingSurface()
        draw(surface, lay)
        paths = [*(s.path_mm() for s in strokes(surface)), *(w.path_mm() for w in words_of(surface))]
        points = np.vstack(paths)
        assert points.min() >= 3.0
        assert points[:, 0].max() <= 294.0 and points[:, 1].max() <= 207.0


def test_mirrored_pieces_are_hatched_so_that_grey_is_enough(leftover):
    surface = RecordingSurface()
    draw_leftover_plan(surface, leftover)
    hatched = {s.names[0] for s in strokes(surface) if s.names[-1] == "mirrored"}
    assert hatched == {"1 front"}
    picture = Image.open(BytesIO(draw_lay_png(leftover, draw_leftover_plan)))
    assert picture.mode == "L"


def test_distances_are_true_and_meet_no_other_piece(leftover):
    distances = measure_distances(leftover)
    assert {d.piece for d in distances} == set(range(len(leftover.placed)))
    shapes = [Polygon(one.ring_mm) for one in leftover.placed]
    text = page_text(open_pdf(draw_lay_pdf(leftover, draw_leftover_plan))[0])
    for distance in distances:
        low, high = shapes[distance.piece].bounds[:2], shapes[distance.piece].bounds[2:]
        gap = {"left": low[0], "lower": low[1], "right": 700 - high[0], "upper": 520 - high[1]}[distance.towards]
        assert distance.length_mm == pytest.approx(gap, abs=1e-6)
        assert f"{distance.length_mm / 10:.1f} cm" in text


def test_the_photo_shows_each_piece_where_the_camera_sees_it(leftover):
    pixels = np.full((520, 700, 3), 128, np.uint8)

    def to_px(points_mm):
        return np.column_stack([points_mm[:, 0], 519.0 - points_mm[:, 1]])

    content = draw_lay_photo(pixels, leftover, to_px, to_px(leftover.cloth.ring_mm), ["a"], "It fits.")
    picture = np.asarray(Image.open(BytesIO(content)).convert("RGB")).astype(int)[:520, :700]
    coloured = np.abs(picture - picture.mean(axis=2, keepdims=True)).max(axis=2) > 40
    band = next(one for one in leftover.placed if one.item.part.name == "waistband")
    points = np.round(to_px(densified(band.ring_mm))).astype(int)
    assert np.mean([coloured[max(y - 1, 0) : y + 2, max(x - 1, 0) : x + 2].any() for x, y in points]) > 0.9
