import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon
from shapes import ZOO, random_leg

from outgrown.errors import GeometryError
from outgrown.geometry.offsets import SPIKE_LIMIT, OffsetEdge, offset_closed, offset_edge, offset_ring
from outgrown.geometry.rings import is_simple, signed_area_mm2


def edges_of(ring, distances, **turned):
    return [
        OffsetEdge(np.array([ring[i], ring[(i + 1) % len(ring)]]), d, is_turned=i in turned.get("turned", ()))
        for i, d in enumerate(distances)
    ]


def same_ring(ring, expected, tolerance_mm=1e-6):
    one, other = Polygon(ring), Polygon(expected)
    return one.symmetric_difference(other).area < tolerance_mm * other.length


def test_positive_is_outward_and_nought_returns_the_edge():
    edge = np.array([[0.0, 0.0], [100.0, 0.0]])
    assert offset_edge(edge, 6.0).tolist() == [[0.0, -6.0], [100.0, -6.0]]
    assert offset_edge(edge, -6.0).tolist() == [[0.0, 6.0], [100.0, 6.0]]
    assert offset_edge(edge, 0.0).tolist() == edge.tolist()


def test_a_square_with_four_distances_is_the_rectangle_computed_by_hand():
    ring = offset_ring(edges_of(ZOO["square"], (10.0, 20.0, 30.0, 40.0)))
    assert same_ring(ring, [[-40.0, -10.0], [120.0, -10.0], [120.0, 130.0], [-40.0, 130.0]])
    assert len(ring) == 4


def test_distances_of_nought_return_the_ring():
    assert same_ring(offset_ring(edges_of(ZOO["tapered leg"], (0.0,) * 5)), ZOO["tapered leg"])


def test_a_turned_edge_mirrors_the_taper_beyond_it_computed_by_hand():
    # A leg 80 wide at the hem whose inseam widens by 0.2 mm a mm. Its cut line 6 mm out crosses the hem line at
    # 80 + 6 sqrt(1 + 0.2^2) = 86.1188; 25 mm below it must be as wide as 25 mm above: + 0.2 x 25 = 91.1188.
    ring = np.array([[0.0, 0.0], [80.0, 0.0], [150.0, 350.0], [0.0, 350.0]])
    edges = edges_of(ring, (25.0, 6.0, 0.0, 0.0), turned=(0,))
    edges[3] = OffsetEdge(edges[3].points_mm, 0.0, is_fold=True)
    cut = offset_ring(edges)
    below = cut[cut[:, 1] < -1e-6]
    assert np.allclose(sorted(below.tolist()), [[0.0, -25.0], [91.1188, -25.0]], atol=1e-3)
    on_hem = cut[np.abs(cut[:, 1]) < 1e-6]
    assert np.allclose(on_hem[:, 0].max(), 86.1188, atol=1e-3)


def test_a_sharp_corner_is_cut_off_and_not_spiked():
    sharp = np.array([[0.0, 0.0], [200.0, -12.0], [200.0, 12.0]])
    arrow = np.array([[0.0, 0.0], [200.0, -20.0], [180.0, 0.0], [200.0, 20.0]])
    for ring in (sharp, arrow):
        cut = offset_ring(edges_of(ring, (6.0,) * len(ring)))
        for point in cut:
            assert Polygon(ring).distance(Polygon([point, point + 1e-9, point - 1e-9]).centroid) < (
                1.1 * SPIKE_LIMIT * 6.0
            )
        assert is_simple(cut)


def test_edges_running_clockwise_are_refused():
    with pytest.raises(GeometryError, match="counter-clockwise"):
        offset_ring([OffsetEdge(e.points_mm[::-1], 5.0) for e in reversed(edges_of(ZOO["square"], (5.0,) * 4))])


@pytest.mark.parametrize("name", ZOO)
@pytest.mark.parametrize("distance_mm", [0.0, 6.0, 10.0, 25.0])
def test_equal_distances_agree_with_a_mitred_buffer(name, distance_mm):
    ring = ZOO[name]
    cut = offset_ring(edges_of(ring, (distance_mm,) * len(ring)))
    expected = Polygon(ring).buffer(distance_mm, join_style="mitre", mitre_limit=50.0)
    corner_room = 8.0 * distance_mm**2  # spikes that the buffer makes and we cut off
    assert Polygon(cut).difference(expected).area < 1e-6 + 1e-6 * expected.area
    assert expected.difference(Polygon(cut)).area <= corner_room
    assert signed_area_mm2(cut) > 0
    assert same_ring(offset_closed(ring, distance_mm), cut) or name == "sliver"


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    hem=st.floats(0, 45),
    seam=st.floats(0, 15),
    rise=st.floats(0, 15),
    waist=st.floats(0, 45),
)
def test_cut_lines_of_random_legs_never_cross_themselves_nor_spike(seed, hem, seam, rise, waist):
    leg, _ = random_leg(np.random.default_rng(seed))
    named = leg.edges()
    named["side"] = np.array([named["side"][0], named["side"][-1]])
    edges = [
        OffsetEdge(named["side"], 0.0, is_fold=True),
        OffsetEdge(named["hem"], hem, is_turned=True),
        OffsetEdge(named["inseam"], seam),
        OffsetEdge(named["rise"], rise),
        OffsetEdge(named["waist"], waist, is_turned=True),
    ]
    cut = offset_ring(edges)
    inner = Polygon(np.vstack([e[:-1] for e in named.values()]))
    assert is_simple(cut)
    assert Polygon(cut).buffer(0.01).covers(inner)
    assert cut[:, 0].min() > -1e-6  # nothing beyond the fold
    # No point lies farther out than its allowance lets it: twice a seam's, or a turned edge's mirrored depth.
    reach = max(SPIKE_LIMIT * max(seam, rise), 1.6 * max(hem, waist) + 2.5 * max(seam, rise))
    assert Polygon(cut).difference(inner.buffer(reach + 0.01)).is_empty


@pytest.mark.parametrize("half_gap", [3.0, 8.0, 30.0])
def test_a_sharp_inward_corner_is_met_inside_it_like_a_mitred_buffer(half_gap):
    # A slit from above, as sharp as the armpit of a sleeve that hangs beside the body.
    ring = np.array([[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [100 + half_gap, 100.0], [100.0, 50.0]])
    ring = np.vstack([ring, [[100 - half_gap, 100.0], [0.0, 100.0]]])
    edges = [OffsetEdge(np.array([ring[i], ring[(i + 1) % len(ring)]]), 1.5) for i in range(len(ring))]
    buffered = Polygon(ring).buffer(1.5, join_style="mitre", mitre_limit=SPIKE_LIMIT)
    assert Polygon(offset_ring(edges)).symmetric_difference(buffered).area < 0.2
