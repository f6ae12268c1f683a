"""Kinship: how alike the patches of a photo look."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.random import default_rng
from scipy.sparse import csr_matrix, diags_array

from .looks import blend_looks, blur, fade, find_looks, measure_floor_spread, measure_grain, name_looks
from .masks import Reals, as_reals
from .patches import Patches
from .threads import share_out

LOOKS = 56
GRAIN_SCALES = (1.2, 3.0)


@dataclass(frozen=True, eq=False)
class Kinship:
    """How alike patches look.

    Attributes:
        step: (m,) of each neighbouring pair, how differently their surroundings are coloured, 0..1.
        unlike: parts of the squared distance between looks, each (n, n): palette of the patch, of its near and of
            its wider surroundings, mean colour in units of the floor's own variation, and grain.
    """

    step: Reals
    unlike: tuple[Reals, ...]


def _squared_gaps(values: Reals) -> Reals:
    squares = (values**2).sum(1)
    return as_reals(np.maximum(squares[:, None] - 2 * values @ values.T + squares[None], 0))


def measure_kinship(lab: Reals, patches: Patches) -> Kinship:
    """Return how alike the patches of a picture (h, w, 3) CIE Lab look."""
    count, size, flat = patches.count, patches.size[:, None], patches.labels.ravel()
    calm = as_reals(cv2.bilateralFilter(lab, 5, 12, 2))
    mean = blur(lab[..., 0], 2.0)
    rough = np.sqrt(np.maximum(blur(lab[..., 0] ** 2, 2.0) - mean**2, 0))
    features = as_reals(
        np.dstack([calm * np.array([0.8, 1.4, 1.4], np.float32), 6 * np.log1p(rough / 2)]).reshape(-1, 4)
    )
    looks = find_looks(features, LOOKS, default_rng(1))
    palette = np.bincount(flat * len(looks) + name_looks(features, looks), minlength=count * len(looks))
    palettes = [as_reals((palette.reshape(count, -1) / size) @ blend_looks(looks, 6.0))]

    # palettes spread to neighbours, little across edges: a print becomes one look, a sheet beside it another
    flow = patches.length * np.exp(-patches.edge)
    one, two = patches.pair.T
    ends = (np.concatenate([one, two]), np.concatenate([two, one]))
    spread = csr_matrix((np.concatenate([flow, flow]), ends), shape=(count, count))
    total = np.asarray(spread.sum(1)).ravel() + 1e-6
    walk = (diags_array(0.5 / total) @ spread + diags_array(np.full(count, 0.5))).astype(np.float32)
    around = palettes[0]
    for turn in range(1, 25):
        around = walk @ around
        if turn in (6, 24):
            palettes.append(around)
    roots = [np.sqrt(part) for part in palettes]
    near = roots[1]
    step = np.sqrt(np.clip(1 - (near[one] * near[two]).sum(1), 0, 1))

    colour = np.stack([patches.mean_of(lab[..., k]) for k in range(3)], 1) / measure_floor_spread(lab)
    grain = np.stack([patches.mean_of(measure_grain(lab[..., 0], scale)) for scale in GRAIN_SCALES], 1)
    for _ in range(6):
        grain = walk @ grain
    unlike = share_out(lambda root: as_reals(np.clip(1 - root @ root.T, 0, 1)), roots)
    return Kinship(as_reals(step), (*unlike, *share_out(_squared_gaps, (as_reals(colour), as_reals(grain)))))


def measure_likeness(kinship: Kinship, patches: Patches, spreads: Sequence[float]) -> Reals:
    """Return (n, n) how alike patches look, 0..1, times the size of the second; a patch is no witness for itself.

    Args:
        kinship: parts of their distance.
        patches: themselves; what lies near counts a little more.
        spreads: one for each part, the distance at which likeness has fallen to 0.6.
    """
    distance = np.zeros((patches.count, patches.count), np.float32)
    for part, spread in zip(kinship.unlike, spreads, strict=True):
        distance += part / np.float32(2 * spread**2)
    nearness = 0.7 + 0.3 * np.exp(-_squared_gaps(patches.centre) / (2 * 0.3**2))
    likeness = as_reals(fade(distance) * nearness * patches.size[None])
    np.fill_diagonal(likeness, 0)
    return likeness
