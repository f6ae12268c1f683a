"""Proposals: many cheap answers to 'where is the garment', from how unlike the floor each place looks.

The floor is what the frame's border and the surroundings of the references show. Distances from that palette, in
several weightings of lightness, colour and texture, cut at several levels, and the whole picture's few colours,
taken from the least floor-like on, give some hundred regions; which of them holds is decided elsewhere.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import chain
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Bytes, Flags
from .masks import Reals, fill_holes, find_pieces
from .threads import share_out

FLOOR_COLOURS = 24
WEIGHTINGS = ((1.0, 1.0, 1.0, 1.0), (0.35, 1.0, 1.0, 0.6), (1.0, 1.0, 1.0, 0.0), (0.5, 0.5, 0.5, 2.0))
"""Of lightness, two colours and texture. The second forgives light and shadow, the last looks at texture first."""
SMOOTHINGS_PX = (1.5, 4.0)
LEVELS = 8
FEWS = (4, 7)
OPENINGS_PX = (2, 4, 7)
SMALLEST, LARGEST = 0.006, 0.75
"""Shares of the picture a garment may take."""
TOUCHES = 0.12
"""Share of the frame's border a garment may lie across."""
ALIKE = 0.92


@dataclass(frozen=True, eq=False)
class Scene:
    """A small picture, made ready for proposals.

    Attributes:
        looks: (h, w, 4) lightness, two colours, texture, each so that a unit is about equally striking.
        floor: (h, w) True where it is surely floor, or most likely.
        blocked: (h, w) True on references.
    """

    looks: Reals
    floor: Flags
    blocked: Flags


def see_scene(rgb: Bytes, blocked: Flags) -> Scene:
    """Return the picture (h, w, 3) made ready; `blocked` (h, w) is True on references."""
    lab = cv2.cvtColor(rgb.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    eased = cv2.GaussianBlur(lab, (0, 0), 0.8)
    fine = lab[..., 0] - cv2.GaussianBlur(lab[..., 0], (0, 0), 2.0)
    texture = np.sqrt(cv2.GaussianBlur(fine * fine, (0, 0), 2.5))
    looks = np.dstack(
        [0.6 * eased[..., 0], 1.3 * eased[..., 1], 1.3 * eased[..., 2], 0.8 * np.minimum(texture, 12)]
    ).astype(np.float32)
    height, width = blocked.shape
    rim = max(4, round(0.05 * min(height, width)))
    border = np.ones(blocked.shape, bool)
    border[rim:-rim, rim:-rim] = False
    covered = blocked.astype(np.uint8)
    beside = (cv2.dilate(covered, np.ones((13, 13), np.uint8)) > 0) & (
        cv2.dilate(covered, np.ones((5, 5), np.uint8)) == 0
    )
    return Scene(looks, (border | beside) & ~blocked, blocked)


def find_few(values: Reals, count: int, seed: int) -> Reals:
    """Return (count, d) middles of (n, d) values (k-means)."""
    cv2.setRNGSeed(seed)
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 10, 0.5)
    _, _, middles = cv2.kmeans(values, count, np.empty(0), criteria, 1, cv2.KMEANS_PP_CENTERS)
    return np.asarray(middles, dtype=np.float32)


def assign(looks: Reals, middles: Reals) -> tuple[NDArray[np.intp], Reals]:
    """Return for each pixel the nearest middle's index and the distance to it."""
    flat = looks.reshape(-1, looks.shape[-1])
    away = (flat**2).sum(1)[:, None] - 2 * flat @ middles.T + (middles**2).sum(1)
    nearest = away.argmin(1)
    distance = np.sqrt(np.maximum(away[np.arange(len(flat)), nearest], 0))
    return nearest.reshape(looks.shape[:2]), distance.reshape(looks.shape[:2]).astype(np.float32)


def sample_rows(values: Reals, most: int, seed: int) -> Reals:
    """Return at most `most` rows of (n, d), drawn with a fixed seed."""
    if len(values) <= most:
        return values
    return values[np.random.default_rng(seed).choice(len(values), most, replace=False)]


def find_proposals(scene: Scene) -> list[Flags]:
    """Return regions (h, w) that may be the garment, none twice."""
    kept: list[Flags] = []
    thumbs: list[Flags] = []
    for mask in chain.from_iterable(share_out(lambda search: list(search()), _searches(scene))):
        thumb = cv2.resize(mask.astype(np.float32), None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA) > 0.5
        if all((thumb & other).sum() < ALIKE * max((thumb | other).sum(), 1) for other in thumbs):
            kept.append(mask)
            thumbs.append(thumb)
    return kept


def _searches(scene: Scene) -> list[Callable[[], Iterator[Flags]]]:
    return [
        *(partial(_unlike_floor, scene, weights) for weights in WEIGHTINGS),
        *(partial(_of_few_colours, scene, few) for few in FEWS),
    ]


def _unlike_floor(scene: Scene, weights: tuple[float, ...]) -> Iterator[Flags]:
    floor = sample_rows(scene.looks[scene.floor], 6000, 0)
    scaled = np.array(weights, np.float32)
    palette = find_few(floor * scaled, min(FLOOR_COLOURS, len(floor)), 0)
    _, distance = assign(scene.looks * scaled, palette)
    # In units of what the floor itself strays from its own palette.
    distance = distance / (float(np.percentile(distance[scene.floor], 90)) + 1.0)
    for smoothing in SMOOTHINGS_PX:
        eased: NDArray[Any] = cv2.GaussianBlur(distance, (0, 0), smoothing)
        top = max(float(np.percentile(eased, 99.5)), 1.0)
        for level in np.geomspace(0.8, top, LEVELS):
            yield from _parts(scene, eased > level)


def _of_few_colours(scene: Scene, few: int) -> Iterator[Flags]:
    whole = sample_rows(scene.looks.reshape(-1, scene.looks.shape[-1]), 8000, 1)
    soft: NDArray[Any] = cv2.GaussianBlur(scene.looks, (0, 0), 2.0)
    nearest, _ = assign(soft, find_few(whole, few, 1))
    on_floor = np.bincount(nearest[scene.floor], minlength=few) / max(int(scene.floor.sum()), 1)
    everywhere = np.bincount(nearest.ravel(), minlength=few) / nearest.size
    ranked = np.argsort(on_floor / np.maximum(everywhere, 1e-6))
    for taken in range(1, few):
        yield from _parts(scene, np.isin(nearest, ranked[:taken]))


def _parts(scene: Scene, mask: Flags) -> Iterator[Flags]:
    """Yield the largest pieces of a mask, holes filled, and each without its thin ends and bridges."""
    tidy: NDArray[Any] = cv2.morphologyEx(
        (mask & ~scene.blocked).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8)
    )
    tidy = cv2.morphologyEx(tidy, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    tidy[scene.blocked] = 0
    for piece in find_pieces(tidy > 0, 3):
        share = piece.mean()
        if not SMALLEST < share < LARGEST or touch_of(piece) > TOUCHES:
            continue
        filled = fill_holes(piece) & ~scene.blocked
        yield filled
        last = filled.sum()
        for radius in OPENINGS_PX:
            round_one = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1))
            rounded: NDArray[Any] = cv2.morphologyEx(filled.astype(np.uint8), cv2.MORPH_OPEN, round_one)
            opened = find_pieces(rounded, 1)
            if not opened or opened[0].mean() < SMALLEST:
                break
            if opened[0].sum() < 0.97 * last:
                yield opened[0]
                last = opened[0].sum()


def touch_of(mask: Flags) -> float:
    """Return the share of the frame's border that the mask covers."""
    height, width = mask.shape
    share: float = float(mask[0].sum() + mask[-1].sum() + mask[:, 0].sum() + mask[:, -1].sum()) / (2 * (height + width))
    return share
