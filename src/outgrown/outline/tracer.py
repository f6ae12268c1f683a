"""Tracer: one photo's garment, kept so that a hint moves its edge where it should and nowhere else, and quickly."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..arrays import Bytes, Floats, frozen
from ..errors import OutlineError
from ..findings import Finding
from ..progress import Progress, silent
from .apart import find_apart, tell_apart
from .closer import CloserLook
from .coarse import Coarse, segment_coarsely
from .confidence import find_unsure
from .contour import Contour
from .covered import find_touching
from .edge import Edge
from .empty_floor import align_floor
from .follow import follow_edge
from .follow_anew import follow_anew
from .hints import Hints, Side
from .segmentation import Segmentation, nothing_there, paint_rings, paint_strokes
from .stations import signed_area

CUT_OFF_TOLD, CUT_OFF_REFUSED = 0.004, 0.06
"""Shares of the outline that run along the frame."""


class Tracer:
    """Finds the contour of the one garment in a photo, and finds it again when hints are given or taken back.

    What is independent of hints is worked out once, at the first call; a hint then costs a fraction of that.
    """

    def __init__(
        self,
        pixels: Bytes,
        *,
        reference_rings_px: Sequence[Floats] = (),
        floor_pixels: Bytes | None = None,
        progress: Progress = silent,
    ) -> None:
        """Take a photo.

        Args:
            pixels: (H, W, 3) uint8 RGB, upright.
            reference_rings_px: rings (N, 2) of the cards and sheets found: never garment.
            floor_pixels: (h, w, 3) uint8 RGB, the same floor without the garment, or None.
            progress: told how far the work has come.

        Raises:
            OutlineError: the photo of the floor does not fit.
        """
        self._pixels = pixels
        self._rings = tuple(reference_rings_px)
        self._progress = progress
        self._floor = None if floor_pixels is None else align_floor(pixels, floor_pixels)
        self._coarse: Coarse | None = None
        self._first: CloserLook | None = None
        self._closer: CloserLook | None = None
        self._edge: Edge | None = None
        self._holes: dict[bytes, Floats] = {}

    def segment(self, hints: Hints | None = None) -> Segmentation:
        """Return the segmentation of the garment's surroundings, hints heeded.

        Raises:
            OutlineError: nothing there, or a hint lies outside the photo.
        """
        hints = hints or Hints()
        hints.check(self._pixels.shape[1], self._pixels.shape[0])
        closer = self._look_closer(hints)
        return closer.mend(hints) if hints else closer.segmentation

    def trace(self, hints: Hints | None = None) -> Contour:
        """Return the garment's edge, whether or not it lies wholly in the photo; of findings what it may be taken for.

        Raises:
            OutlineError: nothing there, or a hint lies outside the photo.
        """
        self._progress("telling the garment from the floor", 0.0)
        seen = self.segment(hints)
        closer = self._look_closer(hints or Hints())
        self._progress("following its edge", 0.5)
        if self._edge is None:
            self._edge = follow_edge(closer.cut, closer.segmentation, closer.segmentation.mask, closer.bare)
        edge = self._edge
        if edge is not None and seen is not closer.segmentation:
            changed = seen.mask != closer.segmentation.mask
            edge = follow_anew(closer.cut, seen, seen.mask, edge, changed, hints or Hints(), closer.bare)
        if edge is None:
            raise nothing_there()
        holes = [hole for hole in (self._follow_hole(closer, seen, k) for k in range(len(seen.holes))) if len(hole)]
        self._progress("following its edge", 1.0)
        ring, sigma = edge.ring, edge.sigma
        if signed_area(ring) < 0:
            ring, sigma = ring[::-1], sigma[::-1]
        ring = ring + np.array(seen.origin_px)
        confidence = closer.measure_confidence(seen, ring)
        unsure = find_unsure(ring, confidence)
        confidence, apart = self._tell_apart(ring, confidence, hints or Hints())
        return Contour(frozen(ring), frozen(sigma), frozen(confidence), tuple(holes), (*unsure, *apart))

    def find_contour(self, hints: Hints | None = None) -> Contour:
        """Return the garment's edge.

        Raises:
            OutlineError: nothing there, the garment runs out of the frame, or a hint lies outside the photo.
        """
        contour = self.trace(hints)
        told = (
            *_find_cut_off(contour.ring_px, self._pixels.shape[1], self._pixels.shape[0]),
            *contour.findings,
            *find_touching(contour.ring_px, self._rings, self._look_closer(hints or Hints()).segmentation.step_px[0]),
        )
        return replace(contour, findings=told)

    def _look_closer(self, hints: Hints) -> CloserLook:
        if self._first is None or self._coarse is None:
            try:
                self._coarse = segment_coarsely(self._pixels, self._rings, Hints(), self._floor)
            except OutlineError:
                if not len(hints.points_px(Side.GARMENT)):
                    raise
                # Nothing was taken for a garment: what was said is heeded from the start, and not kept.
                self._coarse = segment_coarsely(self._pixels, self._rings, hints)
                return self._use(CloserLook(self._pixels, self._coarse.seen, self._rings))
            besides = self._coarse.span_apart_px()
            self._first = CloserLook(self._pixels, self._coarse.seen, self._rings, None, self._floor, besides)
        # With hints more of the garment may be found than the cut-out shows.
        if self._first.covers(hints) and not (hints and self._first.mend(hints).is_cut_off(self._pixels.shape)):
            return self._use(self._first)
        if self._closer is not None and self._closer is not self._first and self._closer.covers(hints):
            return self._closer
        besides = self._coarse.span_apart_px()
        return self._use(CloserLook(self._pixels, self._first.segmentation, self._rings, hints, self._floor, besides))

    def _use(self, closer: CloserLook) -> CloserLook:
        if closer is not self._closer:
            self._closer, self._edge, self._holes = closer, None, {}
        return closer

    def _tell_apart(self, ring: Floats, confidence: Floats, hints: Hints) -> tuple[Floats, tuple[Finding, ...]]:
        """Return the confidence, doubted where cloth may lie apart from the ring, and what is told of that."""
        if self._coarse is None:
            return confidence, ()
        holding = self._coarse.holding
        shape = (holding.shape[0], holding.shape[1])
        step = self._coarse.step_px
        said = paint_strokes(hints.strokes, step, shape)
        parts = find_apart(holding, paint_rings([ring], step, shape))
        return tell_apart(ring, confidence, [part for part in parts if not (said[part] < 0).any()], step)

    def _follow_hole(self, closer: CloserLook, seen: Segmentation, number: int) -> Floats:
        hole = seen.holes[number]
        key = np.packbits(hole).tobytes()
        if key not in self._holes:
            edge = follow_edge(closer.cut, seen, hole, closer.bare, is_hole=True)
            ring = np.zeros((0, 2)) if edge is None else edge.ring + np.array(seen.origin_px)
            self._holes[key] = frozen(ring)
        return self._holes[key]


def find_contour(
    pixels: Bytes,
    *,
    reference_rings_px: Sequence[Floats] = (),
    hints: Hints | None = None,
    floor_pixels: Bytes | None = None,
    progress: Progress = silent,
) -> Contour:
    """Return the edge of the one garment lying flat in the photo.

    Args:
        pixels: (H, W, 3) uint8 RGB, upright.
        reference_rings_px: rings (N, 2) of the cards and sheets found: never garment.
        hints: points said to be garment or floor.
        floor_pixels: (h, w, 3) uint8 RGB, the same floor without the garment, or None.
        progress: told how far the work has come.

    Raises:
        OutlineError: nothing there, the garment runs out of the frame, a hint lies outside the photo, or the photo
            of the floor does not fit.
    """
    tracer = Tracer(pixels, reference_rings_px=reference_rings_px, floor_pixels=floor_pixels, progress=progress)
    return tracer.find_contour(hints)


def segment_garment(
    pixels: Bytes,
    *,
    reference_rings_px: Sequence[Floats] = (),
    hints: Hints | None = None,
    floor_pixels: Bytes | None = None,
) -> Segmentation:
    """Return where the one garment lies, on pixels of a working scale; arguments and errors as of `find_contour`."""
    return Tracer(pixels, reference_rings_px=reference_rings_px, floor_pixels=floor_pixels).segment(hints)


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
