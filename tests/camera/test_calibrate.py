"""Lenses learned from rendered photos of the lens sheet, against the lens that took them."""

from dataclasses import replace

import numpy as np
import pytest
import scenes

from outgrown.arrays import frozen_bytes
from outgrown.camera.calibrate import calibrate_lens
from outgrown.camera.profile import LensError, fit_profile
from outgrown.photo import Photo

WIDTH, HEIGHT = 1200, 900
TO_12_MEGAPIXELS = 4032 / WIDTH
# tilt, lean [degrees], height [mm], roll [degrees], where the axis meets the sheet [mm]
VIEWS = (
    (3, 30, 165, 4, (0, 0)),
    (24, 0, 210, 0, (-25, 0)),
    (26, 180, 205, 0, (25, 0)),
    (28, 90, 200, 180, (0, -15)),
    (4, 40, 165, 90, (10, 0)),
)


def photograph(view, *, k1=0.0, offset_px=(0.0, 0.0), size=(WIDTH, HEIGHT), turns=0, printed_at=1.0, **facts):
    tilt, lean, height, roll, at = view
    shot = scenes.Shot(*size, 26.0, height, tilt, lean, roll, at, k1, 0.0, offset_px)
    things = (scenes.Thing("lens-sheet", printed_at=printed_at),)
    rendered = scenes.render(
        scenes.Scene(shot=shot, shape=None, things=things, floor=scenes.Floor("sheet"), gradient=0.2, seed=int(height))
    )
    pixels = np.ascontiguousarray(np.rot90(rendered.pixels, -turns))
    told = {"make": "Larkfield", "model": "Pebble 3", "focal_35_mm": 26.0, "quarter_turns": turns}
    return Photo(frozen_bytes(pixels), name=f"{height}-{lean}.jpg", **told | facts), shot


def measure_ray_errors_px(profile, shot):
    """Return how far rays are off over the whole picture [px], after the best turn of the camera, which any pose
    takes up."""
    x, y = np.meshgrid(np.linspace(0, shot.width_px - 1, 25), np.linspace(0, shot.height_px - 1, 19))
    pixels = np.column_stack([x.ravel(), y.ravel()])
    true = shot.undistorted((pixels - shot.centre_px) / shot.focal_px)
    got = profile.lens.to_rays(pixels)
    u, v = true.T
    turn = np.stack(
        [np.stack([u * v, -(1 + u * u), v], axis=1), np.stack([1 + v * v, -u * v, -u], axis=1)], axis=1
    ).reshape(-1, 3)
    off = (got - true).ravel()
    left = off - turn @ np.linalg.lstsq(turn, off, rcond=None)[0]
    return np.linalg.norm(left.reshape(-1, 2), axis=1) * shot.focal_px


@pytest.fixture(scope="module")
def bent():
    return [photograph(view, k1=0.05, offset_px=(9.0, -6.0)) for view in VIEWS]


@pytest.mark.parametrize(("k1", "printed_at"), [(-0.05, 1.0), (0.02, 0.96)])
def test_rays_are_right_to_a_pixel_of_a_12_megapixel_photo(k1, printed_at):
    taken = [photograph(view, k1=k1, printed_at=printed_at) for view in VIEWS]
    profile = calibrate_lens([photo for photo, _ in taken])
    assert measure_ray_errors_px(profile, taken[0][1]).max() * TO_12_MEGAPIXELS < 1.0
    assert profile.distortion[0] == pytest.approx(k1, abs=0.004)
    assert profile.focal_px == pytest.approx(taken[0][1].focal_px, rel=0.0008)


def test_a_lens_whose_axis_is_off_the_middle_is_learned_too(bent):
    profile = calibrate_lens([photo for photo, _ in bent])
    shot = bent[0][1]
    assert measure_ray_errors_px(profile, shot).max() * TO_12_MEGAPIXELS < 1.0
    assert profile.centre_px == pytest.approx(shot.centre_px, abs=0.6)
    assert profile.distortion[4] == 0.0  # nothing in the photos determines k3
    # In truth, too, the stated doubts are the right size: within four of them.
    assert abs(profile.distortion[0] - 0.05) < 4 * max(profile.doubts.k1, 0.0005)
    assert profile.doubts.residual_px < 0.15
    assert (profile.make, profile.model, profile.focal_35_mm, profile.photos) == ("Larkfield", "Pebble 3", 26.0, 5)


def test_the_profile_serves_a_larger_photo_of_the_same_lens(bent):
    profile = calibrate_lens([photo for photo, _ in bent])
    large = Photo(frozen_bytes(np.zeros((3024, 4032, 3), np.uint8)))
    fitted = fit_profile(profile, large)
    scale = TO_12_MEGAPIXELS
    shot = replace(bent[0][1], width_px=4032, height_px=3024, principal_offset_px=(9.0 * scale, -6.0 * scale))
    assert measure_ray_errors_px(fitted, shot).max() < 1.0


def test_photos_taken_with_the_phone_turned_count_as_well(bent):
    photos = [photo for photo, _ in bent]
    turned = replace(
        photos[3], pixels=frozen_bytes(np.ascontiguousarray(np.rot90(photos[3].pixels, -1))), quarter_turns=1
    )
    assert turned.width_px == HEIGHT
    profile = calibrate_lens([*photos[:3], turned, photos[4]])
    assert measure_ray_errors_px(profile, bent[0][1]).max() * TO_12_MEGAPIXELS < 1.0


def blank(**facts):
    return Photo(frozen_bytes(np.full((HEIGHT, WIDTH, 3), 120, np.uint8)), **facts)


def test_what_does_not_determine_a_lens_is_refused_with_advice(bent):
    photos = [photo for photo, _ in bent]
    for chosen, says in (
        (photos[:3], "4 at least"),
        ([*photos[:4], replace(photos[4], model="Pebble 4", name="odd.jpg")], "odd.jpg.*another camera"),
        ([*photos[:4], replace(photos[4], focal_35_mm=52.0)], "another lens or zoom"),
        ([blank(), blank(), blank(), blank()], "found in 0 of 4"),
        ([photos[0]] * 4, "same direction"),
    ):
        with pytest.raises(LensError, match=says) as refused:
            calibrate_lens(chosen)
        assert refused.value.advice


def test_a_sheet_far_away_does_not_show_the_corners_of_the_lens():
    far = [photograph((tilt, lean, 480, 0, (0, 0)))[0] for tilt, lean in ((0, 0), (20, 0), (20, 90), (20, 180))]
    with pytest.raises(LensError, match="upper left"):
        calibrate_lens(far)
