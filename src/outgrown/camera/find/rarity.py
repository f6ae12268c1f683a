"""Rarity: areas whose colours are rare in the photo.

Floor and cloth fill it with their colours; a card's or a sheet's are seen nowhere else. So even one printed in many
colours, which has no edge of one kind around it, stands out as a whole.
"""

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter

from ...arrays import Floats
from .levels import Level, Singles
from .regions import outline_quads, scale_up

# Bins of lightness and of either colour difference, as powers of two [grey levels].
LIGHTNESS_BITS, COLOUR_BITS = 4, 2
SMOOTH_BINS, SMOOTH_PX = 1.0, 1.0
RAREST_SHARE = 1e-6
# Of all places: what is commoner than these is cut off nowhere.
LOW_PERCENT, HIGH_PERCENT = 30.0, 99.9
THRESHOLDS = 14
# Holes and bays of artwork in a colour of the floor are filled up to twice this [px of the 800 px level].
CLOSED_PX = (0, 2, 4)


def find_rare_regions(levels: list[Level]) -> Floats:
    """Return quads (M, 4, 2), in px of the first level, round areas that are rarer than their surroundings."""
    level = levels[1]
    up = levels[0].scale / level.scale
    rarity = cv2.GaussianBlur(measure_rarity(level), (0, 0), SMOOTH_PX)
    low, high = np.percentile(rarity[::4, ::4], [LOW_PERCENT, HIGH_PERCENT])
    quads: list[Floats] = []
    for threshold in np.linspace(low, high, THRESHOLDS, endpoint=False):
        rare = (rarity > threshold).view(np.uint8)
        for closed in CLOSED_PX:
            shape = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * closed + 1, 2 * closed + 1))
            whole = cv2.morphologyEx(rare, cv2.MORPH_CLOSE, shape) if closed else rare
            quads.extend(outline_quads(np.asarray(whole, dtype=np.uint8)))
    return scale_up(quads, up)


def measure_rarity(level: Level) -> Singles:
    """Return (H, W) the negative logarithm of the share of the picture that is of each pixel's colour."""
    bits = np.array([LIGHTNESS_BITS, COLOUR_BITS, COLOUR_BITS], np.uint8)
    bins = (level.planes >> bits).astype(np.int32)
    sizes = tuple(256 >> int(b) for b in bits)
    at = (bins[..., 0] * sizes[1] + bins[..., 1]) * sizes[2] + bins[..., 2]
    counts = np.bincount(at.ravel(), minlength=int(np.prod(sizes))).astype(np.float32)
    shares = gaussian_filter(counts.reshape(sizes), SMOOTH_BINS).ravel() / at.size
    rarity = -np.log(shares + np.float32(RAREST_SHARE))
    found: Singles = rarity[at]
    return found
