"""Cloth beyond a seam in another colour is found again; shadows, and floors of the cloth's colour, are not."""

import cv2
import numpy as np
import pytest

from outgrown.outline import Tracer
from outgrown.outline.band import LocalLooks
from outgrown.outline.looks import to_lab
from outgrown.outline.rims import find_rims

FLOOR, DENIM, THREAD = (52, 50, 48), (44, 66, 104), (190, 140, 90)
SHAPE = (400, 640)


def box(top, bottom, left, right):
    mask = np.zeros(SHAPE, bool)
    mask[top:bottom, left:right] = True
    return mask


NOTHING = np.zeros(SHAPE, bool)
GARMENT, WITHIN = box(100, 300, 100, 540), box(107, 293, 107, 533)
"""All of it, and what lies inside the seam, 2 px wide, along its edge."""
RIM = GARMENT & ~WITHIN


def draw(floor=FLOOR, cloth=DENIM, rim=None, shade=14.0, seed=1):
    """Return a picture (400, 640, 3) of a garment with a seam, or a rim of another colour, on a mottled floor."""
    rng = np.random.default_rng(seed)
    spots = cv2.GaussianBlur(rng.normal(size=SHAPE).astype(np.float32), (0, 0), 2.5)
    picture = np.full((*SHAPE, 3), floor, np.float32) + (shade * spots / spots.std())[..., None]
    picture[GARMENT] = cloth
    if rim is not None:
        picture[RIM] = rim
    return picture


def sew(picture):
    picture[WITHIN & ~box(109, 291, 109, 531)] = THREAD
    return picture


def see(picture, seed=1):
    noise = np.random.default_rng(seed).normal(0, 3, picture.shape)
    return np.clip(cv2.GaussianBlur(picture + noise, (0, 0), 0.7), 0, 255).astype(np.uint8)


def find(picture):
    return find_rims(LocalLooks(to_lab(see(picture))), box(109, 291, 109, 531), NOTHING)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_cloth_beyond_a_seam_is_found_with_the_stitches(seed):
    found = find(sew(draw(seed=seed)))
    assert (found & RIM).sum() > 0.9 * RIM.sum()
    assert (found & ~GARMENT).sum() < 0.1 * RIM.sum()
    assert (found & WITHIN).sum() > 0.9 * (WITHIN & ~box(109, 291, 109, 531)).sum()


def test_a_reference_is_no_rim():
    picture = sew(draw())
    found = find_rims(LocalLooks(to_lab(see(picture))), box(109, 291, 109, 531), box(0, 400, 0, 108))
    assert not found[:, :108].any()
    assert (found & RIM).sum() > 0.6 * RIM.sum()


@pytest.mark.parametrize(
    ("floor", "cloth", "beyond"),
    [
        pytest.param((200, 190, 175), (70, 66, 61), (80, 76, 70), id="a shadow beside dark cloth"),
        pytest.param((200, 190, 175), DENIM, (100, 95, 87), id="a shadow beside denim"),
        pytest.param(FLOOR, DENIM, (120, 60, 50), id="another colour, as of a card"),
        pytest.param(FLOOR, DENIM, FLOOR, id="nothing"),
    ],
)
def test_what_is_not_cloth_is_no_rim(floor, cloth, beyond):
    assert not find(sew(draw(floor, cloth, beyond))).any()


def test_tiles_of_the_cloths_colour_are_no_rims():
    picture = draw()
    for y in range(0, 400, 20):
        for x in range(10 * (y // 20 % 2), 640, 20):
            picture[y : y + 10, x : x + 10] = DENIM
    picture[RIM] = np.where(np.indices(SHAPE).sum(axis=0)[RIM][:, None] % 20 < 10, DENIM, FLOOR)
    assert (find(sew(picture)) & RIM).sum() < 0.1 * RIM.sum()


@pytest.mark.parametrize(
    "part",
    [
        pytest.param(box(104, 107, 200, 218), id="a speck"),
        pytest.param(box(98, 107, 200, 210), id="a thing as thick as long"),
        pytest.param(box(99, 103, 100, 500), id="a strip off the edge"),
    ],
)
def test_what_is_no_strip_along_the_edge_is_no_rim(part):
    picture = draw(rim=FLOOR)
    picture[part] = DENIM
    assert not find(sew(picture)).any()


def test_the_edge_of_topstitched_denim_is_the_cloths():
    big = cv2.resize(sew(draw()), (1600, 1000), interpolation=cv2.INTER_LINEAR)
    ring = Tracer(see(big), reference_rings_px=[]).trace().ring_px
    low, high = ring.min(axis=0), ring.max(axis=0)
    assert low == pytest.approx([249.5, 249.5], abs=3)
    assert high == pytest.approx([1349.5, 749.5], abs=3)
