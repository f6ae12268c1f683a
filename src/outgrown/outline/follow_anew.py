"""Following anew: where hints changed the mask its edge is followed once more, elsewhere it stays as it was."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from ..arrays import Bytes, Flags, Floats
from .bites import close_bites
from .edge import Edge, drop_folds, settle_arc
from .empty_floor import EmptyFloor
from .follow import SPACING_PX, follow_edge, measure_whole_depth, paint_ring, trace_mask
from .gap_ends import lengthen_gaps
from .hints import Hints, Side, Stroke
from .masks import dilate
from .segmentation import Segmentation, paint_strokes
from .stations import find_runs, measure_normals, resample_ring

SAID_PX = 4
"""Where the edge would go back over what was said, it keeps within a working pixel of the mask so far round it [working
px]: a motif of the floor's colour in a hem's corner is no larger."""
FRESH_PX = 4
"""So far from what changed [working px] the edge is followed anew."""
BULGE_ROUNDS = 3
BEYOND_PX, BULGE_TIMES = 0.5, 3.0
"""The edge passes this far beyond what was said [photo px], in a bulge so many times as wide to either side as it is
high, or as a working pixel."""

Bounds = tuple[Floats, Floats]


@dataclass(frozen=True, eq=False)
class _Course:
    """The ring of the mask as it is now, and which of its stations are fresh.

    Attributes:
        cut: (H, W, 3) the cut-out at the photo's own scale.
        bare: the empty floor laid over it, where there is a photo of it.
        ring: (N, 2) all stations, in the cut-out [px].
        fresh: (N,) True where the edge is followed, False where the old one stays.
        old: the edge of the mask before.
        depth: (h, w) within the ring, and
        blocked: (h, w) the references, both on pixels of
        step: so many pixels of the cut-out.
        search: how far the edge may lie from the ring [px].
    """

    cut: Bytes
    bare: EmptyFloor | None
    ring: Floats
    fresh: Flags
    old: Edge
    depth: Floats
    blocked: Flags
    step: float
    search: int

    def settle(self, bounds: Bounds | None = None) -> Edge:
        """Return the edge, its fresh stations within `bounds` (least and greatest offset [px], (N,) each)."""
        nearest = np.asarray(KDTree(self.old.ring).query(self.ring)[1], dtype=np.intp)
        rings, sigmas = [], []
        for rows in find_runs(self.fresh):
            if self.fresh[rows[0]]:
                arc = settle_arc(
                    self.cut,
                    self.ring,
                    rows,
                    self.depth,
                    self.blocked,
                    self.step,
                    search=self.search,
                    bare=self.bare,
                    bounds=bounds,
                )
                rings.append(arc.ring)
                sigmas.append(arc.sigma)
            else:
                kept = _old_stations(nearest[rows], len(self.old.ring))
                rings.append(self.old.ring[kept])
                sigmas.append(self.old.sigma[kept])
        return drop_folds(Edge(np.concatenate(rings), np.concatenate(sigmas)))


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
    if not len(old.ring) or seen.is_small:
        return follow_edge(cut, seen, mask, bare)
    ring = resample_ring(seen.to_cut_px(traced), SPACING_PX)
    near = dilate(changed | (_paint_against(said, seen, old.ring) != 0), FRESH_PX)
    fresh = seen.look_up(near, ring)
    if fresh.all():
        return follow_edge(cut, seen, mask, bare)
    if not fresh.any():
        return old
    # Only what was taken away can open a gap; and a dent may be what was meant.
    opened = dilate(changed & ~mask, FRESH_PX)
    course = _lay_course(cut, seen, mask, ring, near, opened, old, bare)

    def settle(bounds: Bounds | None = None) -> Edge:
        edge = course.settle(bounds)
        return close_bites(edge, cut, seen.look_up(near & ~opened, edge.ring))[0]

    edge = settle()
    spots = _paint_against(said, seen, edge.ring)
    if spots.any():
        edge = settle(_bound(spots, seen, course.ring))
        # A bulge for one place may fall short where the edge is ragged, or undo another's.
        for _ in range(BULGE_ROUNDS):
            for stroke in _find_against(said, seen, edge.ring):
                outwards = 1.0 if stroke.side is Side.GARMENT else -1.0
                edge = _pass_beyond(edge, stroke.points_px[0] - np.array(seen.origin_px), outwards, seen.step_px[0])
    return edge


def _lay_course(
    cut: Bytes,
    seen: Segmentation,
    mask: Flags,
    ring: Floats,
    near: Flags,
    opened: Flags,
    old: Edge,
    bare: EmptyFloor | None,
) -> _Course:
    """Return the ring, longer where a gap was opened, with the maps that belong to it."""
    step = seen.step_px[0]
    search = max(4, round(2.5 * step))
    longer = lengthen_gaps(ring, cut, lambda points: seen.look_up(opened, points)) if opened.any() else ring
    if longer is ring:
        fresh = seen.look_up(near, ring)
        return _Course(cut, bare, ring, fresh, old, measure_whole_depth(mask), seen.blocked, step, search)
    away = np.asarray(KDTree(ring).query(longer)[0])
    fresh = seen.look_up(near, longer) | (away > SPACING_PX)
    depth, blocked, step = paint_ring(cut, seen.blocked.astype(np.uint8), longer)
    return _Course(cut, bare, longer, fresh, old, depth, blocked > 0, step, search)


def _find_against(said: Hints, seen: Segmentation, ring: Floats) -> list[Stroke]:
    """Return each place where garment was said outside a ring of the cut-out, or floor inside it."""
    outline = (ring + np.array(seen.origin_px)).astype(np.float32)[:, None]
    return [
        Stroke(stroke.side, place[None])
        for stroke in said.strokes
        for place in stroke.points_px
        if (cv2.pointPolygonTest(outline, (float(place[0]), float(place[1])), False) > 0)
        != (stroke.side is Side.GARMENT)
    ]


def _pass_beyond(edge: Edge, place: Floats, outwards: float, step_px: float) -> Edge:
    """Return the edge with a bulge that passes beyond a place less than a working pixel away.

    What is farther off the mask did not take over either: a strap, a thread.

    Args:
        edge: of the mask, in the cut-out.
        place: (2,) on its wrong side [px].
        outwards: 1 for a bulge outwards, -1 inwards.
        step_px: photo pixels per working pixel.
    """
    ring = edge.ring
    nearest = int(np.argmin(np.linalg.norm(ring - place, axis=1)))
    towards = outwards * measure_normals(ring, 2.0)[nearest]
    high = max(float((place - ring[nearest]) @ towards), 0.0) + BEYOND_PX
    if np.linalg.norm(place - ring[nearest]) > step_px:
        return edge
    wide = max(BULGE_TIMES * high, step_px)
    # Along the edge, not across a gap.
    paces = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1)
    along = np.concatenate([[0.0], np.cumsum(paces)[:-1]])
    apart = np.abs(along - along[nearest])
    apart = np.minimum(apart, paces.sum() - apart)
    share = np.where(apart < wide, np.cos(0.5 * np.pi * apart / wide) ** 2, 0.0)
    moved = ring + share[:, None] * high * towards
    return Edge(moved, np.where(share > 0, np.maximum(edge.sigma, 1.0), edge.sigma))


def _paint_against(said: Hints, seen: Segmentation, ring: Floats) -> NDArray[np.int8]:
    """Return (h, w), at working scale, 1 along places `_find_against` that are garment, -1 along floor."""
    against = _find_against(said, seen, ring)
    return paint_strokes(against, seen.step_px, (seen.mask.shape[0], seen.mask.shape[1]), seen.origin_px)


def _bound(spots: NDArray[np.int8], seen: Segmentation, ring: Floats) -> Bounds:
    """Return the least and greatest offset (N,) of the edge that keep it near the ring, round what was said [px]."""
    step = seen.step_px[0]
    by_garment, by_floor = (seen.look_up(dilate(spots == side, SAID_PX), ring) for side in (1, -1))
    return np.where(by_garment, -step, -np.inf), np.where(by_floor, step, np.inf)


def _old_stations(nearest: NDArray[np.intp], count: int) -> NDArray[np.intp]:
    """Return the old stations from the first to the last of those nearest to a run, in order, none twice."""
    ahead = int(nearest[-1] - nearest[0]) % count
    if ahead <= 2 * len(nearest) + 10:
        run: NDArray[np.intp] = (nearest[0] + np.arange(ahead + 1)) % count
        return run
    kept: NDArray[np.intp] = nearest[np.concatenate([[True], np.diff(nearest) != 0])]
    return kept
