"""A card up to a line of its print, or a sheet up to a printed frame, is not the whole thing."""

import cv2
import numpy as np
import pytest

from outgrown.camera.find import choose
from outgrown.camera.find.find import find_references
from outgrown.camera.find.judge import Judged
from outgrown.camera.find.marks import mark_first
from outgrown.camera.find.shape import Pose, fit_pose
from outgrown.camera.reference import Kind
from outgrown.photo import Photo

FLOOR, FACE, PRINT = (205, 200, 190), (150, 90, 100), (70, 110, 105)
CORNER, SIZE = np.array([300.0, 260.0]), np.array([370.0, 233.0])
RADIUS = 14
"""px: a card of ISO/IEC 7810 ID-1, 370 px long."""


def print_to(pixels, of_print):
    """Lay a printed card with round corners into a picture."""
    face = np.zeros(pixels.shape[:2], np.uint8)
    low, high = (CORNER + RADIUS).astype(int).tolist(), (CORNER + SIZE - 1 - RADIUS).astype(int).tolist()
    cv2.rectangle(face, low, high, 255, -1)
    face = cv2.dilate(face, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * RADIUS + 1,) * 2))
    card = np.full_like(pixels, FACE)
    of_print(card)
    pixels[face > 0] = card[face > 0]


def picture(of_print, joint=None):
    """Return a photo of a card on a plain floor, drawn on by `of_print`; a joint of the floor may run along a side."""
    pixels = np.full((900, 1200, 3), FLOOR, np.uint8)
    if joint is not None:
        cv2.line(pixels, *joint, PRINT, 5)
    print_to(pixels, of_print)
    return Photo(cv2.GaussianBlur(pixels, (0, 0), 0.8), focal_px=3000.0, focal_doubt=0.02)


def stripe(pixels, left=0, right=370):
    """Draw a stripe along the card, 28 px from its upper side."""
    pixels[288:300, 300 + left : 300 + right] = PRINT


def ends(photo, top, *, kind=Kind.CARD):
    """Return the mark of the card's rectangle with its upper side `top` px lower."""
    low, high = CORNER - 0.5 + np.array([0.0, top]), CORNER + SIZE - 0.5
    corners = np.array([[low[0], high[1]], [high[0], high[1]], [high[0], low[1]], [low[0], low[1]]])
    pose = fit_pose(corners, kind, photo, corner_doubt_px=1.0)
    assert pose is not None
    return mark_first(photo, 205.0, pose, 1.0)["ends"]


@pytest.mark.parametrize("kind", [Kind.CARD, Kind.A4])
def test_what_ends_at_a_line_of_print_does_not_end_there(kind):
    photo = picture(stripe)
    assert ends(photo, 40.0, kind=kind) == 0.0
    assert ends(photo, 0.0, kind=kind) == 1.0


def test_a_joint_of_the_floor_along_one_side_says_nothing():
    photo = picture(lambda pixels: None, joint=((300, 0), (300, 899)))
    assert ends(photo, 0.0) == 1.0


def test_a_frame_drawn_on_the_card_does_not_run_on():
    """A frame drawn inside the card ends at its corners."""

    def frame(pixels):
        cv2.rectangle(pixels, (320, 280), (650, 473), PRINT, -1)

    photo = picture(frame)
    low, high = np.array([319.5, 279.5]), np.array([650.5, 473.5])
    corners = np.array([[low[0], high[1]], [high[0], high[1]], [high[0], low[1]], [low[0], low[1]]])
    pose = fit_pose(corners, Kind.CARD, photo, corner_doubt_px=1.0)
    assert mark_first(photo, 205.0, pose, 1.0)["ends"] == 1.0


def test_of_a_card_with_rows_of_print_the_whole_is_found():
    def rows(pixels):
        stripe(pixels, 30, 340)
        pixels[318:330, 330:640] = PRINT

    (found,) = find_references(picture(rows))
    assert found.kind is Kind.CARD
    np.testing.assert_allclose(np.ptp(found.corners_px, axis=0), SIZE, atol=1.0)


def judged(kind, score, corners_px):
    height = np.array([0.0, 0.0, 1.0])
    pose = Pose(kind, 0, corners_px, 700.0, 0.0, 0.1, 0.1, height, height * 700.0, 3000.0)
    return Judged(pose, (), score, {})


RECTANGLE = np.array([[300.0, 493.0], [670.0, 493.0], [670.0, 260.0], [300.0, 260.0]])


def moved(right, down):
    return RECTANGLE + np.array([right, down])


@pytest.mark.parametrize(("of_the_card", "of_the_sheet", "taken"), [(0.5, 0.7, Kind.CARD), (0.5, 0.8, Kind.A4)])
def test_a_card_is_believed_before_a_slightly_surer_sheet_in_its_place(of_the_card, of_the_sheet, taken, monkeypatch):
    found = [judged(Kind.CARD, of_the_card, RECTANGLE), judged(Kind.A4, of_the_sheet, moved(0.0, 20.0))]
    assert [j.pose.kind for j in choose_among(found, monkeypatch)] == [taken]


def test_a_card_is_measured_however_many_sheets_it_seems_at_first(monkeypatch):
    sheets = [judged(Kind.A4, 0.9 - 0.01 * k, moved(3.0 * k, 0.0)) for k in range(8)]
    (found,) = choose_among([*sheets, judged(Kind.CARD, 0.5, RECTANGLE)], monkeypatch, rejected=Kind.A4)
    assert found.pose.kind is Kind.CARD


def choose_among(found, monkeypatch, rejected=None):
    """Return what is chosen where the first look sees `found` and the last one rejects a kind."""
    monkeypatch.setattr(choose, "judge_first", lambda *known: found)
    monkeypatch.setattr(choose, "judge_last", lambda p, w, j, **known: None if j.pose.kind is rejected else j)
    return choose.choose_references(picture(stripe), RECTANGLE[None], 5.0, tuple(Kind))
