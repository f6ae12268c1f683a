from dataclasses import replace

import numpy as np
import pytest
from shapes import Leg, Shot, random_leg

from outgrown.arrays import frozen
from outgrown.errors import GarmentError
from outgrown.garment.garment import Laid
from outgrown.garment.laying import count_notches, recognise_laid
from outgrown.garment.reading import read_garment
from outgrown.outline.outline import Outline


def outline_of(ring):
    return Outline(frozen(ring), frozen(ring), (), frozen(np.zeros(len(ring))), frozen(np.ones(len(ring))))


def open_pair(leg, spread_deg=8.0):
    """Both legs side by side: a half leg turned outward about its crotch height, and its mirror image."""
    ring = leg.ring()
    top, crotch = leg.inseam_height + leg.rise_height, leg.inseam_height
    half = leg.crotch_width
    a = np.deg2rad(spread_deg)
    inner = np.array([[0.0, crotch], [-0.0, crotch]])
    outer_top, outer_hip = np.array([half * 0.8, top]), np.array([half, crotch])
    down = np.array([np.sin(a), -np.cos(a)])
    hem_outer = outer_hip + down * crotch
    hem_inner = hem_outer - leg.hem_width * np.array([np.cos(a), np.sin(a)])
    right = np.array([hem_inner, hem_outer, outer_hip, outer_top])
    left = (right * [-1, 1])[::-1]
    del ring
    return np.vstack([inner[:1], right, left])


def t_shirt():
    right = np.array(
        [[0, 0], [180, 0], [175, 330], [270, 270], [320, 350], [190, 470], [80, 490], [0, 470]], dtype=float
    )
    left = (right * [-1, 1])[::-1]
    return np.vstack([right[:-1], left[:-1]])


def panel(leg):
    """A leg opened out: front to the right of the side line, a back with a longer rise to its left."""
    front = replace(leg, side_bow=0.0, cuff_height=0.0).edges()
    back = replace(
        leg,
        side_bow=0.0,
        cuff_height=0.0,
        crotch_width=leg.crotch_width * 1.1,
        waist_width=leg.waist_width * 1.05,
        waist_slant=-8.0,
    ).edges()
    right = np.vstack([front[name][:-1] for name in ("hem", "inseam", "rise", "waist")])
    left = np.vstack([back[name][::-1][:-1] * [-1, 1] for name in ("waist", "rise", "inseam", "hem")])
    return np.vstack([right, left])


@pytest.mark.parametrize("angle_deg", [0.0, 130.0, 250.0])
@pytest.mark.parametrize(
    ("ring", "laid"),
    [
        (Leg().ring(), Laid.FOLDED),
        (Leg(inseam_height=60, hem_width=150).ring(), Laid.FOLDED),
        (open_pair(Leg()), Laid.OPEN),
        (open_pair(Leg(inseam_height=110, hem_width=150)), Laid.OPEN),
        (t_shirt(), Laid.OTHER),
        (panel(Leg()), Laid.PANEL),
        (np.array([[0, 0], [400, 0], [330, 450], [70, 450]], dtype=float), Laid.OTHER),
    ],
    ids=["folded", "folded shorts", "open", "open shorts", "t-shirt", "panel", "skirt"],
)
def test_how_it_lies_is_told_from_the_outline(ring, laid, angle_deg):
    shot = Shot(angle_deg, (100.0, 50.0), noise=0.3, ripple=1.0, seed=1)
    assert recognise_laid(outline_of(shot.ring(ring))) is laid


def test_random_legs_folded_and_opened_out_are_told_apart():
    rng = np.random.default_rng(8)
    for _ in range(25):
        leg, shot = random_leg(rng)
        assert recognise_laid(outline_of(shot.ring(leg.ring()))) is Laid.FOLDED
        assert recognise_laid(outline_of(shot.ring(panel(leg)))) is Laid.PANEL


def test_notches_are_counted():
    assert count_notches(Shot().ring(Leg().ring())) == 0
    assert count_notches(Shot().ring(open_pair(Leg()))) == 1
    assert count_notches(Shot().ring(t_shirt())) == 2


@pytest.mark.parametrize("ring", [open_pair(Leg()), t_shirt()], ids=["open", "t-shirt"])
def test_a_gap_between_legs_or_under_a_sleeve_is_no_folded_pair(ring):
    with pytest.raises(GarmentError, match="gap") as told:
        read_garment(outline_of(Shot(noise=0.3).ring(ring)))
    assert "--laid open" in told.value.advice
