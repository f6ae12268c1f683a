"""Light that a glossy floor mirrors is taken off the garment beside it; the garment's own light and shade stay."""

import cv2
import numpy as np
import pytest

from outgrown.outline import Tracer, peeling
from outgrown.outline.answers import Bench
from outgrown.outline.band import LocalLooks
from outgrown.outline.looks import to_lab
from outgrown.outline.peeling import peel

SHAPE = (420, 640)
NOTHING = np.zeros(SHAPE, bool)
OPEN = np.zeros(SHAPE, np.int8)
CLOTH = (118, 112, 116)


def shape(corners):
    mask = np.zeros(SHAPE, np.uint8)
    cv2.fillPoly(mask, [np.array(corners, np.int32)], 1)
    return mask > 0


LEG = shape([(90, 150), (470, 110), (520, 200), (470, 300), (90, 240)])


def boards(seed):
    """Return a floor of brown boards, (420, 640, 3)."""
    rng = np.random.default_rng(seed)
    grain = cv2.GaussianBlur(rng.normal(size=SHAPE).astype(np.float32), (0, 0), 6, None, 0.8)
    tone = 1 + 0.08 * grain / grain.std() + 0.12 * np.repeat(rng.normal(size=7), 60)[:, None]
    return np.array([96, 72, 50]) * tone[..., None]


def mirror(corners, strength, fade_px):
    """Return light (420, 640, 1) that a floor mirrors, in the file's numbers."""
    return strength * cv2.GaussianBlur(shape(corners).astype(np.float32), (0, 0), fade_px)[..., None]


def lay(light=0.0, cloth=CLOTH, seed=1, blur=0.8):
    picture = boards(seed) + light
    picture = np.where(LEG[..., None], cloth, picture)
    noise = np.random.default_rng(seed).normal(0, 3, picture.shape)
    return np.clip(cv2.GaussianBlur(picture, (0, 0), blur) + noise, 0, 255).astype(np.uint8)


def peel_off(small, mask):
    looks = LocalLooks(to_lab(small))
    return peel(Bench(small, NOTHING, OPEN), looks, mask, NOTHING, OPEN)


def overlap(one, other):
    return (one & other).sum() / (one | other).sum()


BELOW = [(250, 260), (420, 250), (430, 370), (240, 360)]
"""Where a window is mirrored, partly under the leg."""


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_mirrored_window_is_taken_off(seed):
    small = lay(mirror(BELOW, 60, 7.0), seed=seed)
    peeled = peel_off(small, LEG | shape(BELOW))
    assert peeled is not None
    assert overlap(peeled[0], LEG) > 0.98


def test_its_middle_falls_away_too_where_it_is_as_white_as_can_be():
    wide = [(150, 255), (500, 250), (510, 400), (140, 400)]
    small = lay(mirror(wide, 190, 9.0))
    peeled = peel_off(small, LEG | shape(wide))
    assert peeled is not None
    assert overlap(peeled[0], LEG) > 0.98


def test_of_a_garment_more_than_a_scrap_is_left_or_all_of_it(monkeypatch):
    small, mask = lay(mirror(BELOW, 60, 7.0)), LEG | shape(BELOW)
    monkeypatch.setattr(peeling, "LEAST_LEFT", 0.9 * LEG.sum() / mask.sum())
    assert peel_off(small, mask) is not None
    monkeypatch.setattr(peeling, "LEAST_LEFT", 1.1 * LEG.sum() / mask.sum())
    assert peel_off(small, mask) is None


def test_what_is_mirrored_may_be_larger_than_the_garment_and_lie_all_round_it():
    wide = [(40, 40), (430, 30), (440, 390), (40, 390)]
    for strength in (120, 190):
        small = lay(mirror(wide, strength, 11.0), cloth=(150, 84, 40))
        peeled = peel_off(small, LEG | shape(wide))
        assert peeled is not None
        assert overlap(peeled[0], LEG) > 0.95


def test_a_garment_with_edges_of_its_own_all_round_is_left_alone():
    assert peel_off(lay(mirror(BELOW, 60, 7.0)), LEG) is None


def test_a_garment_that_is_blurred_all_round_is_left_alone():
    assert peel_off(lay(blur=7.0), LEG) is None


def test_cloth_is_not_taken_off_where_light_ends_on_it():
    # The lit half was found, the shaded half was not: the soft edge between the two is no floor's.
    across = np.clip((np.arange(640) - 280) / 30, 0, 1)[None, :, None]
    small = lay(cloth=np.array(CLOTH) * (0.55 + 0.45 * across))
    lit = LEG & (np.arange(640) > 295)[None]
    peeled = peel_off(small, lit)
    assert peeled is None or overlap(peeled[0], lit) > 0.9


def test_the_outline_of_a_photo_runs_along_the_cloth():
    small = lay(mirror(BELOW, 60, 7.0))
    seen = Tracer(small).segment()
    x, y = seen.origin_px
    whole = np.zeros(SHAPE, bool)
    size = (seen.size_px[0], seen.size_px[1])
    part = cv2.resize(seen.mask.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    whole[y : y + size[1], x : x + size[0]] = part
    assert overlap(whole, LEG) > 0.97
