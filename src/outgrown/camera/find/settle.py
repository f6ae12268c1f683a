"""Settle: where along its blurred profile each side truly lies, beside a shadow and with the rim in view.

A card's upper face lies 0.76 mm above the floor. On the sides away from the light its shadow darkens the floor
towards the edge; on the sides towards the lens its rim shows as a stripe up to a pixel wide. Both draw the steepest
place of the profile outward. So the mean profile of each side is taken apart: face, rim of the width the pose says,
and floor whose light comes back over some distance, all under one blur shared by the four sides.
"""

from dataclasses import replace

import numpy as np
from scipy.special import ndtr

from ...arrays import Bytes, Floats
from .edges import FIRST_SHARE, LAST_SHARE, LIGHT, Side, meet_corners, sample

STATIONS = 64
OFFSETS = np.arange(-6.0, 6.01, 0.25)
MOVES = np.arange(-2.4, 2.41, 0.1)
BLURS_PX = (0.5, 0.6, 0.7, 0.8, 0.92, 1.05, 1.25, 1.5)
# Held down softly (the step being 1): ramp of the face, ramp and bend of the floor, light of the rim.
# Chosen on rendered cards and sheets with known edges; sheets came out to 0.05 px, cards' sides to 0.2 px.
CALM = np.array([0.1, 0.03, 0.03, 1e-4])
STAY = 0.003
# A side found on the far slope of its shadow is brought back first, then settled.
ROUNDS = 3
THINNEST_RIM_PX = 0.1


def settle_sides(
    pixels: Bytes, sides: tuple[Side, ...], rims_px: Floats, px_per_mm: float
) -> tuple[tuple[Side, ...], Floats]:
    """Return the sides moved to where their profiles say, and the corners (4, 2) where they then meet.

    Args:
        pixels: the photo, (H, W, 3) uint8.
        sides: as measured, right to a pixel or two.
        rims_px: (4,) how wide the rim shows beyond each side.
        px_per_mm: scale there; on small cards less of the face is looked at.
    """
    reach = float(np.clip(1.5 * px_per_mm + 1.5, 3.0, 5.0))
    rims = np.where(rims_px > THINNEST_RIM_PX, rims_px, 0.0)
    moved = sides
    for _ in range(ROUNDS):
        profiles = np.stack([_mean_profile(pixels, side) for side in moved])
        moves = _find_moves(profiles, rims, reach)
        moved = tuple(_move(side, move) for side, move in zip(moved, moves, strict=True))
        if np.abs(moves).max() < 0.3:
            break
    return moved, meet_corners(list(moved))


def _move(side: Side, move: float) -> Side:
    return replace(
        side,
        points_px=side.points_px + side.normals_px * move,
        coefficients=side.coefficients + np.array([move, 0.0, 0.0]),
    )


def _mean_profile(pixels: Bytes, side: Side) -> Floats:
    """Return the light (T,) across a side, from 0 inside to about 1 outside, averaged along its curve."""
    u = np.linspace(2 * FIRST_SHARE - 1, 2 * LAST_SHARE - 1, STATIONS)
    along = side.stop - side.start
    unit = along / np.hypot(*along)
    normal = np.array([-unit[1], unit[0]])
    light = sample(pixels, side.curve(u)[:, None] + normal * OFFSETS[:, None], LIGHT)
    step = light[:, (OFFSETS > 2) & (OFFSETS < 5)].mean(axis=1) - light[:, (OFFSETS < -2) & (OFFSETS > -5)].mean(axis=1)
    size = np.sqrt((step**2).sum(axis=1))
    direction = step / np.maximum(size, 1e-6)[:, None]
    near = np.interp(u, np.linspace(2 * FIRST_SHARE - 1, 2 * LAST_SHARE - 1, len(side.weights)), side.weights)
    weight = (near > 0.2) + 1e-6
    mean: Floats = (weight[:, None] * (light * direction[:, None]).sum(axis=2)).sum(axis=0)
    return mean / max(float((weight * size).sum()), 1e-6)


def _find_moves(profiles: Floats, rims_px: Floats, reach_px: float) -> Floats:
    best, best_cost = np.zeros(len(profiles)), np.inf
    for blur in BLURS_PX:
        cost = np.stack([_costs(profile, blur, rim, reach_px) for profile, rim in zip(profiles, rims_px, strict=True)])
        total = float(np.log(cost.min(axis=1) + 1e-4).sum())
        if total < best_cost:
            best, best_cost = np.array([_lowest(row) for row in cost]), total
    return best


def _lowest(cost: Floats) -> float:
    """Return the move of least cost, between the steps tried."""
    k = int(np.argmin(cost))
    if not 0 < k < len(cost) - 1:
        return float(MOVES[k])
    before, here, after = cost[k - 1 : k + 2]
    bend = before - 2 * here + after
    return float(MOVES[k] + 0.5 * (before - after) / bend * (MOVES[1] - MOVES[0])) if bend > 0 else float(MOVES[k])


def _costs(profile: Floats, blur: float, rim_px: float, reach_px: float) -> Floats:
    """Return what the best face, rim and floor leave unexplained, for every move."""
    face_end = OFFSETS - MOVES[:, None]
    floor_start = face_end - rim_px
    face, floor = ndtr(face_end / blur), ndtr(floor_start / blur)
    face_bell, floor_bell = _bell(face_end / blur), _bell(floor_start / blur)
    face_ramp = face_end - blur * (face_end / blur * face + face_bell)
    floor_ramp = floor_start * floor + blur * floor_bell
    floor_bend = (floor_start**2 + blur**2) * floor + floor_start * blur * floor_bell
    parts = [1 - face, floor, face_ramp, floor_ramp, floor_bend]
    calm = np.concatenate([[1e-9, 1e-9], CALM[:3]])
    if rim_px > 0:
        parts.append(face - floor)
        calm = np.append(calm, CALM[3])
    basis = np.stack(parts, axis=-1) * (np.abs(OFFSETS) <= reach_px)[:, None]
    target = profile * (np.abs(OFFSETS) <= reach_px)
    turned = np.swapaxes(basis, 1, 2)
    solution = np.linalg.solve(turned @ basis + np.diag(calm), turned @ target[:, None])
    residual = target - (basis @ solution)[..., 0]
    held = (calm * solution[..., 0] ** 2).sum(axis=1)
    cost: Floats = (residual**2).sum(axis=1) + held + STAY * MOVES**2
    return cost


def _bell(z: Floats) -> Floats:
    bell: Floats = np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi)
    return bell
