"""A part in a colour of its own, a cuff or a waistband, that what the rest of the garment teaches calls floor."""

import cv2
import numpy as np
import pytest

from outgrown.outline.answers import Bench
from outgrown.outline.masks import as_reals

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
