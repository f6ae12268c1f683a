import numpy as np
import pytest
import shapely

from outgrown.geometry.room import RoomFinder, find_room, meets_box

SQUARE = [(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)]
WEDGE = [(0.0, 0.0), (300.0, 0.0), (300.0, 80.0)]


def test_box_in_an_empty_square_lies_in_its_middle():
    assert find_room(SQUARE, [], 40, 10) == pytest.approx((50, 50), abs=3)


def test_box_larger_than_the_ring_has_no_room():
    assert find_room(SQUARE, [], 101, 10) is None
    assert find_room(SQUARE, [], 10, 101) is None


def test_box_goes_to_the_larger_side_of_a_line():
    x, _ = find_room(SQUARE, [[(30, 0), (30, 100)]], 50, 10)
    assert x - 25 > 30


@pytest.mark.parametrize("seed", range(12))
def test_box_found_touches_nothing(seed):
    rng = np.random.default_rng(seed)
    lines = rng.uniform(0, 300, (6, 2, 2))
    ring = [(0, 0), (300, 20), (320, 280), (150, 200), (10, 300)]
    finder = RoomFinder(ring, lines)
    for width, height in ((60, 8), (30, 30), (10, 70)):
        found = finder.find(width, height, clear_mm=1.0)
        if found:
            x, y = found
            box = shapely.box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)
            assert shapely.Polygon(ring).contains(box)
            assert all(not box.intersects(shapely.LineString(line)) for line in lines)


def test_box_finds_the_wide_end_of_a_wedge():
    x, y = find_room(WEDGE, [], 60, 40)
    box = shapely.box(x - 30, y - 20, x + 30, y + 20)
    assert shapely.Polygon(WEDGE).contains(box)


def test_free_place_nearest_to_the_wish_is_taken():
    x, y = find_room(SQUARE, [], 20, 10, near_mm=(80, 20))
    assert (x, y) == pytest.approx((80, 20), abs=3)


@pytest.mark.parametrize("seed", range(20))
def test_meets_box_agrees_with_shapely(seed):
    rng = np.random.default_rng(seed)
    segment = rng.uniform(-20, 20, (1, 2, 2))
    angle, size = rng.uniform(-180, 180), rng.uniform(1, 20, 2)
    box = shapely.affinity.rotate(shapely.box(-size[0] / 2, -size[1] / 2, size[0] / 2, size[1] / 2), angle, (0, 0))
    assert meets_box(segment, (0, 0), *size, angle) == box.intersects(shapely.LineString(segment[0]))
