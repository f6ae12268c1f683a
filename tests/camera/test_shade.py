"""Cards beside their own shadow, drawn with the edge known exactly."""

import sys

import cv2
import numpy as np
import pytest

from outgrown.arrays import frozen
from outgrown.camera.camera import Camera
from outgrown.camera.hue import find_hue_step
from outgrown.camera.lens import Lens
from outgrown.camera.reference import EdgeSamples, Kind, Reference
from outgrown.camera.shade import settle_shaded

# Each pixel of the drawing is the mean of this many squared.
FINE = 4
SIZE_PX = (420, 320)
CORNERS = np.array([[110.0, 235.0], [310.0, 235.0], [310.0, 108.9], [110.0, 108.9]])
CARD_MM = np.array([[0, 0], [85.60, 0], [85.60, 53.98], [0, 53.98]])
WIDTH_PX = 200.0


def draw(card, floor, throw_px, depth, clip=None, wall_px=0.0):
    """Return a picture of a card whose shadow is thrown by `throw_px` (x, y), soft at its far side only."""
    width, height = SIZE_PX
    light = np.tile(np.asarray(floor, dtype=np.float32), (height * FINE, width * FINE, 1))
    low, high = CORNERS.min(axis=0), CORNERS.max(axis=0)

    def mask(offset):
        y, x = np.mgrid[0 : height * FINE, 0 : width * FINE]
        x, y = (x + 0.5) / FINE - 0.5 - offset[0], (y + 0.5) / FINE - 0.5 - offset[1]
        return (x > low[0]) & (x < high[0]) & (y > low[1]) & (y < high[1])

    if depth:
        # An even window: the shadow is the mean of those its parts would throw.
        parts = [mask(np.array(throw_px) * share) for share in np.linspace(0.5, 1.5, 9)]
        shade = np.mean(parts, axis=0)
        light *= (1 - depth * shade)[..., None]
    for share in np.linspace(0, 1, 9):
        light[mask((wall_px * share, wall_px * share))] = card
    small = cv2.resize(light, SIZE_PX, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), 0.8)
    noise = np.random.default_rng(3).normal(size=small.shape) * 0.004
    shown = np.clip(small + noise, 0, 1 if clip is None else clip)
    return np.round(255 * shown ** (1 / 2.2)).astype(np.uint8)


def find_at(offsets_px):
    """Return a card found with its four sides that far outward of the truth."""
    middle = CORNERS.mean(axis=0)
    share = np.linspace(0.12, 0.88, 96)
    edges = []
    for side in range(4):
        first, second = CORNERS[side], CORNERS[(side + 1) % 4]
        along = (second - first) / np.linalg.norm(second - first)
        normal = np.array([along[1], -along[0]])
        normal = normal if normal @ (first - middle) > 0 else -normal
        points = first + share[:, None] * (second - first) + offsets_px[side] * normal
        edges.append(EdgeSamples(frozen(points), frozen(np.tile(normal, (96, 1))), frozen(share), 0.1))
    return Reference(Kind.CARD, frozen(CORNERS), frozen(CARD_MM), tuple(edges), thickness_mm=0.76)


def measure_offsets(reference):
    middle = CORNERS.mean(axis=0)
    out = []
    for side, edge in enumerate(reference.edges):
        first, second = CORNERS[side], CORNERS[(side + 1) % 4]
        along = (second - first) / np.linalg.norm(second - first)
        normal = np.array([along[1], -along[0]])
        normal = normal if normal @ (first - middle) > 0 else -normal
        out.append(float(((edge.points_px - first) @ normal).mean()))
    return np.array(out)


def test_a_card_without_a_shadow_stays_where_it_was_found():
    picture = draw((0.6, 0.2, 0.15), (0.35, 0.3, 0.25), (0, 0), 0)
    settled = settle_shaded(picture, [find_at([0.0, 0.0, 0.0, 0.0])])[0]
    assert np.abs(measure_offsets(settled)).max() < 0.3
    assert np.abs(settled.corners_px - CORNERS).max() < 0.4


@pytest.mark.parametrize("card", [(0.02, 0.02, 0.03), (0.08, 0.3, 0.5)], ids=["black", "blue"])
def test_a_side_found_at_the_far_side_of_its_shadow_comes_back(card):
    # Thrown 2.5 px down and 2.5 px right: sides 0 and 1 were found 2 px too far out.
    picture = draw(card, (0.7, 0.68, 0.6), (2.5, 2.5), 0.95)
    found = np.array([2.0, 2.0, 0.0, 0.0])
    settled = settle_shaded(picture, [find_at(found)])[0]
    left = measure_offsets(settled)
    doubt = np.array([edge.shift_px for edge in settled.edges])
    assert np.abs(left[2:]).max() < 0.4
    assert np.abs(left[:2]).max() < 1.2
    assert (np.abs(left) < 2.5 * doubt).all()


@pytest.mark.parametrize("card", [(0.02, 0.02, 0.03), (0.08, 0.3, 0.5)], ids=["black", "blue"])
def test_a_shadow_in_a_photo_from_close_by_is_as_many_times_wider(card, monkeypatch):
    # 7 px to a millimetre: sides 0 and 1 were found 6 px too far out, beyond what was looked at before.
    here = sys.modules[__name__]
    for name, value in (("CORNERS", 3 * CORNERS), ("SIZE_PX", (1260, 960)), ("FINE", 2)):
        monkeypatch.setattr(here, name, value)
    picture = draw(card, (0.7, 0.68, 0.6), (7.5, 7.5), 0.95)
    settled = settle_shaded(picture, [find_at(np.array([6.0, 6.0, 0.0, 0.0]))])[0]
    left = measure_offsets(settled)
    doubt = np.array([edge.shift_px for edge in settled.edges])
    assert np.abs(left[2:]).max() < 0.6
    assert np.abs(left[:2]).max() < 3 * 1.2
    assert (np.abs(left) < 2.5 * doubt).all()


def test_two_cards_under_one_light_share_their_shadow():
    picture = draw((0.02, 0.02, 0.03), (0.7, 0.68, 0.6), (2.5, 2.5), 0.95)
    found = [2.0, 2.0, 0.0, 0.0]
    one = settle_shaded(picture, [find_at(found)])[0]
    two = settle_shaded(picture, [find_at(found), find_at(found)])[0]
    assert sum(edge.shift_px for edge in two.edges) <= sum(edge.shift_px for edge in one.edges) + 1e-9


def test_a_side_of_white_beyond_the_sensor_is_drawn_in_and_doubted():
    picture = draw((1.6, 1.6, 1.6), (0.1, 0.09, 0.08), (0, 0), 0, clip=1.0)
    found = find_at([0.4, 0.4, 0.4, 0.4])
    settled = settle_shaded(picture, [found])[0]
    assert (measure_offsets(settled) < 0.3).all()
    assert all(edge.shift_px > 0.35 for edge in settled.edges)


def test_a_sheet_has_no_shadow_to_speak_of():
    picture = draw((0.8, 0.8, 0.8), (0.35, 0.3, 0.25), (2.5, 2.5), 0.95)
    sheet = find_at([0.0, 0.0, 0.0, 0.0])
    sheet = Reference(Kind.A4, sheet.corners_px, frozen([[0, 0], [297, 0], [297, 210], [0, 210]]), sheet.edges)
    assert settle_shaded(picture, [sheet])[0] is sheet


def test_a_pale_wall_seen_beside_a_pale_face_is_not_taken_for_the_face():
    # The lens stands far down and right of the card, so that two pixels of its wall show below and right of its face.
    picture = draw((0.6, 0.58, 0.55), (0.3, 0.2, 0.1), (0, 0), 0, wall_px=2.0)
    found = find_at([2.0, 2.0, 0.0, 0.0])
    camera = Camera(Lens(1000.0, (1500.0, 1200.0)), (0.0, 0.0), 428.0)
    as_found = measure_offsets(settle_shaded(picture, [found])[0])
    told = measure_offsets(settle_shaded(picture, [found], camera)[0])
    assert as_found[0] > 1.2 and as_found[1] > 1.2
    assert np.abs(told).max() < 0.8


def test_hue_tells_a_red_card_from_its_grey_shadow():
    # The shadow's far side is where a search by brightness found the sides.
    picture = draw((0.10, 0.03, 0.03), (0.45, 0.44, 0.42), (2.5, 2.5), 0.8)
    settled = settle_shaded(picture, [find_at([2.2, 2.2, 0.0, 0.0])])[0]
    assert np.abs(measure_offsets(settled)).max() < 0.5


@pytest.mark.parametrize("card", [(0.5, 0.1, 0.1), (0.1, 0.35, 0.2), (0.15, 0.06, 0.3)], ids=["red", "green", "violet"])
@pytest.mark.parametrize("depth", [0.0, 0.6, 0.9])
def test_the_hue_step_lies_at_the_edge_whatever_the_shadow(card, depth):
    across = np.arange(-8, 8.01, 0.5)
    fine = np.arange(-20, 20, 0.05)
    shadow = 1 - depth * np.clip(1 - fine / 3.0, 0, 1)
    floor = np.array([0.4, 0.3, 0.2])
    sharp = np.where(fine[:, None] < 0, np.array(card), floor * shadow[:, None])
    kernel = np.exp(-0.5 * (np.arange(-80, 81) * 0.05 / 0.8) ** 2)
    soft = np.stack([np.convolve(column, kernel / kernel.sum(), "same") for column in sharp.T], axis=1)
    seen = np.stack([np.interp(across, fine, column) for column in soft.T], axis=1)
    step = find_hue_step(across, seen)
    assert abs(step.place_px) < 0.35
    assert abs(step.place_px) < 2 * step.doubt_px


def test_grey_beside_grey_has_no_hue_step():
    across = np.arange(-8, 8.01, 0.5)
    assert find_hue_step(across, np.where(across[:, None] < 0, 0.25, 0.5) * np.ones(3)) is None
