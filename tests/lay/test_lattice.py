import numpy as np
import pytest
from cloths import star
from shapely import Polygon, affinity, box

from outgrown.lay.lattice import depth_between, meets, outer_ring


@pytest.mark.source("Shapely (GEOS): whether the interiors of two polygons have an area in common")
@pytest.mark.parametrize("seed", range(20))
def test_meeting_agrees_with_an_independent_library(seed):
    rng = np.random.default_rng(seed)
    first, second = star(rng, 50, int(rng.integers(4, 14))), star(rng, 35, int(rng.integers(4, 14)))
    found = meets(first, second, (-97.3, -96.1), 13.7, 15, 15)
    for row in range(15):
        for column in range(15):
            moved = affinity.translate(Polygon(second), -97.3 + 13.7 * column, -96.1 + 13.7 * row)
            assert found[row, column] == (Polygon(first).intersection(moved).area > 1e-7)


def test_rectangles_on_the_lattice_meet_where_they_overlap_and_nowhere_else():
    one, other = (np.asarray(box(0, 0, w, h).exterior.coords)[:-1][::-1] for w, h in ((40, 20), (10, 30)))
    one, other = (ring if Polygon(ring).exterior.is_ccw else ring[::-1] for ring in (one, other))
    found = meets(one, other, (-20.0, -40.0), 5.0, 20, 20)
    for row in range(20):
        for column in range(20):
            x, y = -20 + 5 * column, -40 + 5 * row
            inside = -10 < x < 40 and -30 < y < 20
            on_edge = -10 <= x <= 40 and -30 <= y <= 20
            assert inside <= found[row, column] <= on_edge


def test_a_shape_fits_into_the_hollow_of_another():
    hollow = np.array([(0, 0), (60, 0), (60, 50), (45, 50), (45, 15), (15, 15), (15, 50), (0, 50.0)])
    peg = np.array([(0, 0), (20, 0), (20, 30), (0, 30.0)])
    window = depth_between(hollow, peg, 2.0)
    assert window.values[18 // 2 + 1 - window.first[1] - 1, 20 // 2 - window.first[0]] == 0.0
    assert window.values[0 - window.first[1], 20 // 2 - window.first[0]] > 0.0


@pytest.mark.parametrize("grow", [0.0, 1.5])
def test_the_rough_ring_is_never_inside_the_shape(grow):
    rng = np.random.default_rng(3)
    for _ in range(20):
        shape = Polygon(star(rng, 120, 40, 0.7))
        rough = Polygon(outer_ring(shape, grow))
        assert rough.buffer(1e-6).covers(shape.buffer(grow, quad_segs=2))
        assert rough.difference(shape.buffer(grow + 2.0)).area < 0.02 * shape.area
