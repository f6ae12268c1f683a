"""Printed targets found in rendered photos, against where the renderer put them."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import scenes

from outgrown.arrays import frozen_bytes
from outgrown.camera.find_all import find_all_references
from outgrown.camera.find_targets import find_targets
from outgrown.camera.reference import Kind
from outgrown.camera.solve import solve_camera
from outgrown.camera.targets import TARGET_OF_MARKER, TARGETS, marker_cells
from outgrown.photo import Photo, read_photo

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
PLACES = (
    ("target-square-a", (-330, 200), 12),
    ("target-square-b", (330, -220), 100),
    ("target-strip-a", (-300, -240), 80),
    ("target-strip-c", (330, 150), -33),
)


def photograph(*, thing=None, places=PLACES, **shot):
    defaults = {"width_px": 1600, "height_px": 1200, "f35_mm": 26.0, "height_mm": 1150.0}
    things = tuple(scenes.Thing(kind, at, turn, **(thing or {})) for kind, at, turn in places)
    blur = shot.pop("blur_px", 0.6)
    return scenes.render(
        scenes.Scene(
            shot=scenes.Shot(**defaults | shot), shape=None, things=things, floor=scenes.Floor("table"), blur_px=blur
        )
    )


@pytest.fixture(scope="module")
def plain():
    return photograph()


def as_photo(rendered, focal=True):
    shot = rendered.truth.shot
    return Photo(
        frozen_bytes(rendered.pixels),
        focal_px=shot.focal_px if focal else None,
        focal_doubt=0.01 if focal else None,
    )


def truth_of(rendered, reference):
    """Return the true corners of the same target (they start at the same corner)."""
    return min(
        (np.array(r["corners_px"]) for r in rendered.truth.references),
        key=lambda corners: np.abs(corners - reference.corners_px).max(),
    )


def sides(corners):
    return np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)


@pytest.mark.parametrize(
    "seen",
    [
        {"tilt_deg": 3.0, "roll_deg": 90.0},
        {"tilt_deg": 25.0, "lean_deg": 40.0, "roll_deg": 37.0, "height_mm": 1000.0},
        {"blur_px": 1.1, "roll_deg": 200.0},
        {"k1": 0.05, "thing": {"ink_mm": 0.15}},
    ],
    ids=["straight above", "aslant and turned", "soft", "bent lens and spreading ink"],
)
def test_frames_are_found_to_a_tenth_of_a_pixel(seen):
    rendered = photograph(**seen)
    found = find_targets(as_photo(rendered), bar_mm=150.0)
    assert {target.name for target in found} == {"square A", "square B", "strip A", "strip C"}
    stretched = []
    for reference in found:
        true = truth_of(rendered, reference)
        assert np.abs(reference.corners_px - true).max() < 0.15, reference.name
        stretched.extend(sides(reference.corners_px) / sides(true) - 1)
        for edge, start, stop in zip(reference.edges, true, np.roll(true, -1, axis=0), strict=True):
            along = (stop - start) / np.linalg.norm(stop - start)
            across = (edge.points_px - start) @ np.array([-along[1], along[0]])
            assert abs(across.mean()) < 0.1, reference.name
    # Ink 0.15 mm beyond every edge would make a square 0.4 % larger: the middle line does not feel it.
    assert abs(np.mean(stretched)) < 0.0005


def test_a_print_at_97_percent_is_put_right_by_the_measured_bar():
    rendered = photograph(thing={"printed_at": 0.97})
    solved = solve_camera(as_photo(rendered), find_targets(as_photo(rendered), bar_mm=0.97 * 150))
    there = solved.camera.to_mm(rendered.truth.shot.to_px([(-300.0, 0.0), (300.0, 0.0)]))
    assert np.linalg.norm(there[1] - there[0]) == pytest.approx(600.0, abs=0.5)
    as_printed = solve_camera(as_photo(rendered), find_targets(as_photo(rendered)))
    there = as_printed.camera.to_mm(rendered.truth.shot.to_px([(-300.0, 0.0), (300.0, 0.0)]))
    assert np.linalg.norm(there[1] - there[0]) == pytest.approx(600.0 / 0.97, abs=0.6)


def test_an_unmeasured_bar_leaves_a_doubt_that_more_targets_do_not_lessen(plain):
    photo = as_photo(plain)
    for bar_mm, least in ((None, 0.01), (150.0, 0.0013)):
        camera = solve_camera(photo, find_targets(photo, bar_mm=bar_mm)).camera
        assert np.sqrt(camera.covariance[2, 2]) > least


def test_a_target_is_not_taken_for_a_card_as_well(plain):
    photo = as_photo(plain)
    found = find_all_references(photo)
    assert [reference.kind for reference in found] == [Kind.TARGET] * 4
    assert find_all_references(photo, kinds=[Kind.TARGET], bar_mm=149.0)[0].corners_mm[1, 0] == pytest.approx(
        67 * 149 / 150
    )


def test_the_same_target_twice_is_not_used():
    rendered = photograph(places=(PLACES[0], ("target-square-a", (300, -200), 40), PLACES[2]))
    assert [target.name for target in find_targets(as_photo(rendered))] == ["strip A"]


def test_a_covered_frame_is_not_used():
    rendered = photograph(places=PLACES[:1])
    pixels = rendered.pixels.copy()
    corners = rendered.truth.references[0]["corners_px"]
    x, y = corners[:2].mean(axis=0).astype(int)
    pixels[y - 25 : y + 25, x - 25 : x + 25] = (40, 90, 60)
    assert find_targets(replace(as_photo(rendered), pixels=frozen_bytes(pixels))) == ()


@pytest.mark.parametrize("name", ["demo.jpg", "a4.jpg"])
def test_prints_on_cloth_are_not_taken_for_targets(name):
    assert find_targets(read_photo(FIXTURES / name)) == ()


def test_every_target_has_markers_of_its_own_inside_its_frame():
    assert len(TARGET_OF_MARKER) == sum(len(target.markers) for target in TARGETS)
    for target in TARGETS:
        left, lower, right, upper = target.frame
        for marker in target.markers:
            corners = target.marker_corners_mm(marker)
            assert (corners > (left + target.bar_mm, lower + target.bar_mm)).all()
            assert (corners < (right - target.bar_mm, upper - target.bar_mm)).all()


@pytest.mark.source("Olson 2011, AprilTag: 36h11 codes differ in 11 bits or more under any turn")
def test_our_markers_differ_in_eleven_bits_under_every_turn():
    codes = [np.array(marker_cells(m))[1:-1, 1:-1] for m in [*TARGET_OF_MARKER, *range(100, 144)]]
    for index, code in enumerate(codes):
        for other in codes[index + 1 :]:
            assert min(int((np.rot90(code, turn) != other).sum()) for turn in range(4)) >= 11


def test_a_target_that_is_said_to_be_none_is_left_out(plain):
    photo = as_photo(plain)
    found = find_all_references(photo)
    gone = found[0]
    left = find_all_references(photo, none_at_px=[tuple(gone.corners_px.mean(axis=0))])
    assert [one.name for one in left] == [one.name for one in found[1:]]
