"""A closer look: the garment cut out of the photo and its edge settled again on more pixels; holes; the frame."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from ..arrays import Bytes, Flags, Floats
from .band import LocalLooks, measure_depth
from .hints import Hints
from .proposals import fill_holes, largest_pieces
from .segmentation import Segmentation, settle_mask

CLOSE_LONG_PX = 640
"""Long side of the cut-out: a garment of 1 m then has a pixel of about 2 mm, and what follows has little to mend."""
MARGIN = 0.12
"""Floor kept round the garment, as a share of its longer side."""
HOLE_SHARE = 0.012
"""A hole is at least this share of the garment: smaller things are motifs of a print."""
HOLE_INSET_PX = 5.0
HOLE_LIKENESS = 1.2
"""Mean log-likelihood by which a hole must look like floor rather than like the cloth round it."""


@dataclass(frozen=True, eq=False)
class Closer:
    """The garment on its own cut-out.

    Attributes:
        segmentation: of the cut-out.
        origin_px: (x, y) of the cut-out's first pixel in the photo.
        size_px: (width, height) of the cut-out in the photo.
        holes: masks of holes, at the cut-out's working scale.
    """

    segmentation: Segmentation
    origin_px: tuple[int, int]
    size_px: tuple[int, int]
    holes: tuple[Flags, ...] = ()

    def cut(self, pixels: Bytes) -> Bytes:
        """Return the cut-out of the photo, without a copy."""
        (x, y), (width, height) = self.origin_px, self.size_px
        return pixels[y : y + height, x : x + width]


def look_closer(pixels: Bytes, coarse: Segmentation, reference_rings_px: Sequence[Floats], hints: Hints) -> Closer:
    """Return the garment segmented again within its surroundings.

    Args:
        pixels: (H, W, 3) uint8 RGB, the whole photo.
        coarse: the whole photo's segmentation.
        reference_rings_px: never garment.
        hints: points said to be garment or floor.
    """
    height, width = pixels.shape[:2]
    y, x = np.nonzero(coarse.mask)
    low = coarse.to_photo_px(np.array([[x.min(), y.min()]]) - 0.5)[0]
    high = coarse.to_photo_px(np.array([[x.max(), y.max()]]) + 0.5)[0]
    margin = MARGIN * float((high - low).max()) + 4 * max(coarse.step_px)
    left, top = (int(max(value, 0)) for value in low - margin)
    right, bottom = int(min(high[0] + margin, width)), int(min(high[1] + margin, height))
    size = (right - left, bottom - top)
    scale = min(1.0, CLOSE_LONG_PX / max(size))
    shape = (max(1, round(size[1] * scale)), max(1, round(size[0] * scale)))
    cut = pixels[top:bottom, left:right]
    small: Bytes = np.ascontiguousarray(cut)
    if scale < 1.0:
        small = np.asarray(cv2.resize(cut, (shape[1], shape[0]), interpolation=cv2.INTER_AREA), dtype=np.uint8)
    step = (size[0] / shape[1], size[1] / shape[0])
    origin = np.array([left, top])
    mask = _carry(coarse, coarse.mask, shape, step, origin)
    blocked = np.zeros(shape, np.uint8)
    for ring in reference_rings_px:
        at = (np.asarray(ring) - origin + 0.5) / np.array(step) - 0.5
        cv2.fillPoly(blocked, [np.round(at).astype(np.int32)], 1)
    covered: Flags = cv2.dilate(blocked, np.ones((5, 5), np.uint8)) > 0
    fixed = np.zeros(shape, np.int8)
    fixed[covered] = -1
    for points, side in ((hints.garment_px, 1), (hints.floor_px, -1)):
        for px, py in (np.asarray(points, dtype=np.float64).reshape(-1, 2) - origin + 0.5) / np.array(step) - 0.5:
            if 0 <= px < shape[1] and 0 <= py < shape[0]:
                fixed[int(py), int(px)] = side
    looks = LocalLooks(small)
    settled, lean = settle_mask(looks, mask, covered, fixed)
    if not 0.6 < settled.sum() / max(mask.sum(), 1) < 1.7:
        settled = mask
    settled = _without_threads(settled)
    holes = _find_holes(looks, settled)
    near = np.clip(measure_depth(settled) / 4.0, -1, 1)
    probability = 1 / (1 + np.exp(-np.clip(lean, -4, 4) + 4 * near))
    segmentation = Segmentation(settled, probability.astype(np.float32), step, covered, coarse.findings)
    return Closer(segmentation, (left, top), size, holes)


def _carry(
    coarse: Segmentation, mask: Flags, shape: tuple[int, int], step: tuple[float, float], origin: Floats
) -> Flags:
    """Return a mask of the whole photo on the cut-out's pixels."""
    soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 0.8)
    columns = ((np.arange(shape[1]) + 0.5) * step[0] + origin[0]) / coarse.step_px[0] - 0.5
    rows = ((np.arange(shape[0]) + 0.5) * step[1] + origin[1]) / coarse.step_px[1] - 0.5
    grid_x, grid_y = np.meshgrid(columns.astype(np.float32), rows.astype(np.float32))
    carried: Flags = cv2.remap(soft, grid_x, grid_y, cv2.INTER_LINEAR) > 0.5
    return carried


def _without_threads(mask: Flags) -> Flags:
    """Return the mask without what is too thin to be cloth: drawstrings, straps, joints it ran along."""
    round_one = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7))
    opened = np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, round_one), dtype=np.uint8)
    pieces = largest_pieces(opened, 1)
    if not pieces or pieces[0].sum() < 0.8 * mask.sum():
        return mask
    # Corners that the opening rounded come back; what hangs on by less than its width does not.
    grown = cv2.dilate(pieces[0].astype(np.uint8), cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7))) > 0
    kept: Flags = grown & mask
    return kept


def _find_holes(looks: LocalLooks, mask: Flags) -> tuple[Flags, ...]:
    """Return holes: places well inside that look like the floor outside and not like the cloth."""
    filled = fill_holes(mask)
    depth = measure_depth(filled)
    open_inside = filled & ~mask
    inner = depth < -HOLE_INSET_PX
    ratio = looks.measure_log_ratio(filled & (depth < -2), depth > 2, 1e3)
    alike = (cv2.GaussianBlur(np.clip(ratio, -4, 4).astype(np.float32), (0, 0), 2.0) < -0.5) | open_inside
    tidy = cv2.morphologyEx(
        (alike & inner).astype(np.uint8), cv2.MORPH_OPEN, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7))
    )
    holes = []
    for piece in largest_pieces(np.asarray(tidy, dtype=np.uint8), 6):
        if piece.sum() < HOLE_SHARE * filled.sum() or float(ratio[piece].mean()) > -HOLE_LIKENESS:
            continue
        # A stripe or a motif runs to the edge, or has its like elsewhere in the cloth.
        if (cv2.dilate(piece.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0)[~inner].any():
            continue
        holes.append(piece)
    return tuple(holes)
