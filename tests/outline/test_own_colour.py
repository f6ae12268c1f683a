"""A part in a colour of its own, a cuff or a waistband, that what the rest of the garment teaches calls floor."""

import cv2
import numpy as np
import pytest

from outgrown.outline.answers import Answer, Bench
from outgrown.outline.masks import as_reals, resize_mask
from outgrown.outline.own_colour import find_lost

SHAPE = (400, 520)
FLOOR, CLOTH = (128, 80, 70), (210, 180, 70)


def draw(part, colour, *, floor=FLOOR, also=None, seed=0):
    """Return a picture, its cloth (h, w) without the part, and the part: a box (left, top, right, bottom)."""
    draw = np.random.default_rng(seed)
    grain = cv2.GaussianBlur(draw.normal(size=SHAPE).astype(np.float32), (0, 0), 2.0)
    picture = np.array(floor, float) + 10 * (grain / grain.std())[..., None] + draw.normal(size=(*SHAPE, 3)) * 3
    cloth, band = np.zeros(SHAPE, bool), np.zeros(SHAPE, bool)
    cloth[150:250, 160:420] = True
    band[part[1] : part[3], part[0] : part[2]] = True
    picture[cloth] = np.array(CLOTH) + draw.normal(size=(cloth.sum(), 3)) * 4
    if colour is not None:
        picture[band] = np.array(colour) + draw.normal(size=(band.sum(), 3)) * 4
    if also is not None:
        picture[20:70, 20:140] = np.array(also) + draw.normal(size=(50, 120, 3)) * 4
    picture = cv2.GaussianBlur(np.clip(picture, 0, 255), (0, 0), 0.8)
    return picture.astype(np.uint8), cloth, band


def learn(picture, cloth, band):
    """Return the answer that a first mask with the part leads to where the lesson calls the part floor."""
    bench = Bench(picture, np.zeros(SHAPE, bool), np.zeros(SHAPE, np.int8))
    apart = bench.patches.mean_of(band) > 0.5

    def learn_again(garment, first_ratio):
        return garment & ~apart, as_reals(np.where(cloth, 2, -2))

    bench.lesson.learn_again = learn_again
    mask = cloth | band
    answer = bench.learn(mask, bench.hold(mask))
    return answer.mask[band].mean(), answer.log_ratio[band].mean()


CUFF = (120, 150, 160, 250)


def test_a_cuff_in_a_colour_that_the_floor_has_nowhere_comes_back_as_cloth():
    kept, ratio = learn(*draw(CUFF, (50, 80, 160)))
    assert kept > 0.95 and ratio > 0


@pytest.mark.parametrize(
    ("part", "colour", "also"),
    [
        pytest.param(CUFF, None, None, id="floor"),
        pytest.param(CUFF, tuple(0.6 * np.array(FLOOR)), None, id="floor in a shadow"),
        pytest.param(CUFF, tuple(0.5 * np.array(FLOOR)), None, id="floor in a deep shadow"),
        pytest.param(CUFF, (50, 80, 160), (50, 80, 160), id="a colour that lies elsewhere on the floor"),
        pytest.param((96, 248, 154, 300), (50, 80, 160), None, id="a thing that touches with little of its border"),
        pytest.param((160, 250, 420, 255), (50, 80, 160), None, id="a strip along the rim"),
    ],
)
def test_other_things_do_not(part, colour, also):
    kept, _ = learn(*draw(part, colour, also=also))
    assert kept < 0.3


@pytest.mark.parametrize("gap_px", [8, 20])
def test_a_thing_beside_the_garment_is_not_joined_to_it_by_the_floor_between(gap_px):
    picture, cloth, thing = draw((100, 150, 160 - gap_px, 250), (50, 80, 160))
    joined = thing.copy()
    joined[150:250, 160 - gap_px : 160] = True
    kept, _ = learn(picture, cloth, joined)
    assert kept < 0.3


def test_a_thing_beyond_a_band_is_not_joined_to_it_by_the_floor_between():
    picture, cloth, band = draw((150, 150, 160, 250), (200, 40, 160))
    picture[150:250, 90:124] = (50, 80, 160)
    holding = bare_bench(picture).holding
    alone = find_lost(holding, cloth, cloth | band)
    assert alone[band].mean() > 0.9
    assert not find_lost(holding, cloth, cloth | box(90, 150, 160, 250)).any()


def bare_bench(picture):
    return Bench(picture, np.zeros(SHAPE, bool), np.zeros(SHAPE, np.int8))


def box(left, top, right, bottom):
    mask = np.zeros(SHAPE, bool)
    mask[top:bottom, left:right] = True
    return mask


@pytest.mark.parametrize(
    ("wide_px", "held", "is_part"),
    [
        pytest.param(30, 0.3, True, id="cuffs"),
        pytest.param(60, 0.42, True, id="half a garment"),
        pytest.param(60, 0.38, False, id="boards"),
    ],
)
def test_parts_of_one_colour_do_not_speak_against_each_other_unless_they_may_be_boards(
    wide_px, held, is_part, monkeypatch
):
    picture, cloth, band = draw(CUFF, (50, 80, 160))
    other = box(420, 150, 420 + wide_px, 250)
    picture[other] = picture[band][:1]
    holding = bare_bench(picture).holding
    monkeypatch.setattr(holding, "measure", lambda mask: held)
    lost = find_lost(holding, cloth, cloth | band | other)
    assert not (lost & cloth).any()
    assert (lost[band].mean() > 0.95 and lost[other].mean() > 0.95) if is_part else not lost.any()


def test_half_a_garment_adjoins_with_less_of_its_border(monkeypatch):
    picture, cloth, band = draw((10, 150, 160, 250), (50, 80, 160))
    holding = bare_bench(picture).holding
    monkeypatch.setattr(holding, "measure", lambda mask: 0.5)
    assert find_lost(holding, cloth, cloth | band)[band].mean() > 0.95


def test_what_has_its_like_on_the_floor_is_dropped_and_the_rest_kept():
    picture, cloth, band = draw(CUFF, (50, 80, 160))
    floor = box(420, 150, 470, 250)
    lost = find_lost(bare_bench(picture).holding, cloth, cloth | band | floor)
    assert lost[band].mean() > 0.95 and lost[floor].mean() < 0.1


def test_a_part_that_another_region_holds_comes_back_too():
    picture, cloth, band = draw(CUFF, (50, 80, 160))
    bench = bare_bench(picture)
    answer = Answer(cloth, np.where(cloth, 2.0, -2.0).astype(np.float32), bench.hold(cloth))
    assert not bench.regain(answer, (cloth,)).mask[band].any()
    whole = bench.regain(answer, (cloth, cloth | band))
    assert whole.mask[band].mean() > 0.95 and (whole.log_ratio[band] > 0).mean() > 0.95
    assert whole.own[band].mean() > 0.95 and not whole.own[cloth].any()


@pytest.mark.parametrize(
    ("part", "is_part"),
    [
        pytest.param(CUFF, True, id="a cuff"),
        pytest.param((60, 185, 160, 215), False, id="a thing that touches with its tip"),
        pytest.param((150, 190, 160, 202), False, id="a speck"),
    ],
)
def test_a_part_has_its_size_and_lies_at_the_garment_with_much_of_its_border(part, is_part):
    picture, cloth, band = draw(part, (50, 80, 160))
    assert find_lost(bare_bench(picture).holding, cloth, cloth | band).any() == is_part


@pytest.mark.parametrize(("share", "is_part"), [(0.96, True), (0.94, False)])
def test_the_garment_holds_no_worse_with_it(share, is_part, monkeypatch):
    picture, cloth, band = draw(CUFF, (50, 80, 160))
    holding = bare_bench(picture).holding
    alone = resize_mask(cloth, holding.shape).sum()
    monkeypatch.setattr(holding, "measure", lambda mask: 0.5 if mask.sum() == alone else 0.5 * share)
    assert find_lost(holding, cloth, cloth | band).any() == is_part


def test_a_small_part_must_come_back_from_the_cut_out_too():
    picture, cloth, band = draw((146, 150, 160, 200), (50, 80, 160))
    bench = bare_bench(picture)
    answer = Answer(cloth, np.where(cloth, 2.0, -2.0).astype(np.float32), bench.hold(cloth))
    whole = bench.regain(answer, (cloth | band,))
    assert whole.mask[band].mean() > 0.9 and whole.own is None
