"""The garment's contour, from the photo: coarse segmentation, then its edge at full resolution."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Bytes, Floats, frozen
from ..errors import OutlineError
from ..findings import Finding
from ..progress import Progress, silent
from .closer import look_closer
from .contour import Contour
from .edge import Edge, drop_folds, measure_crossing, paint_depth, settle_edge
from .hints import Hints
from .segmentation import Segmentation, segment_garment
from .stations import signed_area, trace_level, turn_counter_clockwise

MIDDLE_SHORT_PX = 1200
CUT_OFF_TOLD, CUT_OFF_REFUSED = 0.004, 0.06
"""Shares of the outline that run along the frame."""


def _refine_ring(pixels: Bytes, coarse: Segmentation, ring: Floats) -> Edge:
    """Return the edge of one ring: first at a middle scale, then at full resolution."""
    height, width = pixels.shape[:2]
    step = coarse.step_px[0]
    blocked: NDArray[Any] = coarse.blocked.astype(np.uint8)
    middle = min(1.0, MIDDLE_SHORT_PX / min(height, width))
    depth = cv2.distanceTransform((~coarse.mask).astype(np.uint8), cv2.DIST_L2, 5) - cv2.distanceTransform(
        coarse.mask.astype(np.uint8), cv2.DIST_L2, 5
    )
    depth = depth - 0.5 * np.sign(depth)
    ring = coarse.to_photo_px(ring)
    if middle < 0.7:
        image: NDArray[Any] = cv2.resize(pixels, None, fx=middle, fy=middle, interpolation=cv2.INTER_AREA)
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
    closer = look_closer(pixels, coarse, reference_rings_px, hints or Hints())
    close = closer.segmentation
    rings = trace_level(cv2.GaussianBlur(close.mask.astype(np.float32), (0, 0), 1.0).astype(np.float64))
    if not rings:
        raise OutlineError(
            "I could not tell a garment from the floor.", "Lay it on a floor of another colour and try again."
        )
    progress("following its edge", 0.5)
    cut = closer.cut(pixels)
    edge = _refine_ring(cut, close, turn_counter_clockwise(rings[0]))
    holes = []
    for hole in closer.holes:
        inside = trace_level(cv2.GaussianBlur(hole.astype(np.float32), (0, 0), 1.0).astype(np.float64))
        if inside:
            around = replace(close, mask=hole)
            found = _refine_ring(cut, around, turn_counter_clockwise(inside[0]))
            holes.append(frozen(found.ring + np.array(closer.origin_px)))
    progress("following its edge", 1.0)
    flipped = signed_area(edge.ring) < 0
    ring, sigma, confidence = (part[::-1] if flipped else part for part in (edge.ring, edge.sigma, edge.confidence))
    ring = ring + np.array(closer.origin_px)
    findings = (*coarse.findings, *_find_cut_off(ring, pixels.shape[1], pixels.shape[0]))
    return Contour(frozen(ring), frozen(sigma), frozen(confidence), tuple(holes), findings)


def _find_cut_off(ring: Floats, width: int, height: int) -> tuple[Finding, ...]:
    """Return a finding where the frame cuts a little of the garment.

    Raises:
        OutlineError: it cuts a long stretch.
    """
    near = 0.004 * max(width, height) + 2
    sides = {
        "left": ring[:, 0] < near,
        "right": ring[:, 0] > width - 1 - near,
        "upper": ring[:, 1] < near,
        "lower": ring[:, 1] > height - 1 - near,
    }
    step = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1)
    cut = {side: float(step[flags].sum() / step.sum()) for side, flags in sides.items()}
    worst = max(cut, key=lambda side: cut[side])
    if cut[worst] > CUT_OFF_REFUSED:
        raise OutlineError(
            f"The garment runs out of the photo at its {worst} edge.",
            "Take the photo again with all of it in the picture and a hand's width of floor round it.",
        )
    if cut[worst] > CUT_OFF_TOLD:
        return (
            Finding(
                "garment-cut-off",
                f"The garment touches the {worst} edge of the photo, and what lies beyond is not known.",
                "Take the photo again with a hand's width of floor round the garment.",
                place=f"{worst} edge",
            ),
        )
    return ()
