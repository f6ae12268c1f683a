"""In which numbers a photo is blurred: analytic pictures, a sheet's edges known to a hundredth of a pixel."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr

from outgrown.arrays import frozen
from outgrown.camera.reference import EdgeSamples, Kind, Reference
from outgrown.camera.sides import settle_sides
from outgrown.camera.tone import POWERS, weigh_tones
from outgrown.photo import Photo

# ISO 216: A4 is 210 x 297 mm.
A4_MM = frozen(np.array([[0, 0], [297.0, 0], [297.0, 210.0], [0, 210.0]]))
HALF, MIDDLE, TURN = np.array([222.75, 157.5]), np.array([319.4, 240.3]), np.radians(7.0)
WHITE, BROWN = np.array([236.0, 232.0, 224.0]), np.array([92.0, 66.0, 48.0])
SHARE = np.linspace(0.12, 0.88, 60)


def to_light(numbers):
    """Return linear light of sRGB numbers (IEC 61966-2-1)."""
    v = numbers / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def to_numbers(light):
    return 255 * np.where(light <= 0.0031308, light * 12.92, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)


def picture(*, in_light, blur_px=1.0, face=WHITE, floor=BROWN, noise=1.0):
    """Return a sheet's picture, blurred by a Gaussian in light or in the file's own numbers."""
    y, x = np.mgrid[0:480, 0:640].astype(float)
    along = (x - MIDDLE[0]) * np.cos(TURN) - (y - MIDDLE[1]) * np.sin(TURN)
    up = -(x - MIDDLE[0]) * np.sin(TURN) - (y - MIDDLE[1]) * np.cos(TURN)
    share = 1.0
    for place, half in ((along, HALF[0]), (up, HALF[1])):
        share = share * (ndtr((place + half) / blur_px) - ndtr((place - half) / blur_px))
    share = np.asarray(share)[..., None]
    if in_light:
        seen = to_numbers(to_light(floor) + (to_light(face) - to_light(floor)) * share)
    else:
        seen = floor + (face - floor) * share
    seen = seen + np.random.default_rng(1).normal(0, noise, seen.shape)
    return np.clip(np.round(seen), 0, 255).astype(np.uint8)


def sheet(out_px=0.0, sigma_px=0.1):
    """Return the sheet with its sides `out_px` further out than they are."""
    along, up = np.array([np.cos(TURN), -np.sin(TURN)]), np.array([-np.sin(TURN), -np.cos(TURN)])
    half = HALF + out_px
    corners = np.array(
        [MIDDLE + a * half[0] * along + b * half[1] * up for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    )
    edges = tuple(
        EdgeSamples(
            frozen(corners[i] + SHARE[:, None] * (corners[(i + 1) % 4] - corners[i])),
            frozen(np.tile(normal, (len(SHARE), 1))),
            frozen(SHARE),
            sigma_px,
            0.25,
        )
        for i, normal in enumerate((-up, along, up, -along))
    )
    return Reference(Kind.A4, frozen(corners), A4_MM, edges)


def lies_out_px(reference):
    """Return (4,) how far outward of the truth each side lies."""
    return np.array(
        [
            float(((edge.points_px - true.points_px) * true.normals_px).sum(axis=1).mean())
            for edge, true in zip(reference.edges, sheet().edges, strict=True)
        ]
    )


def seen_in_light(pixels):
    """Return how far out the sheet's sides seem to be where the edge is taken for even in light."""
    tones = weigh_tones(pixels, [sheet()])
    return -tones.moves_px[0, :, 0]


@pytest.mark.parametrize(("in_light", "low", "high"), [(True, 1.95, 2.2), (False, 1.0, 1.1)])
def test_the_numbers_that_a_picture_was_blurred_in_are_told(in_light, low, high):
    tones = weigh_tones(picture(in_light=in_light), [sheet(0.2)])
    assert low <= tones.shares @ POWERS <= high


@pytest.mark.parametrize("blur_px", [0.8, 1.3])
def test_sides_blurred_in_the_files_own_numbers_are_where_they_are(blur_px):
    pixels = picture(in_light=False, blur_px=blur_px)
    seeming = seen_in_light(pixels)
    # Half the light of white and brown is reached that much inside the sheet.
    half = to_numbers((to_light(WHITE) + to_light(BROWN)) / 2)[0]
    where = np.linspace(-2, 2, 4001)
    shade = BROWN[0] + (WHITE[0] - BROWN[0]) * ndtr(-where / blur_px)
    assert seeming.mean() == pytest.approx(where[np.abs(shade - half).argmin()], abs=0.12)
    (settled,) = settle_sides(Photo(pixels, focal_px=600.0, focal_doubt=0.02), [sheet(seeming.mean())])
    assert np.abs(lies_out_px(settled)).max() < 0.06


def test_sides_blurred_in_light_stay_and_their_doubt_hardly_grows():
    pixels = picture(in_light=True)
    (settled,) = settle_sides(Photo(pixels, focal_px=600.0, focal_doubt=0.02), [sheet()])
    assert np.abs(lies_out_px(settled)).max() < 0.06
    assert max(edge.shift_px for edge in settled.edges) < 0.27


def test_where_nothing_tells_light_is_likeliest_and_what_others_would_change_is_in_the_doubt():
    pixels = picture(in_light=True)
    silent = replace(sheet(), edges=tuple(replace(edge, sigma_px=0.5) for edge in sheet().edges))
    tones = weigh_tones(pixels, [silent])
    assert tones.shares.argmax() == len(POWERS) - 1 and tones.shares.max() < 0.5
    settled = tones.settle(silent, 0)
    assert all(edge.shift_px > 0.28 for edge in settled.edges)


def test_white_beyond_what_the_sensor_holds_and_faint_steps_tell_nothing():
    clipped = picture(in_light=False, face=np.array([400.0, 400.0, 400.0]))
    faint = picture(in_light=False, face=BROWN + 25)
    for pixels in (clipped, faint):
        assert weigh_tones(pixels, [sheet()]).shares.max() < 0.5
