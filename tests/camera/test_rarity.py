"""A thing printed in many colours stands out by colours that occur nowhere else in the photo."""

import cv2
import numpy as np
import pytest

from outgrown.camera.find.judge import judge_first
from outgrown.camera.find.levels import make_levels
from outgrown.camera.find.locate import locate_sides
from outgrown.camera.find.rarity import find_rare_regions, measure_rarity
from outgrown.camera.find.regions import find_regions
from outgrown.camera.reference import Kind
from outgrown.photo import Photo

CORNERS = np.array([(700.0, 620.0), (940.0, 560.0), (902.0, 408.0), (662.0, 468.0)])
RUG = np.array([(205, 165, 40), (25, 22, 20), (110, 105, 45)])


def draw_rug(seed):
    """Return a rug of broad yellow, black and olive bands, (1200, 1600, 3)."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[:1200, :1600]
    angle = rng.uniform(0, np.pi)
    bands = ((x * np.cos(angle) + y * np.sin(angle) + 40 * np.sin(y / 90)) // 75).astype(int) % 3
    return (RUG[bands] + rng.normal(0, 6, (1200, 1600, 1))).astype(np.float32)


def lay_spotted(floor, seed):
    """Lay a rectangle full of spots of all blues, greens and pinks on it."""
    rng = np.random.default_rng(seed)
    spots = np.full(floor.shape, (70, 90, 190), np.float32)
    for _ in range(60):
        at = CORNERS.mean(axis=0) + rng.uniform(-150, 150, 2)
        colour = (float(rng.uniform(40, 255)), float(rng.uniform(60, 255)), float(rng.uniform(150, 255)))
        cv2.circle(spots, np.round(at).astype(int).tolist(), int(rng.integers(12, 32)), colour, -1)
    mask = np.zeros(floor.shape[:2], np.uint8)
    cv2.fillConvexPoly(mask, np.round(CORNERS).astype(np.int32), 255)
    share = cv2.GaussianBlur(mask, (0, 0), 0.8)[..., None] / 255
    return np.clip(floor * (1 - share) + spots * share, 0, 255).astype(np.uint8)


def measure_nearest(quads, corners):
    ways = [np.roll(way, k, axis=0) for way in (corners, corners[::-1]) for k in range(4)]
    return min((np.abs(quad - way).max() for quad in quads for way in ways), default=np.inf)


@pytest.mark.parametrize("seed", [2, 3, 4])
def test_a_spotted_card_on_a_rug_of_many_colours_is_proposed_as_a_whole(seed):
    levels = make_levels(lay_spotted(draw_rug(seed), seed))
    assert measure_nearest(levels[0].to_photo(find_rare_regions(levels)), CORNERS) < 5
    # No one tone or hue cuts it out.
    assert measure_nearest(levels[0].to_photo(find_regions(levels)), CORNERS) > 8


def test_rare_colours_are_those_that_fill_little_of_the_picture():
    picture = np.full((400, 600, 3), (120, 100, 90), np.uint8)
    picture[:, 300:] = (60, 70, 120)
    picture[100:140, 100:170] = (200, 40, 40)
    rarity = measure_rarity(make_levels(picture)[0])
    share = 40 * 70 / (400 * 600)
    # The histogram is evened, the same for all: differences are those of the shares.
    assert rarity[120, 130] - rarity[300, 500] == pytest.approx(np.log(0.5 / share), abs=0.1)
    assert rarity[300, 100] - rarity[300, 500] == pytest.approx(np.log(0.5 / (0.5 - share)), abs=0.1)


def test_a_side_that_is_far_off_is_reached_at_the_second_look():
    rng = np.random.default_rng(3)
    picture = np.full((900, 1200, 3), 150.0)
    mask = np.zeros(picture.shape[:2], np.float32)
    cv2.fillConvexPoly(mask, np.round(CORNERS - [200, 100]).astype(np.int32), 1.0)
    picture = picture * (1 - mask[..., None]) + np.array([60.0, 90.0, 160.0]) * mask[..., None]
    pixels = np.clip(cv2.GaussianBlur(picture, (0, 0), 0.8) + rng.normal(0, 2, picture.shape), 0, 255).astype(np.uint8)
    photo = Photo(pixels, focal_px=1000.0)
    true = CORNERS - [200, 100]
    # One long side is turned: 9 px out at one end.
    unit = (true[1] - true[2]) / np.linalg.norm(true[1] - true[2])
    turned = true + np.outer([0, 1, 0, 0], unit * 9)
    assert min(np.abs(corners - true).max() for corners, _ in locate_sides(pixels, turned, 6.0)) > 2.5
    (card, *_) = judge_first(photo, 250.0, turned, 6.0, (Kind.CARD,), [])
    assert measure_nearest([card.pose.corners_px], true) < 1.5
