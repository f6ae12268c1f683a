"""Striped cloth of which a stripe of the floor's colour cuts off an end."""

import numpy as np
import pytest

from outgrown.outline.severed import join_severed

SHAPE = (200, 320)
NOTHING = np.zeros(SHAPE, bool)


def box(top, bottom, left, right):
    mask = np.zeros(SHAPE, bool)
    mask[top:bottom, left:right] = True
    return mask


def see_stripes(garment, width=3):
    """Return the log-likelihood for cloth where every other stripe across is the floor's."""
    light = np.broadcast_to((np.arange(SHAPE[1]) // width) % 2 == 0, SHAPE)
    return np.where(garment & light, 3.0, -1.5).astype(np.float32)


def test_what_lies_beyond_a_stripe_is_joined_stripe_by_stripe():
    garment = box(80, 140, 24, 294)
    found = garment & box(0, 200, 0, 174)
    joined = join_severed(found, see_stripes(garment), NOTHING)
    assert (joined & ~garment).sum() == 0
    # The last stripe is the floor's colour, and nothing lies beyond it.
    assert joined[85:135, 24:288].all()


def test_a_whole_garment_stays_as_it_is():
    garment = box(80, 140, 24, 288)
    assert (join_severed(garment, see_stripes(garment), NOTHING) == garment).all()


@pytest.mark.parametrize("away", [14, 40])
def test_a_thing_farther_off_than_a_stripe_is_left_alone(away):
    garment = box(80, 140, 24, 288)
    ratio = see_stripes(garment)
    ratio[140 + away : 190, 100:160] = 3.0
    assert (join_severed(garment, ratio, NOTHING) == garment).all()


def test_a_gap_between_legs_stays_open_and_a_card_is_never_joined():
    legs = box(60, 100, 24, 240) | box(104, 150, 24, 240) | box(60, 150, 24, 60)
    ratio = np.where(legs, 3.0, -1.5).astype(np.float32)
    ratio[70:90, 244:280] = 3.0
    card = box(70, 90, 244, 280)
    assert (join_severed(legs, ratio, card) == legs).all()
    joined = join_severed(legs, ratio, NOTHING)
    assert joined[card].all()
    assert not joined[100:104, 70:236].any()
