"""How sure the outline is, stretch by stretch, and what is told of it."""

import cv2
import numpy as np
import pytest

from outgrown.outline.band import LocalLooks
from outgrown.outline.confidence import UNSURE, count_as_said, find_unsure, measure_confidence
from outgrown.outline.looks import to_lab
from outgrown.outline.pulling import Pull, pull_ring
from outgrown.outline.segmentation import Segmentation

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
    assert "all round" in finding.text and finding.place == "outer edge"


def test_every_long_unsure_stretch_is_named_the_longest_first():
    (finding,) = find_unsure(RING, np.minimum(unsure(35, 65), unsure(235, 275)))
    assert "18 % of its length" in finding.text
    assert finding.text.endswith("near the bottom left and top right.")
    assert finding.place == "outer edge near the bottom left"


@pytest.mark.parametrize("name", ["plain on table", "fish on boards", "leaves on carpet", "heather on sheet"])
def test_a_plain_scene_is_sure(contour, name):
    found = contour(name)
    assert (found.confidence >= UNSURE).mean() > 0.97
    assert not any(finding.code == "outline-unsure" for finding in found.findings)


class Lying:
    """Blue cloth, 200 by 150 px, on a brown floor, and a ring that may leave it."""

    LEFT, TOP, RIGHT, BOTTOM = 100, 80, 300, 230

    def __init__(self):
        draw = np.random.default_rng(1)
        picture = np.full((310, 400, 3), (150, 120, 84), np.float64)
        picture[self.TOP : self.BOTTOM, self.LEFT : self.RIGHT] = (60, 80, 130)
        picture = cv2.GaussianBlur(picture + draw.normal(0, 6, picture.shape), (0, 0), 0.7)
        self.looks = LocalLooks(to_lab(np.clip(picture, 0, 255).astype(np.uint8)))

    def ring(self, right=RIGHT):
        """Return the outline (N, 2), counter-clockwise, its right side moved."""
        x, y = np.arange(self.LEFT, right), np.arange(self.TOP, self.BOTTOM)
        sides = [
            (np.full(len(y), self.LEFT), y),
            (x, np.full(len(x), self.BOTTOM)),
            (np.full(len(y), right), y[::-1]),
            (x[::-1], np.full(len(x), self.TOP)),
        ]
        return np.concatenate([np.column_stack(side) for side in sides]) - 0.5

    def measure(self, ring, said=None, log_ratio=None, **other):
        mask = cv2.fillPoly(np.zeros((310, 400), np.uint8), [np.round(ring).astype(np.int32)], 1) > 0
        nothing = np.zeros(mask.shape, bool)
        ratio = np.where(mask, 4, -4).astype(np.float32) if log_ratio is None else log_ratio
        seen = Segmentation(mask, ratio, nothing, (1.0, 1.0), (0, 0), (400, 310))
        return measure_confidence(self.looks, seen, nothing if said is None else said, ring, **other)


@pytest.fixture(scope="module")
def lying():
    return Lying()


def test_a_ring_on_the_edge_is_sure_all_round(lying):
    assert (lying.measure(lying.ring()) > 0.9).all()


@pytest.mark.parametrize("right", [270, 340], ids=["cloth left out", "floor taken in"])
def test_a_ring_off_the_edge_is_unsure_there_and_sure_elsewhere(lying, right):
    ring = lying.ring(right)
    confidence = lying.measure(ring, log_ratio=np.zeros((310, 400), np.float32))
    side = (ring[:, 0] > right - 2) & (np.abs(ring[:, 1] - 155) < 50)
    assert (confidence[side] < UNSURE).all()
    assert (confidence[ring[:, 0] < 240] >= UNSURE).all()


def test_what_a_hint_decided_is_sure(lying):
    ring = lying.ring(340)
    said = np.zeros((310, 400), bool)
    said[:, 300:340] = True
    side = ring[:, 0] > 338
    assert (lying.measure(ring, said)[side] == 1).all()


def test_what_a_pull_moved_is_sure_and_nothing_else():
    before = np.full(len(RING), 0.3)
    pulled = pull_ring(RING, [Pull((800.0, 500.0), (830.0, 500.0))])
    after = count_as_said(RING, pulled, before)
    moved = np.linalg.norm(pulled - RING, axis=1)
    assert (after[moved > 2] == 1).all() and (after[moved == 0] == 0.3).all() and (moved > 2).sum() > 10


def test_with_a_photo_of_the_floor_only_the_change_is_asked(lying):
    ring = lying.ring()
    change = np.full((310, 400), -4, np.float32)
    change[80:230, 100:300] = 4
    assert (lying.measure(ring, log_ratio=change, from_change=True) > 0.9).all()
    change[80:230, 300:340] = 4  # changed as well, and left out
    confidence = lying.measure(ring, log_ratio=change, from_change=True)
    side = (ring[:, 0] > 298) & (np.abs(ring[:, 1] - 155) < 50)
    assert (confidence[side] < UNSURE).all() and (confidence[ring[:, 0] < 200] > 0.9).all()


def test_confidence_does_not_hang_on_how_densely_the_ring_is_drawn(lying):
    ring = lying.ring(270)
    assert np.abs(lying.measure(ring)[::3] - lying.measure(ring[::3])).max() < 0.2
