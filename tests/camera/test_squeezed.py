"""A picture squeezed after it was taken, and half a sheet taken for a whole one."""

from dataclasses import replace

import numpy as np
import pytest
from invented import CARD, CENTRE, FOCAL_PX, invent_camera, see

from outgrown.arrays import frozen
from outgrown.camera.find.choose import choose_floor
from outgrown.camera.find.marks import mark_shape
from outgrown.camera.find.shape import find_corners_mm, fit_pose
from outgrown.camera.reference import EdgeSamples, Kind
from outgrown.camera.solve import solve_camera
from outgrown.errors import ScaleError
from outgrown.photo import Photo

PICTURE = np.zeros((round(2 * CENTRE[1] + 1), round(2 * CENTRE[0] + 1), 3), np.uint8)


def squeeze(reference, share):
    factor = np.array([1.0, share])
    edges = []
    for edge in reference.edges:
        normals = edge.normals_px / factor
        normals /= np.linalg.norm(normals, axis=1, keepdims=True)
        edges.append(EdgeSamples(frozen(edge.points_px * factor), frozen(normals), edge.share, edge.sigma_px))
    return replace(reference, corners_px=frozen(reference.corners_px * factor), edges=tuple(edges))


@pytest.mark.parametrize("seed", range(4))
def test_a_card_in_a_squeezed_picture_is_refused_and_in_a_true_one_is_not(seed):
    rng = np.random.default_rng(seed)
    truth = invent_camera(rng, 0.0, 3.0, 1000.0)
    kind, at = CARD[0]
    card = see(truth, kind, at, 0.1, rng, shift_px=0.1)
    photo = Photo(PICTURE, focal_px=FOCAL_PX, focal_doubt=0.014)
    assert solve_camera(photo, [card]).camera.tilt_deg < 6
    with pytest.raises(ScaleError, match=r"not seen in its own shape|does not lie flat"):
        solve_camera(replace(photo, pixels=PICTURE[: round(0.8 * len(PICTURE))]), [squeeze(card, 0.8)])


def test_of_a_card_and_half_a_sheet_the_card_is_believed():
    # Half an A4 sheet (A5, ISO 216) has A4's proportions, and puts the floor 1.41 times as far away.
    heights = np.array([1000.0, 1414.0])
    assert choose_floor(heights, np.array([0.7, 0.96]), [Kind.CARD, Kind.A4]).tolist() == [True, False]
    assert choose_floor(heights, np.array([0.96, 0.96]), [Kind.A4, Kind.A4]).sum() == 1
    assert choose_floor(np.array([1000.0, 1050.0]), np.array([0.7, 0.96]), [Kind.CARD, Kind.A4]).all()


@pytest.mark.parametrize(("share", "held"), [(1.0, 1.0), (0.707, 1.0), (0.5, 0.27)])
def test_what_would_be_a_sheet_seen_from_a_ladder_is_a_booklet(share, held):
    # A6 (ISO 216) seen from 1.2 m is a sheet of A4 seen from 2.4 m, and everything would be measured twice too large.
    corners = share * (find_corners_mm(Kind.A4) - (148.5, 105.0)) / 1200 * FOCAL_PX * (1, -1) + CENTRE
    photo = Photo(PICTURE, focal_px=FOCAL_PX, focal_doubt=0.014)
    pose = fit_pose(corners, Kind.A4, photo, corner_doubt_px=0.5)
    assert mark_shape(pose, 1.0)["held"] == pytest.approx(held, abs=0.02)
