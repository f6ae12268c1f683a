"""Holding: how well a region holds as the garment, judged along its edge.

A garment differs from what lies beside it all the way round, what lies beside it is floor, and it does not itself
look like floor. A board or a tile lies between its joints but looks like its neighbour; a patch of sun has an edge
but the floor's colour; a motif of a print is surrounded by cloth, not floor.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Flags
from .looks import compare_shares, even_light, fade
from .masks import Reals, as_reals, measure_depth
from .proposals import Scene, assign, find_few, sample_rows, touch_of

COLOURS = 28
NARROWER = 4
"""Where two looks are told apart they are alike at half the distance at which they are not held against an edge."""
BLEND = 9.0
"""Looks this far apart (units of `Scene.looks`) count as little alike."""
NEAR_PX, FAR_PX = 1.5, 9.0
WINDOW_PX = 12
"""Looks are gathered in windows of three times this along the edge: longer than a stripe, shorter than a leg."""
CLEAR, WEAK = 0.5, 0.12
SHADELESS = 0.4
"""Share of the contrast that must not come from light and shadow alone: a patch of sun has an edge all round."""


@dataclass(frozen=True)
class Compared:
    """How a part of a mask looks.

    Attributes:
        here: how much likelier (log) it looks within the mask than beyond it, in this light, and
        in_any_light: the same with lightness all but taken out.
        floor_share: share of it that looks likelier beyond.
    """

    here: float
    in_any_light: float
    floor_share: float


class Holding:
    """Judges regions of one scene."""

    def __init__(self, scene: Scene) -> None:
        self._blocked = scene.blocked
        self._full = _Code(scene.looks, scene.floor)
        self._shadeless = _Code(without_shade(scene.looks), scene.floor)

    def measure_ratio(self, mask: Flags) -> Reals:
        """Return (h, w) log p(look | cloth) - log p(look | floor) of what looks occur within a mask and beyond it."""
        depth = measure_depth(mask)
        return self._full.measure_ratio(depth < -NEAR_PX, (depth > NEAR_PX) & ~self._blocked)

    @property
    def blocked(self) -> Flags:
        """(h, w) True on references."""
        return self._blocked

    @property
    def shape(self) -> tuple[int, ...]:
        """Rows and columns of the scene."""
        return self._blocked.shape

    def compare_parts(self, mask: Flags, parts: Sequence[Flags]) -> list[Compared]:
        """Return how parts (h, w) of a mask look beside what lies within and beyond it."""
        depth = measure_depth(mask)
        inside, outside = depth < -NEAR_PX, (depth > NEAR_PX) & ~self._blocked
        here, in_any_light = (code.measure_ratio(inside, outside) for code in (self._full, self._shadeless))
        cores = [part & inside if (part & inside).any() else part for part in parts]
        return [
            Compared(_mean_of(here[core]), _mean_of(in_any_light[core]), _mean_of(here[core] < 0)) for core in cores
        ]

    def measure(self, mask: Flags) -> float:
        """Return how well the mask (h, w) holds, 0 (not at all) to about 1."""
        inside = mask.astype(np.uint8)
        rings, _ = cv2.findContours(inside, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        if not rings:
            return 0.0
        ring: NDArray[Any] = max(rings, key=len)[:, 0]
        windows = max(8, len(ring) // WINDOW_PX)
        x, y, wide, high = cv2.boundingRect(ring)
        margin = int(FAR_PX) + 2
        box = (
            slice(max(y - margin, 0), y + high + margin),
            slice(max(x - margin, 0), x + wide + margin),
        )
        inside, blocked = inside[box], self._blocked[box]
        at = ring - np.array([box[1].start, box[0].start])
        within = cv2.distanceTransform(cv2.copyMakeBorder(inside, 1, 1, 1, 1, cv2.BORDER_CONSTANT), cv2.DIST_L2, 3)
        within = within[1:-1, 1:-1]
        beyond = cv2.distanceTransform(1 - inside, cv2.DIST_L2, 3)
        inner = (within > NEAR_PX) & (within < FAR_PX)
        outer = (beyond > NEAR_PX) & (beyond < FAR_PX) & ~blocked
        window = _nearest_window(inside.shape, at, windows)
        full, shadeless = (
            code.judge(box, window, inner, outer, inside > 0, windows) for code in (self._full, self._shadeless)
        )
        if full is None or shadeless is None:
            return 0.0
        contrast = (1 - SHADELESS) * full.contrast + SHADELESS * shadeless.contrast
        weak = (1 - SHADELESS) * full.weak + SHADELESS * shadeless.weak
        floor_inside = 0.88 * full.floor_inside + 0.12 * shadeless.floor_inside
        compact = 4 * np.pi * float(inside.sum()) / len(ring) ** 2
        held: float = (
            contrast
            * (1 - 0.8 * weak)
            * full.floor_outside**0.3  # floor in the sun is not like the floor at the border
            * (1 - 0.7 * floor_inside)
            * min(float(mask.mean()), 0.25) ** 0.2
            * min(1.0, compact / 0.12) ** 0.3
            * (1 - touch_of(mask))
            * (1 - 0.6 * _off_centre(mask) ** 2)
            * (1 - 0.4 * float(np.clip((_squareness(ring) - 0.9) / 0.06, 0, 1)))
        )
        return held


@dataclass(frozen=True)
class _Judged:
    contrast: float
    weak: float
    floor_outside: float
    floor_inside: float


class _Code:
    """Every pixel's look as one of a few, and how alike these are."""

    def __init__(self, looks: Reals, floor: Flags) -> None:
        flat = looks.reshape(-1, looks.shape[-1])
        middles = find_few(sample_rows(flat, 8000, 1), COLOURS, 2)
        self._look: NDArray[np.intp] = assign(looks, middles)[0]
        away = np.sqrt(((middles[:, None] - middles[None]) ** 2).sum(2))
        self._alike = fade((away / BLEND) ** 2)
        shares = np.bincount(self._look[floor], minlength=COLOURS).astype(np.float32)
        self._floor_like = np.minimum(1.0, 6.0 * ((shares / max(float(shares.sum()), 1.0)) @ self._alike))

    def measure_ratio(self, inside: Flags, outside: Flags) -> Reals:
        """Return (h, w) how much more each place's look, or one like it, occurs `inside` than `outside`."""
        blend = self._alike**NARROWER
        blend = blend / blend.sum(axis=1, keepdims=True)
        cloth, floor = (
            np.bincount(self._look[where], minlength=COLOURS) / max(int(where.sum()), 1) @ blend
            for where in (inside, outside)
        )
        return as_reals(compare_shares(cloth, floor))[self._look]

    def judge(
        self,
        box: tuple[slice, slice],
        window: NDArray[np.int32],
        inner: Flags,
        outer: Flags,
        inside: Flags,
        windows: int,
    ) -> _Judged | None:
        """Return how the two sides of the edge compare, or None where there is too little of either."""
        look = self._look[box]
        cloth = _counts(window, look, inner, windows)
        floor = _counts(window, look, outer, windows)
        known = (cloth.sum(1) > 15) & (floor.sum(1) > 15)
        if known.sum() < 4:
            return None
        cloth = cloth[known] / cloth[known].sum(1, keepdims=True)
        floor = floor[known] / floor[known].sum(1, keepdims=True)
        unlike = self._unlike(cloth, floor)
        all_inside = np.bincount(look[inside], minlength=COLOURS) / max(int(inside.sum()), 1)
        return _Judged(
            contrast=float(np.clip(unlike / CLEAR, 0, 1).mean()),
            weak=float((unlike < WEAK).mean()),
            floor_outside=float((floor @ self._floor_like).mean()),
            floor_inside=float(all_inside @ self._floor_like),
        )

    def _unlike(self, one: Reals, other: Reals) -> Reals:
        """Return (n,) 0 where the looks of both sides are the same, 1 where nothing is alike."""

        def meet(a: Reals, b: Reals) -> Reals:
            met: Reals = ((a @ self._alike) * b).sum(1)
            return met

        unlike: Reals = 1 - meet(one, other) / np.sqrt(np.maximum(meet(one, one) * meet(other, other), 1e-12))
        return unlike


def _mean_of(values: Reals | Flags) -> float:
    return float(values.mean()) if len(values) else 0.0


def without_shade(looks: Reals) -> Reals:
    """Return looks with lightness all but taken out: light and shadow change colour in proportion to lightness."""
    return as_reals(np.dstack([0.25 * looks[..., :1], even_light(looks[..., 0] / 0.6, looks[..., 1:])]))


def _squareness(ring: NDArray[np.int32]) -> float:
    """Return how far the ring fills its narrowest rectangle: near 1 a phone, a book, a card; garments less."""
    _, sides, _ = cv2.minAreaRect(ring)
    return float(cv2.contourArea(ring) / max((sides[0] + 1) * (sides[1] + 1), 1.0))


def _off_centre(mask: Flags) -> float:
    """Return how far the mask's middle lies from the picture's, 0 to 1 at a corner."""
    height, width = mask.shape
    y, x = (float(np.mean(part)) for part in np.nonzero(mask))
    return float(np.hypot(x - width / 2, y - height / 2) / np.hypot(width / 2, height / 2))


def _nearest_window(shape: tuple[int, ...], ring: NDArray[np.int32], windows: int) -> NDArray[np.int32]:
    """Return (h, w) the number of the edge's window nearest to each pixel."""
    blank = np.ones(shape, np.uint8)
    blank[ring[:, 1], ring[:, 0]] = 0
    _, labels = cv2.distanceTransformWithLabels(blank, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL)
    numbers = np.zeros(int(labels.max()) + 1, np.int32)
    numbers[labels[ring[:, 1], ring[:, 0]]] = np.arange(len(ring)) * windows // len(ring)
    return np.asarray(numbers[labels], dtype=np.int32)


def _counts(window: NDArray[np.int32], look: NDArray[np.intp], where: Flags, windows: int) -> Reals:
    """Return (windows, COLOURS) how often each look occurs in a window and its two neighbours."""
    found = np.bincount(window[where] * COLOURS + look[where], minlength=windows * COLOURS)
    counts = found.reshape(windows, COLOURS).astype(np.float32)
    summed: Reals = np.roll(counts, 1, 0) + counts + np.roll(counts, -1, 0)
    return summed
