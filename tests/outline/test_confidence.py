"""How sure the outline is, stretch by stretch, and what is told of it."""

import numpy as np
import pytest

from outgrown.outline.confidence import find_unsure

TURN = np.linspace(0, 2 * np.pi, 400, endpoint=False)
RING = 500 + 300 * np.column_stack([np.cos(TURN), -np.sin(TURN)])


def unsure(first, last):
    confidence = np.ones(len(RING))
    confidence[np.arange(first, last) % len(RING)] = 0.3
    return confidence


def test_a_sure_ring_has_nothing_to_tell():
    assert find_unsure(RING, np.ones(len(RING))) == ()


def test_short_unsure_stretches_are_not_told():
    assert find_unsure(RING, unsure(10, 22)) == ()


@pytest.mark.parametrize(
    ("first", "last", "place"),
    [
        (35, 65, "top right"),
        (85, 115, "middle of the top"),
        (135, 165, "top left"),
        (185, 215, "middle of the left side"),
        (235, 265, "bottom left"),
        (385, 415, "middle of the right side"),
    ],
)
def test_a_long_unsure_stretch_is_told_with_its_place(first, last, place):
    (finding,) = find_unsure(RING, unsure(first, last))
    assert finding.code == "outline-unsure" and finding.place == f"outer edge near the {place}"
    assert "8 % of its length" in finding.text or "7 % of its length" in finding.text
    assert place in finding.text and finding.advice


def test_a_ring_unsure_all_round_is_told():
    (finding,) = find_unsure(RING, np.full(len(RING), 0.2))
    assert "100 %" in finding.text


def test_a_plain_scene_is_sure(contour):
    assert (contour("plain on table").confidence >= 0.5).mean() > 0.97
