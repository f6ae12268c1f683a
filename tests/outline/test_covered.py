"""A card or sheet that the garment lies on, that lies on the garment, or that touches it."""

import cv2
import numpy as np
import pytest
import scenes
from lying import CARD, fill, outwards_px, photograph, reference_rings

from outgrown.outline import find_contour
from outgrown.outline.covered import TOUCHING_CODE, find_touching
from outgrown.outline.stations import resample_ring

SHEET = scenes.Thing("a4", (152.0, -60.0), 55.0)
CARD_UNDER = scenes.Thing("id-1", (66.0, -60.0), 30.0, "chip", (196, 84, 60), (240, 180, 96))
FABRICS = {
    "plain": scenes.Fabric((44, 78, 112)),
    "flowers": scenes.Fabric((150, 60, 40), "flowers", ((226, 190, 120), (60, 40, 90)), 34.0),
}


def trace(rendered, pixels=None, rings=None):
    return find_contour(
        rendered.pixels if pixels is None else pixels,
        reference_rings_px=reference_rings(rendered) if rings is None else rings,
    )


def is_told(contour):
    return TOUCHING_CODE in [finding.code for finding in contour.findings]


def share_under(rendered):
    ring = reference_rings(rendered)[0]
    return (fill(ring) & fill(rendered.truth.ring_px)).sum() / fill(ring).sum()


@pytest.mark.parametrize("thing", [SHEET, CARD_UNDER], ids=["sheet", "card"])
@pytest.mark.parametrize("fabric", FABRICS)
def test_what_lies_on_the_reference_is_garment(fabric, thing):
    rendered = photograph(floor="boards", fabric=FABRICS[fabric], things=(thing,))
    assert 0.02 < share_under(rendered) < 0.3
    contour = trace(rendered)
    away = np.abs(outwards_px(contour.ring_px, rendered.truth.ring_px))
    # With the whole rectangle taken for the reference the outline was 25 to 90 px off.
    assert np.percentile(away, 95) < 1.5
    assert away.max() < 5
    assert is_told(contour)


def test_a_sheet_that_parts_the_garment_in_two_is_looked_through():
    across = scenes.Thing("a4", (0.0, 60.0), 0.0)
    rendered = photograph(floor="boards", fabric=FABRICS["plain"], things=(across,))
    assert share_under(rendered) > 0.3
    away = np.abs(outwards_px(trace(rendered).ring_px, rendered.truth.ring_px))
    assert away.max() < 5


def test_a_card_on_the_cloths_edge_is_told():
    rendered = photograph(floor="boards", fabric=FABRICS["plain"])
    ring, pixels = reference_rings(rendered)[0], rendered.pixels.copy()
    garment = rendered.truth.ring_px
    # The picture of the card is moved until it lies half over the edge of the cloth.
    edge = garment[np.argmin(np.linalg.norm(garment - ring.mean(axis=0), axis=1))]
    shift = np.round(edge - ring.mean(axis=0)).astype(int)
    there = fill(ring + shift)
    pixels[there] = np.roll(rendered.pixels, shift[::-1], axis=(0, 1))[there]
    old = cv2.dilate(fill(ring).astype(np.uint8), np.ones((15, 15), np.uint8)) > 0
    pixels[old & ~there & ~fill(garment)] = np.median(rendered.pixels[old & ~fill(ring)], axis=0)
    contour = trace(rendered, pixels, [ring + shift])
    assert is_told(contour)
    assert outwards_px(contour.ring_px, garment).max() < 8, "the card is not taken for cloth"


def test_a_card_of_the_cloths_colour_close_beside_it_is_not_swallowed():
    for gap in (1.0, 2.5):
        beside = scenes.Thing("id-1", (72.0 + gap, -60.0), 90.0, "plain", (44, 78, 112), (44, 78, 112))
        rendered = photograph(floor="table", fabric=FABRICS["plain"], things=(beside,))
        contour = trace(rendered)
        assert np.abs(outwards_px(contour.ring_px, rendered.truth.ring_px)).max() < 8


def test_a_card_a_hands_width_away_is_not_told():
    assert not is_told(trace(photograph(things=(CARD,))))


def test_touching_is_measured_along_the_outline():
    corners = np.array([(200.0, 200.0), (200.0, 900.0), (900.0, 900.0), (900.0, 200.0)])
    ring = resample_ring(corners, 7.0)

    def beside(gap, length=200.0):
        low = 900.0 + gap
        return [np.array([(low, 400.0), (low + 100, 400.0), (low + 100, 400 + length), (low, 400 + length)])]

    assert find_touching(ring, beside(2.0), 1.0)[0].place == "outer edge near the middle of the right side"
    assert find_touching(ring, beside(8.0), 4.0)
    assert not find_touching(ring, beside(8.0), 1.0)
    assert not find_touching(ring, beside(2.0, length=10.0), 1.0)
    assert not find_touching(ring, [], 1.0)
