"""Side light: what the light across one side of a card says of where it ends.

Across a side there are its face, on a side turned to the lens its wall (a card's rim shows its pale core, 0.76 mm high,
and a pale face runs into it without a step), and the floor, darkened by the card's shadow. All three blurred together
are fitted for every shadow, blur and place of a grid, the light of each left free.
"""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Bytes, Floats, frozen
from .meeting import outward_normals
from .reference import Reference

Singles = NDArray[np.float32]

ACROSS_PX = np.arange(-8.0, 8.01, 0.5)
"""Places across a side, 0 where it was found, outward positive [px]. In a photo from close by several photo pixels make
one of them (`SideLight.unit_px`), so that a shadow is no more places wide than in others."""
USUAL_PX_PER_MM = 3.2
"""A garment of 1 m fills a photo of 12 megapixels so; the widths and moves below are for it."""
BLURS_PX = (0.5, 0.62, 0.75, 0.9, 1.08, 1.3, 1.6, 2.0)
MOVES_PX = np.arange(-4.0, 2.01, 0.2)
WIDTHS_PX = np.array([0.0, 0.6, 1.0, 1.5, 2.2, 3.0, 4.0, 5.5])
DEPTHS = np.array([0.35, 0.6, 0.8, 0.95])
SOFTNESSES = np.array([0.3, 0.7, 1.1])
"""A shadow's width, how much of the light it takes, and how much of its width is the soft rise at its far side."""
THIN_WALL_PX = 0.15
"""A wall that shows less is not told from none."""

# Artwork is near inside; outside the shadow must be seen whole.
_REACH_IN, _REACH_OUT = 5.0, 6.0
_STATIONS = 120
_FROM, _TO = 0.14, 0.86
_FINE = 8
_FINE_ACROSS = np.arange(-16.0, 16.001, 1 / _FINE)
_HOLD = (1e-6, 1e-6, 0.05)
"""Face and floor are free; the face's slope towards its edge is not quite."""
_WALL, _WALL_HOLD = 0.8, 0.02
"""A wall is expected neutral, four fifths as light as the lightest beside it; loosely, since cores differ."""
_LEAST_STEP = 0.02


@dataclass(frozen=True, eq=False)
class SideLight:
    """The light across the four sides of one reference.

    Attributes:
        profiles: (4, places, 3) linear light at `ACROSS_PX`, 0..1.
        unit_px: photo pixels to one of the places': 1, and more where a millimetre has more of them than usual.
    """

    profiles: Floats
    unit_px: float


def measure_px_per_mm(reference: Reference) -> float:
    """Return the photo's scale along the reference's long side."""
    return float(np.hypot(*(reference.corners_px[1] - reference.corners_px[0])) / reference.corners_mm[1, 0])


def measure_side_light(pixels: Bytes, reference: Reference) -> SideLight:
    """Return the median light across each side of a reference.

    Args:
        pixels: (H, W, 3) uint8 RGB, upright.
        reference: its sides good to three places' pixels.
    """
    unit_px = max(1.0, measure_px_per_mm(reference) / USUAL_PX_PER_MM)
    table = ((np.arange(256) / 255.0) ** 2.2).astype(np.float32)
    share = np.linspace(_FROM, _TO, _STATIONS)
    profiles = [
        np.median(sample_across(pixels, table, reference, side, share, unit_px * ACROSS_PX, cv2.INTER_CUBIC), axis=0)
        for side in range(4)
    ]
    return SideLight(frozen(np.array(profiles, dtype=np.float64)), unit_px)


def sample_across(
    pixels: Bytes, table: Singles, reference: Reference, side: int, share: Floats, across_px: Floats, way: int
) -> Singles:
    """Return (stations, places, 3) what lies across a side, between the `table` values of the pixels around.

    Args:
        pixels: (H, W, 3) uint8 RGB, upright.
        table: (256,) what each number of the file stands for.
        reference: its side as measured.
        side: which.
        share: (stations,) where along the side.
        across_px: (places,) how far outward.
        way: of going between pixels, one of OpenCV's.
    """
    edge, corners = reference.edges[side], reference.corners_px
    first, along = corners[side], corners[(side + 1) % 4] - corners[side]
    normal = outward_normals(corners)[side]
    course = np.polyfit(edge.share, (edge.points_px - first) @ normal, 2 if len(edge.share) > 20 else 1)
    on = first + share[:, None] * along + np.polyval(course, share)[:, None] * normal
    points = on[:, None] + across_px[:, None] * normal
    low = np.maximum(np.floor(points.min(axis=(0, 1))).astype(int) - 2, 0)
    high = np.ceil(points.max(axis=(0, 1))).astype(int) + 3
    part = table[pixels[low[1] : high[1], low[0] : high[0]]]
    local = (points - low).astype(np.float32)
    seen = cv2.remap(part, local[..., 0], local[..., 1], way, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(seen, dtype=np.float32)


def fit_side(profile: Floats, wall_px: float = 0.0) -> Floats:
    """Return (blurs, widths, depths, softnesses, moves) what the best face, wall and floor leave unexplained.

    Args:
        profile: (places, 3) linear light across the side.
        wall_px: how wide the card's wall shows there; a move then is that of the wall's upper edge.

    Returns:
        Squared misfits in units of the step from face to floor.
    """
    inside, outside = profile[ACROSS_PX < -3].mean(axis=0), profile[ACROSS_PX > 3].mean(axis=0)
    step = max(float(np.sqrt(((outside - inside) ** 2).mean())), _LEAST_STEP)
    near = np.clip(np.where(ACROSS_PX < 0, _REACH_IN + ACROSS_PX, _REACH_OUT - ACROSS_PX) / 0.5 + 0.5, 0, 1)
    target = (profile / step * near[:, None]).astype(np.float32)
    beyond = ACROSS_PX - MOVES_PX[:, None]
    faces = 1 - _floors()[:, :1, :1, :1]
    floor = _floors()[..., _fine(beyond - wall_px)]
    face = np.broadcast_to(faces[..., _fine(beyond)], floor.shape)
    columns = [face, floor, face * np.minimum(beyond, 0).astype(np.float32)]
    hold = np.array(_HOLD, dtype=np.float32)
    # What each part's light is expected to be, for every width and depth of the shadow.
    usual = np.zeros((1, len(WIDTHS_PX), len(DEPTHS), 1, 1, len(_HOLD), 3), dtype=np.float32)
    if wall_px > THIN_WALL_PX:
        columns.append(faces[..., _fine(beyond - wall_px)] - face)
        hold = np.append(hold, np.float32(_WALL_HOLD))
        lightest = max(float(inside.max()), float(outside.max()))
        # A wall beside a shadow faces away from the light, and is as dark.
        lit = np.where(WIDTHS_PX[:, None] > 0, 1 - DEPTHS, 1.0)[None, :, :, None, None, None, None]
        wall = (_WALL * lightest / step * lit).astype(np.float32)
        usual = np.concatenate([usual, np.broadcast_to(wall, (*usual.shape[:-2], 1, 3))], axis=-2)
    basis = np.stack(columns, axis=-1) * near[:, None].astype(np.float32)
    turned = np.swapaxes(basis, -1, -2)
    right = turned @ target + hold[:, None] * usual
    solution = np.linalg.solve(turned @ basis + np.diag(hold), right)
    most = (target**2).sum() + (hold[:, None] * usual**2).sum(axis=(-1, -2))
    left: Floats = np.maximum(most - (solution * right).sum(axis=(-1, -2)), 0).astype(np.float64) / 3
    return left


def _fine(places: Floats) -> NDArray[np.intp]:
    """Return where `places` stand in the table of floors."""
    return np.round(places * _FINE).astype(np.intp) + len(_FINE_ACROSS) // 2


@cache
def _floors() -> Singles:
    """Return (blurs, widths, depths, softnesses, fine places) light of the floor beyond an edge at 0, blurred."""
    table = np.zeros((len(BLURS_PX), len(WIDTHS_PX), len(DEPTHS), len(SOFTNESSES), len(_FINE_ACROSS)), dtype=np.float32)
    for b, blur in enumerate(BLURS_PX):
        reach = np.arange(-int(4 * blur * _FINE) - 1, int(4 * blur * _FINE) + 2) / _FINE
        kernel = np.exp(-0.5 * (reach / blur) ** 2)
        kernel /= kernel.sum()
        for w, width in enumerate(WIDTHS_PX):
            for s, softness in enumerate(SOFTNESSES):
                half = max(softness * width / 2, 0.05)
                rise = np.clip((_FINE_ACROSS - width) / (2 * half) + 0.75, 0, 1)
                rise = rise * rise * (3 - 2 * rise)
                for d, depth in enumerate(DEPTHS):
                    light = 1 - depth * (1 - rise) if width else np.ones_like(rise)
                    light = light * ((_FINE_ACROSS > 0) + 0.5 * (_FINE_ACROSS == 0))
                    padded = np.pad(light, len(kernel) // 2, mode="edge")
                    table[b, w, d, s] = np.convolve(padded, kernel, "valid")
    table.setflags(write=False)
    return table
