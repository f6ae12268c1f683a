"""A slow change of the photo across the ring is told from a cloth's edge."""

import cv2
import numpy as np
import pytest

from outgrown.outline.looks import to_lab
from outgrown.outline.softness import keep_long_runs, measure_softness

SHAPE = (300, 400)
NOTHING = np.zeros(SHAPE, bool)
SQUARE = NOTHING.copy()
SQUARE[80:220, 120:280] = True
FLOOR, CLOTH = np.array([90.0, 75, 60]), np.array([60.0, 90, 150])


def lay(fade_px, motif=None, cloth=CLOTH):
    """Return the Lab picture of a square that fades into the floor over a spread of so many pixels."""
    share = cv2.GaussianBlur(SQUARE.astype(np.float32), (0, 0), max(fade_px, 0.6))[..., None]
    picture = FLOOR * (1 - share) + cloth * share
    if motif is not None:
        picture[motif] = (230, 230, 120)
    noise = np.random.default_rng(2).normal(0, 3, picture.shape)
    return to_lab(np.clip(picture + noise, 0, 255).astype(np.uint8))


def sides(seen):
    """Return the stations away from the corners of the square."""
    x, y = seen.stations.T
    return ((x > 140) & (x < 260)) | ((y > 100) & (y < 200))


@pytest.mark.parametrize(("fade_px", "soft"), [(0.6, 0.0), (1.2, 0.0), (6.0, 1.0), (8.0, 1.0)])
def test_what_fades_slowly_is_soft_and_cloth_is_not(fade_px, soft):
    seen = measure_softness(lay(fade_px), SQUARE, NOTHING)
    assert seen.is_soft[sides(seen)].mean() == pytest.approx(soft, abs=0.02)


def test_a_motif_beside_the_edge_does_not_make_it_soft():
    # Cloth little unlike the floor, and bright cloth 5 px inside: the large change is quick, too.
    motif = cv2.erode(SQUARE.astype(np.uint8), np.ones((11, 11))) > 0
    seen = measure_softness(lay(0.6, motif, cloth=np.array([100.0, 85, 70])), SQUARE, NOTHING)
    assert not seen.is_soft.any()


def test_where_there_is_nothing_to_see_there_is_no_edge_and_none_that_is_soft():
    seen = measure_softness(lay(0.6, cloth=FLOOR + 3), SQUARE, NOTHING)
    assert not seen.is_soft.any()
    assert seen.is_edgeless.mean() > 0.95
    assert not measure_softness(lay(0.6), SQUARE, NOTHING).is_edgeless.any()


def test_beside_a_card_nothing_is_soft():
    card = NOTHING.copy()
    card[80:220, 285:380] = True
    seen = measure_softness(lay(7.0), SQUARE, card)
    right = sides(seen) & (seen.stations[:, 0] > 270)
    assert right.sum() > 40
    assert not seen.is_soft[right].any()
    assert not seen.is_edgeless[right].any()


def test_runs_go_on_over_the_ends_of_the_list():
    flags = np.array([1, 1, 0, 1, 0, 1, 1, 0, 1], bool)
    assert keep_long_runs(flags, 3).tolist() == [True, True, False, False, False, False, False, False, True]
    assert keep_long_runs(flags, 2).tolist() == [True, True, False, False, False, True, True, False, True]
    assert keep_long_runs(np.ones(4, bool), 9).all()
    assert not keep_long_runs(np.zeros(4, bool), 1).any()
