"""Segmentation: the garment told from the floor at a working scale that does not grow with the photo."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Bytes, Flags, Floats
from ..errors import OutlineError
from ..findings import Finding
from .band import LocalLooks, cut_band, measure_depth
from .guess import find_guesses
from .hints import Hints
from .holding import Holding
from .patches import Reals, lay_patches
from .proposals import find_proposals, see_scene

WORKING_SHORT_PX = 400
SMALLEST_PX = 48
# (half width of the band, reach of the local looks, colours this close to the edge are not learned from) [px]
PROPOSING_SHORT_PX = 240
PLAIN = 0.33
"""A region that holds this well is the garment: of 45 scenes none above it was wrong."""
MOST_SETTLED = 3
WORTH_SETTLING = 0.75
"""Regions that hold less than this share of the best are not looked at again."""
SMALLEST_SHARE = 0.004
PASSES = ((10.0, 24.0, 3.0), (6.0, 16.0, 2.0))


@dataclass(frozen=True, eq=False)
class Segmentation:
    """Where the garment is, at working scale.

    Attributes:
        mask: (h, w) True on the garment.
        probability: (h, w) float32, 0..1, how sure each pixel is garment.
        step_px: photo pixels per working pixel, along x and y.
        blocked: (h, w) True on references.
        findings: what the person should know.
    """

    mask: Flags
    probability: Reals
    step_px: tuple[float, float]
    blocked: Flags
    findings: tuple[Finding, ...] = ()

    def to_photo_px(self, points: Floats) -> Floats:
        """Return working positions (N, 2) as positions in the photo [px]."""
        placed: Floats = (points + 0.5) * np.array(self.step_px) - 0.5
        return placed


def _paint_rings(rings_px: Sequence[Floats], step: tuple[float, float], shape: tuple[int, int]) -> Flags:
    """Return the mask (h, w) of rings given in photo pixels, a pixel wider than they are."""
    mask = np.zeros(shape, np.uint8)
    for ring in rings_px:
        at = (np.asarray(ring) + 0.5) / np.array(step) - 0.5
        cv2.fillPoly(mask, [np.round(at).astype(np.int32)], 1)
    return cv2.dilate(mask, np.ones((3, 3), np.uint8)) > 0


def _paint_points(points_px: Floats, step: tuple[float, float], shape: tuple[int, int], radius: int) -> Flags:
    """Return the mask (h, w) of discs round points given in photo pixels."""
    mask = np.zeros(shape, np.uint8)
    for x, y in (np.asarray(points_px).reshape(-1, 2) + 0.5) / np.array(step) - 0.5:
        cv2.circle(mask, (round(float(x)), round(float(y))), radius, 1, -1)
    return mask > 0


def _keep_largest(mask: Flags) -> Flags:
    count, pieces, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    if count < 2:
        return mask
    largest: Flags = pieces == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    return largest


def _nothing_there() -> OutlineError:
    return OutlineError(
        "I could not tell a garment from the floor.",
        "Lay it flat on a floor of another colour, all of it inside the photo, and try again.",
    )


def _find_best(small: Bytes, blocked: Flags, fixed: NDArray[np.int8]) -> tuple[Flags, Reals]:
    """Return the region that holds best after its edge has settled, and the log-likelihood for garment round it."""
    shrink = min(1.0, PROPOSING_SHORT_PX / min(blocked.shape))
    tiny: NDArray[Any] = cv2.resize(small, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    scene = see_scene(tiny, _resize_flags(blocked, tiny.shape[:2]))
    holding = Holding(scene)

    def hold(mask: Flags) -> float:
        return holding.measure(_resize_flags(mask, scene.blocked.shape))

    regions = find_proposals(scene)
    ranked = sorted(((holding.measure(mask), number) for number, mask in enumerate(regions)), reverse=True)
    regions = [_resize_flags(mask, blocked.shape) for mask in regions]
    if not ranked or ranked[0][0] < PLAIN:
        # A restless or alike floor: ask the slower way too.
        patches = lay_patches(small)
        forced: NDArray[np.float32] = 1e4 * patches.mean_of(fixed)
        for guess in find_guesses(patches, forced, patches.mean_of(blocked) > 0.3)[:3]:
            regions.append(guess.garment[patches.labels])
            ranked.append((hold(regions[-1]), len(regions) - 1))
        ranked.sort(reverse=True)
    if not ranked or ranked[0][0] <= 0:
        raise _nothing_there()
    chosen: list[Flags] = []
    for held, number in ranked:
        mask = regions[number]
        if held < WORTH_SETTLING * ranked[0][0] or len(chosen) == MOST_SETTLED:
            break
        if all((mask & other).sum() < 0.9 * (mask | other).sum() for other in chosen):
            chosen.append(mask)
    looks = LocalLooks(small)
    settled: list[tuple[float, int, Flags, Reals]] = []
    for start in chosen:
        mask, lean = settle_mask(looks, start, blocked, fixed)
        # An edge that runs away from where it began had nothing to hold on to.
        held = hold(mask) if 0.6 < mask.sum() / max(start.sum(), 1) < 1.7 else 0.0
        settled.append((held, -len(settled), mask, lean))
    mask, lean = max(settled, key=lambda one: one[:2])[2:]
    if mask.mean() < SMALLEST_SHARE:
        raise _nothing_there()
    return mask, lean


def _resize_flags(mask: Flags, shape: tuple[int, ...]) -> Flags:
    if mask.shape == tuple(shape[:2]):
        return mask
    grey = cv2.resize(mask.astype(np.float32), (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR)
    resized: Flags = grey > 0.5
    return resized


def settle_mask(looks: LocalLooks, mask: Flags, blocked: Flags, fixed: NDArray[np.int8]) -> tuple[Flags, Reals]:
    """Return the mask with its edge moved to where the looks near by change, and the log-likelihood for garment."""
    usual = looks.usual_step()
    lean: Reals = np.zeros(mask.shape, np.float32)
    for half, reach, margin in PASSES:
        depth = measure_depth(mask)
        ratio = looks.measure_log_ratio((depth < -margin) & ~blocked, (depth > margin) & ~blocked, reach)
        lean = np.clip(ratio, -4, 4)
        moved = _keep_largest(cut_band(mask, half, lean, looks.lab, 6.0, usual, fixed))
        if not moved.any():
            break
        mask = moved
    return mask, lean


def segment_garment(
    pixels: Bytes, *, reference_rings_px: Sequence[Floats] = (), hints: Hints | None = None
) -> Segmentation:
    """Return where the one garment lies.

    Args:
        pixels: (H, W, 3) uint8 RGB.
        reference_rings_px: rings (N, 2) of the cards and sheets in the photo: never garment.
        hints: points said to be garment or floor.

    Raises:
        OutlineError: nothing there that could be a garment.
    """
    hints = hints or Hints()
    height, width = pixels.shape[:2]
    if min(height, width) < SMALLEST_PX:
        raise OutlineError("This picture is too small to see a garment in.", "Use the photo as the camera took it.")
    scale = min(1.0, WORKING_SHORT_PX / min(height, width))
    shape = (max(1, round(height * scale)), max(1, round(width * scale)))
    small: NDArray[Any] = pixels
    if scale < 1.0:
        small = cv2.resize(pixels, (shape[1], shape[0]), interpolation=cv2.INTER_AREA)
    step = (width / shape[1], height / shape[0])
    blocked = _paint_rings(reference_rings_px, step, shape)
    fixed = np.zeros(shape, np.int8)
    fixed[_paint_points(hints.garment_px, step, shape, 2)] = 1
    fixed[_paint_points(hints.floor_px, step, shape, 2)] = -1
    fixed[blocked] = -1

    mask, lean = _find_best(small, blocked, fixed)
    near = np.clip(measure_depth(mask) / 4.0, -1, 1)
    probability = 1 / (1 + np.exp(-np.clip(lean, -4, 4) + 4 * near))
    return Segmentation(mask, probability.astype(np.float32), step, blocked)
