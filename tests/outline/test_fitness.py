"""Photos fit to be measured or not: hand-made cameras, references and edges of known blur."""

import cv2
import numpy as np
import pytest
from lying import lay_card
from scipy.special import erf

from outgrown.arrays import frozen
from outgrown.camera.blur import measure_edge_width_px
from outgrown.camera.camera import Camera
from outgrown.camera.lens import Lens
from outgrown.camera.reference import EdgeSamples, Kind, Reference
from outgrown.errors import OutlineError, PhotoError, ScaleError
from outgrown.outline.fitness import (
    COARSE_TOLD_MM,
    check_distance,
    check_light,
    check_measurable,
    check_reference_beside,
    check_sharpness,
    check_size,
)
from outgrown.photo import Photo
from outgrown.steps import trace_outline

# ISO/IEC 7810:2019, ID-1: 85.60 x 53.98 mm.
CARD_MM = frozen(np.array([[0, 0], [85.6, 0], [85.6, 53.98], [0, 53.98]]))
MIDDLE = np.array([320.0, 240.0])
RING = frozen(np.array([[20.0, 400.0], [120.0, 400.0], [120.0, 60.0], [20.0, 60.0]]))


def card(middle=MIDDLE, turn_deg=7.0, half=(86.0, 54.0)):
    """Return a card lying turned in the picture, with samples along its edges."""
    turn = np.radians(turn_deg)
    along, up = np.array([np.cos(turn), -np.sin(turn)]), np.array([-np.sin(turn), -np.cos(turn)])
    corners = np.array(
        [middle + a * half[0] * along + b * half[1] * up for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    )
    share = np.linspace(0.12, 0.88, 60)
    edges = tuple(
        EdgeSamples(
            frozen(corners[i] + share[:, None] * (corners[(i + 1) % 4] - corners[i])),
            frozen(np.tile(normal, (len(share), 1))),
            frozen(share),
            0.1,
        )
        for i, normal in enumerate((-up, along, up, -along))
    )
    return Reference(Kind.CARD, frozen(corners), CARD_MM, edges)


def drawn(sigma_px, middle=MIDDLE, turn_deg=7.0, half=(86.0, 54.0), levels=(60.0, 190.0)):
    """Return a card's picture, its edges a step blurred by a Gaussian of known width."""
    y, x = np.mgrid[0:480, 0:640].astype(float)
    turn = np.radians(turn_deg)
    u = (x - middle[0]) * np.cos(turn) - (y - middle[1]) * np.sin(turn)
    v = -(x - middle[0]) * np.sin(turn) - (y - middle[1]) * np.cos(turn)

    def within(across, reach):
        return 0.5 * (erf((across + reach) / (sigma_px * 2**0.5)) - erf((across - reach) / (sigma_px * 2**0.5)))

    grey = levels[0] + (levels[1] - levels[0]) * within(u, half[0]) * within(v, half[1])
    return np.repeat(np.round(grey).astype(np.uint8)[..., None], 3, axis=2)


def looking_down(mm_per_px):
    """Return a camera straight above the floor whose pixel is worth so many millimetres."""
    return Camera(Lens(600.0, (319.5, 239.5)), (0.0, 0.0), 600.0 * mm_per_px)


@pytest.mark.parametrize("sigma_px", [1.0, 1.5, 2.5, 4.0])
def test_edge_width_of_a_gaussian_is_the_square_root_of_two_pi_sigmas(sigma_px):
    # Contrast over steepest slope of a step blurred by a Gaussian: sqrt(2 pi) sigma = 2.507 sigma.
    width = measure_edge_width_px(drawn(sigma_px), [card()])
    assert width == pytest.approx(2.507 * sigma_px, rel=0.1)


def test_edge_width_is_unknown_without_contrast_or_references():
    assert measure_edge_width_px(drawn(1.0, levels=(120.0, 126.0)), [card()]) is None
    assert measure_edge_width_px(drawn(1.0), []) is None


def test_a_dark_photo_is_refused_and_a_dim_one_is_not():
    noise = np.random.default_rng(1).integers(0, 8, (300, 400, 3)).astype(np.uint8)
    with pytest.raises(PhotoError, match="too dark") as refusal:
        check_light(noise)
    assert refusal.value.advice
    check_light(noise + np.uint8(30))


def test_a_card_of_forty_pixels_is_too_far_away():
    with pytest.raises(PhotoError, match=r"one pixel is 2\.1 mm"):
        check_distance([card(half=(20.0, 12.6))])
    check_distance([card(half=(30.0, 18.9))])
    with pytest.raises(PhotoError, match=r"one pixel is 1\.4 mm"):
        check_distance([card(half=(30.0, 18.9))], COARSE_TOLD_MM)


def test_a_photo_that_is_mostly_plain_white_is_refused():
    picture = np.full((300, 400, 3), 255, np.uint8)
    picture[:, :120] = 90
    with pytest.raises(PhotoError, match="overexposed"):
        check_light(picture)
    picture[:, :220] = 90
    check_light(picture)


def test_a_lamp_in_the_dark_is_still_dark():
    pixels = np.zeros((300, 400, 3), np.uint8)
    pixels[:40, :60] = 250
    with pytest.raises(PhotoError, match="too dark"):
        check_light(pixels)


def test_a_card_on_the_garment_is_refused_and_one_beside_it_is_not():
    check_reference_beside([card()], RING)
    with pytest.raises(ScaleError, match="lies on the garment") as refusal:
        check_reference_beside([card(), card(np.array([70.0, 200.0]), half=(30.0, 19.0))], RING)
    assert "beside" in refusal.value.advice or "from the garment" in refusal.value.advice


def test_a_sharp_near_photo_has_nothing_to_tell():
    assert check_measurable(drawn(0.8), [card()], looking_down(0.5), RING, 1.5) == []


def test_a_coarse_photo_is_told_with_its_size():
    (finding,) = check_measurable(drawn(0.8), [card()], looking_down(1.0), RING, 1.5)
    assert finding.code == "coarse" and finding.advice
    assert finding.amount_mm == pytest.approx(1.0, abs=1e-6)


def test_a_very_coarse_photo_is_refused():
    with pytest.raises(PhotoError, match=r"one pixel is 2\.5 mm") as refusal:
        check_measurable(drawn(0.8), [card()], looking_down(2.5), RING, 1.5)
    assert "nearer" in refusal.value.advice


def test_a_blurred_photo_is_told_with_the_edge_width_on_the_floor():
    (finding,) = check_measurable(drawn(2.5), [card()], looking_down(0.5), RING, 1.5)
    assert finding.code == "blurred" and finding.advice
    # 2.507 * 2.5 px * 0.5 mm.
    assert finding.amount_mm == pytest.approx(3.13, rel=0.1)


def test_a_photo_blurred_beyond_use_is_refused():
    # The card is 172 px long: 2.507 * 4.4 px * 85.6 / 172 mm = 5.5 mm.
    with pytest.raises(PhotoError, match="blurred: a sharp edge is 5 mm wide") as refusal:
        check_sharpness(drawn(4.4), [card()])
    assert "still" in refusal.value.advice
    check_sharpness(drawn(3.0), [card()])
    check_sharpness(drawn(1.0, levels=(120.0, 126.0)), [card()])


def test_blurred_cards_are_not_called_in_disagreement():
    grey = np.full((1500, 2000), 110.0)
    grey[500:900, 300:1700] = 40.0
    for left, top, size_px in ((200, 100, 300), (1400, 1150, 276)):
        lay_card(grey, left, top, size_px)
    grey += np.random.default_rng(5).normal(0, 3, grey.shape)
    pixels = np.repeat(np.clip(cv2.GaussianBlur(grey, (0, 0), 1.0), 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    with pytest.raises(ScaleError, match="disagree"):
        trace_outline(Photo(pixels))
    with pytest.raises(PhotoError, match="blurred"):
        trace_outline(Photo(cv2.GaussianBlur(pixels, (0, 0), 8.0)))


def test_wide_pixels_alone_are_not_called_blur():
    # 2 px of 1.5 mm are 3 mm: coarse, yet as sharp as the camera can be.
    small = (29.0, 18.3)
    codes = [
        one.code for one in check_measurable(drawn(0.8, half=small), [card(half=small)], looking_down(1.5), RING, 1)
    ]
    assert codes == ["coarse"]


def test_an_outline_in_great_doubt_is_refused():
    with pytest.raises(OutlineError, match="wrong by 16 mm") as refusal:
        check_measurable(drawn(0.8), [card()], looking_down(0.5), RING, 16.0)
    assert "second card" in refusal.value.advice


def test_a_phone_is_too_small_for_a_garment_and_a_newborns_shorts_are_not():
    phone, shorts = np.array([160.0, 78.0]), np.array([210.0, 110.0])
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
    with pytest.raises(OutlineError, match="125 square centimetres large"):
        check_size(corners * phone)
    assert check_size(corners * shorts) == []


def test_what_would_be_longer_than_clothes_is_told_with_its_length():
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
    assert check_size(corners * (1500.0, 1000.0)) == []
    (finding,) = check_size(corners * (1600.0, 1700.0))
    assert finding.code == "larger-than-clothes" and "2.3 m long" in finding.text and finding.advice
