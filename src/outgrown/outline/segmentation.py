"""Segmentation: the garment told from the floor at a working scale that does not grow with the photo."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from ..arrays import Bytes, Flags, Floats
from ..errors import OutlineError
from ..findings import Finding
from .hints import Hints

WORKING_SHORT_PX = 400


@dataclass(frozen=True, eq=False)
class Segmentation:
    """Where the garment is, at working scale.

    Attributes:
        mask: (h, w) True on the garment.
        probability: (h, w) float32, 0..1, how sure each pixel is garment.
        step_px: photo pixels per working pixel, along x and y.
        findings: what the person should know.
    """

    mask: Flags
    probability: Floats
    step_px: tuple[float, float]
    findings: tuple[Finding, ...] = ()

    def to_photo_px(self, points: Floats) -> Floats:
        """Return working positions (N, 2) as positions in the photo [px]."""
        step = np.array(self.step_px)
        return (points + 0.5) * step - 0.5


def segment_garment(
    pixels: Bytes, *, reference_rings_px: Sequence[Floats] = (), hints: Hints | None = None
) -> Segmentation:
    """Return where the one garment lies.

    Args:
        pixels: (H, W, 3) uint8 RGB.
        reference_rings_px: rings (N, 2) of the cards and sheets in the photo: never garment.
        hints: points said to be garment or floor.

    Raises:
        OutlineError: nothing there that could be a garment.
    """
    height, width = pixels.shape[:2]
    scale = min(1.0, WORKING_SHORT_PX / min(height, width))
    w, h = max(1, round(width * scale)), max(1, round(height * scale))
    small = cv2.resize(pixels, (w, h), interpolation=cv2.INTER_AREA)
    step = (width / w, height / h)
    labels = np.full((h, w), cv2.GC_PR_FGD, np.uint8)
    band = max(2, round(0.03 * min(h, w)))
    inner = np.zeros((h, w), bool)
    inner[band:-band, band:-band] = True
    labels[~inner] = cv2.GC_BGD
    for ring in reference_rings_px:
        at = np.round((ring + 0.5) / np.array(step) - 0.5).astype(np.int32)
        card = np.zeros((h, w), np.uint8)
        cv2.fillPoly(card, [at], 1)
        labels[cv2.dilate(card, np.ones((5, 5), np.uint8)) > 0] = cv2.GC_BGD
    cv2.setRNGSeed(0)
    cv2.grabCut(small, labels, (0, 0, 1, 1), np.zeros((1, 65)), np.zeros((1, 65)), 3, cv2.GC_INIT_WITH_MASK)
    mask = ((labels & 1) > 0).astype(np.uint8)
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7)))
    count, parts, stats, _ = cv2.connectedComponentsWithStats(mask)
    if count < 2:
        raise OutlineError(
            "I could not tell a garment from the floor.", "Lay it on a floor of another colour and try again."
        )
    best = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    found = parts == best
    return Segmentation(found, cv2.GaussianBlur(found.astype(np.float32), (0, 0), 1.5), step)
