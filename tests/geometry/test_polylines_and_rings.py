import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon
from shapes import BROKEN, FIGURE_OF_EIGHT, ZOO

from outgrown.errors import GeometryError
from outgrown.geometry.moves import Frame, reflect, turn
from outgrown.geometry.polylines import (
    distances_to_line_mm,
    length_mm,
    part_between,
    point_at,
    resample,
    tangent_at_end,
    tangent_at_start,
)
from outgrown.geometry.rings import (
    as_ring,
    hull_depths_mm,
    is_simple,
    part_of_ring,
    perimeter_mm,
    resample_ring,
    signed_area_mm2,
)
from outgrown.geometry.sections import span_at_height, width_at_height
from outgrown.geometry.symmetry import find_mirror_axis, halve

angles = st.floats(-360, 360)
shifts = st.tuples(st.floats(-1000, 1000), st.floats(-1000, 1000))


@pytest.mark.parametrize("name", ZOO)
def test_area_and_perimeter_agree_with_shapely(name):
    ring = ZOO[name]
    assert signed_area_mm2(ring) == pytest.approx(Polygon(ring).area)
    assert signed_area_mm2(ring[::-1]) == pytest.approx(-Polygon(ring).area)
    assert perimeter_mm(ring) == pytest.approx(Polygon(ring).length)


@pytest.mark.parametrize("name", ZOO)
@settings(max_examples=15, deadline=None)
@given(angle=angles, shift=shifts)
def test_rigid_moves_keep_lengths_and_areas(name, angle, shift):
    ring = ZOO[name]
    moved = turn(ring, angle) + np.array(shift)
    assert perimeter_mm(moved) == pytest.approx(perimeter_mm(ring), abs=1e-6)
    assert signed_area_mm2(moved) == pytest.approx(signed_area_mm2(ring), abs=1e-4)
    mirrored = reflect(ring, np.array(shift), np.array([np.cos(angle), np.sin(angle)]))
    assert signed_area_mm2(mirrored) == pytest.approx(-signed_area_mm2(ring), abs=1e-4)


@pytest.mark.parametrize("name", BROKEN)
def test_broken_rings_are_refused_with_a_reason(name):
    with pytest.raises(GeometryError, match="ring"):
        as_ring(BROKEN[name])


def test_a_number_that_is_none_is_named_with_its_place():
    with pytest.raises(GeometryError, match="Point 1 "):
        as_ring(BROKEN["not a number"])


def test_rings_are_turned_counter_clockwise_and_cleaned():
    square = ZOO["square"]
    doubled = np.repeat(square[::-1], 2, axis=0)
    ring = as_ring(doubled)
    assert len(ring) == 4
    assert signed_area_mm2(ring) == 10000.0


def test_a_figure_of_eight_is_not_simple():
    assert not is_simple(FIGURE_OF_EIGHT)
    assert is_simple(ZOO["tapered leg"])


def test_a_right_angled_walk_is_measured_by_hand():
    line = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 40.0]])
    assert length_mm(line) == 70.0
    assert point_at(line, 50.0).tolist() == [30.0, 20.0]
    assert part_between(line, 10.0, 40.0).tolist() == [[10.0, 0.0], [30.0, 0.0], [30.0, 10.0]]
    assert tangent_at_start(line).tolist() == [1.0, 0.0]
    assert tangent_at_end(line).tolist() == [0.0, 1.0]
    assert distances_to_line_mm(np.array([[0.0, 3.0], [36.0, 48.0]]), line).tolist() == [3.0, 10.0]


def test_resampling_keeps_ends_and_spaces_evenly():
    even = resample(np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 5.0]]), 2.0)
    assert even[0].tolist() == [0.0, 0.0]
    assert even[-1].tolist() == [10.0, 5.0]
    assert np.hypot(*np.diff(even, axis=0).T).max() <= 2.0
    assert len(resample_ring(ZOO["square"], 40)) == 40


def test_part_of_ring_runs_over_the_start():
    part = part_of_ring(ZOO["square"], 350.0, 50.0)
    assert part.tolist() == [[0.0, 50.0], [0.0, 0.0], [50.0, 0.0]]


def test_widths_at_a_height_are_those_of_the_trapezium():
    leg = np.array([[0.0, 0.0], [80.0, 0.0], [150.0, 350.0], [0.0, 350.0]])
    assert width_at_height(leg, 175.0) == pytest.approx(115.0)
    assert span_at_height(leg, 70.0) == pytest.approx((0.0, 94.0))
    with pytest.raises(GeometryError):
        width_at_height(leg, 360.0)


def test_hull_depth_of_a_notch_is_its_depth():
    notched = np.array([[0.0, 0.0], [40.0, 0.0], [50.0, 30.0], [60.0, 0.0], [100.0, 0.0], [100.0, 80.0], [0.0, 80.0]])
    assert hull_depths_mm(notched)[2] == pytest.approx(30.0)


def test_a_frame_goes_into_itself_and_back():
    frame = Frame((10.0, -5.0), (3.0, 4.0), is_mirrored=True)
    points = np.array([[1.0, 2.0], [30.0, -7.0]])
    assert np.allclose(frame.out_of(frame.into(points)), points)
    assert np.allclose(frame.into(np.array([[10.0 + 3.0, -5.0 + 4.0]])), [[0.0, 5.0]])


def test_the_mirror_axis_of_a_turned_rectangle_is_found():
    rectangle = turn(np.array([[0.0, 0.0], [200.0, 0.0], [200.0, 60.0], [0.0, 60.0]]), 30.0)
    axis = find_mirror_axis(rectangle)
    angle = np.degrees(np.arctan2(axis.direction[1], axis.direction[0])) % 90
    assert angle == pytest.approx(30.0, abs=1e-6)
    assert axis.share > 0.999
    halves = halve(rectangle, axis)
    assert halves is not None
    assert [signed_area_mm2(half) for half in halves] == pytest.approx([6000.0, 6000.0])
