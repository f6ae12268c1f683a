"""Hue: where a card's colour ends, whatever shadow lies beside it.

A shadow makes a floor darker and leaves its hue as it is: in linear light the shaded floor lies on the line from black
to the floor's own colour, and nearly so in a file's levels. What a profile across a card's side has beside that line
is therefore the card alone, a plain step with no shadow in it (the reasoning of shadow invariants: Finlayson, Hordley
and Drew, Removing shadows from images, ECCV 2002). Half-way up that step is the side. Two things move the half-way
place: blur mixes light, not levels, and JPEG blurs colour more than brightness; both are computed for the very colours
seen and taken off. The step is sought in linear light and in file levels; how far the two disagree tells how good they
are.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats
from ..standards import LUMA

_GAMMA = 2.2
_BLUR_PX = 0.8
"""Of lens and focus; typical of the photos measured (0.6 to 1.1)."""
_COLOUR_BLUR_PX = 0.9
"""Of halved colour resolution, written and read again."""
_STEP = 0.125
_FINE = np.arange(-14.0, 14.0 + _STEP, _STEP)
_CARD, _FLOOR = (-5.5, -2.5), 5.5
"""Where across a side the card and the unshaded floor are seen alone [px]."""
_FOOT_PX = 1.0
_DARKEST, _BRIGHTEST = 0.03, 1.1
# On 132 sides of drawn and rendered cards the places found so were wrong by 0.35 px (rms), less where the hues differ
# more; these three say so.
_LEAST_PX = 0.2
_FAINT_PX = 0.05
_LEAST_DIFFERENCE = 0.01
_TO_YCC = np.array([LUMA, [-0.168736, -0.331264, 0.5], [0.5, -0.418688, -0.081312]])
"""ITU-T T.871 (JFIF), section 7."""


@dataclass(frozen=True)
class HueStep:
    """Where the hue turns from the card's to the floor's.

    Attributes:
        place_px: across the side, outward positive, in the pixels of the places asked for.
        doubt_px: standard deviation, in the same.
    """

    place_px: float
    doubt_px: float


def find_hue_step(across_px: Floats, light: Floats, unit_px: float = 1.0) -> HueStep | None:
    """Return where the hue turns, or None if card and floor have the same hue.

    Args:
        across_px: (N,) places across the side, rising, outward positive; from -6 or less to 7 or more [px].
        light: (N, 3) linear light there, 0..1.
        unit_px: photo pixels to one of the places' pixels.
    """
    inside, outside = (across_px > _CARD[0]) & (across_px < _CARD[1]), across_px > _FLOOR
    card, floor = light[inside].mean(axis=0), light[outside].mean(axis=0)
    places = []
    difference = 0.0
    for in_levels in (False, True):
        seen = _levels(light) if in_levels else light
        place, difference = _find_half(across_px, seen, seen[inside].mean(axis=0), seen[outside].mean(axis=0))
        if place is None:
            return None
        expected = _blurred_edge(across_px - place, light, card, floor, unit_px, in_levels=in_levels)
        ends = [_levels(card), _levels(floor)] if in_levels else [card, floor]
        bias, _ = _find_half(_FINE, expected, *ends)
        places.append(place - (bias or 0.0))
    faint = _FAINT_PX / max(difference, _LEAST_DIFFERENCE)
    doubt = float(np.sqrt(_LEAST_PX**2 + faint**2 + (places[0] - places[1]) ** 2))
    return HueStep(float(np.mean(places)), doubt)


def _levels(light: Floats) -> Floats:
    levels: Floats = np.clip(light, 0, None) ** (1 / _GAMMA)
    return levels


def _find_half(across: Floats, seen: Floats, card: Floats, floor: Floats) -> tuple[float | None, float]:
    """Return where half of what the card has beside the floor's hue is left (None: nowhere), and how much it has."""
    length = float(np.hypot.reduce(floor))
    if not length > 0:
        return None, 0.0
    hue = floor / length
    beside = card - (card @ hue) * hue
    difference = float(np.hypot.reduce(beside))
    if not difference > 0:
        return None, 0.0
    share = (seen - (seen @ hue)[:, None] * hue) @ beside / difference**2
    falls = np.flatnonzero((share[:-1] >= 0.5) & (share[1:] < 0.5))
    if not len(falls):
        return None, difference / length
    last = int(falls[-1])
    part = (share[last] - 0.5) / (share[last] - share[last + 1])
    return float(across[last] + part * (across[last + 1] - across[last])), difference / length


def _blurred_edge(
    beyond: Floats, light: Floats, card: Floats, floor: Floats, unit_px: float, *, in_levels: bool
) -> Floats:
    """Return what a sharp edge at 0 with the shadow seen beyond it becomes on the fine places."""
    shade = np.clip(light @ floor / (floor @ floor), _DARKEST, _BRIGHTEST)
    # Just outside the edge the card's own blur hides the shadow's foot; it is read a little further out.
    bare = floor * np.interp(_FINE + _FOOT_PX, beyond, shade)[:, None]
    sharp = np.where(_FINE[:, None] < 0, card, bare)
    middle = len(_FINE) // 2
    sharp[middle] = (card + bare[middle]) / 2
    coded = _levels(_blur(sharp, _BLUR_PX / unit_px)) @ _TO_YCC.T
    coded[:, 1:] = _blur(coded[:, 1:], _COLOUR_BLUR_PX / unit_px)
    seen = np.clip(coded @ np.linalg.inv(_TO_YCC).T, 0, None)
    blurred: Floats = seen if in_levels else seen**_GAMMA
    return blurred


def _blur(values: Floats, blur_px: float) -> Floats:
    reach = int(4 * blur_px / _STEP)
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) * _STEP / blur_px) ** 2)
    kernel /= kernel.sum()
    padded = np.pad(values, ((reach, reach), (0, 0)), mode="edge")
    blurred: NDArray[np.float64] = np.stack([np.convolve(column, kernel, "valid") for column in padded.T], axis=1)
    return blurred
