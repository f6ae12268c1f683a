"""The lens against OpenCV's own camera model, on the same points."""

import cv2
import numpy as np
import pytest

from outgrown.camera.camera import Camera, lean_matrix
from outgrown.camera.lens import Lens

LENS = Lens(3000.0, (2010.0, 1500.0), (0.06, -0.03, 0.001, -0.0007, 0.004))
MATRIX = np.array([[3000.0, 0, 2010.0], [0, 3000.0, 1500.0], [0, 0, 1]])


@pytest.fixture
def rays():
    return np.random.default_rng(1).uniform(-0.6, 0.6, size=(200, 2))


def test_rays_become_the_pixels_that_opencv_computes(rays):
    expected = cv2.projectPoints(
        np.column_stack([rays, np.ones(len(rays))]), np.zeros(3), np.zeros(3), MATRIX, np.array(LENS.distortion)
    )[0].reshape(-1, 2)
    assert np.abs(LENS.to_px(rays) - expected).max() < 1e-8


def test_pixels_become_rays_and_pixels_again(rays):
    pixels = LENS.to_px(rays)
    assert np.abs(LENS.to_px(LENS.to_rays(pixels)) - pixels).max() < 1e-3


def test_floor_points_become_the_pixels_that_opencv_computes():
    camera = Camera(LENS, (0.2, -0.15), 1300.0)
    points = np.random.default_rng(2).uniform(-500, 500, size=(100, 2))
    axes = lean_matrix(0.2, -0.15) @ np.diag([1.0, -1.0, -1.0])
    expected = cv2.projectPoints(
        np.column_stack([points, np.full(100, 2.0)]),
        cv2.Rodrigues(axes)[0],
        np.array([0.0, 0.0, 1300.0]),
        MATRIX,
        np.array(LENS.distortion),
    )[0].reshape(-1, 2)
    assert np.abs(camera.to_px(points, 2.0) - expected).max() < 1e-6
    assert np.abs(camera.to_mm(expected, 2.0) - points).max() < 1e-3


def test_the_floor_is_seen_from_above_and_not_mirrored():
    camera = Camera(Lens(3000.0, (2000.0, 1500.0)), (0.0, 0.0), 1000.0)
    assert np.allclose(camera.to_mm(np.array([[2300.0, 1500.0], [2000.0, 1200.0]])), [[100, 0], [0, 100]])


def test_an_edge_above_the_floor_moves_outward_by_height_times_the_view_angle():
    # Hand-computed: seen 30 degrees off the vertical, 2 mm of height moves the edge by 2 tan 30 = 1.1547 mm.
    camera = Camera(Lens(3000.0, (2000.0, 1500.0)), (0.0, 0.0), 1000.0)
    pixel = camera.to_px(np.array([[1000 * np.tan(np.pi / 6), 0.0]]))
    moved = camera.to_mm(pixel) - camera.to_mm(pixel, 2.0)
    assert moved[0, 0] == pytest.approx(1.1547, abs=1e-3)
