"""A second photo of the empty floor: laid over the first, it shows what was taken away."""

import cv2
import numpy as np
import pytest
import scenes
from lying import HEIGHT, WIDTH, outwards_px, overlap, photograph, reference_rings, true_mask

from outgrown.errors import OutlineError
from outgrown.outline import find_contour, segment_garment
from outgrown.outline.empty_floor import EmptyFloor, align_floor, measure_change
from outgrown.outline.gap import NEITHER, measure_gap, weigh_gap
from outgrown.outline.strip import unroll

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
    # Seen: 0.996; 0.992 with the edge found from the photo alone.
    assert overlap(painted > 0, true_mask(worn.truth)) > 0.993
    # Seen: 0.8 px (0.5 mm); 1.8 px with the edge found from the photo alone. On a plain table, without it: 0.7 px.
    assert np.percentile(np.abs(outwards_px(contour.ring_px, worn.truth.ring_px)), 95) < 1.1


def test_cloth_is_told_from_a_patterned_floor_in_shadow_and_a_pixel_aside():
    rng = np.random.default_rng(5)
    floor = cv2.GaussianBlur(rng.integers(0, 256, (120, 200, 3)).astype(np.float32), (0, 0), 3.0)
    floor = np.clip(120 + 6 * (floor - 127), 40, 220).astype(np.uint8)
    dim = np.linspace(0.6, 1.0, 60)[:, None, None] ** (1 / 2.2)
    seen = floor.copy()
    seen[60:] = np.round(floor[60:] * dim)
    # The cloth has the floor's colours, elsewhere.
    seen[:60] = floor[:60, ::-1]
    known = np.ones(floor.shape[:2], bool)
    known[:, 150:] = False
    bare = EmptyFloor(np.roll(floor, 1, axis=0), known)
    points = np.column_stack([np.arange(20.0, 180.0, 1.0), np.full(160, 59.5)])
    depth = np.tile(np.arange(120.0)[:, None] - 59.5, (1, 200))
    strip = unroll(seen, points, np.tile([0.0, 1.0], (160, 1)), 20, depth, None, 1.0)
    gap = measure_gap(strip, bare, 5.0, 200)
    shown, inside = points[:, 0] < 148, strip.offsets < -2
    outside = strip.offsets > 2
    # Seen: 0.95 and 0.009.
    assert (weigh_gap(gap[shown][:, inside]) > 0).mean() > 0.85
    assert (weigh_gap(gap[shown][:, outside]) > 0).mean() < 0.03
    assert (gap[points[:, 0] > 151] == NEITHER).all()


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
