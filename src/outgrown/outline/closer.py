"""A closer look: the garment cut out of the photo, its edge settled on more pixels, and mended where a hint says so."""

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np

from ..arrays import Bytes, Flags, Floats
from .answers import Bench
from .band import LocalLooks, settle_mask
from .hints import Hints
from .masks import dilate, fill_holes, find_pieces, measure_depth, open_mask
from .mending import mend_mask
from .segmentation import Segmentation, paint_hints, paint_rings

CLOSE_LONG_PX = 640
"""Long side of the cut-out: a garment of 1 m then has a pixel of about 2 mm, and what follows has little to mend."""
MARGIN = 0.12
"""Floor kept round the garment, as a share of its longer side."""
THREAD_PX = 3
"""Half the width below which nothing is cloth."""
HOLE_SHARE = 0.012
"""A hole is at least this share of the garment: smaller things are motifs of a print."""
HOLE_INSET_PX = 5.0
HOLE_LIKENESS = 1.2
"""Mean log-likelihood by which a hole must look like floor rather than like the cloth round it."""


class CloserLook:
    """The garment on its own cut-out, and what is needed to mend it quickly.

    Attributes:
        segmentation: before any hint.
        cut: (h, w, 3) the cut-out at the photo's own scale, a view.
    """

    def __init__(self, pixels: Bytes, coarse: Segmentation, reference_rings_px: Sequence[Floats], hints: Hints) -> None:
        """Look closer.

        Args:
            pixels: (H, W, 3) uint8 RGB, the whole photo.
            coarse: the whole photo's segmentation.
            reference_rings_px: never garment.
            hints: the cut-out is wide enough for them.
        """
        left, top, right, bottom = _choose_box(coarse, hints)
        size = (right - left, bottom - top)
        scale = min(1.0, CLOSE_LONG_PX / max(size))
        shape = (max(1, round(size[1] * scale)), max(1, round(size[0] * scale)))
        self.cut = pixels[top:bottom, left:right]
        small = np.ascontiguousarray(self.cut)
        if scale < 1.0:
            small = np.asarray(cv2.resize(self.cut, (shape[1], shape[0]), interpolation=cv2.INTER_AREA), dtype=np.uint8)
        step, origin = (size[0] / shape[1], size[1] / shape[0]), (left, top)
        mask = _carry(coarse, shape, step, np.array(origin))
        blocked = paint_rings(reference_rings_px, step, shape, origin)
        fixed = np.where(blocked, -1, 0).astype(np.int8)
        self._bench = Bench(small, blocked, fixed)
        answer = self._bench.learn(mask, self._bench.hold(mask))
        self._looks = LocalLooks(self._bench.lab)
        settled = settle_mask(self._looks, answer.mask, answer.log_ratio, blocked, fixed)
        if not 0.6 < settled.sum() / max(mask.sum(), 1) < 1.7:
            settled = mask
        settled = _without_threads(settled)
        holes = _find_holes(self._looks, settled, fixed)
        self.segmentation = Segmentation(settled, answer.log_ratio, blocked, step, origin, size, holes)

    def covers(self, hints: Hints) -> bool:
        """Tell whether all hints lie in the cut-out."""
        points = np.vstack([hints.garment_px, hints.floor_px]) - np.array(self.segmentation.origin_px)
        return bool((points >= 0).all() and (points <= np.array(self.segmentation.size_px) - 1).all())

    def mend(self, hints: Hints) -> Segmentation:
        """Return the segmentation changed round the hints and nowhere else."""
        seen = self.segmentation
        shape = (seen.mask.shape[0], seen.mask.shape[1])
        fixed = paint_hints(hints, seen.step_px, shape, seen.origin_px)
        fixed[seen.blocked] = -1
        whole = seen.mask.copy()
        for hole in seen.holes:
            whole &= ~hole
        mask = mend_mask(self._bench, self._looks, whole, seen.log_ratio, seen.blocked, fixed)
        return replace(seen, mask=mask, holes=_find_holes(self._looks, mask, fixed))


def _choose_box(coarse: Segmentation, hints: Hints) -> tuple[int, int, int, int]:
    """Return left, top, right, bottom of the garment with some floor round it, in the photo [px]."""
    width, height = coarse.size_px
    y, x = np.nonzero(coarse.mask)
    corners = coarse.to_photo_px(np.array([[x.min() - 0.5, y.min() - 0.5], [x.max() + 0.5, y.max() + 0.5]]))
    margin = MARGIN * float((corners[1] - corners[0]).max()) + 4 * max(coarse.step_px)
    points = np.vstack([corners, hints.garment_px, hints.floor_px])
    low, high = points.min(axis=0) - margin, points.max(axis=0) + margin
    return max(int(low[0]), 0), max(int(low[1]), 0), min(int(high[0]), width), min(int(high[1]), height)


def _carry(coarse: Segmentation, shape: tuple[int, int], step: tuple[float, float], origin: Floats) -> Flags:
    """Return the whole photo's mask on the cut-out's pixels."""
    soft = cv2.GaussianBlur(coarse.mask.astype(np.float32), (0, 0), 0.8)
    columns = ((np.arange(shape[1]) + 0.5) * step[0] + origin[0]) / coarse.step_px[0] - 0.5
    rows = ((np.arange(shape[0]) + 0.5) * step[1] + origin[1]) / coarse.step_px[1] - 0.5
    grid_x, grid_y = np.meshgrid(columns.astype(np.float32), rows.astype(np.float32))
    carried: Flags = cv2.remap(soft, grid_x, grid_y, cv2.INTER_LINEAR) > 0.5
    return carried


def _without_threads(mask: Flags) -> Flags:
    """Return the mask without what is too thin to be cloth: drawstrings, straps, joints it ran along."""
    pieces = find_pieces(open_mask(mask, THREAD_PX), 1)
    if not pieces or pieces[0].sum() < 0.8 * mask.sum():
        return mask
    # Corners that the opening rounded come back; what hangs on by less than its width does not.
    kept: Flags = dilate(pieces[0], THREAD_PX) & mask
    return kept


def _find_holes(looks: LocalLooks, mask: Flags, fixed: np.ndarray) -> tuple[Flags, ...]:
    """Return holes: places well inside that look like the floor outside and not like the cloth, or are said to be."""
    filled = fill_holes(mask)
    depth = measure_depth(filled)
    open_inside = filled & ~mask
    inner = depth < -HOLE_INSET_PX
    ratio = looks.measure_log_ratio(filled & (depth < -2), depth > 2, None)
    alike = (cv2.GaussianBlur(np.clip(ratio, -4, 4).astype(np.float32), (0, 0), 2.0) < -0.5) | open_inside
    holes = []
    for piece in find_pieces(open_mask(alike & inner, 3), 6):
        said = int(fixed[piece].min())
        if fixed[piece].max() > 0:
            continue
        if said < 0 and open_inside[piece].mean() > 0.5:
            holes.append(piece)
            continue
        if piece.sum() < HOLE_SHARE * filled.sum() or float(ratio[piece].mean()) > -HOLE_LIKENESS:
            continue
        # A stripe or a motif runs to the edge, or has its like elsewhere in the cloth.
        if dilate(piece, 1)[~inner].any():
            continue
        holes.append(piece)
    return tuple(holes)
