"""Profiles scaled and turned, against the same lens looked through in another frame; OpenCV's model is the judge."""

import cv2
import numpy as np
import pytest

from outgrown.arrays import frozen_bytes
from outgrown.camera.profile import Doubts, LensError, LensProfile, fit_profile, is_profile_of, turn_profile
from outgrown.findings import Finding
from outgrown.photo import Photo

PROFILE = LensProfile(
    4000, 3000, 3050.0, (2031.0, 1476.0), (0.05, -0.02, 0.0012, -0.0008, 0.003), 0, "Larkfield", "Pebble 3", 4.26, 26.0
)


def blank(width, height, **facts):
    return Photo(frozen_bytes(np.zeros((height, width, 3), np.uint8)), **facts)


def project(profile, rays):
    matrix = np.array(
        [[profile.focal_px, 0, profile.centre_px[0]], [0, profile.focal_px, profile.centre_px[1]], [0, 0, 1]]
    )
    return cv2.projectPoints(
        np.column_stack([rays, np.ones(len(rays))]), np.zeros(3), np.zeros(3), matrix, np.array(profile.distortion)
    )[0].reshape(-1, 2)


RAYS = np.random.default_rng(3).uniform(-0.45, 0.45, size=(60, 2))


def test_a_quarter_turn_clockwise_carries_every_pixel_along():
    seen = project(PROFILE, RAYS)
    turned = turn_profile(PROFILE, 1)
    # Turned clockwise the picture's left lower corner becomes its left upper one: (x, y) -> (H - 1 - y, x).
    expected = np.column_stack([3000 - 1 - seen[:, 1], seen[:, 0]])
    assert (turned.width_px, turned.height_px, turned.quarter_turns) == (3000, 4000, 1)
    assert np.abs(project(turned, np.column_stack([-RAYS[:, 1], RAYS[:, 0]])) - expected).max() < 1e-9


def test_four_quarter_turns_change_nothing():
    assert turn_profile(turn_profile(PROFILE, 3), 1) == PROFILE


def test_a_photo_taken_upside_down_gets_the_profile_turned_by_half():
    fitted = fit_profile(PROFILE, blank(4000, 3000, quarter_turns=2))
    assert fitted.centre_px == (3999 - 2031.0, 2999 - 1476.0)


def test_a_smaller_copy_has_its_pixels_where_the_larger_has_the_same_share():
    fitted = fit_profile(PROFILE, blank(1000, 750))
    # Pixel centres at whole numbers: the share of the width is (x + 0.5) / W.
    assert np.abs((project(fitted, RAYS) + 0.5) * 4 - 0.5 - project(PROFILE, RAYS)).max() < 1e-9


@pytest.mark.parametrize(("of_photo", "of_profile", "turns"), [(1, 0, 1), (3, 0, 3), (None, None, 1), (0, 0, 1)])
def test_an_upright_photo_gets_a_lying_profile_turned(of_photo, of_profile, turns):
    profile = LensProfile(**vars(PROFILE) | {"quarter_turns": of_profile})
    fitted = fit_profile(profile, blank(1500, 2000, quarter_turns=of_photo))
    whole = turn_profile(PROFILE, turns)
    assert fitted.centre_px == pytest.approx([(value + 0.5) / 2 - 0.5 for value in whole.centre_px])
    assert fitted.distortion == whole.distortion


def test_a_profile_without_a_turn_is_taken_as_of_the_upright_photo():
    profile = LensProfile(**vars(PROFILE) | {"quarter_turns": None})
    for turns in (None, 0, 2):
        assert fit_profile(profile, blank(4000, 3000, quarter_turns=turns)).centre_px == PROFILE.centre_px


def test_another_shape_is_refused_with_both_sizes():
    with pytest.raises(LensError, match=r"4000 x 3000.*1600 x 900"):
        fit_profile(PROFILE, blank(1600, 900))


FACTS = {"make": "Larkfield", "model": "Pebble 3", "focal_mm": 4.26, "focal_35_mm": 26.0}


@pytest.mark.parametrize(
    ("facts", "size", "is_same"),
    [
        ({}, (4000, 3000), True),
        ({}, (750, 1000), True),
        ({}, (1600, 900), False),
        ({"model": "Pebble 4"}, (4000, 3000), False),
        ({"focal_mm": 2.2, "focal_35_mm": 13.0}, (4000, 3000), False),
        ({"focal_35_mm": 52.0}, (4000, 3000), False),
        ({"findings": (Finding("photo-cropped", "Cropped."),)}, (4000, 3000), False),
        ({"make": "", "model": ""}, (4000, 3000), False),
    ],
)
def test_a_kept_profile_is_used_for_the_very_same_lens_only(facts, size, is_same):
    assert is_profile_of(PROFILE, blank(*size, **FACTS | facts)) is is_same


def test_a_profile_is_never_trusted_more_than_focusing_allows():
    exact = LensProfile(**vars(PROFILE) | {"doubts": Doubts()})
    assert exact.focal_prior()[1] >= 0.004
    assert exact.k1_prior()[1] >= 0.002
