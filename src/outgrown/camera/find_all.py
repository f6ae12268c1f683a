"""Everything of known size in a photo: cards and sheets by their shape, printed targets by their markers."""

from collections.abc import Collection

import cv2
import numpy as np

from ..arrays import Floats
from ..photo import Photo
from .find import find_references
from .find_targets import find_targets
from .reference import Kind, Reference
from .shade import settle_shaded


def find_all_references(
    photo: Photo, *, kinds: Collection[Kind] | None = None, bar_mm: float | None = None
) -> list[Reference]:
    """Return every card, sheet and printed target in `photo`, the surest first.

    Args:
        photo: upright.
        kinds: look for these only; None for all.
        bar_mm: length of the targets' bar as measured after printing [mm], or None.
    """
    wanted = set(Kind if kinds is None else kinds)
    targets = find_targets(photo, bar_mm=bar_mm) if Kind.TARGET in wanted else ()
    shapes = [kind for kind in Kind if kind in wanted and kind is not Kind.TARGET]
    found = find_references(photo, kinds=shapes) if shapes else []
    # A target's frame and its paper are rectangles too, and no card.
    others = [r for r in found if not any(_overlap(r.corners_px, target.outline_px) for target in targets)]
    return [*targets, *settle_shaded(photo.pixels, others)]


def _overlap(first: Floats, second: Floats) -> bool:
    area, _ = cv2.intersectConvexConvex(first.astype(np.float32), second.astype(np.float32))
    return float(area) > 1.0
