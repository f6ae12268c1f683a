"""A second photo of the empty floor: laid over the first, it shows what was taken away."""

import cv2
import numpy as np
import pytest
import scenes
from lying import HEIGHT, WIDTH, overlap, photograph, reference_rings, true_mask

from outgrown.errors import OutlineError
from outgrown.outline import find_contour, segment_garment
from outgrown.outline.empty_floor import align_floor, measure_change

# Another place of the camera, and other light.
LATER = {
    "shot": {"height_mm": 840.0, "tilt_deg": 6.0, "lean_deg": 40.0, "roll_deg": 89.0, "look_at_mm": (15.0, 12.0)},
    "white": (1.05, 1.0, 0.95),
    "gradient": 0.35,
}
SHAPE = (400, 533)


@pytest.fixture(scope="module")
def rug():
    """Return a rug-coloured pair printed with flowers on a rug, and the bare rug."""
    fabric = scenes.Fabric((150, 60, 40), "flowers", ((226, 190, 120), (60, 40, 90)), 34.0)
    return photograph(floor="rug", fabric=fabric), photograph(floor="rug", shape=None, **LATER)


def test_what_changed_is_the_garment(rug):
    worn, bare = rug
    floor = align_floor(worn.pixels, bare.pixels)
    small = cv2.resize(worn.pixels, SHAPE[::-1], interpolation=cv2.INTER_AREA)
    change = measure_change(small, floor.cut(0, 0, WIDTH, HEIGHT, SHAPE), np.zeros(SHAPE, bool))
    truth = cv2.resize(true_mask(worn.truth).astype(np.uint8), SHAPE[::-1]) > 0
    # Seen: 0.998 and 0.002, the garment's shadow on the rug among the rest.
    assert (change[truth] > 0).mean() > 0.98
    assert (change[~truth] > 0).mean() < 0.01


def test_the_garment_on_the_rug_is_found_with_it(rug):
    worn, bare = rug
    contour = find_contour(worn.pixels, reference_rings_px=reference_rings(worn), floor_pixels=bare.pixels)
    painted = np.zeros((HEIGHT, WIDTH), np.uint8)
    cv2.fillPoly(painted, [np.round(contour.ring_px).astype(np.int32)], 1)
    # Seen: 0.989.
    assert overlap(painted > 0, true_mask(worn.truth)) > 0.98


def test_another_floor_is_refused(rug):
    with pytest.raises(OutlineError, match="empty floor does not fit") as refusal:
        align_floor(rug[0].pixels, photograph(floor="parquet", shape=None, things=()).pixels)
    assert "same spot" in refusal.value.advice


def test_a_floor_without_any_pattern_is_refused(rug):
    with pytest.raises(OutlineError, match="empty floor does not fit"):
        align_floor(rug[0].pixels, np.full((900, 1200, 3), 150, np.uint8))


def test_the_same_photo_twice_shows_no_garment(rug):
    with pytest.raises(OutlineError, match="could not tell a garment"):
        segment_garment(rug[0].pixels, reference_rings_px=reference_rings(rug[0]), floor_pixels=rug[0].pixels)
