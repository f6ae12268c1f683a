"""Following: a ring at working scale moved onto the cloth's edge at full resolution, all of it or where it is new."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from ..arrays import Bytes, Flags, Floats
from .bites import close_bites
from .edge import Edge, drop_folds, measure_crossing, paint_depth, settle_arc, settle_edge
from .empty_floor import EmptyFloor
from .gap_ends import lengthen_gaps
from .hints import Hints, Side, Stroke
from .masks import dilate, measure_depth
from .segmentation import Segmentation, paint_strokes
from .stations import measure_normals, resample_ring, trace_level, turn_counter_clockwise
from .strip import unroll

MIDDLE_SHORT_PX = 1200
SMALL_STEP = 1.3
"""Photo pixels to a working pixel, below which the photo shows no more than the mask was settled on: of 14 photos
400 px wide the median overlap is then 0.984 with the mask's own ring and 0.981 when it is followed once more."""
SPACING_PX = 2.0
"""From station to station [photo px]."""
SAID_PX = 4
"""Where the edge would go back over what was said, it keeps within a working pixel of the mask so far round it [working
px]: a motif of the floor's colour in a hem's corner is no larger."""
FRESH_PX = 4
"""So far from what changed [working px] the edge is followed anew."""


def trace_mask(mask: Flags) -> Floats | None:
    """Return the outer ring (N, 2) of a mask at working scale, counter-clockwise, or None of an empty one."""
    rings = trace_level(cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 1.0).astype(np.float64))
    return turn_counter_clockwise(rings[0]) if rings else None


def _to_cut(seen: Segmentation, ring: Floats) -> Floats:
    placed: Floats = seen.to_photo_px(ring) - np.array(seen.origin_px)
    return placed


def _whole_depth(mask: Flags) -> Floats:
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
    ring = _to_cut(seen, traced)
    step = seen.step_px[0]
    blocked: NDArray[Any] = seen.blocked.astype(np.uint8)
    middle = min(1.0, MIDDLE_SHORT_PX / min(cut.shape[:2]))
    depth = _whole_depth(mask)
    if step < SMALL_STEP:
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
        ring, (depth, blocked, step) = longer, _paint_anew(cut, blocked, longer)
    strip, offsets = settle_edge(cut, ring, depth, blocked > 0, step, spacing=SPACING_PX, search=search, bare=bare)
    return close_bites(drop_folds(measure_crossing(strip, offsets)), cut)[0]


def _paint_anew(cut: Bytes, blocked: NDArray[Any], ring: Floats) -> tuple[Floats, NDArray[Any], float]:
    """Return the depth within a ring and the references at the middle scale, and photo pixels per pixel of it."""
    middle = min(1.0, MIDDLE_SHORT_PX / min(cut.shape[:2]))
    size = (round(cut.shape[0] * middle), round(cut.shape[1] * middle))
    depth = paint_depth([(ring + 0.5) * middle - 0.5], size)
    return depth, cv2.resize(blocked, size[::-1], interpolation=cv2.INTER_NEAREST), 1 / middle


def follow_anew(
    cut: Bytes,
    seen: Segmentation,
    mask: Flags,
    old: Edge,
    changed: Flags,
    said: Hints,
    bare: EmptyFloor | None = None,
) -> Edge | None:
    """Return the edge of a mask that differs from an earlier one only where `changed`: elsewhere `old` stays.

    Args:
        cut: (H, W, 3) the cut-out at the photo's own scale.
        seen: its segmentation, for scale and references.
        mask: (h, w) the garment now.
        old: the edge of the mask before.
        changed: (h, w) where the two masks differ.
        said: the hints that changed it: the edge does not go back over them.
        bare: as of `follow_edge`.
    """
    traced = trace_mask(mask)
    if traced is None:
        return None
    step = seen.step_px[0]
    if not len(old.ring) or step < SMALL_STEP:
        return follow_edge(cut, seen, mask, bare)

    def is_in(places: Flags, points: Floats) -> Flags:
        at = np.round((points + 0.5) / np.array(seen.step_px) - 0.5).astype(int)
        flags: Flags = places[np.clip(at[:, 1], 0, places.shape[0] - 1), np.clip(at[:, 0], 0, places.shape[1] - 1)]
        return flags

    ring = resample_ring(_to_cut(seen, traced), SPACING_PX)
    near = dilate(changed | (_paint_against(said, seen, old.ring) != 0), FRESH_PX)
    fresh = is_in(near, ring)
    if fresh.all():
        return follow_edge(cut, seen, mask, bare)
    if not fresh.any():
        return old
    depth, blocked, search = _whole_depth(mask), seen.blocked, max(4, round(2.5 * step))
    # Only what was taken away can open a gap.
    opened = changed & ~mask
    near_opened = dilate(opened, FRESH_PX)
    longer = lengthen_gaps(ring, cut, lambda points: is_in(near_opened, points)) if opened.any() else ring
    if longer is not ring:
        away = np.asarray(KDTree(ring).query(longer)[0])
        ring, fresh = longer, is_in(near, longer) | (away > SPACING_PX)
        depth, small, step = _paint_anew(cut, seen.blocked.astype(np.uint8), ring)
        blocked = small > 0
    nearest = np.asarray(KDTree(old.ring).query(ring)[1], dtype=np.intp)
    runs = np.split(np.arange(len(ring)), np.flatnonzero(np.diff(fresh.astype(int))) + 1)
    if fresh[0] == fresh[-1] and len(runs) > 1:
        runs[0] = np.concatenate([runs.pop(), runs[0]])

    def settle(bounds: tuple[Floats, Floats] | None) -> Edge:
        parts = []
        for rows in runs:
            if fresh[rows[0]]:
                arc = settle_arc(cut, ring, rows, depth, blocked, step, search=search, bare=bare, bounds=bounds)
                parts.append((arc.ring, arc.sigma))
            else:
                kept = _old_stations(nearest[rows], len(old.ring))
                parts.append((old.ring[kept], old.sigma[kept]))
        edge = drop_folds(Edge(*(np.concatenate([part[k] for part in parts]) for k in range(2))))
        straight, closed = close_bites(edge, cut)
        # A dent may be what was meant; and what did not change stays as it was.
        taken = closed & is_in(near & ~near_opened, edge.ring)
        return Edge(np.where(taken[:, None], straight.ring, edge.ring), np.where(taken, straight.sigma, edge.sigma))

    edge = settle(None)
    spots = _paint_against(said, seen, edge.ring)
    if not spots.any():
        return edge
    by_garment, by_floor = (is_in(dilate(spots == side, SAID_PX), ring) for side in (1, -1))
    return settle((np.where(by_garment, -seen.step_px[0], -np.inf), np.where(by_floor, seen.step_px[0], np.inf)))


def _paint_against(said: Hints, seen: Segmentation, ring: Floats) -> NDArray[np.int8]:
    """Return (h, w), at working scale, 1 where garment was said outside a ring of the cut-out, -1 floor inside it."""
    outline = (ring + np.array(seen.origin_px)).astype(np.float32)[:, None]
    against = [
        Stroke(stroke.side, place[None])
        for stroke in said.strokes
        for place in stroke.points_px
        if (cv2.pointPolygonTest(outline, (float(place[0]), float(place[1])), False) > 0)
        != (stroke.side is Side.GARMENT)
    ]
    return paint_strokes(against, seen.step_px, (seen.mask.shape[0], seen.mask.shape[1]), seen.origin_px)


def _old_stations(nearest: NDArray[np.intp], count: int) -> NDArray[np.intp]:
    """Return the old stations from the first to the last of those nearest to a run, in order, none twice."""
    ahead = int(nearest[-1] - nearest[0]) % count
    if ahead <= 2 * len(nearest) + 10:
        run: NDArray[np.intp] = (nearest[0] + np.arange(ahead + 1)) % count
        return run
    kept: NDArray[np.intp] = nearest[np.concatenate([[True], np.diff(nearest) != 0])]
    return kept
