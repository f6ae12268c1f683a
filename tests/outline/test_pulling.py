"""An outline drawn by hand: the place follows whole, neighbours less, the rest not at all."""

import numpy as np
import pytest

from outgrown.errors import OutlineError
from outgrown.outline.pulling import Pull, pull_ring

TURN = np.linspace(0.0, 2.0 * np.pi, 801)[:-1]
ROUND = 500.0 + 300.0 * np.column_stack([np.cos(TURN), np.sin(TURN)])


def test_the_place_pulled_follows_whole_and_the_far_side_stays():
    pulled = pull_ring(ROUND, [Pull((800.0, 500.0), (830.0, 500.0))])
    assert pulled.shape == ROUND.shape
    assert pulled[0].tolist() == pytest.approx([830.0, 500.0])
    moved = np.hypot(*(pulled - ROUND).T)
    assert moved.argmax() == 0 and moved.max() == pytest.approx(30.0)
    assert np.count_nonzero(moved) < 0.15 * len(ROUND)
    # It fades evenly to both sides: no step larger than the slope of a cosine over three times the pull.
    assert np.abs(np.diff(moved)).max() < 1.2 * np.pi / 2 / 3 * np.hypot(*np.diff(ROUND, axis=0).T).max()


def test_a_pull_there_and_back_changes_nothing():
    pulls = [Pull((800.0, 500.0), (815.0, 505.0)), Pull((815.0, 505.0), (800.0, 500.0))]
    # The way along the outline is longer while it is pulled out, so the two do not cancel to the last pixel.
    assert np.abs(pull_ring(ROUND, pulls) - ROUND).max() < 3.0


@pytest.mark.parametrize(
    ("pull", "words"),
    [
        (Pull((500.0, 500.0), (510.0, 500.0)), "not near the outline"),
        (Pull((float("nan"), 500.0), (510.0, 500.0)), "not near the outline"),
    ],
)
def test_pulls_that_cannot_be_meant_are_refused(pull, words):
    with pytest.raises(OutlineError, match=words):
        pull_ring(ROUND, [pull])


def test_an_edge_pulled_over_the_other_is_refused():
    narrow = (ROUND - 500.0) * np.array([1.0, 0.1]) + 500.0
    with pytest.raises(OutlineError, match="crosses itself"):
        pull_ring(narrow, [Pull((500.0, 530.0), (500.0, 450.0))])
