"""The colour turns from cloth to floor in the shade, where half-way between lit cloth and lit floor is on the cloth."""

import numpy as np
import pytest

from outgrown.outline.hue_turn import CLOTH_PX, FLOOR_PX, find_crossing, find_turn

LOCAL = np.arange(CLOTH_PX[0], FLOOR_PX[1] + 0.1, 0.5)
FINE = np.arange(-14.0, 14.0, 0.05)
TEAL, WOOD, SLATE, GREY = (0.15, 0.55, 0.58), (0.62, 0.45, 0.32), (0.28, 0.3, 0.42), (0.5, 0.5, 0.5)


def profile(cloth, floor, edge, rim=0.0, foot=0.0, blur_px=0.8):
    """Return one profile (1, K, 3): cloth that darkens by `rim` to its edge, a shadow `foot` deep fading from there."""
    beyond = FINE - edge
    shade = np.where(beyond < 0, 1 - rim * np.exp(beyond / 1.5), 1 - foot * np.exp(-beyond / 4.0))
    sharp = np.where(beyond[:, None] < 0, cloth, floor) * shade[:, None]
    width = np.arange(-4 * blur_px, 4 * blur_px, 0.05)
    kernel = np.exp(-0.5 * (width / blur_px) ** 2)
    kernel /= kernel.sum()
    blurred = np.stack([np.convolve(one, kernel, "same") for one in sharp.T], axis=1)
    return np.stack([np.interp(LOCAL, FINE, one) for one in blurred.T], axis=1)[None]


def turn_of(across):
    return find_turn(across, LOCAL, np.array([0.01]), 3.0)


@pytest.mark.parametrize("edge", [-1.2, 0.0, 0.7])
def test_a_sharp_step_is_where_it_is(edge):
    turn = turn_of(profile(TEAL, WOOD, edge))
    assert turn.place[0] == pytest.approx(edge, abs=0.25)
    assert turn.say[0] == pytest.approx(1.0)
    assert 0 < turn.sigma[0] < 0.2


@pytest.mark.parametrize("edge", [0.0, 1.0])
def test_in_the_shade_the_turn_is_nearer_to_the_edge_than_half_way(edge):
    across = profile(TEAL, SLATE, edge, rim=0.8, foot=0.8)
    cloth, floor = across[0, :5].mean(0), across[0, -10:].mean(0)
    share = (across[0] - cloth) @ (floor - cloth) / ((floor - cloth) @ (floor - cloth))
    half, found, _ = find_crossing(share[None], LOCAL, 0.5)
    turn = turn_of(across)
    assert found[0]
    assert abs(turn.place[0] - edge) < 0.3  # seen: 0.02 and 0.15
    assert abs(half[0] - edge) > 0.6  # seen: 1.4 and 1.5, on the cloth


def test_grey_beside_grey_has_no_hue_to_turn():
    assert turn_of(profile(GREY, tuple(0.4 * v for v in GREY), 0.0)).say[0] == 0.0


def test_no_turn_within_reach_has_no_say():
    assert turn_of(profile(TEAL, WOOD, 5.0)).say[0] == 0.0


def test_a_crossing_is_the_one_nearest_to_the_settled_place():
    local = np.arange(-3.0, 3.1, 1.0)
    across = np.array([[-1.0, 1.0, -1.0, -1.0, 3.0, -1.0, 1.0]])
    place, found, slope = find_crossing(across, local, 0.0)
    assert found[0]
    assert place[0] == pytest.approx(0.25)
    assert slope[0] == pytest.approx(4.0)
