"""Hints mend the region they lie in and nothing else, in a picture drawn here: a light cuff taken for light floor."""

import time

import cv2
import numpy as np
import pytest

from outgrown.errors import OutlineError
from outgrown.outline import Hints, Side, Tracer, find_contour, make_hints, segment_garment
from outgrown.outline.hints import describe_hints

HEIGHT, WIDTH = 900, 1200
BODY = (60, 250, 760, 600)
CUFF = (760, 250, 820, 600)
"""Left, top, right, bottom: the cuff is sewn to the body's right end."""
CUFF_MIDDLE = (785.0, 425.0)


def fill(box):
    mask = np.zeros((HEIGHT, WIDTH), bool)
    mask[box[1] : box[3], box[0] : box[2]] = True
    return mask


def draw():
    rng = np.random.default_rng(4)
    picture = np.empty((HEIGHT, WIDTH, 3), np.float32)
    picture[:] = (206, 202, 194)
    picture[fill(BODY)] = (40, 92, 104)
    picture[fill(CUFF)] = (190, 187, 178)
    picture += 2.5 * cv2.GaussianBlur(rng.normal(size=picture.shape).astype(np.float32), (0, 0), 1.5) / 0.2
    return np.clip(cv2.GaussianBlur(picture, (0, 0), 0.8), 0, 255).astype(np.uint8)


@pytest.fixture(scope="module")
def pixels():
    return draw()


@pytest.fixture(scope="module")
def tracer(pixels):
    return Tracer(pixels)


@pytest.fixture(scope="module")
def before(tracer):
    return tracer.segment().paint((HEIGHT, WIDTH))


def test_without_a_hint_the_cuff_is_missing(before):
    assert before[fill(BODY)].mean() > 0.98
    assert before[fill(CUFF)].mean() < 0.1


def test_one_place_on_the_cuff_brings_it_in_and_changes_nothing_else(tracer, before):
    after = tracer.segment(make_hints([CUFF_MIDDLE])).paint((HEIGHT, WIDTH))
    # Seen: 0.97; a corner of so faint a step stays rounded.
    assert after[fill(CUFF)].mean() > 0.9
    near = cv2.dilate(fill(CUFF).astype(np.uint8), np.ones((31, 31), np.uint8)) > 0
    assert not (after != before)[~near].any()


def test_a_long_part_that_was_left_out_comes_in_whole(pixels):
    long = (760, 250, 1130, 600)
    picture = pixels.copy()
    picture[fill(long)] = np.roll(pixels, 200, axis=0)[fill(long)] - np.uint8(10)
    before = segment_garment(picture).paint((HEIGHT, WIDTH))
    after = segment_garment(picture, hints=make_hints([(900.0, 400.0)])).paint((HEIGHT, WIDTH))
    assert before[fill(long)].mean() < 0.1
    assert after[fill(long)].mean() > 0.95 and after[fill(BODY)].mean() > 0.98


def test_elsewhere_the_contour_keeps_its_very_points(tracer):
    first, mended = tracer.trace(), tracer.trace(make_hints([CUFF_MIDDLE]))
    assert mended.ring_px[:, 0].max() > 810
    far = mended.ring_px[mended.ring_px[:, 0] < 700]
    old = {tuple(point) for point in first.ring_px.tolist()}
    assert len(far) > 100 and all(tuple(point) in old for point in far.tolist())


def test_a_hint_taken_back_gives_the_first_contour_again(tracer):
    first = tracer.trace()
    tracer.trace(make_hints([CUFF_MIDDLE]))
    assert np.array_equal(tracer.trace(Hints()).ring_px, first.ring_px)


def test_most_of_the_cuff_goes_again_when_it_is_then_said_to_be_floor(tracer, before):
    hints = Hints(make_hints([CUFF_MIDDLE]).strokes + make_hints((), [CUFF_MIDDLE]).strokes)
    after = tracer.segment(hints).paint((HEIGHT, WIDTH))
    # Seen: a third stays, for the two contradict each other.
    assert after[fill(CUFF)].mean() < 0.5 and not after[425, 785]


def test_a_hint_that_says_what_is_seen_already_changes_nothing(tracer):
    said = make_hints([(500.0, 420.0)], [(400.0, 200.0)])
    assert np.array_equal(tracer.trace(said).ring_px, tracer.trace().ring_px)


def test_a_line_of_several_places_is_one_stroke(tracer):
    hints = make_hints([[(780, 300), (790, 300), (790, 560)]])
    assert len(hints.strokes) == 1
    assert tracer.segment(hints).paint((HEIGHT, WIDTH))[fill(CUFF)].mean() > 0.9


def test_a_further_hint_costs_far_less_than_the_first_look(pixels):
    def spend(trace):
        begin = time.process_time()
        trace()
        return time.process_time() - begin

    tracer = Tracer(pixels)
    # Seen: 0.1 s and 0.7 s.
    tracer.trace()
    assert spend(lambda: tracer.trace(make_hints([CUFF_MIDDLE]))) < 0.5 * spend(lambda: Tracer(pixels).trace())


@pytest.mark.parametrize("place", [(-1.0, 20.0), (20.0, 900.0), (1200.0, 0.0), (float("nan"), 3.0)])
def test_a_place_outside_the_photo_is_refused(pixels, place):
    with pytest.raises(OutlineError, match=r"said to be floor lies outside the photo, which is 1200 x 900") as refusal:
        find_contour(pixels, hints=make_hints((), [place]))
    assert "top left" in refusal.value.advice


def test_hints_are_described_in_their_order():
    hints = make_hints([(1, 2)], [[(3, 4), (5, 6.126)]])
    assert [stroke.side for stroke in hints.strokes] == [Side.GARMENT, Side.FLOOR]
    assert describe_hints(hints) == [
        {"side": "garment", "points_px": [[1.0, 2.0]]},
        {"side": "floor", "points_px": [[3.0, 4.0], [5.0, 6.13]]},
    ]
