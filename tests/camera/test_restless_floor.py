"""Cards on carpets and between joints: a restless floor is no reason to miss one, nor to see one."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from outgrown.camera.find.choose import choose_references
from outgrown.camera.find.edges import refine_sides
from outgrown.camera.find.find import find_references
from outgrown.camera.find.judge import Judged, judge_last, measure_last
from outgrown.camera.find.marks import SILENT_CORNERS, STRANGE_CORNERS, _mark_alike, mark_last
from outgrown.camera.find.rounding import RADII_MM, Rounding, see_corners
from outgrown.camera.find.shape import fit_pose
from outgrown.camera.reference import SURE_ENOUGH, Kind, Reference
from outgrown.photo import Photo
from outgrown.trace_findings import say_what_is_faint

LONG, SHORT, RADIUS = 240, 151, 9
LEFT, TOP = 300, 220
CORNERS = np.array(
    [
        (LEFT - 0.5, TOP + SHORT - 0.5),
        (LEFT + LONG - 0.5, TOP + SHORT - 0.5),
        (LEFT + LONG - 0.5, TOP - 0.5),
        (LEFT - 0.5, TOP - 0.5),
    ]
)


def make_pile(seed=5):
    """Return a carpet: knots some 6 px wide, each lighter on one side, (700, 900, 3)."""
    rng = np.random.default_rng(seed)
    fine = cv2.GaussianBlur(rng.normal(0, 1, (700, 900)).astype(np.float32), (0, 0), 2.2)
    return np.dstack([150 + 30 * fine / fine.std()] * 3)


def lay_card(floor, colour=(60, 90, 150)):
    card = np.zeros(floor.shape[:2], np.float32)
    big = 4
    mask = np.zeros((SHORT * big, LONG * big), np.uint8)
    cv2.rectangle(mask, (RADIUS * big, 0), ((LONG - RADIUS) * big, SHORT * big), 255, -1)
    cv2.rectangle(mask, (0, RADIUS * big), (LONG * big, (SHORT - RADIUS) * big), 255, -1)
    for x in (RADIUS * big, (LONG - RADIUS) * big - 1):
        for y in (RADIUS * big, (SHORT - RADIUS) * big - 1):
            cv2.circle(mask, (x, y), RADIUS * big, 255, -1)
    shape = (LONG, SHORT)
    card[TOP : TOP + SHORT, LEFT : LEFT + LONG] = cv2.resize(mask, shape, interpolation=cv2.INTER_AREA) / 255
    return floor * (1 - card[..., None]) + np.array(colour, np.float32) * card[..., None]


def take(picture):
    pixels = np.clip(cv2.GaussianBlur(picture, (0, 0), 0.8), 0, 255).astype(np.uint8)
    return Photo(pixels, focal_px=1400.0, focal_doubt=0.02)


def measure_marks(photo):
    pose = fit_pose(CORNERS, Kind.CARD, photo, corner_doubt_px=0.5)
    sides, corners = refine_sides(photo.pixels, pose.corners_px, 1400.0, stations=40, rows=2, px_per_mm=2.8)
    pose = fit_pose(corners, Kind.CARD, photo, corner_doubt_px=0.5)
    return mark_last(photo, 250.0, pose, sides[pose.first_corner :] + sides[: pose.first_corner]), pose, sides


@pytest.mark.parametrize("seed", [5, 6, 7, 8])
def test_pile_that_goes_on_beyond_the_corners_is_no_joint(seed):
    marks, _, _ = measure_marks(take(lay_card(make_pile(seed), (110, 115, 120))))
    assert marks["alone"] > 0.8


@pytest.mark.parametrize("seed", [5, 6, 7, 8])
def test_corners_are_told_by_the_hue_where_only_the_brightness_is_restless(seed):
    # A red rug, dark and bright, and a violet card that is as bright as it is in the mean.
    photo = take(lay_card(make_pile(seed) / 150 * np.array([120, 45, 30]), (95, 45, 105)))
    marks, pose, _ = measure_marks(photo)
    by_colour = see_corners(photo.pixels, pose).round_by_colour()
    assert marks["corners"] > 0.85
    # 9 px at 2.8 px per mm.
    assert by_colour.radius_mm == pytest.approx(3.2, abs=0.5)
    assert by_colour.left.min() < 0.2


def make_stripes(width=36, slant=0.6):
    """Return a floor of pale and dark green stripes, (700, 900, 3)."""
    y, x = np.mgrid[:700, :900]
    dark = ((x + slant * y) % width < 0.3 * width)[..., None]
    return np.where(dark, (70, 130, 105), (120, 245, 195)).astype(float)


@pytest.mark.parametrize("colour", [(70, 40, 45), (45, 45, 105), (110, 70, 90)])
def test_corners_are_told_on_a_striped_floor_by_what_they_are_alike_to(colour):
    photo = take(lay_card(make_stripes(), colour))
    marks, pose, _ = measure_marks(photo)
    corners = see_corners(photo.pixels, pose)
    by_colour, by_likeness = corners.round_by_colour(), corners.round_by_likeness()
    # The pale stripes and the dark ones are no one colour.
    assert by_colour.left.min() > 0.15
    assert by_likeness.left.min() < 0.1
    # A little large: where pale stripe and card blur into one, that is like the dark stripes.
    assert 2.8 < by_likeness.radius_mm < 4.2
    assert marks["corners"] > 0.9
    assert [one.kind for one in find_references(photo)] == [Kind.CARD]


def test_sharp_corners_on_a_striped_floor_are_no_cards():
    floor = make_stripes()
    floor[TOP : TOP + SHORT, LEFT : LEFT + LONG] = (70, 40, 45)
    marks, _, _ = measure_marks(take(floor))
    assert marks["corners"] == 0
    assert find_references(take(floor)) == []


def test_what_is_alike_by_chance_makes_no_card():
    radii = np.array([one in (3.2, 4.0) for one in RADII_MM])
    left = np.where(radii, 0.05, 0.4)
    assert _mark_alike(Rounding(3.3, left)) > 0.9
    assert _mark_alike(Rounding(4.5, left)) == 0
    assert _mark_alike(Rounding(2.4, left)) == 0
    assert _mark_alike(Rounding(3.3, np.where(radii, 0.14, 1.0))) == 0


def make_motifs(seed=3):
    """Return a sparkling white floor with many squares on it, (1500, 2000, 3)."""
    rng = np.random.default_rng(seed)
    sparkle = cv2.GaussianBlur(rng.normal(size=(1500, 2000)).astype(np.float32), (0, 0), 1.5)
    floor = np.dstack([np.clip(225 + 40 * sparkle / sparkle.std(), 120, 255)] * 3)
    for number, (x, y) in enumerate((x, y) for y in range(30, 1450, 125) for x in range(30, 1950, 125)):
        if number % 2:
            cv2.rectangle(floor, (x, y), (x + 62, y + 62), (110, 80, 120), -1)
        else:
            cv2.rectangle(floor, (x, y), (x + 85, y + 85), (130, 105, 40), 3)
    return floor


def test_a_sheet_duller_than_the_white_floor_is_found_among_many_squares():
    floor = make_motifs()
    along, across = np.array([0.8, -0.6]), np.array([0.6, 0.8])
    corners = np.array([(0.0, 0), (594, 0), (594, 420), (0, 420)]) - (297, 210)
    places = (900, 700) + corners[:, :1] * along + corners[:, 1:] * across
    cv2.fillPoly(floor, [np.round(places * 16).astype(np.int32)], (200, 194, 193), cv2.LINE_AA, 4)
    pixels = np.clip(cv2.GaussianBlur(floor, (0, 0), 0.8), 0, 255).astype(np.uint8)
    found = find_references(Photo(pixels, focal_px=1500.0, focal_doubt=0.02))
    assert [one.kind for one in found] == [Kind.A4]
    assert np.abs(np.sort(found[0].corners_px[:, 0]) - np.sort(places[:, 0])).max() < 2


def test_joints_that_go_on_beyond_the_corners_are_seen_as_such():
    floor = np.full((700, 900, 3), 170.0)
    for x in (LEFT, LEFT + LONG):
        floor[:, x - 2 : x + 2] = 90
    for y in (TOP, TOP + SHORT):
        floor[y - 2 : y + 2] = 90
    marks, _, _ = measure_marks(take(floor))
    assert marks["alone"] < 0.2


@pytest.mark.parametrize("seed", [5, 6, 7])
def test_a_card_in_deep_pile_is_found(seed):
    found = find_references(take(lay_card(make_pile(seed))))
    assert [one.kind for one in found] == [Kind.CARD]
    turned = [np.abs(np.roll(found[0].corners_px, k, axis=0) - CORNERS).max() for k in (0, 2)]
    assert min(turned) < 1.5


def test_one_corner_on_a_restless_spot_does_not_drown_the_others():
    picture = np.full((700, 900, 3), 150.0)
    spot = make_pile()[TOP - 40 : TOP + 40, LEFT - 40 : LEFT + 40]
    picture[TOP - 40 : TOP + 40, LEFT - 40 : LEFT + 40] = 150 + 2.0 * (spot - 150)
    marks, _, _ = measure_marks(take(lay_card(picture, (118, 122, 130))))
    assert marks["corners"] > 0.6


def judged(pose, sides, score, corners_mark, right=0.0, kind=Kind.CARD, shape_mark=1.0):
    moved = replace(pose, kind=kind, corners_px=pose.corners_px + np.array([right, 0.0]))
    return Judged(moved, tuple(sides), score, {"corners": corners_mark, "shape": shape_mark, "upright": 0.65})


def choose(monkeypatch, photo, *candidates):
    quads = np.stack([one.pose.corners_px for one in candidates])
    by_place = {round(float(one.pose.corners_px[0, 0])): one for one in candidates}
    look = "outgrown.camera.find.choose."
    monkeypatch.setattr(look + "judge_first", lambda p, w, quad, *rest: [by_place[round(float(quad[0, 0]))]])
    monkeypatch.setattr(look + "judge_last", lambda p, w, first, **_: first)
    return choose_references(photo, quads, 3.0, (Kind.CARD, Kind.A4))


def test_a_lone_faint_card_is_taken_and_nothing_less(monkeypatch):
    photo = take(lay_card(make_pile()))
    _, pose, sides = measure_marks(photo)
    faint = judged(pose, sides, 0.2, 0.5)
    assert choose(monkeypatch, photo, faint) == [faint]
    assert choose(monkeypatch, photo, judged(pose, sides, 0.1, 0.5)) == []
    assert choose(monkeypatch, photo, judged(pose, sides, 0.2, 0.35)) == []
    assert choose(monkeypatch, photo, judged(pose, sides, 0.2, 0.5, shape_mark=0.28)) == []
    assert choose(monkeypatch, photo, judged(pose, sides, 0.2, 0.5, kind=Kind.A4)) == []
    assert choose(monkeypatch, photo, faint, judged(pose, sides, 0.15, 0.5, right=-290.0)) == []
    assert choose(monkeypatch, photo, faint, judged(pose, sides, 0.06, 0.5, right=-290.0)) == [faint]
    sure = judged(pose, sides, 0.9, 0.9, right=-290.0)
    assert choose(monkeypatch, photo, faint, sure) == [sure]


def test_a_faint_card_is_to_be_looked_at_unless_somebody_pointed_to_it():
    faint = Reference(Kind.CARD, CORNERS, np.zeros((4, 2)), score=SURE_ENOUGH - 0.1)
    sure = Reference(Kind.CARD, CORNERS, np.zeros((4, 2)), score=SURE_ENOUGH)
    (finding,) = say_what_is_faint([faint, sure], None)
    assert finding.code == "faint-reference"
    assert "bank card" in finding.text
    assert "check picture" in finding.advice
    assert say_what_is_faint([faint], (400.0, 300.0)) == []


def test_of_answers_that_score_nearly_alike_the_one_of_the_truest_shape_is_taken(monkeypatch):
    photo = take(lay_card(make_pile()))
    _, pose, sides = measure_marks(photo)
    true = judged(replace(pose, misfit=0.1), sides, 0.72, 0.7)
    grain = judged(replace(pose, misfit=0.4), sides, 0.75, 0.8, right=4.0)
    assert choose(monkeypatch, photo, true, grain) == [true]
    clearly = judged(replace(pose, misfit=0.4), sides, 0.84, 0.8, right=4.0)
    assert choose(monkeypatch, photo, true, clearly) == [clearly]


def test_a_thing_of_another_size_by_the_floor_of_the_surest_is_left_out(monkeypatch):
    photo = take(lay_card(make_pile()))
    _, pose, sides = measure_marks(photo)
    card = judged(pose, sides, 0.9, 0.9)
    beside = judged(pose, sides, 0.6, 0.9, right=-290.0)
    assert choose(monkeypatch, photo, card, beside) == [card, beside]
    # As far from the lens by its own account, but of half the size where it lies.
    middle = beside.pose.corners_px.mean(axis=0)
    small = replace(beside, pose=replace(beside.pose, corners_px=middle + 0.5 * (beside.pose.corners_px - middle)))
    assert choose(monkeypatch, photo, card, small) == [card]


def test_a_doubtful_sheet_of_another_size_is_left_out_and_a_sure_one_is_not(monkeypatch):
    photo = take(lay_card(make_pile()))
    _, pose, sides = measure_marks(photo)
    card = judged(pose, sides, 0.9, 0.9)

    def beside(score, share, kind=Kind.A4):
        # Whatever it is called, its size is asked by the card's floor as if it were a card.
        monkeypatch.setattr("outgrown.camera.find.choose._measure_size_on", lambda *_: share)
        return judged(pose, sides, score, 0.9, right=-290.0, kind=kind)

    assert choose(monkeypatch, photo, card, beside(0.5, 0.96)) == [card]
    close = beside(0.5, 0.98)
    assert choose(monkeypatch, photo, card, close) == [card, close]
    sure = beside(0.6, 0.96)
    assert choose(monkeypatch, photo, card, sure) == [card, sure]
    other = beside(0.5, 0.96, Kind.CARD)
    assert choose(monkeypatch, photo, card, other) == [card, other]


def test_a_side_that_is_lost_in_the_finest_look_is_kept_as_it_was_seen_before(monkeypatch):
    photo = take(lay_card(make_pile()))
    _, pose, sides = measure_marks(photo)
    before = judged(pose, sides, 0.9, 0.9)
    lost = [*sides[:3], replace(sides[3], weights=np.zeros_like(sides[3].weights))]
    assert not sides[3].is_lost
    monkeypatch.setattr("outgrown.camera.find.judge.refine_sides", lambda *_, **__: (lost, pose.corners_px))
    assert measure_last(photo, before).sides == before.sides


@pytest.mark.parametrize("colours", [((200, 130, 70), (70, 190, 200)), ((240, 238, 234), (240, 238, 234))])
def test_cloth_in_two_colours_that_are_grey_together_is_no_sheet_of_paper(colours):
    picture = np.full((700, 900, 3), (96, 80, 104), np.float32)
    wide, high = 424, 300
    for row in range(high):
        picture[200 + row, 240 : 240 + wide] = colours[row // 9 % 2]
    found = find_references(take(picture), kinds=(Kind.A4,))
    assert len(found) == (colours[0] == colours[1])


@pytest.mark.parametrize(("seen", "counted"), [(0.0, STRANGE_CORNERS), (0.02, SILENT_CORNERS), (0.7, 0.7)])
def test_where_somebody_points_corners_of_no_card_count_less_than_silent_ones(monkeypatch, seen, counted):
    photo = take(lay_card(make_pile()))
    _, pose, sides = measure_marks(photo)
    monkeypatch.setattr("outgrown.camera.find.judge.mark_last", lambda *_: {"corners": seen})
    measured = judge_last(photo, 250.0, judged(pose, sides, 0.9, 0.9), is_pointed=True)
    assert measured is not None
    assert measured.marks["corners"] == counted
