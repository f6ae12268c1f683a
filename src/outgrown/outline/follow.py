"""Following: a ring at working scale moved onto the cloth's edge at full resolution."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Bytes, Flags, Floats
from .bites import close_bites
from .edge import Edge, drop_folds, measure_crossing, paint_depth, settle_edge
from .empty_floor import EmptyFloor
from .gap_ends import lengthen_gaps
from .masks import measure_depth
from .segmentation import Segmentation
from .stations import measure_normals, resample_ring, trace_level, turn_counter_clockwise
from .strip import unroll

MIDDLE_SHORT_PX = 1200
SPACING_PX = 2.0
"""From station to station [photo px]."""


def trace_mask(mask: Flags) -> Floats | None:
    """Return the outer ring (N, 2) of a mask at working scale, counter-clockwise, or None of an empty one."""
    rings = trace_level(cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 1.0).astype(np.float64))
    return turn_counter_clockwise(rings[0]) if rings else None


def measure_whole_depth(mask: Flags) -> Floats:
    """Return (h, w) the signed distance to a mask's edge, which runs between pixels."""
    depth = measure_depth(mask)
    return depth - 0.5 * np.sign(depth)


def _keep_ring(cut: Bytes, seen: Segmentation, ring: Floats, depth: Floats) -> Edge:
    """Return the ring where it is, with the doubt that the photo shows there."""
    points = resample_ring(ring, 1.0)
    strip = unroll(cut, points, measure_normals(points, 2.0), 8, depth, seen.blocked, seen.step_px[0])
    edge = measure_crossing(strip, np.zeros(len(points)))
    return Edge(points, np.maximum(edge.sigma, 0.5))


def follow_edge(
    cut: Bytes, seen: Segmentation, mask: Flags, bare: EmptyFloor | None = None, *, is_hole: bool = False
) -> Edge | None:
    """Return the edge of a mask, first at a middle scale where the photo is large, then at full resolution.

    Args:
        cut: (H, W, 3) the cut-out at the photo's own scale.
        seen: its segmentation, for scale and references.
        mask: (h, w) the garment or a hole, at working scale.
        bare: the empty floor laid over the cut-out, where there is a photo of it.
        is_hole: no gaps lead into it.
    """
    traced = trace_mask(mask)
    if traced is None:
        return None
    ring = seen.to_cut_px(traced)
    step = seen.step_px[0]
    blocked: NDArray[Any] = seen.blocked.astype(np.uint8)
    middle = min(1.0, MIDDLE_SHORT_PX / min(cut.shape[:2]))
    depth = measure_whole_depth(mask)
    if seen.is_small:
        return _keep_ring(cut, seen, ring, depth)
    search = max(4, round(2.5 * step))
    if middle < 0.7:
        image: NDArray[Any] = cv2.resize(cut, None, fx=middle, fy=middle, interpolation=cv2.INTER_AREA)
        ring = (ring + 0.5) * middle - 0.5
        reach = max(4, round(3 * step * middle))
        smaller = None if bare is None else bare.cut(0, 0, cut.shape[1], cut.shape[0], image.shape[:2])
        strip, offsets = settle_edge(
            image, ring, depth, blocked > 0, step * middle, spacing=1.5, search=reach, bare=smaller
        )
        rough = drop_folds(Edge(strip.points + offsets[:, None] * strip.normals, offsets))
        rough, _ = close_bites(rough, image)
        ring, search = (rough.ring + 0.5) / middle - 0.5, max(4, round(2.5 / middle))
    longer = ring if is_hole else lengthen_gaps(ring, cut)
    if middle < 0.7 or longer is not ring:
        ring, (depth, blocked, step) = longer, paint_ring(cut, blocked, longer)
    strip, offsets = settle_edge(cut, ring, depth, blocked > 0, step, spacing=SPACING_PX, search=search, bare=bare)
    return close_bites(drop_folds(measure_crossing(strip, offsets)), cut)[0]


def paint_ring(cut: Bytes, blocked: NDArray[Any], ring: Floats) -> tuple[Floats, NDArray[Any], float]:
    """Return the depth within a ring and the references at the middle scale, and photo pixels per pixel of it."""
    middle = min(1.0, MIDDLE_SHORT_PX / min(cut.shape[:2]))
    size = (round(cut.shape[0] * middle), round(cut.shape[1] * middle))
    depth = paint_depth([(ring + 0.5) * middle - 0.5], size)
    return depth, cv2.resize(blocked, size[::-1], interpolation=cv2.INTER_NEAREST), 1 / middle
