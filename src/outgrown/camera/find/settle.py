"""Settle: where on its blurred profile a side truly lies, beside a shadow and with the rim in view.

A card's upper face lies 0.76 mm above the floor. On the sides away from the light its shadow darkens the floor
towards the edge; on the sides towards the lens its rim shows as a stripe up to a pixel wide. Both draw the steepest
place of the profile outward. So the mean profile of each side is taken apart: face, rim of the width the pose says,
and floor whose light comes back over some distance, all under one blur shared by the four sides.
"""

import numpy as np
from scipy.special import ndtr

from ...arrays import Floats

STEP_PX = 0.5
OFFSETS = np.arange(-6.0, 6.01, STEP_PX)
MOVES = np.arange(-2.4, 2.41, 0.15)
FEW_BLURS_PX = (0.55, 0.75, 1.0, 1.4, 2.0)
BLURS_PX = (0.5, 0.62, 0.75, 0.9, 1.08, 1.3, 1.7, 2.2)
# Held down softly (the step being 1): not face and floor, but the face's ramp, the floor's ramp and bend, the rim.
# Chosen on rendered cards and sheets with known edges; sheets came out to 0.05 px, cards' sides to 0.2 px.
CALM = np.array([1e-9, 1e-9, 0.05, 0.015, 0.015, 5e-5])
STAY = 0.0015
THINNEST_RIM_PX = 0.1
# A side found on the far slope of its shadow is brought back first, then settled.
ROUNDS = 3
ENOUGH_PX = 0.3


def find_moves(
    profiles: Floats, rims_px: Floats, reach_px: float, blurs_px: tuple[float, ...] = BLURS_PX
) -> tuple[Floats, float]:
    """Return how far each side lies outward of where its profile was taken (4,) [px], and the blur [px].

    Args:
        profiles: (4, T) light at OFFSETS across each side, scaled so that its step is 1.
        rims_px: (4,) how wide the rim shows beyond each side.
        reach_px: how far from the side the profile is looked at.
        blurs_px: standard deviations tried.
    """
    rims = np.where(rims_px > THINNEST_RIM_PX, rims_px, 0.0)
    centre = np.zeros(4)
    blur = blurs_px[0]
    for _ in range(ROUNDS):
        best, best_cost = centre, np.inf
        for tried in blurs_px:
            cost = _costs(profiles, tried, rims, centre, reach_px)
            total = float(np.log(cost.min(axis=1) + 1e-4).sum())
            if total < best_cost:
                best = centre + np.array([_lowest(row) for row in cost])
                best_cost, blur = total, tried
        moved = float(np.abs(best - centre).max())
        centre = np.clip(best, -3.0, 3.0)
        if moved < ENOUGH_PX:
            break
    return centre, blur


def _lowest(cost: Floats) -> float:
    """Return the move of least cost, between the steps tried."""
    k = int(np.argmin(cost))
    if not 0 < k < len(cost) - 1:
        return float(MOVES[k])
    before, here, after = cost[k - 1 : k + 2]
    bend = before - 2 * here + after
    return float(MOVES[k] + 0.5 * (before - after) / bend * (MOVES[1] - MOVES[0])) if bend > 0 else float(MOVES[k])


def _costs(profiles: Floats, blur: float, rims_px: Floats, centre: Floats, reach_px: float) -> Floats:
    """Return (4, moves) what the best face, rim and floor leave unexplained, for every move from `centre`."""
    face_end = OFFSETS - (centre[:, None] + MOVES)[..., None]
    floor_start = face_end - rims_px[:, None, None]
    face, floor = ndtr(face_end / blur), ndtr(floor_start / blur)
    face_bell, floor_bell = _bell(face_end / blur), _bell(floor_start / blur)
    face_ramp = face_end - (face_end * face + blur * face_bell)
    floor_ramp = floor_start * floor + blur * floor_bell
    floor_bend = (floor_start**2 + blur**2) * floor + floor_start * blur * floor_bell
    window = (np.abs(OFFSETS - centre[:, None]) <= reach_px)[:, None, :, None]
    basis = np.stack([1 - face, floor, face_ramp, floor_ramp, floor_bend, face - floor], axis=-1) * window
    target = profiles[:, None, :, None] * window
    # A side without a rim has none to fit: its column is empty, and held at nought.
    turned = np.swapaxes(basis, -1, -2)
    solution = np.linalg.solve(turned @ basis + np.diag(CALM), turned @ target)
    residual = target - basis @ solution
    held = (CALM[:, None] * solution**2).sum(axis=(2, 3))
    cost: Floats = (residual**2).sum(axis=(2, 3)) + held + STAY * (centre[:, None] + MOVES) ** 2
    return cost


def _bell(z: Floats) -> Floats:
    bell: Floats = np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi)
    return bell
