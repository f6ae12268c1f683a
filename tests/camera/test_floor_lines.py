"""Straight lines of the floor, against rendered floors whose camera is known exactly, and against drawn ones.

A straight joint is straight on the floor whatever the lens does: so samples carried to the floor by the true camera
must lie on a straight line, and joints of one direction must be parallel.
"""

import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "fixtures"))
import scenes

from outgrown.camera.floor_lines import FloorLine, find_floor_lines
from outgrown.camera.lens import Lens
from outgrown.camera.line_bow import (
    find_families,
    find_right_angles,
    fit_k1,
    leave_out_bowed,
    measure_bow,
    measure_direction,
)

FLOORS = {
    "boards": dict(seed=116, floor_kind="boards", k1=0.05, tilt_deg=12.0),
    "tiles": dict(seed=112, floor_kind="tiles", k1=-0.05, tilt_deg=8.0),
    "parquet": dict(seed=117, floor_kind="parquet", k1=0.02, tilt_deg=15.0),
    "boards, straight down": dict(seed=103, floor_kind="boards", k1=-0.02, tilt_deg=0.0),
    "tiles, no distortion": dict(seed=105, floor_kind="tiles", k1=0.0, tilt_deg=18.0),
}
"""At two thirds of a 12 megapixel picture's width, to be quick."""


class Seen:
    def __init__(self, seed, **fixed):
        self.scene = scenes.random_scene(seed, k2=0.0, width_px=2688, height_px=2016, **fixed)
        self.shot = self.scene.shot
        rendered = scenes.render(self.scene)
        packed = cv2.imencode(".jpg", rendered.pixels[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, 90])[1]
        self.pixels = np.ascontiguousarray(cv2.imdecode(packed, cv2.IMREAD_COLOR)[:, :, ::-1])
        references = [np.array(reference["corners_px"]) for reference in rendered.truth.references]
        self.lines = find_floor_lines(self.pixels, keep_out_px=references)
        self.off_mm, self.turn_deg = [], []
        for line in self.lines:
            floor = self.shot.to_mm(line.points_px)
            floor = floor - floor.mean(axis=0)
            along, across = np.linalg.svd(floor, full_matrices=False)[2]
            self.off_mm.append(float(np.percentile(np.abs(floor @ across), 95)))
            turn = np.degrees(np.arctan2(along[1], along[0])) - self.scene.floor.turn_deg
            self.turn_deg.append(float((turn + 45) % 90 - 45))


_seen: dict[str, Seen] = {}


@pytest.fixture(params=FLOORS)
def seen(request):
    if request.param not in _seen:
        _seen[request.param] = Seen(**FLOORS[request.param])
    return _seen[request.param]


def test_joints_are_found_and_hardly_anything_else(seen):
    joints = np.abs(seen.turn_deg) < 0.15
    assert joints.sum() >= 4
    assert (~joints).sum() <= 1
    diagonal = np.hypot(2688, 2016)
    assert min(line.length_px for line in seen.lines) > 0.15 * diagonal
    assert len(seen.lines) <= 24


def test_joints_are_straight_on_the_floor(seen):
    off = [mm for mm, turn in zip(seen.off_mm, seen.turn_deg, strict=True) if abs(turn) < 0.15]
    assert np.median(off) < 0.15
    assert max(off) < 0.35


def test_joints_of_one_family_are_parallel_within_a_tenth_of_a_degree(seen):
    families = find_families(seen.lines, seen.shot.focal_px, seen.shot.centre_px)
    assert len(families[0]) >= 3
    for family in families[:2]:
        turns = np.array([seen.turn_deg[index] for index in family])
        assert np.ptp(turns) < 0.2
        assert np.abs(turns - np.median(turns)).mean() < 0.1


def test_their_bow_tells_the_distortion(seen):
    k1, doubt = fit_k1(seen.lines, seen.shot.centre_px, seen.shot.focal_px)
    assert abs(k1 - seen.shot.k1) < 0.004
    assert doubt < 0.004


@pytest.mark.parametrize("kind", ["carpet", "concrete", "sheet"])
def test_floors_without_lines_give_none(kind):
    scene = scenes.random_scene(5, floor_kind=kind, garment="shorts", width_px=1344, height_px=1008)
    scene = replace(scene, fabric=scenes.Fabric((60, 80, 120), "plain"))
    rendered = scenes.render(scene)
    references = [np.array(reference["corners_px"]) for reference in rendered.truth.references]
    assert len(find_floor_lines(rendered.pixels, keep_out_px=references)) <= 1


SIZE = (1200, 900)
LENS = Lens(900.0, (599.5, 449.5), (0.04, 0.0, 0.0, 0.0, 0.0))


@cache
def drawn(tone_at):
    """Return a picture of a floor seen straight down by LENS, 1 ray unit = 100 units of the floor."""
    fine = 2
    x, y = np.meshgrid(
        (np.arange(SIZE[0] * fine) + 0.5) / fine - 0.5,
        (np.arange(SIZE[1] * fine) + 0.5) / fine - 0.5,
    )
    # Newton's and the fixed point agree to far below a pixel; the lens is tested elsewhere against OpenCV.
    rays = LENS.to_rays(np.column_stack([x.ravel(), y.ravel()])) * 100
    tone = tone_at(rays[:, 0], rays[:, 1]).reshape(y.shape).astype(np.float32)
    small = cv2.resize(tone, SIZE, interpolation=cv2.INTER_AREA)
    noisy = small + np.random.default_rng(3).normal(0, 2, size=small.shape)
    return np.repeat(np.clip(noisy, 0, 255).astype(np.uint8)[:, :, None], 3, axis=2)


def tight_boards(x, y):
    row = np.floor((y + 0.1 * x) / 15)
    plank = np.floor(x / 40 + 0.37 * row)
    return 120 + 30 * np.mod(row * 7.31 + plank * 3.17, 1)


def test_tight_boards_that_differ_only_in_tone_are_found_by_steps_up_and_down():
    lines = find_floor_lines(drawn(tight_boards))
    assert len(lines) >= 3
    for line in lines:
        floor = LENS.to_rays(line.points_px) * 100
        joint = floor[:, 1] + 0.1 * floor[:, 0]
        assert np.abs(joint - 15 * np.round(joint.mean() / 15)).mean() < 0.03  # 0.27 px
        assert np.abs(measure_bow(line, LENS)).mean() < 0.3


def test_nothing_is_measured_where_it_is_kept_out():
    ring = np.array([[450, 150], [750, 150], [750, 750], [450, 750]], dtype=float)
    lines = find_floor_lines(drawn(tight_boards), keep_out_px=[ring])
    assert lines
    for line in lines:
        inside = ((line.points_px > [450, 150]) & (line.points_px < [750, 750])).all(axis=1)
        assert not inside.any()


def line_on_floor(start, end, camera_turn, lens, sigma_px=0.1, bow=0.0, seed=0):
    """Return a line between two points of the floor seen by a camera at height 1000, leaning by `camera_turn`."""
    share = np.linspace(0, 1, 90)[:, None]
    points = np.array(start) + share * (np.array(end) - np.array(start))
    points[:, 1] += bow * 4 * (share * (1 - share))[:, 0]
    seen = (np.column_stack([points[:, 0], -points[:, 1], np.full(90, 1000.0)])) @ camera_turn.T
    pixels = lens.to_px(seen[:, :2] / seen[:, 2:])
    tangent = np.gradient(pixels, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    normals = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    pixels = pixels + normals * np.random.default_rng(seed).normal(0, sigma_px, size=(90, 1))
    return FloorLine(pixels, normals, sigma_px, float(np.linalg.norm(pixels[-1] - pixels[0])))


TURN = cv2.Rodrigues(np.array([0.2, -0.1, 0.4]))[0]
ALONG = [((-500, y), (500, y)) for y in (-400, -210, -30, 150, 330)]
ACROSS = [((x, -400), (x, 350)) for x in (-400, -80, 120, 410)]


def many(k1=0.03, bow=0.0, sigma_px=0.1):
    lens = Lens(3030.0, (2015.5, 1511.5), (k1, 0.0, 0.0, 0.0, 0.0))
    ends = ALONG + ACROSS
    lines = [line_on_floor(*two, TURN, lens, sigma_px, seed=index) for index, two in enumerate(ends)]
    if bow:
        lines.append(line_on_floor((-450, 60), (450, 20), TURN, lens, sigma_px, bow=bow, seed=99))
    return lines, lens


@pytest.mark.parametrize("k1", [-0.06, -0.02, 0.0, 0.03, 0.06])
def test_distortion_is_recovered_within_its_doubt(k1):
    lines, lens = many(k1)
    found, doubt = fit_k1(lines, lens.centre_px, lens.focal_px)
    assert abs(found - k1) < 3 * doubt
    assert doubt < 2e-3


def test_the_doubt_of_the_distortion_is_what_repeats_scatter():
    lens = Lens(3030.0, (2015.5, 1511.5), (0.02, 0.0, 0.0, 0.0, 0.0))
    results = []
    for trial in range(40):
        lines = [line_on_floor(*two, TURN, lens, 8.0, seed=100 * trial + i) for i, two in enumerate(ALONG + ACROSS)]
        results.append(fit_k1(lines, lens.centre_px, lens.focal_px))
    values, doubts = np.array(results).T
    assert 0.6 < np.median(doubts) / np.std(values) < 1.7


def test_one_bowed_line_moves_the_distortion_little_and_is_left_out():
    lines, lens = many(0.03, bow=6.0)
    found, _ = fit_k1(lines, lens.centre_px, lens.focal_px)
    assert abs(found - 0.03) < 0.002
    kept = leave_out_bowed(lines, lens.centre_px, lens.focal_px)
    assert len(kept) == len(lines) - 1
    assert all(one is other for one, other in zip(kept, lines, strict=False))


def test_without_lines_the_distortion_is_unknown():
    assert fit_k1([], (0.0, 0.0), 1000.0) == (0.0, float("inf"))
    assert find_families([], 1000.0, (0.0, 0.0)) == []


def test_families_and_the_right_angle_between_them_are_told_apart():
    lines, lens = many()
    families = find_families(lines, lens.focal_px, lens.centre_px)
    assert families == [tuple(range(len(ALONG))), tuple(range(len(ALONG), len(lines)))]
    assert find_right_angles(lines, families, lens.focal_px, lens.centre_px) == [(0, 1)]


def test_the_direction_of_parallel_lines_is_that_of_the_floor():
    lines, lens = many()
    for chosen, floor in ((lines[: len(ALONG)], [1.0, 0.0, 0.0]), (lines[len(ALONG) :], [0.0, -1.0, 0.0])):
        off = abs(float(measure_direction(chosen, lens) @ (TURN @ np.array(floor))))
        assert np.degrees(np.arccos(min(off, 1.0))) < 0.1
