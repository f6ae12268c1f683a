"""A closer look: the garment cut out of the photo, its edge settled on more pixels, and mended where a hint says so."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Bytes, Flags, Floats
from .answers import Bench
from .band import LocalLooks, settle_mask
from .confidence import measure_confidence
from .covered import find_covered
from .empty_floor import EmptyFloor, measure_change
from .end_bands import find_end_bands
from .hints import Hints, Stroke
from .joints import erase_joints
from .looks import to_lab
from .masks import Reals, as_reals, dilate, fill_holes, find_pieces, keep_largest, measure_depth, open_mask
from .mending import Mended, mend_mask
from .peeling import peel
from .rims import find_rims
from .segmentation import Segmentation, paint_rings, paint_strokes
from .threads import do_both
from .trimming import trim_thin
from .vouching import find_bumps, find_lobes, find_slits

CLOSE_LONG_PX = 640
"""Long side of the cut-out: a garment of 1 m then has a pixel of about 2 mm, and what follows has little to mend."""
MARGIN, WIDE_MARGIN = 0.12, 0.5
"""Floor kept round the garment, as a share of its longer side; the second where a hint may bring in a part of it."""
RESETTLED_PX = 8
"""So far round a part that was taken out, or that lies on a card, the edge is settled once more."""
MORE_SETTLED_PX = 4
"""So far round what was found again the edge is settled once more: not as far as the seam inside a rim."""
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
        bare: the empty floor laid over it, where there is a photo of it.
    """

    def __init__(
        self,
        pixels: Bytes,
        before: Segmentation,
        reference_rings_px: Sequence[Floats],
        hints: Hints | None = None,
        floor: EmptyFloor | None = None,
        besides_px: Floats | None = None,
    ) -> None:
        """Look closer.

        Args:
            pixels: (H, W, 3) uint8 RGB, the whole photo.
            before: the segmentation so far, of the whole photo or of a smaller cut-out.
            reference_rings_px: never garment.
            hints: the cut-out is to be wide enough for them, and the garment is otherwise kept as it is.
            floor: the empty floor laid over the photo, where there is a photo of it.
            besides_px: (N, 2) places in the photo that the cut-out is to show besides.
        """
        box = _choose_box(before, hints, besides_px, pixels.shape[:2])
        left, top, right, bottom = box
        size = (right - left, bottom - top)
        scale = min(1.0, CLOSE_LONG_PX / max(size))
        shape = (max(1, round(size[1] * scale)), max(1, round(size[0] * scale)))
        self.cut = pixels[top:bottom, left:right]
        self.bare = None
        if floor is not None:
            self.bare = EmptyFloor(floor.pixels[top:bottom, left:right], floor.known[top:bottom, left:right])
        small = np.ascontiguousarray(self.cut)
        if scale < 1.0:
            small = np.asarray(cv2.resize(self.cut, (shape[1], shape[0]), interpolation=cv2.INTER_AREA), dtype=np.uint8)
        step, origin = (size[0] / shape[1], size[1] / shape[0]), (left, top)
        mask = _carry(before, before.mask, shape, step, origin) > 0.5
        blocked = paint_rings(reference_rings_px, step, shape, origin)
        fixed = np.where(blocked, -1, 0).astype(np.int8)
        # Where the garment is looked for first, joints do no harm: they part the boards of a floor.
        even = erase_joints(small, blocked)
        self._bench, self._looks = do_both(lambda: Bench(even, blocked, fixed), lambda: LocalLooks(to_lab(even)))
        if hints is None:
            answer = None
            if floor is not None:
                answer = self._bench.cut_change(measure_change(small, floor.cut(*box, shape), blocked))
            if answer is None:
                answer = self._bench.learn(mask, self._bench.hold(mask))
                if before.own is not None:
                    # Of the floor farther off, which is like none of them, the cut-out shows too little.
                    own = (_carry(before, before.own, shape, step, origin) > 0.5) & mask
                    answer = self._bench.take_in(answer, own)
                answer = self._bench.join(answer)
            log_ratio = answer.log_ratio
            settled = settle_mask(self._looks, answer.mask, log_ratio, blocked, fixed)
            if 0.6 < settled.sum() / max(mask.sum(), 1) < 1.7:
                mask = settled
            if self.bare is None:
                mask, log_ratio = _without_floor(self._looks, mask, log_ratio, blocked, fixed, answer.own)
            mask = trim_thin(mask)
            peeled = peel(self._bench, self._looks, mask, blocked, fixed) if self.bare is None else None
            if peeled is not None:
                mask, log_ratio = peeled
                mask = trim_thin(mask)
            for find_more in (find_rims, find_end_bands):
                mask = _with_more(self._looks, mask, find_more(self._looks, mask, blocked), blocked, fixed)
        else:
            log_ratio = _carry(before, before.log_ratio, shape, step, origin)
        covered = find_covered(self._looks, mask, blocked)
        if covered.any():
            # What is free of the reference beside the cloth teaches what the cloth's edge is told from.
            near = dilate(covered, RESETTLED_PX)
            blocked &= ~near
            fixed = np.where(blocked, -1, 0).astype(np.int8)
            mask = keep_largest(settle_mask(self._looks, mask | covered, log_ratio, blocked, fixed, near))
            self._bench = Bench(even, blocked, fixed)
        holes = _find_holes(self._looks, mask, fixed)
        self.segmentation = Segmentation(mask, log_ratio, blocked, step, origin, size, holes, is_small=before.is_small)
        self._free = _measure_free(self.segmentation, pixels.shape[:2])
        self._mended: list[tuple[Stroke, Mended]] = []
        self._last: tuple[Hints, Segmentation] | None = None

    def covers(self, hints: Hints) -> bool:
        """Tell whether the cut-out leaves room round all hints."""
        points = hints.points_px()
        return bool((points >= self._free[0]).all() and (points <= self._free[1]).all())

    def mend(self, hints: Hints) -> Segmentation:
        """Return the segmentation changed round the hints and nowhere else."""
        if self._last is None or self._last[0] is not hints:
            self._last = hints, self._mend(hints)
        return self._last[1]

    def _mend(self, hints: Hints) -> Segmentation:
        seen = self.segmentation
        shape = (seen.mask.shape[0], seen.mask.shape[1])
        whole = seen.mask.copy()
        for hole in seen.holes:
            whole &= ~hole
        mended = Mended(whole, np.zeros(self._bench.patches.count, bool))
        for number, stroke in enumerate(hints.strokes):
            if number < len(self._mended) and self._mended[number][0].is_like(stroke):
                mended = self._mended[number][1]
                continue
            fixed = self._paint(hints.strokes[: number + 1], shape)
            spot = paint_strokes((stroke,), seen.step_px, shape, seen.origin_px) != 0
            mended = mend_mask(self._bench, self._looks, mended, seen.log_ratio, seen.blocked, fixed, spot)
            self._mended[number:] = [(stroke, mended)]
        fixed = self._paint(hints.strokes, shape)
        return replace(seen, mask=mended.mask, holes=_find_holes(self._looks, mended.mask, fixed))

    def measure_confidence(self, seen: Segmentation, ring_px: Floats) -> Floats:
        """Return (N,) 0..1 how sure it is that a ring runs along the cloth's edge; what hints changed is said."""
        said = seen.mask != self.segmentation.mask
        return measure_confidence(self._looks, seen, said, ring_px, from_change=self.bare is not None)

    def _paint(self, strokes: Sequence[Stroke], shape: tuple[int, int]) -> NDArray[np.int8]:
        fixed = paint_strokes(strokes, self.segmentation.step_px, shape, self.segmentation.origin_px)
        fixed[self.segmentation.blocked] = -1
        return fixed


def _choose_box(
    before: Segmentation, hints: Hints | None, besides: Floats | None, photo: tuple[int, ...]
) -> tuple[int, int, int, int]:
    """Return left, top, right, bottom of the garment with some floor round it, in the photo [px]."""
    y, x = np.nonzero(before.mask)
    points = before.to_photo_px(np.array([[x.min() - 0.5, y.min() - 0.5], [x.max() + 0.5, y.max() + 0.5]]))
    share = MARGIN if hints is None else WIDE_MARGIN
    margin = share * float((points[1] - points[0]).max()) + 4 * max(before.step_px)
    if hints is not None:
        points = np.vstack([points, hints.points_px()])
    if besides is not None:
        points = np.vstack([points, besides])
    low, high = points.min(axis=0) - margin, points.max(axis=0) + margin
    return max(int(low[0]), 0), max(int(low[1]), 0), min(int(high[0]), photo[1]), min(int(high[1]), photo[0])


def _measure_free(seen: Segmentation, photo: tuple[int, ...]) -> tuple[Floats, Floats]:
    """Return the least and greatest x, y at which a hint has room: not close to a border that the photo goes beyond."""
    low, size = np.array(seen.origin_px), np.array(seen.size_px)
    room = 0.5 * MARGIN / (1 + 2 * MARGIN) * size.max()
    high = low + size
    return np.where(low > 0, low + room, -1.0), np.where(high < np.array([photo[1], photo[0]]), high - room, high)


def _carry(
    before: Segmentation,
    picture: NDArray[Any],
    shape: tuple[int, int],
    step: tuple[float, float],
    origin: tuple[int, int],
) -> Reals:
    """Return a picture that belongs to `before` on other pixels; what it does not show is 0."""
    soft = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 0.8)
    columns, rows = (
        ((np.arange(shape[1 - k]) + 0.5) * step[k] + origin[k] - before.origin_px[k]) / before.step_px[k] - 0.5
        for k in (0, 1)
    )
    x, y = np.meshgrid(columns.astype(np.float32), rows.astype(np.float32))
    return as_reals(cv2.remap(soft, x, y, cv2.INTER_LINEAR))


def _without_floor(
    looks: LocalLooks, mask: Flags, log_ratio: Reals, blocked: Flags, fixed: NDArray[np.int8], own: Flags | None
) -> tuple[Flags, Reals]:
    """Return the mask without parts that only they themselves speak for, its edge settled anew there.

    For what is of its `own` colour or hue (h, w) the whole photo speaks, and nothing of it is taken.
    """
    gone = dilate(find_slits(looks, mask, blocked), 1) & mask
    lobes = find_lobes(looks, mask & ~gone, blocked)
    gone |= lobes
    if lobes.any():
        # With them in the mask a gap's colours seemed to be the cloth's.
        gone |= dilate(find_slits(looks, mask & ~gone, blocked), 1) & mask
    gone |= find_bumps(looks, mask & ~gone, blocked)
    if own is not None:
        gone &= ~own
    if not gone.any():
        return mask, log_ratio
    cut = keep_largest(mask & ~gone)
    # What the whole picture taught was learned with them as cloth.
    untaught = np.zeros(mask.shape, np.float32)
    settled = keep_largest(settle_mask(looks, cut, untaught, blocked, fixed, dilate(gone, RESETTLED_PX)))
    return settled, as_reals(np.where(gone, -np.abs(log_ratio), log_ratio))


def _with_more(looks: LocalLooks, mask: Flags, more: Flags, blocked: Flags, fixed: NDArray[np.int8]) -> Flags:
    """Return the mask with what was found beside it (h, w), the edge settled anew there."""
    if not more.any():
        return mask
    whole = fill_holes(mask | more) & ~blocked
    # What the whole picture taught was learned with it as floor.
    untaught = np.zeros(mask.shape, np.float32)
    return keep_largest(settle_mask(looks, whole, untaught, blocked, fixed, dilate(more, MORE_SETTLED_PX)))


def _find_holes(looks: LocalLooks, mask: Flags, fixed: NDArray[np.int8]) -> tuple[Flags, ...]:
    """Return holes: places well inside that look like the floor outside and not like the cloth, or are said to be."""
    filled = fill_holes(mask)
    depth = measure_depth(filled)
    open_inside = filled & ~mask
    inner = depth < -HOLE_INSET_PX
    ratio = looks.measure_wide_ratio(filled & (depth < -2), depth > 2)
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
