from itertools import pairwise

import numpy as np
import pytest
from shapely import LineString, Point
from shapes import Leg, bezier

from outgrown.errors import GeometryError
from outgrown.geometry.corners import find_corners, sharpen_corner
from outgrown.geometry.curves import fit_curve
from outgrown.geometry.polylines import length_mm
from outgrown.geometry.rings import resample_ring
from outgrown.geometry.smoothing import smooth_line
from outgrown.geometry.truing import bend_start, corner_angle_deg


def circle(radius_mm, share=0.5, count=400):
    angle = np.linspace(0, 2 * np.pi * share, count)
    return radius_mm * np.column_stack([np.cos(angle), np.sin(angle)])


def farthest_mm(points, curve):
    """Deviation measured another way: shapely, against a dense sample of the curve."""
    line = LineString(curve.points(0.05))
    return max(line.distance(Point(p)) for p in points)


@pytest.mark.parametrize("permitted_mm", [1.0, 0.3, 0.05])
@pytest.mark.parametrize("edge", ["rise", "inseam", "waist", "hem", "side"])
def test_fitted_curves_keep_the_permitted_deviation(edge, permitted_mm):
    points = Leg().edges()[edge]
    curve = fit_curve(points, permitted_mm)
    assert farthest_mm(points, curve) <= permitted_mm + 1e-3
    assert curve.deviation_mm <= permitted_mm
    assert np.array_equal(curve.segments_mm[0, 0], points[0])
    assert np.array_equal(curve.segments_mm[-1, 3], points[-1])


def test_one_cubic_comes_back_as_one_segment():
    points = bezier((0, 0), (30, 80), (60, 100), (120, 90))
    curve = fit_curve(points, 0.05)
    assert len(curve.segments_mm) == 1
    assert curve.length_mm() == pytest.approx(length_mm(points), abs=0.01)


def test_a_half_circle_needs_few_segments_and_has_its_length():
    curve = fit_curve(circle(100.0), 0.1)
    assert len(curve.segments_mm) <= 4
    assert curve.length_mm() == pytest.approx(np.pi * 100.0, abs=0.2)


def test_segments_join_with_one_tangent():
    segments = fit_curve(circle(100.0, 0.8), 0.05).segments_mm
    assert len(segments) > 1
    for one, two in pairwise(segments):
        into, out_of = one[3] - one[2], two[1] - two[0]
        assert into @ out_of / np.hypot(*into) / np.hypot(*out_of) == pytest.approx(1.0, abs=1e-9)


def test_noise_is_refused_when_the_deviation_is_small():
    noisy = np.column_stack([np.arange(300.0), np.random.default_rng(1).normal(0, 2, 300)])
    with pytest.raises(GeometryError, match="cannot keep within"):
        fit_curve(noisy, 0.1)
    with pytest.raises(GeometryError, match="more than nought"):
        fit_curve(noisy, 0.0)


def test_ripples_go_and_a_real_curve_stays():
    x = np.arange(0.0, 400.0, 0.5)
    real = 12.0 * np.sin(np.pi * x / 400.0)
    rippled = np.column_stack([x, real + 2.0 * np.sin(2 * np.pi * x / 35.0)])
    smooth = smooth_line(rippled, np.array([0.0, 0.0]), np.array([400.0, 0.0]), ripple_mm=40.0)
    truth = LineString(np.column_stack([x, real]))
    assert max(truth.distance(Point(p)) for p in smooth.points_mm) < 0.6  # of ripples 2 mm high
    assert smooth.points_mm[:, 1].max() == pytest.approx(12.0, abs=0.5)
    assert smooth.worst_mm == pytest.approx(2.0, abs=0.6)


def test_corners_of_a_square_are_found_and_inward_ones_only_when_asked():
    notched = np.array([[0, 0], [100, 0], [100, 100], [60, 100], [50, 60], [40, 100], [0, 100]], dtype=float)
    even = resample_ring(notched, 960)
    outward = find_corners(even, (20,), 30.0)
    inward = find_corners(even, (20,), 30.0, inward=True)
    assert len(outward) == 6
    assert [np.round(even[c.index]).tolist() for c in inward] == [[50.0, 60.0]]
    assert inward[0].turn_deg < -90


def test_a_rounded_corner_is_made_sharp_again():
    angle = np.linspace(-np.pi / 2, 0, 30)
    arc = np.column_stack([94 + 6 * np.cos(angle), 6 + 6 * np.sin(angle)])
    before = np.vstack([np.column_stack([np.arange(0, 94.0), np.zeros(94)]), arc[:15]])
    after = np.vstack([arc[15:], np.column_stack([np.full(94, 100.0), np.arange(6, 100.0)])])
    corner = sharpen_corner(before, after, arc[15], skip_mm=7.0, reach_mm=50.0, max_move_mm=9.0)
    assert corner == pytest.approx([100.0, 0.0], abs=0.05)


def test_a_bent_end_leaves_square_and_moves_little():
    line = np.column_stack([np.arange(0.0, 121.0), -0.15 * np.arange(0.0, 121.0)])
    bent = bend_start(line, np.array([1.0, 0.0]), 30.0)
    assert bent[0].tolist() == [0.0, 0.0]
    assert abs(np.degrees(np.arctan2(*(bent[1] - bent[0])[::-1]))) < 1.0
    assert max(LineString(line).distance(Point(p)) for p in bent) < 0.15 * 30 * 0.15 + 0.05
    assert np.array_equal(bent[-50:], line[-50:])


def test_corner_angles_are_those_inside_the_piece():
    before, after = np.array([[0.0, 0.0], [100.0, 0.0]]), np.array([[100.0, 0.0], [100.0, 80.0]])
    assert corner_angle_deg(before, after) == pytest.approx(90.0)
    assert corner_angle_deg(before, np.array([[100.0, 0.0], [0.0, 100.0]])) == pytest.approx(45.0)
