from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from outgrown.arrays import frozen
from outgrown.camera.reference import Kind, Reference
from outgrown.findings import Finding, Severity
from outgrown.paper.check_picture import LengthArrow, draw_check_picture


def make_photo(width=1200, height=1600, cloth=(40, 40, 60)):
    pixels = np.full((height, width, 3), (180, 140, 100), dtype=np.uint8)
    pixels[200:1400, 300:800] = cloth
    return pixels


RING = frozen([(299.5, 199.5), (299.5, 1399.5), (799.5, 1399.5), (799.5, 199.5)])
CARD = Reference(
    Kind.CARD,
    frozen([(900, 700), (900, 900), (1026, 900), (1026, 700)]),
    frozen([(0, 0), (85.6, 0), (85.6, 53.98), (0, 53.98)]),
)


def picture_of(*args, **kwargs):
    return np.asarray(Image.open(BytesIO(draw_check_picture(*args, **kwargs))).convert("RGB")).astype(int)


@pytest.mark.parametrize("cloth", [(255, 255, 255), (0, 0, 0), (180, 140, 100), (0, 114, 178)])
def test_outline_stands_out_on_any_cloth(cloth):
    """Across the edge there are both a light and a dark or coloured line, whatever lies on either side."""
    picture = picture_of(make_photo(cloth=cloth), RING)
    across = picture[800, 285:315].sum(axis=1)
    assert across.max() - across.min() > 250


def test_outline_lies_on_the_edge():
    picture = picture_of(make_photo(), RING)
    light = np.flatnonzero((picture[800, 280:320] > 230).all(axis=1)) + 280
    assert abs(light.mean() - 299.5) <= 1.0


def test_large_photo_is_made_smaller_and_lines_stay_on_the_edge():
    pixels = np.kron(make_photo(), np.ones((3, 3, 1), dtype=np.uint8))
    picture = picture_of(pixels, (RING + 0.5) * 3 - 0.5)
    assert picture.shape[1] == 1500
    light = np.flatnonzero((picture[1000, 350:400] > 215).all(axis=1)) + 350
    assert abs(light.mean() - (300 * 1.25 - 0.5)) <= 1.0


def test_small_photo_is_enlarged_for_its_labels():
    assert picture_of(make_photo()[::4, ::4], RING / 4, [CARD]).shape[1] >= 900


def test_doubtful_stretch_is_drawn_in_another_style():
    ring = np.array([(299.5, y) for y in range(200, 1400, 10)] + [(799.5, y) for y in range(1390, 190, -10)])
    confidence = np.where(np.arange(len(ring)) < 120, 0.2, 0.9)
    picture = picture_of(make_photo(), ring, confidence=confidence)

    def yellow(column):
        strip = picture[300:1300, column - 5 : column + 6]
        return ((strip[..., 0] > 200) & (strip[..., 1] > 190) & (strip[..., 2] < 120)).sum()

    assert yellow(300) > 500
    assert yellow(800) == 0


def test_caption_holds_title_details_and_warnings_and_lies_below_the_photo():
    bare = picture_of(make_photo(), RING)
    note = Finding("a", "A note.", severity=Severity.NOTE)
    warning = Finding("b", "The photo was taken at a slant.", "Hold the telephone level.")
    same = picture_of(make_photo(), RING, findings=[note])
    more = picture_of(make_photo(), RING, findings=[warning], title="Leggings", details=["inseam 48.2 cm"])
    assert same.shape == bare.shape
    assert more.shape[0] > bare.shape[0] > 1600
    assert np.array_equal(more[:1600], bare[:1600])


def test_reference_arrow_and_hole_are_drawn():
    bare = picture_of(make_photo(), RING)
    hole = [(500, 600), (500, 700), (600, 700), (600, 600)]
    full = picture_of(
        make_photo(), RING, [CARD], holes_px=[hole], arrows=[LengthArrow((300, 400), (800, 400), "half waist")]
    )
    changed = (full[:1600] != bare[:1600]).any(axis=2)
    assert changed[800, 895:905].any() and changed[650, 495:505].any() and changed[400, 350:750].any()
    assert not changed[:150].any()


def test_label_stays_inside_the_photo():
    corner = Reference(Kind.A4, frozen([(1100, 1500), (1100, 1590), (1190, 1590), (1190, 1500)]), CARD.corners_mm)
    bare, full = picture_of(make_photo(), RING), picture_of(make_photo(), RING, [corner])
    rows = np.flatnonzero((full[:1600] != bare[:1600]).any(axis=(1, 2)))
    assert rows.min() < 1490  # above the sheet, for there is no room below


def test_name_of_a_card_beside_the_garment_does_not_hide_its_edge():
    corners = frozen([(860, 900), (860, 950), (940, 950), (940, 900)])  # 60 px beside it, narrower than its name
    beside = Reference(Kind.CARD, corners, CARD.corners_mm)
    bare, full = picture_of(make_photo(), RING), picture_of(make_photo(), RING, [beside])
    changed = (full[:1600] != bare[:1600]).any(axis=2)
    assert changed[:, 1000:].any()  # the plate
    assert not changed[:, :810].any()  # the garment and its edge


def test_nothing_found_is_drawn_without_complaint():
    assert picture_of(make_photo(), np.zeros((0, 2))).shape[1] == 1200
    assert picture_of(np.zeros((1, 1, 3), dtype=np.uint8), np.zeros((0, 2))).size


def test_photo_is_left_as_it_was():
    pixels = make_photo()
    before = pixels.copy()
    pixels.setflags(write=False)
    draw_check_picture(pixels, RING, [CARD])
    assert np.array_equal(pixels, before)


def test_same_photo_gives_the_same_bytes():
    assert draw_check_picture(make_photo(), RING, [CARD]) == draw_check_picture(make_photo(), RING, [CARD])
