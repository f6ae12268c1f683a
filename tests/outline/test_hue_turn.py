"""The colour turns from cloth to floor in the shade, where half-way between lit cloth and lit floor is on the cloth."""

import io

import numpy as np
import pytest
from PIL import Image
from scipy.ndimage import gaussian_filter1d

from outgrown.outline.hue_turn import CLOTH_PX, FLOOR_PX, ease_lightness, find_crossing, find_turn

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


def write_and_read(levels, quality):
    """Return levels (K, 3) across an edge as a JPEG with colour at half the resolution keeps them, (16, K, 3)."""
    picture = np.repeat((levels * 255 + 0.5).astype(np.uint8)[None], 32, axis=0)
    kept = io.BytesIO()
    Image.fromarray(picture).save(kept, "JPEG", quality=quality, subsampling="4:2:0")
    return np.asarray(Image.open(kept))[8:24] / 255.0


def see_in_file(cloth, floor, edge, quality):
    """Return what a file shows at pixels -32 to 31 of cloth with a shaded rim, and of the shadow beside it."""
    fine = np.arange(-32.5, 31.5, 0.01) + 0.005
    beyond = fine - edge
    shade = np.where(beyond < 0, 1 - 0.5 * np.exp(beyond / 1.5), 1 - 0.6 * np.exp(-beyond / 4.0))
    light = (np.where(beyond[:, None] < 0, cloth, floor) * shade[:, None]) ** 2.2
    seen = gaussian_filter1d(light, 80, axis=0, mode="nearest").reshape(64, 100, 3).mean(axis=1)
    return write_and_read(seen ** (1 / 2.2), quality)


@pytest.mark.parametrize("quality", [75, 95])
@pytest.mark.parametrize("cloth", [(0.15, 0.35, 0.75), (0.8, 0.15, 0.2), (0.75, 0.7, 0.15)])
def test_bright_cloth_that_tinges_the_shadow_in_a_file_ends_where_it_ends(cloth, quality):
    pixels = np.arange(-32, 32)
    off = {"eased": [], "as it is": []}
    for edge in np.arange(-8.0, 8.0, 1.37):
        seen = see_in_file(cloth, (0.27, 0.27, 0.26), edge, quality)
        for name, levels in (("eased", ease_lightness(seen)), ("as it is", seen)):
            at = np.round(edge) + LOCAL
            mean = levels.mean(axis=0)
            across = np.stack([np.interp(at, pixels, mean[:, k]) for k in range(3)], axis=1)
            off[name].append(turn_of(across[None]).place[0] + np.round(edge) - edge)
    eased, plain = (np.sqrt(np.mean(np.square(off[name]))) for name in ("eased", "as it is"))
    assert eased < 0.5  # seen: 0.21 to 0.43
    assert plain > eased + 0.2  # seen: 0.25 to 0.60 more


def test_easing_leaves_grey_grey_and_colour_differences_as_they_are():
    levels = np.linspace(0.2, 0.7, 40)[None, :, None] * np.array([0.9, 0.6, 0.5])
    eased = ease_lightness(levels)
    assert np.ptp(levels - eased, axis=2).max() < 1e-9
    assert ease_lightness(np.full((1, 9, 3), 0.4)) == pytest.approx(0.4)
