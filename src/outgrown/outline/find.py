"""The garment's contour, from the photo: coarse segmentation, then its edge at full resolution."""

from collections.abc import Sequence

import cv2
import numpy as np

from ..arrays import Bytes, Floats, frozen
from ..errors import OutlineError
from ..findings import Finding
from ..progress import Progress, silent
from .contour import Contour
from .edge import Edge, drop_folds, measure_crossing, paint_depth, settle_edge
from .hints import Hints
from .segmentation import Segmentation, segment_garment
from .stations import signed_area, trace_level, turn_counter_clockwise

MIDDLE_SHORT_PX = 1200


def _refine_ring(pixels: Bytes, coarse: Segmentation, ring: Floats, reference_rings_px: Sequence[Floats]) -> Edge:
    """Return the edge of one ring: first at a middle scale, then at full resolution."""
    height, width = pixels.shape[:2]
    step = coarse.step_px[0]
    blocked = coarse.blocked.astype(np.uint8)
    middle = min(1.0, MIDDLE_SHORT_PX / min(height, width))
    depth = cv2.distanceTransform((~coarse.mask).astype(np.uint8), cv2.DIST_L2, 5) - cv2.distanceTransform(
        coarse.mask.astype(np.uint8), cv2.DIST_L2, 5
    )
    depth = depth - 0.5 * np.sign(depth)
    ring = coarse.to_photo_px(ring)
    if middle < 0.7:
        image = cv2.resize(pixels, None, fx=middle, fy=middle, interpolation=cv2.INTER_AREA)
        ring = (ring + 0.5) * middle - 0.5
        strip, offsets = settle_edge(
            image, ring, depth, blocked > 0, step * middle, spacing=1.5, search=max(4, round(3 * step * middle))
        )
        rough = drop_folds(Edge(strip.points + offsets[:, None] * strip.normals, offsets, offsets))
        depth = paint_depth([rough.ring], image.shape[:2])
        step, ring = 1 / middle, (rough.ring + 0.5) / middle - 0.5
        blocked = cv2.resize(blocked, (image.shape[1], image.shape[0]), interpolation=cv2.INTER_NEAREST)
        search = max(4, round(2.5 / middle))
    else:
        search = max(4, round(2.5 * step))
    strip, offsets = settle_edge(
        pixels, ring, depth, blocked > 0, step, spacing=2.0 if step > 1.2 else 1.0, search=search
    )
    return drop_folds(measure_crossing(strip, offsets))


def find_contour(
    pixels: Bytes,
    *,
    reference_rings_px: Sequence[Floats] = (),
    hints: Hints | None = None,
    progress: Progress = silent,
) -> Contour:
    """Return the edge of the one garment lying flat in the photo.

    Args:
        pixels: (H, W, 3) uint8 RGB, upright.
        reference_rings_px: rings (N, 2) of the cards and sheets found: never garment.
        hints: points said to be garment or floor.
        progress: told how far the work has come.

    Raises:
        OutlineError: nothing there, blurred beyond use, or the garment runs out of the frame.
    """
    progress("telling the garment from the floor", 0.0)
    coarse = segment_garment(pixels, reference_rings_px=reference_rings_px, hints=hints)
    rings = trace_level(
        coarse.probability if coarse.mask.all() else cv2.GaussianBlur(coarse.mask.astype(np.float32), (0, 0), 1.0)
    )
    if not rings:
        raise OutlineError(
            "I could not tell a garment from the floor.", "Lay it on a floor of another colour and try again."
        )
    progress("following its edge", 0.5)
    edge = _refine_ring(pixels, coarse, turn_counter_clockwise(rings[0]), reference_rings_px)
    findings: list[Finding] = list(coarse.findings)
    progress("following its edge", 1.0)
    ring = edge.ring if signed_area(edge.ring) > 0 else edge.ring[::-1]
    return Contour(frozen(ring), frozen(edge.sigma), frozen(edge.confidence), (), tuple(findings))
