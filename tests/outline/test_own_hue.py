"""A cuff or a waistband in a pale hue of its own, as light and as dark as the floor is."""

import cv2
import numpy as np
import pytest

from outgrown.outline import Tracer
from outgrown.outline.looks import to_lab
from outgrown.outline.own_hue import find_off_hue

SHAPE = (400, 520)
CUFF = (130, 150, 160, 250)
"""Left, top, right, bottom."""
GREY, STAIN, CREAM, TEAL = (68.0, 0.0, 1.0), (68.0, 0.0, 4.5), (68.0, 0.0, 10.0), (50.0, -25.0, -18.0)
NONE = np.zeros(SHAPE, bool)


def box(left, top, right, bottom):
    mask = np.zeros(SHAPE, bool)
    mask[top:bottom, left:right] = True
    return mask


CLOTH = box(160, 150, 420, 250)


def draw(*patches, soft_px=0.0, joints=False, grain_lab=1.0, floor=GREY, cloth=CLOTH):
    """Return a picture (h, w, 3) of cloth on a grey floor whose lightness varies; `patches` are masks and colours."""
    noise = np.random.default_rng(4)
    lab = np.empty((*SHAPE, 3), np.float32)
    lab[:] = floor
    if joints:
        lab[::24], lab[:, ::24] = (30.0, 0.0, 1.0), (30.0, 0.0, 1.0)
        lab[1::24], lab[:, 1::24] = (30.0, 0.0, 1.0), (30.0, 0.0, 1.0)
    for mask, colour in patches:
        share = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), soft_px) if soft_px else mask.astype(np.float32)
        lab += share[..., None] * (np.array(colour, np.float32) - lab)
    lab[cloth] = TEAL
    shade = cv2.GaussianBlur(noise.normal(size=SHAPE).astype(np.float32), (0, 0), 12.0)
    lab[..., 0] += 5 * shade / shade.std() + noise.normal(size=SHAPE)
    lab[..., 1:] += noise.normal(size=(*SHAPE, 2)) * grain_lab
    rgb = cv2.cvtColor(cv2.GaussianBlur(lab, (0, 0), 0.8), cv2.COLOR_LAB2RGB)
    return (np.clip(rgb, 0, 1) * 255).round().astype(np.uint8)


def find(picture, blocked=NONE):
    return find_off_hue(to_lab(picture), CLOTH, blocked)


def test_a_cream_cuff_on_a_grey_floor_is_found_whole_and_nothing_else():
    found = find(draw((box(*CUFF), CREAM)))
    assert found[box(*CUFF)].mean() > 0.95
    assert found[~box(126, 146, 164, 254)].sum() < 5


@pytest.mark.parametrize(("spreads", "is_part"), [(3.5, False), (4.5, True)])
def test_a_block_of_a_floor_is_no_part_though_no_other_has_its_hue(spreads, is_part):
    # Blocks of four hues, and one beside the cloth whose hue lies so many of their spreads off, on a darker ground.
    blocks = [
        (box(x, y, x + 130, y + 100), (68.0, 0.0, 20.0 + 2.0 * (-1.2, -0.4, 0.4, 1.2)[(7 * k + k // 5) % 4]))
        for k, (y, x) in enumerate((y, x) for y in range(0, SHAPE[0], 100) for x in range(0, SHAPE[1], 130))
    ]
    evened = 20.0 * 60 / (68 + 16) + spreads * 2.0 * 0.894 * 60 / (68 + 16)
    picture = draw(*blocks, (box(*CUFF), (58.0, 0.0, evened * (58 + 16) / 60)), grain_lab=0.2)
    assert find(picture)[box(*CUFF)].any() == is_part


def test_a_cuff_on_a_floor_of_one_hue_is_found_too():
    picture = draw((box(*CUFF), (68.0, 0.0, 5.0)), grain_lab=0.0, floor=(68.0, 0.0, 0.0))
    assert find(picture)[box(*CUFF)].mean() > 0.9


def test_a_cuff_in_shadow_is_found_too():
    assert find(draw((box(*CUFF), (55.0, 0.0, 8.5))))[box(*CUFF)].mean() > 0.9


@pytest.mark.parametrize(
    ("patches", "more"),
    [
        pytest.param([], {}, id="bare floor"),
        pytest.param([(box(*CUFF), (50.0, 0.0, 0.8))], {}, id="a shadow"),
        pytest.param([(box(*CUFF), CREAM), (box(10, 10, 170, 70), CREAM)], {}, id="a hue that lies elsewhere"),
        pytest.param([(box(118, 150, 148, 250), CREAM)], {}, id="a thing that lies near"),
        pytest.param([(box(*CUFF), CREAM)], {"soft_px": 9.0}, id="light without an edge"),
        pytest.param([(box(250, 0, 520, 400), (60.0, 60.0, 20.0)), (box(*CUFF), CREAM)], {}, id="a floor of many hues"),
        pytest.param([(box(60, 20, 160, 390), (60.0, 0.0, 30.0))], {}, id="a rug beside it"),
        pytest.param([(box(160, 250, 420, 300), CREAM)], {}, id="a runner along it"),
        pytest.param(
            [(box(420, 90, 470, 310), CREAM), (box(190, 260, 420, 312), CREAM), (box(*CUFF), (68.0, 0.0, 20.0))],
            {},
            id="where much of the floor near by is another",
        ),
        pytest.param([(box(*CUFF), CREAM)], {"joints": True}, id="a floor full of edges"),
        pytest.param([(box(60, 180, 160, 215), CREAM)], {}, id="a board that leads away"),
        pytest.param([(box(105, 150, 160, 162), CREAM)], {}, id="a thing that touches with its tip"),
        pytest.param([(box(155, 150, 160, 250), CREAM)], {}, id="a strip along the rim"),
        pytest.param([(box(146, 150, 160, 162), CREAM)], {}, id="a speck"),
        pytest.param(
            [(box(60, 300, 460, 380), STAIN), (box(80, 100, 180, 290), STAIN), (box(*CUFF), CREAM)], {}, id="on a stain"
        ),
        pytest.param([(box(40, 90, 480, 310), STAIN), (box(*CUFF), CREAM)], {}, id="on a blanket"),
    ],
)
def test_other_things_are_not(patches, more):
    assert not find(draw(*patches, **more)).any()


def test_a_reference_is_not():
    assert not find(draw((box(*CUFF), CREAM)), box(*CUFF)).any()


def test_a_reference_beside_a_cuff_is_left_out():
    card = box(100, 240, 131, 270) | box(131, 250, 161, 270)
    found = find(draw((box(*CUFF), CREAM), (card, CREAM)), card)
    assert found[box(*CUFF)].mean() > 0.9 and not found[card].any()


def test_what_shuts_off_the_gap_between_two_legs_is_floor():
    gap, end = box(300, 180, 420, 220), box(380, 180, 420, 220)
    legs, short = CLOTH & ~gap, CLOTH & ~end
    assert not find_off_hue(to_lab(draw((end, CREAM), cloth=legs)), legs, NONE).any()
    assert find_off_hue(to_lab(draw((end, CREAM), cloth=short)), short, NONE)[end].mean() > 0.9


def test_a_cuff_is_found_where_the_garment_fills_the_photo():
    picture = draw((box(*CUFF), CREAM))[110:290, 112:460]
    found = find_off_hue(to_lab(np.ascontiguousarray(picture)), CLOTH[110:290, 112:460], NONE[110:290, 112:460])
    assert found[box(*CUFF)[110:290, 112:460]].mean() > 0.9


def test_a_garment_that_covers_all_or_nothing_asks_for_no_part():
    lab = to_lab(draw())
    assert not find_off_hue(lab, NONE, NONE).any() and not find_off_hue(lab, ~NONE, NONE).any()


def test_the_outline_takes_it_in():
    cuff = box(*CUFF)
    inside = box(136, 158, 156, 242)
    seen = Tracer(draw((cuff, CREAM))).segment()
    at = np.column_stack(np.nonzero(inside)[::-1])
    on = np.round((at - np.array(seen.origin_px)) / np.array(seen.step_px)).astype(int)
    assert seen.mask[on[:, 1], on[:, 0]].mean() > 0.95
