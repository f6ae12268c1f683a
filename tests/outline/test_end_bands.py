"""A waistband or cuff in a colour of its own is found again as a whole; shadows and boards beyond an end are not."""

import cv2
import numpy as np
import pytest

from outgrown.outline.band import LocalLooks
from outgrown.outline.end_bands import find_end_bands
from outgrown.outline.looks import to_lab

SHAPE = (400, 640)
CLOTH, BAND = (60, 80, 140), (120, 95, 70)
NOTHING = np.zeros(SHAPE, bool)


def shape(corners):
    mask = np.zeros(SHAPE, np.uint8)
    cv2.fillPoly(mask, [np.array(corners, np.int32)], 1)
    return mask > 0


LEG = shape([(80, 130), (480, 90), (480, 310), (80, 250)])
WAIST = shape([(481, 90), (508, 87), (508, 315), (481, 310)])
"""Its sides run on as the leg's do, a little wider to the end."""


def checks(size=24):
    """Return a floor of grey and white checks, (400, 640, 3)."""
    y, x = np.indices(SHAPE)
    dark = ((x // size) % 2).astype(float) + ((y // size) % 2)
    return np.stack([225 - 55 * dark] * 3, axis=2)


def lay(floor, *parts, garment=LEG):
    picture = floor.astype(np.float32).copy()
    for mask, colour in ((garment, CLOTH), *parts):
        picture[mask] = colour
    noise = np.random.default_rng(1).normal(0, 3, picture.shape)
    return LocalLooks(to_lab(np.clip(cv2.GaussianBlur(picture + noise, (0, 0), 0.7), 0, 255).astype(np.uint8)))


def test_a_waistband_of_a_hue_that_the_floor_has_not_is_found():
    found = find_end_bands(lay(checks(), (WAIST, BAND)), LEG, NOTHING)
    assert (found & WAIST).sum() > 0.9 * WAIST.sum()
    assert (found & ~WAIST).sum() < 0.03 * WAIST.sum()


def test_a_waistband_that_ends_a_little_askew_is_found():
    askew = shape([(481, 90), (498, 88), (517, 315), (481, 310)])
    found = find_end_bands(lay(checks(), (askew, BAND)), LEG, NOTHING)
    assert (found & askew).sum() > 0.8 * askew.sum()


def test_a_cuff_at_the_narrow_end_is_found():
    cuff = shape([(79, 130), (60, 132), (60, 247), (79, 250)])
    found = find_end_bands(lay(checks(), (cuff, BAND)), LEG, NOTHING)
    assert (found & cuff).sum() > 0.85 * cuff.sum()
    assert (found & ~cuff).sum() < 0.05 * cuff.sum()


def test_a_hem_that_flares_on_is_found():
    skirt = shape([(100, 170), (400, 61), (400, 339), (100, 230)])
    hem = shape([(401, 61), (434, 49), (434, 351), (401, 339)])
    found = find_end_bands(lay(checks(), (hem, BAND), garment=skirt), skirt, NOTHING)
    assert (found & hem).sum() > 0.9 * hem.sum()
    assert (found & ~hem).sum() < 0.05 * hem.sum()


def test_what_lies_in_a_gap_between_two_legs_is_no_band():
    legs = shape([(80, 90), (520, 90), (520, 160), (300, 170), (300, 230), (520, 240), (520, 310), (80, 310)])
    toy = shape([(301, 170), (330, 169), (330, 231), (301, 230)])
    assert not find_end_bands(lay(checks(), (toy, BAND), garment=legs), legs, NOTHING).any()


@pytest.mark.parametrize(
    ("part", "colour"),
    [
        pytest.param(WAIST, (110, 110, 110), id="a shadow"),
        pytest.param(shape([(481, 90), (484, 89), (484, 311), (481, 310)]), BAND, id="a strip too narrow"),
        pytest.param(shape([(481, 60), (508, 60), (508, 350), (481, 350)]), BAND, id="a board that runs on"),
        pytest.param(shape([(481, 120), (508, 120), (508, 280), (481, 280)]), BAND, id="a thing of other width"),
        pytest.param(shape([(200, 273), (420, 299), (420, 320), (200, 292)]), BAND, id="a thing beside a leg"),
    ],
)
def test_what_is_no_band_is_not_found(part, colour):
    assert not find_end_bands(lay(checks(), (part, colour)), LEG, NOTHING).any()


def test_a_hue_that_the_floor_has_is_no_bands():
    floor = checks()
    floor[:60] = BAND
    floor[340:] = BAND
    assert not find_end_bands(lay(floor, (WAIST, BAND)), LEG, NOTHING).any()
    # Nor one that only the floor near by has.
    floor = checks()
    floor[320:355, 440:548] = BAND
    floor[45:80, 440:548] = BAND
    floor[45:355, 518:548] = BAND
    assert not find_end_bands(lay(floor, (WAIST, BAND)), LEG, NOTHING).any()


def test_a_card_at_the_waist_is_no_band():
    assert not find_end_bands(
        lay(checks(), (WAIST, BAND)), LEG, shape([(490, 150), (500, 150), (500, 200), (490, 200)])
    ).any()


def test_an_empty_mask_and_a_round_one_have_no_ends():
    looks = lay(checks())
    assert not find_end_bands(looks, NOTHING, NOTHING).any()
    y, x = np.indices(SHAPE)
    assert not find_end_bands(looks, np.hypot(x - 300, y - 200) < 3, NOTHING).any()
