"""Shade: where a card ends beside its own shadow.

A card's face lies 0.76 mm above the floor, and on the sides away from the light its shadow darkens the floor from the
card's very edge. A dark card then shows no step there at all, only the soft rise at the shadow's far side, up to
three pixels (1.5 mm) out: 2 % of the card's length. One light does this to all sides of all cards alike, so one
shadow is sought for them all: how far and which way it is thrown on the floor, how dark and how soft it is. Of every
shadow that explains the profiles nearly as well as the best, the places it gives for a side are averaged, and their
spread is kept as the side's doubt, since from a dark card on a light floor the brightness often cannot tell. Where card
and floor differ in hue, the hue is asked as well, which no shadow changes.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Bytes, Floats, frozen
from .hue import find_hue_step
from .meeting import meet_sides
from .reference import Kind, Reference

Singles = NDArray[np.float32]

# Places across a side, 0 where it was found, outward positive [px].
_ACROSS = np.arange(-8.0, 8.01, 0.5)
# Artwork is near inside; outside the shadow must be seen whole.
_REACH_IN, _REACH_OUT = 5.0, 6.0
_STATIONS = 120
_FROM, _TO = 0.14, 0.86
_FINE = 8
_FINE_ACROSS = np.arange(-16.0, 16.001, 1 / _FINE)
_BLURS_PX = (0.5, 0.62, 0.75, 0.9, 1.08, 1.3, 1.6, 2.0)
_MOVES_PX = np.arange(-4.0, 2.01, 0.2)
_WIDTHS_PX = np.array([0.0, 0.6, 1.0, 1.5, 2.2, 3.0, 4.0, 5.5])
_DEPTHS = np.array([0.35, 0.6, 0.8, 0.95])
_SOFTNESSES = np.array([0.3, 0.7, 1.1])
_THROWS_MM = (0.5, 0.8, 1.2, 1.7, 2.3, 3.0)
"""From a card 0.76 mm high: light from 57 down to 14 degrees above the floor."""
_HEADINGS = np.radians(np.arange(0, 360, 15))
# Costs are squared misfits in units of the side's own step.
_STAY = 0.05
"""Keeps a side without a shadow where its sharp step was found."""
_OUTWARD = 0.2
"""A shadow can only have drawn a side outward."""
_PALE = 0.05
"""At its foot a shadow is nearly black: only light from below a card's edge could reach it."""
_SURE = 2e-3
"""Misfit from sharpening and JPEG that no model of the light explains, per side and step."""
_HOLD = np.array([1e-6, 1e-6, 0.05])
_LEAST_STEP = 0.02
_CLIPPED = 0.97
_CLIPPED_PX, _CLIPPED_DOUBT_PX = 0.5, 0.4
"""White beyond what the sensor holds runs over into the floor: by 0.5 to 1.1 px on rendered cards and sheets."""
_SPREAD_GAIN = 1.4
"""The light's model is simpler than light: spreads came out this much too small on rendered cards."""
_FACE_PX = -2.0
_FIRM_PX = 0.25
"""Sides that thought themselves surer than this were not: 0.3 px (rms) off on drawn and rendered cards."""
_ASTRAY_PX = 3.2
"""No shadow draws a side further than this; a hue that turns there is artwork, or a stripe of the floor."""
_AGREED = 1.5
"""Two answers further apart than this many of their doubts leave a larger doubt."""


@dataclass(frozen=True, eq=False)
class _Weighing:
    """What every shadow would mean for one reference.

    Attributes:
        cost: (throws, depths, softnesses) misfit, in units of what is usual.
        moves: (4, throws, depths, softnesses) how far each side lies outward then [px].
    """

    cost: Floats
    moves: Floats


def settle_shaded(pixels: Bytes, references: Sequence[Reference]) -> list[Reference]:
    """Return the references with cards' sides moved out of their shadows, and each side's doubt.

    Args:
        pixels: (H, W, 3) uint8 RGB, upright.
        references: cards and sheets found; their sides good to three pixels.
    """
    profiles = [_measure_profiles(pixels, reference) for reference in references]
    weighings = {
        index: _weigh(reference, profiles[index])
        for index, reference in enumerate(references)
        if reference.kind is Kind.CARD
    }
    settled = list(references)
    if weighings:
        joint = np.sum([w.cost for w in weighings.values()], axis=0)
        share = np.exp(-0.5 * (joint - joint.min()))
        share /= share.sum()
        for index, weighing in weighings.items():
            mean = (share * weighing.moves).sum(axis=(1, 2, 3))
            spread = np.sqrt((share * (weighing.moves - mean[:, None, None, None]) ** 2).sum(axis=(1, 2, 3)))
            own = np.array([edge.shift_px for edge in references[index].edges])
            doubts = np.hypot(own, _SPREAD_GAIN * spread)
            settled[index] = _move(references[index], *_ask_hue(mean, doubts, profiles[index]))
    return [_draw_in_clipped(reference, profile) for reference, profile in zip(settled, profiles, strict=True)]


def _measure_profiles(pixels: Bytes, reference: Reference) -> Floats:
    """Return (4, across, 3) median linear light across each side, 0..1."""
    table = ((np.arange(256) / 255.0) ** 2.2).astype(np.float32)
    share = np.linspace(_FROM, _TO, _STATIONS)
    profiles = np.zeros((4, len(_ACROSS), 3))
    for side, (first, along, normal) in enumerate(_sides(reference)):
        edge = reference.edges[side]
        course = np.polyfit(edge.share, (edge.points_px - first) @ normal, 2 if len(edge.share) > 20 else 1)
        on = first + share[:, None] * along + np.polyval(course, share)[:, None] * normal
        points = on[:, None] + _ACROSS[:, None] * normal
        low = np.maximum(np.floor(points.min(axis=(0, 1))).astype(int) - 2, 0)
        high = np.ceil(points.max(axis=(0, 1))).astype(int) + 3
        light = table[pixels[low[1] : high[1], low[0] : high[0]]]
        local = (points - low).astype(np.float32)
        seen = cv2.remap(light, local[..., 0], local[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
        profiles[side] = np.median(seen, axis=0)
    return profiles


def _sides(reference: Reference) -> list[tuple[Floats, Floats, Floats]]:
    """Return each side's first corner, the way to the next, and the outward unit normal."""
    corners = reference.corners_px
    middle = corners.mean(axis=0)
    sides = []
    for side in range(4):
        along = corners[(side + 1) % 4] - corners[side]
        normal = np.array([along[1], -along[0]]) / np.hypot(*along)
        sides.append((corners[side], along, normal if normal @ (corners[side] - middle) > 0 else -normal))
    return sides


def _throws(reference: Reference) -> Floats:
    """Return (throws, 4) how wide [px] the shadow at each side is, for no shadow and for every throw."""
    ways = [(0.0, 0.0)] + [(t * np.cos(a), t * np.sin(a)) for t in _THROWS_MM for a in _HEADINGS]
    normals = np.array([normal for _, _, normal in _sides(reference)])
    px_per_mm = float(np.hypot(*(reference.corners_px[1] - reference.corners_px[0]))) / reference.corners_mm[1, 0]
    widths: Floats = np.maximum(0.0, np.array(ways) @ normals.T) * px_per_mm
    return widths


def _weigh(reference: Reference, profiles: Floats) -> _Weighing:
    costs = [_fit_side(profile) for profile in profiles]
    nearest = np.abs(_throws(reference)[..., None] - _WIDTHS_PX).argmin(axis=-1)
    shaded = nearest > 0
    stay = np.where(np.arange(len(_WIDTHS_PX)) > 0, 0.0, _STAY)
    total, moves = 0.0, []
    for side in range(4):
        held = costs[side] + stay[:, None, None, None] * _MOVES_PX**2
        held[:, 1:] += _OUTWARD * np.maximum(_MOVES_PX, 0.0) ** 2
        best = held.argmin(axis=-1)
        total = total + held.min(axis=-1)[:, nearest[:, side]]
        moves.append(_MOVES_PX[best][:, nearest[:, side]])
    # The blur is the reference's own: the best one for each throw.
    total = np.asarray(total) + _PALE * shaded.any(axis=1)[:, None, None] * (_DEPTHS.max() - _DEPTHS)[:, None]
    blur = total.argmin(axis=0)[None]
    cost = np.take_along_axis(total, blur, axis=0)[0]
    moved = np.stack([np.take_along_axis(move, blur, axis=0)[0] for move in moves])
    return _Weighing(cost / max(float(cost.min()) / 16, _SURE), moved)


def _fit_side(profile: Floats) -> Floats:
    """Return (blurs, widths, depths, softnesses, moves) what the best face and floor leave unexplained."""
    step = np.sqrt(((profile[_ACROSS > 3].mean(axis=0) - profile[_ACROSS < -3].mean(axis=0)) ** 2).mean())
    near = np.clip(np.where(_ACROSS < 0, _REACH_IN + _ACROSS, _REACH_OUT - _ACROSS) / 0.5 + 0.5, 0, 1)
    target = (profile / max(float(step), _LEAST_STEP) * near[:, None]).astype(np.float32)
    beyond = _ACROSS - _MOVES_PX[:, None]
    places = np.round(beyond * _FINE).astype(int) + len(_FINE_ACROSS) // 2
    floor = _floors()[..., places]
    face = np.broadcast_to((1 - _floors()[:, :1, :1, :1])[..., places], floor.shape)
    ramp = face * np.minimum(beyond, 0).astype(np.float32)
    basis = np.stack([face, floor, ramp], axis=-1) * near[:, None].astype(np.float32)
    turned = np.swapaxes(basis, -1, -2)
    right = turned @ target
    solution = np.linalg.solve(turned @ basis + np.diag(_HOLD).astype(np.float32), right)
    left: Floats = np.maximum((target**2).sum() - (solution * right).sum(axis=(-1, -2)), 0).astype(np.float64) / 3
    return left


@cache
def _floors() -> Singles:
    """Return (blurs, widths, depths, softnesses, fine places) light of the floor beyond an edge at 0, blurred."""
    table = np.zeros(
        (len(_BLURS_PX), len(_WIDTHS_PX), len(_DEPTHS), len(_SOFTNESSES), len(_FINE_ACROSS)), dtype=np.float32
    )
    for b, blur in enumerate(_BLURS_PX):
        reach = np.arange(-int(4 * blur * _FINE) - 1, int(4 * blur * _FINE) + 2) / _FINE
        kernel = np.exp(-0.5 * (reach / blur) ** 2)
        kernel /= kernel.sum()
        for w, width in enumerate(_WIDTHS_PX):
            for s, softness in enumerate(_SOFTNESSES):
                half = max(softness * width / 2, 0.05)
                rise = np.clip((_FINE_ACROSS - width) / (2 * half) + 0.75, 0, 1)
                rise = rise * rise * (3 - 2 * rise)
                for d, depth in enumerate(_DEPTHS):
                    light = 1 - depth * (1 - rise) if width else np.ones_like(rise)
                    light = light * ((_FINE_ACROSS > 0) + 0.5 * (_FINE_ACROSS == 0))
                    padded = np.pad(light, len(kernel) // 2, mode="edge")
                    table[b, w, d, s] = np.convolve(padded, kernel, "valid")
    table.setflags(write=False)
    return table


def _ask_hue(moves_px: Floats, doubts_px: Floats, profiles: Floats) -> tuple[Floats, Floats]:
    """Return the moves weighed with the places where the hue turns, and their doubts."""
    moves, doubts = moves_px.copy(), doubts_px.copy()
    for side, profile in enumerate(profiles):
        step = None if profile[_ACROSS < _FACE_PX].min(axis=1).mean() > _CLIPPED else find_hue_step(_ACROSS, profile)
        if step is None or abs(step.place_px - moves[side]) > _ASTRAY_PX:
            continue
        trust = np.array([max(doubts[side], _FIRM_PX), step.doubt_px]) ** -2.0
        apart = abs(step.place_px - moves[side]) / np.hypot(max(doubts[side], _FIRM_PX), step.doubt_px)
        moves[side] = trust @ [moves[side], step.place_px] / trust.sum()
        doubts[side] = max(1.0, apart / _AGREED) * max(float(trust.sum() ** -0.5), min(doubts[side], _FIRM_PX))
    return moves, doubts


def _move(reference: Reference, moves_px: Floats, doubts_px: Floats) -> Reference:
    """Return the reference with its sides moved outward, and how far each may still be off."""
    edges = tuple(
        replace(
            edge,
            points_px=frozen(edge.points_px + move * edge.normals_px),
            shift_px=float(doubt),
        )
        for edge, move, doubt in zip(reference.edges, moves_px, doubts_px, strict=True)
    )
    return replace(reference, edges=edges, corners_px=frozen(meet_sides(reference.corners_px, edges)))


def _draw_in_clipped(reference: Reference, profiles: Floats) -> Reference:
    """Return the reference with those sides drawn in beside which it is white beyond what the sensor holds."""
    inside, outside = profiles[:, _ACROSS < -2].mean(axis=1), profiles[:, _ACROSS > 2].mean(axis=1)
    clipped = (inside.min(axis=1) > _CLIPPED) & (outside.min(axis=1) < _CLIPPED)
    if not clipped.any():
        return reference
    own = np.array([edge.shift_px for edge in reference.edges])
    return _move(
        reference,
        np.where(clipped, -_CLIPPED_PX, 0.0),
        np.where(clipped, np.hypot(own, _CLIPPED_DOUBT_PX), own),
    )
