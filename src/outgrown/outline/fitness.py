"""Whether a photo is fit to be measured: what can be corrected is told, what cannot is refused with advice."""

import math
from collections.abc import Sequence

import cv2
import numpy as np
from scipy.spatial import ConvexHull
from scipy.spatial.distance import pdist

from ..arrays import Bytes, Floats
from ..camera.blur import measure_edge_width_px
from ..camera.camera import Camera
from ..camera.doubt import mm_per_px
from ..camera.reference import Reference
from ..errors import OutlineError, PhotoError, ScaleError
from ..findings import Finding
from ..geometry.rings import signed_area_mm2

DARKEST = 14.0
"""Mean level (0..255) of the brightest tenth below which nothing but noise is left."""
_BLUR_TOLD_MM, _BLUR_REFUSED_MM = 2.2, 5.0
"""Width of an edge in the photo, on the floor: a sharp 12-megapixel photo from 1.4 m has 0.7 to 1.2 mm."""
COARSE_TOLD_MM, COARSE_REFUSED_MM = 0.9, 2.0
"""Floor millimetres a pixel is worth: a garment of 1 m is then 1100 and 500 px long."""
_SMALLEST_MM2 = 15_000.0
"""A large phone covers 13,000; the shorts of a newborn, folded, 20,000 (common sense, no source)."""
_LONGEST_MM = 2000.0
"""A long dress is some 1500 mm, a wide shirt from cuff to cuff some 1800 (from memory, no source)."""
_DOUBT_REFUSED_MM = 15.0
"""Beyond this expected error (p95) the pattern would be worse than one taken with a tape in a hurry."""


BRIGHTEST, MOST_WHITE = 253, 0.6
"""A level that is nothing but white, and the share of the photo it may fill: a sheet in good light fills none."""


def check_light(pixels: Bytes) -> None:
    """Refuse a photo too dark or too bright to be measured.

    Raises:
        PhotoError: it is.
    """
    few = pixels[:: max(1, pixels.shape[0] // 200), :: max(1, pixels.shape[1] // 200)]
    if float(np.percentile(few.max(axis=2), 90)) < DARKEST:
        raise PhotoError("The photo is too dark to be measured.", "Take it by daylight or with the lamp on.")
    if float((few.min(axis=2) >= BRIGHTEST).mean()) > MOST_WHITE:
        raise PhotoError(
            "The photo is overexposed: most of it is plain white.",
            "Tap on the garment before taking it, so that the phone sets the light by it, or keep out the sun.",
        )


def check_distance(references: Sequence[Reference], most_mm: float = COARSE_REFUSED_MM) -> None:
    """Refuse a photo taken from too far, as the things of known size in it tell.

    Args:
        references: those found.
        most_mm: floor millimetres that a pixel may be worth.

    Raises:
        PhotoError: it is.
    """
    coarsest = [
        float(np.linalg.norm(r.corners_mm[1] - r.corners_mm[0]) / np.linalg.norm(r.corners_px[1] - r.corners_px[0]))
        for r in references
    ]
    if coarsest and min(coarsest) > most_mm:
        raise _too_coarse(min(coarsest))


def _too_coarse(mm: float) -> PhotoError:
    return PhotoError(
        f"The photo is too coarse: one pixel is {mm:.1f} mm on the floor.",
        "Go nearer until the garment fills most of the picture, and use the original file from the phone.",
    )


def check_sharpness(pixels: Bytes, references: Sequence[Reference]) -> None:
    """Refuse a photo so blurred that sides cannot be placed: asked before references are called in disagreement.

    Args:
        pixels: (H, W, 3) uint8 RGB.
        references: those found.

    Raises:
        PhotoError: it is.
    """
    _, blur_mm = _measure_blur(pixels, references)
    if blur_mm > _BLUR_REFUSED_MM:
        raise PhotoError(
            f"The photo is blurred: a sharp edge is {blur_mm:.0f} mm wide in it.",
            "Hold the phone still, tap on the garment to focus, and take it again in better light.",
        )


def _measure_blur(pixels: Bytes, references: Sequence[Reference]) -> tuple[float, float]:
    """Return how wide a sharp edge is in the photo [px] and on the floor [mm]; zeros where none can be told."""
    width_px = measure_edge_width_px(pixels, references)
    if width_px is None:
        return 0.0, 0.0
    worth = [
        math.sqrt(cv2.contourArea(r.corners_mm.astype(np.float32)) / cv2.contourArea(r.corners_px.astype(np.float32)))
        for r in references
    ]
    return width_px, width_px * float(np.median(worth))


def check_reference_beside(references: Sequence[Reference], ring_px: Floats) -> None:
    """Refuse a reference that lies on the garment instead of on the floor.

    Raises:
        ScaleError: one does.
    """
    ring = ring_px.astype(np.float32)[:, None]
    for reference in references:
        middle = reference.corners_px.mean(axis=0)
        if cv2.pointPolygonTest(ring, (float(middle[0]), float(middle[1])), False) > 0:
            raise ScaleError(
                "The card or sheet lies on the garment, so it is higher than the floor and measures it wrong.",
                "Lay it on the floor, a hand's width from the garment, and take the photo again.",
            )


def check_size(ring_mm: Floats) -> list[Finding]:
    """Refuse a thing too small to be a garment; return what to know of one that would be larger than clothes are.

    Args:
        ring_mm: (N, 2) its outline [mm].

    Raises:
        OutlineError: it is.
    """
    area = abs(signed_area_mm2(ring_mm))
    if area < _SMALLEST_MM2:
        raise OutlineError(
            f"The only thing I see is {area / 100:.0f} square centimetres large, too small for a garment.",
            "Lay the garment flat on a floor of another colour, all of it inside the photo, and put other things away.",
        )
    hull = ring_mm[ConvexHull(ring_mm).vertices]
    longest = float(pdist(hull).max())
    if longest < _LONGEST_MM:
        return []
    return [
        Finding(
            "larger-than-clothes",
            f"What lies there would be {longest / 1000:.1f} m long, longer than clothes are.",
            "See in the check picture that what I took for the card or sheet is one; a booklet or a phone is not.",
            amount_mm=longest,
        )
    ]


def check_measurable(
    pixels: Bytes, references: Sequence[Reference], camera: Camera, ring_px: Floats, p95_mm: float
) -> list[Finding]:
    """Return what should be known of the photo's sharpness and distance.

    Args:
        pixels: (H, W, 3) uint8 RGB.
        references: those used.
        camera: as solved.
        ring_px: (N, 2) the garment's edge.
        p95_mm: the outline's expected error [mm].

    Raises:
        PhotoError: taken from too far.
        OutlineError: the error would be larger than a hurried tape's.
    """
    findings = []
    worth = float(np.median(mm_per_px(camera, ring_px)))
    if worth > COARSE_REFUSED_MM:
        raise _too_coarse(worth)
    if worth > COARSE_TOLD_MM:
        findings.append(
            Finding(
                "coarse",
                f"One pixel is {worth:.1f} mm on the floor, so small things are lost.",
                "Go nearer until the garment fills most of the picture, and use the original file from the phone.",
                amount_mm=worth,
            )
        )
    width_px, blur_mm = _measure_blur(pixels, references)
    if blur_mm > _BLUR_TOLD_MM and width_px > 3.5:
        findings.append(
            Finding(
                "blurred",
                f"The photo is not quite sharp: a sharp edge is {blur_mm:.1f} mm wide in it.",
                "Hold the phone still, tap on the garment to focus, and take it again in better light.",
                amount_mm=blur_mm,
            )
        )
    if p95_mm > _DOUBT_REFUSED_MM:
        raise OutlineError(
            f"The outline could be wrong by {p95_mm:.0f} mm, too much for a pattern.",
            "Lay a second card at the far end of the garment, or a sheet of paper instead of the card, and take the "
            "photo from straight above.",
        )
    return findings
