"""Parts apart: what looks like the garment's cloth and lies in the photo beyond a stretch of floor.

A garment with a broad band of the floor's colour seems to end there, along a clear edge; what lies beyond the band is
the rest of it. So may a second sock be, or light mirrored by the floor: a person is told of it, and decides.
"""

import cv2
import numpy as np

from ..arrays import Flags, Floats
from ..findings import Finding
from .confidence import list_places, name_place
from .holding import Holding
from .masks import as_reals, dilate, erode, measure_away

LIKE_CLOTH = 1.0
"""Log-likelihood from which a place looks like cloth."""
LEAST = 0.02
"""The smallest part, as a share of the garment's area."""
STRANGE = 1.3
"""So much likelier (log) a part must look within the garment than beyond it, in this light and in any. Of 26 that did
in 410 scenes (150 composites of photos' garments and floors with bands of the floor's colour, 190 drawn scenes, 56 with
half a garment in it, 14 photos) 20 were cloth, in 15 garments cut off by a band and one by a stripe; light mirrored by
the floor made up five of the others. A patch of the cloth laid beside garments that were found was seen 303 times."""
RIM_PX = 2
"""What lies so near the frame goes on beyond it: floor, or another thing."""
FACING_TIMES, FACING_MORE_PX = 1.25, 4.0
"""The garment's edge faces a part as far as that is so many times as far off as at its nearest, and so much more."""
APART_CODE = "part-apart"
DOUBTED = 0.3
"""Confidence at most, along the edge that faces a part."""


def find_apart(holding: Holding, mask: Flags) -> list[Flags]:
    """Return the parts (h, w) of a scene that look like the cloth and lie apart from it, the nearest first.

    Args:
        holding: of the scene.
        mask: (h, w) True on the garment, whole in the scene.
    """
    size = mask.sum()
    if not size:
        return []
    like = (
        (cv2.GaussianBlur(holding.measure_ratio(mask), (0, 0), 1.0) > LIKE_CLOTH)
        & ~holding.blocked
        & ~dilate(mask, RIM_PX)
    )
    count, numbers, stats, _ = cv2.connectedComponentsWithStats(like.astype(np.uint8), connectivity=4)
    large = [number for number in range(1, count) if stats[number, cv2.CC_STAT_AREA] >= LEAST * size]
    within = np.zeros(mask.shape, bool)
    within[RIM_PX:-RIM_PX, RIM_PX:-RIM_PX] = True
    parts: list[Flags] = [part for part in (numbers == number for number in large) if within[part].all()]
    cores = [erode(part, 1) for part in parts]
    parts = [part for part, core in zip(parts, cores, strict=True) if core.any()]
    looks = holding.compare_parts(mask, [core for core in cores if core.any()])
    parts = [part for part, look in zip(parts, looks, strict=True) if min(look.here, look.in_any_light) > STRANGE]
    away = measure_away(mask)
    return sorted(parts, key=lambda part: float(away[part].min()))


def tell_apart(
    ring_px: Floats, confidence: Floats, parts: list[Flags], step_px: tuple[float, float]
) -> tuple[Floats, tuple[Finding, ...]]:
    """Return the confidence (N,) with the edge that faces `parts` doubted, and what a person should know of them.

    Args:
        ring_px: (N, 2) the outline, in the photo.
        confidence: (N,) 0..1.
        parts: (h, w) of the whole photo made smaller.
        step_px: photo pixels per pixel of theirs, across and down.
    """
    if not parts:
        return confidence, ()
    doubted, places = confidence.copy(), []
    at = as_reals((ring_px + 0.5) / np.array(step_px) - 0.5)[None]
    for part in parts:
        away = measure_away(part)
        far = np.asarray(cv2.remap(away, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))[0]
        facing = far < FACING_TIMES * float(far.min()) + FACING_MORE_PX
        doubted[facing] = np.minimum(doubted[facing], DOUBTED)
        places.append(name_place(ring_px, ring_px[facing].mean(axis=0)))
    return doubted, (
        Finding(
            APART_CODE,
            "Something that looks like the garment's cloth lies apart from it, across from the "
            + list_places(places)
            + ".",
            "Look in the check picture: if it belongs to the garment, point at it as garment; if not, leave it so.",
            place=f"outer edge near the {places[0]}",
        ),
    )
