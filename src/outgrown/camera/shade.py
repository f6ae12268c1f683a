"""Shade: where a card ends beside its own shadow.

A card's face lies 0.76 mm above the floor, and on the sides away from the light its shadow darkens the floor from the
card's very edge. A dark card then shows no step there at all, only the soft rise at the shadow's far side, up to
three pixels (1.5 mm) out: 2 % of the card's length. One light does this to all sides of all cards alike, so one
shadow is sought for them all: how far and which way it is thrown on the floor, how dark and how soft it is. Of every
shadow that explains the profiles nearly as well as the best, the places it gives for a side are averaged, and their
spread is kept as the side's doubt, since from a dark card on a light floor the brightness often cannot tell. Where card
and floor differ in hue, the hue is asked as well, which no shadow changes. On a side turned to the lens the card's wall
is seen too, up to a pixel and a half at the end of a garment; a pale face runs into it, so that the card seems larger.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Bytes, Floats
from .camera import Camera
from .hue import HueStep, find_hue_step
from .meeting import move_sides, outward_normals
from .reference import Kind, Reference
from .side_light import (
    ACROSS_PX,
    DEPTHS,
    MOVES_PX,
    THIN_WALL_PX,
    WIDTHS_PX,
    SideLight,
    fit_side,
    measure_px_per_mm,
    measure_side_light,
)

_THROWS_MM = (0.5, 0.8, 1.2, 1.7, 2.3, 3.0)
"""From a card 0.76 mm high: light from 57 down to 14 degrees above the floor."""
_HEADINGS = np.radians(np.arange(0, 360, 15))
# Costs are squared misfits in units of the side's own step.
_STAY = 0.05
"""Keeps a side without a shadow where its sharp step was found."""
_OUTWARD = 0.2
"""A shadow can only have drawn a side outward."""
_PALE = 0.03
"""At its foot a shadow is nearly black under one window, half as dark where light comes from all sides."""
_SURE = 2e-3
"""Misfit from sharpening and JPEG that no model of the light explains, per side and step."""
_CLIPPED = 0.97
_CLIPPED_PX, _CLIPPED_DOUBT_PX = 0.75, 0.4
"""White beyond what the sensor holds runs over into the floor: by 0.5 to 1.1 px on three rendered cards and sheets."""
_SPREAD_GAIN = 1.4
"""The light's model is simpler than light: spreads came out this much too small on rendered cards."""
_FACE_PX = -2.0
_FIRM_PX = 0.25
"""Sides that thought themselves surer than this were not: 0.3 px (rms) off on drawn and rendered cards."""
_ASTRAY_PX = 3.2
"""No shadow draws a side further than this; a hue that turns there is artwork, or a stripe of the floor."""
_HUE_MOST = 9.0
"""So many squared doubts at most a hue speaks against a shadow: it may be artwork's."""
_WALL_DOUBT = 0.4
_WIDEST_WALL_PX = 4.0
_AGREED = 1.5
"""Two answers further apart than this many of their doubts leave a larger doubt."""


@dataclass(frozen=True, eq=False)
class _Sides:
    """The four sides of one reference; lengths in the pixels of `ACROSS_PX`, of which `light` knows the size.

    Attributes:
        reference: as found.
        light: across its sides.
        walls: (4,) how wide each wall is seen.
        steps: where the hue turns from the face's to the floor's, None where it does not tell.
    """

    reference: Reference
    light: SideLight
    walls: Floats
    steps: tuple[HueStep | None, ...]


@dataclass(frozen=True, eq=False)
class _Weighing:
    """What every shadow would mean for one reference.

    Attributes:
        sides: of the reference.
        cost: (throws, depths, softnesses) misfit, in units of what is usual.
        moves: (4, throws, depths, softnesses) how far each side lies outward then [px of `ACROSS_PX`].
    """

    sides: _Sides
    cost: Floats
    moves: Floats


def settle_shaded(pixels: Bytes, references: Sequence[Reference], camera: Camera | None = None) -> list[Reference]:
    """Return the references with cards' sides moved out of their shadows and off their walls, and each side's doubt.

    Args:
        pixels: (H, W, 3) uint8 RGB, upright.
        references: cards and sheets found; their sides good to three pixels.
        camera: where the lens is, roughly: it tells which walls of a card are seen. None leaves walls out.
    """
    lights = [measure_side_light(pixels, reference) for reference in references]
    weighings = {
        index: _weigh(_look_at(reference, lights[index], camera))
        for index, reference in enumerate(references)
        if reference.kind is Kind.CARD
    }
    settled = list(references)
    if weighings:
        joint = np.sum([weighing.cost for weighing in weighings.values()], axis=0)
        share = np.exp(-0.5 * (joint - joint.min()))
        share /= share.sum()
        for index, weighing in weighings.items():
            settled[index] = _settle(weighing, share)
    return [_draw_in_clipped(reference, light.profiles) for reference, light in zip(settled, lights, strict=True)]


def _look_at(reference: Reference, light: SideLight, camera: Camera | None) -> _Sides:
    walls = _measure_walls(reference, camera) / light.unit_px
    return _Sides(reference, light, walls, tuple(_find_hue_steps(light, walls)))


def _measure_walls(reference: Reference, camera: Camera | None) -> Floats:
    """Return (4,) how wide each side's wall is seen [px]; 0 where the card itself hides it."""
    if camera is None or reference.thickness_mm <= 0:
        return np.zeros(4)
    middles = (reference.corners_px + np.roll(reference.corners_px, -1, axis=0)) / 2
    feet = camera.to_px(camera.to_mm(middles, reference.thickness_mm), 0.0)
    seen: Floats = np.maximum(0.0, ((feet - middles) * outward_normals(reference.corners_px)).sum(axis=1))
    return np.minimum(seen, _WIDEST_WALL_PX)


def _measure_shadows(sides: _Sides) -> Floats:
    """Return (throws, 4) how wide the shadow at each side is, for no shadow and for every throw [px of `ACROSS_PX`]."""
    ways = [(0.0, 0.0)] + [(t * np.cos(a), t * np.sin(a)) for t in _THROWS_MM for a in _HEADINGS]
    across = np.maximum(0.0, np.array(ways) @ outward_normals(sides.reference.corners_px).T)
    widths: Floats = across * (measure_px_per_mm(sides.reference) / sides.light.unit_px)
    return widths


def _find_hue_steps(light: SideLight, walls_px: Floats) -> list[HueStep | None]:
    """Return where the hue turns from the face's to the floor's at each side, None where it does not tell."""
    steps = []
    for profile, wall_px in zip(light.profiles, walls_px, strict=True):
        white = profile[ACROSS_PX < _FACE_PX].min(axis=1).mean() > _CLIPPED
        found = None if white else find_hue_step(ACROSS_PX, profile, light.unit_px)
        step = found if found is not None and abs(found.place_px) <= _ASTRAY_PX else None
        if step is not None and wall_px > THIN_WALL_PX:
            # It may be the wall's, whose own hue is not known: at its upper edge or at its foot.
            step = HueStep(step.place_px - wall_px / 2, float(np.hypot(step.doubt_px, _WALL_DOUBT * wall_px)))
        steps.append(step)
    return steps


def _weigh(sides: _Sides) -> _Weighing:
    """Weigh every shadow for one reference."""
    costs = [fit_side(profile, float(wall)) for profile, wall in zip(sides.light.profiles, sides.walls, strict=True)]
    nearest = np.abs(_measure_shadows(sides)[..., None] - WIDTHS_PX).argmin(axis=-1)
    shaded = nearest > 0
    stay = np.where(np.arange(len(WIDTHS_PX)) > 0, 0.0, _STAY)
    total, moves = 0.0, []
    for side in range(4):
        # The sharp step found is the wall's upper edge, or its foot.
        off = np.maximum(np.maximum(MOVES_PX, -sides.walls[side] - MOVES_PX), 0.0)
        held = costs[side] + stay[:, None, None, None] * off**2
        step = sides.steps[side]
        if step is not None:
            held = held + _SURE * np.minimum(((MOVES_PX - step.place_px) / step.doubt_px) ** 2, _HUE_MOST)
        held[:, 1:] += _OUTWARD * np.maximum(MOVES_PX, 0.0) ** 2
        best = held.argmin(axis=-1)
        total = total + held.min(axis=-1)[:, nearest[:, side]]
        moves.append(MOVES_PX[best][:, nearest[:, side]])
    # The blur is the reference's own: the best one for each throw.
    total = np.asarray(total) + _PALE * shaded.any(axis=1)[:, None, None] * (DEPTHS.max() - DEPTHS)[:, None]
    blur = total.argmin(axis=0)[None]
    cost = np.take_along_axis(total, blur, axis=0)[0]
    moved = np.stack([np.take_along_axis(move, blur, axis=0)[0] for move in moves])
    return _Weighing(sides, cost / max(float(cost.min()) / 16, _SURE), moved)


def _settle(weighing: _Weighing, share: Floats) -> Reference:
    """Return the reference with its sides where the shadows, each as likely as its share, put them."""
    reference, unit_px = weighing.sides.reference, weighing.sides.light.unit_px
    mean = (share * weighing.moves).sum(axis=(1, 2, 3))
    spread = np.sqrt((share * (weighing.moves - mean[:, None, None, None]) ** 2).sum(axis=(1, 2, 3)))
    own = np.array([edge.shift_px for edge in reference.edges]) / unit_px
    doubts = np.hypot(own, _SPREAD_GAIN * spread)
    moves, doubts = _ask_hue(mean, doubts, weighing.sides.steps, _FIRM_PX / unit_px)
    return move_sides(reference, unit_px * moves, unit_px * doubts)


def _ask_hue(
    moves_px: Floats, doubts_px: Floats, steps: Sequence[HueStep | None], firm_px: float
) -> tuple[Floats, Floats]:
    """Return the moves weighed with the places where the hue turns, and their doubts; none is surer than `firm_px`."""
    moves, doubts = moves_px.copy(), doubts_px.copy()
    for side, step in enumerate(steps):
        if step is None:
            continue
        firm = max(float(doubts[side]), firm_px)
        trust = np.array([firm, step.doubt_px]) ** -2.0
        apart = abs(step.place_px - moves[side]) / np.hypot(firm, step.doubt_px)
        moves[side] = trust @ [moves[side], step.place_px] / trust.sum()
        doubts[side] = max(1.0, apart / _AGREED) * max(float(trust.sum() ** -0.5), min(float(doubts[side]), firm_px))
    return moves, doubts


def _draw_in_clipped(reference: Reference, profiles: Floats) -> Reference:
    """Return the reference with those sides drawn in beside which it is white beyond what the sensor holds."""
    inside, outside = profiles[:, ACROSS_PX < -2].mean(axis=1), profiles[:, ACROSS_PX > 2].mean(axis=1)
    clipped = (inside.min(axis=1) > _CLIPPED) & (outside.min(axis=1) < _CLIPPED)
    if not clipped.any():
        return reference
    own = np.array([edge.shift_px for edge in reference.edges])
    return move_sides(
        reference,
        np.where(clipped, -_CLIPPED_PX, 0.0),
        np.where(clipped, np.hypot(own, _CLIPPED_DOUBT_PX), own),
    )
