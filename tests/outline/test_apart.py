"""Cloth beyond a broad band of the floor's colour: told, and brought in by one hint."""

import numpy as np
import pytest
from shapely import LineString, Polygon

from outgrown.outline import Tracer, make_hints
from outgrown.outline.apart import APART_CODE, find_apart, tell_apart
from outgrown.outline.holding import Holding
from outgrown.outline.proposals import see_scene

HEIGHT, WIDTH = 400, 560
TOP, BOTTOM, LEFT, RIGHT = 120, 280, 70, 470
BAND = (290, 360)
"""Left and right of a band across the garment."""
IN_BAND, BEYOND = (325.0, 200.0), (420.0, 200.0)


def lay_leg(band=BAND, more=()):
    """Return a photo (h, w, 3) of a blue leg on a sand floor, the `band` of it in the floor's colour."""
    draw = np.random.default_rng(4)
    picture = np.empty((HEIGHT, WIDTH, 3), np.float32)
    picture[:] = (196, 176, 140)
    cloth = (40, 70, 130)
    picture[TOP:BOTTOM, LEFT:RIGHT] = cloth
    if band is not None:
        picture[TOP:BOTTOM, band[0] : band[1]] = (200, 181, 146)
    for box in more:
        picture[box] = cloth
    picture += draw.normal(0, 5, picture.shape)
    return np.clip(picture, 0, 255).astype(np.uint8)


def span(contour):
    """Return the least and greatest x of a contour."""
    return float(contour.ring_px[:, 0].min()), float(contour.ring_px[:, 0].max())


@pytest.fixture(scope="module")
def tracer():
    return Tracer(lay_leg())


def is_told(contour):
    return APART_CODE in [finding.code for finding in contour.findings]


def test_the_edge_at_a_band_is_told_and_doubted(tracer):
    contour = tracer.find_contour()
    assert span(contour) == pytest.approx((LEFT, BAND[0]), abs=3)
    told = [finding for finding in contour.findings if finding.code == APART_CODE]
    assert len(told) == 1
    assert "middle of the right side" in told[0].text
    at_band = contour.ring_px[:, 0] > BAND[0] - 6
    assert (contour.confidence[at_band] < 0.5).all()
    assert (contour.confidence[contour.ring_px[:, 0] < 200] > 0.5).all()


def measure_overlap(contour):
    """Return the intersection over union of a contour with the whole leg."""
    leg = np.array([[LEFT, TOP], [RIGHT, TOP], [RIGHT, BOTTOM], [LEFT, BOTTOM]]) - 0.5
    found, true = Polygon(contour.ring_px), Polygon(leg)
    return found.intersection(true).area / found.union(true).area


def measure_height(contour, x):
    """Return how much of a column lies within a contour [px]."""
    return Polygon(contour.ring_px).intersection(LineString([(x, 0), (x, HEIGHT)])).length


def test_a_hint_beyond_the_band_brings_in_both(tracer):
    contour = tracer.find_contour(make_hints([BEYOND], []))
    assert measure_overlap(contour) > 0.99
    assert not is_told(contour)


def test_a_hint_in_the_band_brings_in_what_lies_beyond(tracer):
    contour = tracer.find_contour(make_hints([IN_BAND], []))
    assert span(contour) == pytest.approx((LEFT, RIGHT), abs=3)
    assert measure_overlap(contour) > 0.9
    assert not is_told(contour)


def test_the_closer_look_shows_what_lies_beyond(tracer):
    seen = tracer.segment()
    assert seen.origin_px[0] + seen.size_px[0] > RIGHT


def test_a_hint_elsewhere_does_not_bring_it_in():
    loop = (slice(TOP - 40, TOP), slice(120, 132))
    photo = lay_leg(more=[loop])
    photo[loop] = (176, 150, 110)
    contour = Tracer(photo).find_contour(make_hints([(126.0, TOP - 20.0)], []))
    assert span(contour) == pytest.approx((LEFT, BAND[0]), abs=3)
    assert is_told(contour)


def test_the_end_of_one_leg_is_not_joined_to_the_other():
    photo = lay_leg((290, 330))
    photo[170:240, 150:] = photo[20:90, 150:]  # floor between two legs
    photo[240:BOTTOM, BAND[0] :] = photo[20 : BOTTOM - 220, BAND[0] :]  # one of them ends before the band
    contour = Tracer(photo).find_contour(make_hints([(420.0, 145.0)], []))
    assert span(contour)[1] == pytest.approx(RIGHT, abs=3)
    assert measure_height(contour, 310.0) < 170 - TOP + 10
    assert measure_height(contour, 250.0) == pytest.approx(BOTTOM - TOP - 70, abs=10)


def test_what_is_said_to_be_floor_is_told_no_more(tracer):
    contour = tracer.find_contour(make_hints([], [BEYOND]))
    assert span(contour) == pytest.approx((LEFT, BAND[0]), abs=3)
    assert not is_told(contour)


def find(picture, mask, blocked=None):
    blocked = np.zeros(mask.shape, bool) if blocked is None else blocked
    return find_apart(Holding(see_scene(picture, blocked)), mask)


def half_found():
    mask = np.zeros((HEIGHT, WIDTH), bool)
    mask[TOP:BOTTOM, LEFT : BAND[0]] = True
    return mask


def test_parts_come_with_the_nearest_first():
    picture = lay_leg(more=[(slice(40, 80), slice(100, 160))])
    far, near = (int(part[200, 420]) for part in find(picture, half_found()))
    assert (far, near) == (0, 1)


@pytest.mark.parametrize(
    "more",
    [
        (slice(40, 52), slice(100, 112)),  # too small
        (slice(0, 60), slice(100, 200)),  # goes on beyond the frame
    ],
)
def test_what_is_small_or_runs_on_is_no_part(more):
    mask = half_found()
    mask[TOP:BOTTOM, LEFT:RIGHT] = True
    assert find(lay_leg(band=None, more=[more]), mask) == []


def test_a_card_is_no_part_and_nothing_found_has_none():
    picture, mask = lay_leg(), half_found()
    card = np.zeros(mask.shape, bool)
    card[TOP:BOTTOM, BAND[1] : RIGHT] = True
    assert find(picture, mask, card) == []
    assert find(picture, np.zeros_like(mask)) == []


def test_a_shadow_as_dark_as_the_cloth_is_no_part():
    """It looks like the cloth in this light, and like the floor in any."""
    photo, mask = lay_leg(), half_found()
    photo[mask] = (74, 74, 76)
    photo[TOP:BOTTOM, BAND[1] : RIGHT] = (82, 74, 59)
    assert find(photo, mask) == []


def test_nothing_is_doubted_where_nothing_lies_apart():
    confidence = np.full(4, 0.9)
    ring = np.array([[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 9.0]])
    assert tell_apart(ring, confidence, [], (1.0, 1.0)) == (confidence, ())
