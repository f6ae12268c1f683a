"""Learn a lens from photos of the lens sheet, and refuse where the photos do not determine it."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from ..arrays import Floats, frozen
from ..photo import Photo, focal_px_from_35mm
from .profile import Distortion, Doubts, LensError, LensProfile
from .sheet_corners import SheetCorners, find_sheet_corners

_log = logging.getLogger(__name__)

FEWEST_PHOTOS = 4
_FEWEST_CORNERS = 20
"""Of the sheet's 70; fewer say too little of where the sheet lies."""
_CELLS = (8, 6)
_LEAST_COVERED = 0.55
"""Share of the picture's 8 x 6 cells that must have held a corner of the sheet."""
_LEAST_REACH = 0.55
"""Share of the way from the middle to each corner of the picture that the sheet must have reached."""
_LEAST_TILT_DEG = 10.0
_MOST_FOCAL_DOUBT = 0.004
_MOST_RESIDUAL = 0.0004
"""Of the picture's long side: 1.6 px of 4000. A sharp photo of a flat sheet leaves a tenth of it."""
_STRETCH = 0.003
"""Printers stretch one direction against the other by up to this (common practice, no source)."""
_USUAL_35_MM = 26.0
_CORNER_NAMES = ("upper left", "upper right", "lower right", "lower left")


@dataclass(frozen=True, eq=False)
class _Fit:
    rms: float
    focal: float
    centre: tuple[float, float]
    distortion: Distortion
    deviations: Floats
    turns: tuple[Floats, ...]
    view_rms: Floats
    misses: tuple[Floats, ...]


def calibrate_lens(photos: Sequence[Photo]) -> LensProfile:
    """Return the lens of `photos`, 4 or more of the lens sheet, all taken with the same lens.

    The model is OpenCV's with k1, k2, p1, p2, and k3 only where the photos determine it; pixels are square. How far
    the print is stretched in one direction is found along with it.

    Raises:
        LensError: too few photos, of different lenses, without the sheet, or not determining the lens.
    """
    _check_alike(photos)
    views = []
    for photo in photos:
        corners = _lay_like(photos[0], photo, find_sheet_corners(photo))
        if len(corners.points_px) >= _FEWEST_CORNERS:
            views.append(corners)
    if len(views) < FEWEST_PHOTOS:
        raise LensError(
            f"The lens sheet was found in {len(views)} of {len(photos)} photos; it takes {FEWEST_PHOTOS} at least.",
            "Take 6 sharp photos in which the sheet fills most of the picture, without glare on it.",
        )
    size = (photos[0].width_px, photos[0].height_px)
    _check_coverage(views, size)
    fit, views = _fit_robustly(views, size, _first_focal(photos[0]))
    _check_fit(fit, size)
    first = photos[0]
    return LensProfile(
        width_px=size[0],
        height_px=size[1],
        focal_px=fit.focal,
        centre_px=fit.centre,
        distortion=fit.distortion,
        quarter_turns=first.quarter_turns,
        make=first.make,
        model=first.model,
        focal_mm=first.focal_mm,
        focal_35_mm=first.focal_35_mm,
        doubts=Doubts(
            focal=float(fit.deviations[1] / fit.focal),
            centre_px=float(fit.deviations[2:4].max()),
            k1=float(fit.deviations[4]),
            residual_px=fit.rms,
        ),
        photos=len(views),
    )


def _first_focal(photo: Photo) -> float:
    return photo.focal_px or focal_px_from_35mm(_USUAL_35_MM, photo.width_px, photo.height_px)


def _check_alike(photos: Sequence[Photo]) -> None:
    if len(photos) < FEWEST_PHOTOS:
        raise LensError(
            f"{len(photos)} photo{'s' if len(photos) != 1 else ''} cannot show what a lens does; it takes "
            f"{FEWEST_PHOTOS} at least.",
            "Take 6 photos of the lens sheet: 2 from straight above and 4 from a slant, one from each side.",
        )
    first = photos[0]
    for photo in photos[1:]:
        if (photo.make, photo.model) != (first.make, first.model):
            what = "another camera"
        elif (photo.focal_mm, photo.focal_35_mm) != (first.focal_mm, first.focal_35_mm):
            what = "another lens or zoom"
        elif sorted((photo.width_px, photo.height_px)) != sorted((first.width_px, first.height_px)):
            what = "another picture size"
        else:
            continue
        raise LensError(
            f"“{photo.name}” was taken with {what} than “{first.name}”.",
            "Take all photos with the same lens and settings, and without zoom.",
        )


def _lay_like(first: Photo, photo: Photo, corners: SheetCorners) -> SheetCorners:
    """Return the corners in the first photo's frame, where this one was taken with the phone turned."""
    turns = 0
    if first.quarter_turns is not None and photo.quarter_turns is not None:
        turns = (first.quarter_turns - photo.quarter_turns) % 4
    is_across = (first.width_px > first.height_px) != (photo.width_px > photo.height_px)
    if turns % 2 != is_across:
        if is_across:
            raise LensError(
                f"“{photo.name}” was taken with the phone turned, and the file does not say which way.",
                "Hold the phone the same way for all photos.",
            )
        turns = 0
    points = np.array(corners.points_px)
    height, width = photo.height_px, photo.width_px
    for _ in range(turns):
        points = np.column_stack([height - 1 - points[:, 1], points[:, 0]])
        height, width = width, height
    return replace(corners, points_px=frozen(points))


def _check_coverage(views: Sequence[SheetCorners], size: tuple[int, int]) -> None:
    width, height = size
    points = np.concatenate([view.points_px for view in views])
    half = np.array([width, height]) / 2
    across, down = _CELLS if width >= height else _CELLS[::-1]
    cells = {
        (int(x * across / width), int(y * down / height)) for x, y in np.clip(points, 0, np.array(size) - 1).tolist()
    }
    from_middle = (points + 0.5 - half) / half
    missing = []
    for name, direction in zip(_CORNER_NAMES, ((-1, -1), (1, -1), (1, 1), (-1, 1)), strict=True):
        towards = (from_middle * direction).min(axis=1)
        if float(towards.max()) < _LEAST_REACH:
            missing.append(name)
    if missing:
        raise LensError(
            f"In no photo does the lens sheet reach the {' and the '.join(missing)} corner of the picture.",
            "Take more photos, so near that the sheet runs over the picture's corners; part of it may be cut off.",
        )
    if len(cells) < _LEAST_COVERED * across * down:
        raise LensError(
            f"Together the photos show the lens sheet in {100 * len(cells) / (across * down):.0f} % of the picture.",
            "Take them nearer, so that the sheet fills most of the picture.",
        )


def _check_fit(fit: _Fit, size: tuple[int, int]) -> None:
    if fit.rms > _MOST_RESIDUAL * max(size):
        raise LensError(
            f"The sheet's corners lie {fit.rms:.1f} px off where any lens would put them.",
            "Fix the sheet to something flat, or show it on a screen, and take sharp photos with a steady hand.",
        )
    tilts = [_tilt_deg(turn) for turn in fit.turns]
    doubt = float(fit.deviations[1] / fit.focal)
    if sum(tilt >= _LEAST_TILT_DEG for tilt in tilts) < 2 or doubt > _MOST_FOCAL_DOUBT:
        raise LensError(
            f"The photos are all taken from nearly the same direction (at most {max(tilts):.0f} degrees aslant), which "
            "leaves the focal length open.",
            "Take some of them 20 to 40 degrees aslant, from different sides.",
        )


def _tilt_deg(turn: Floats) -> float:
    facing = np.asarray(cv2.Rodrigues(turn)[0], dtype=np.float64)[2, 2]
    return float(np.degrees(np.arccos(min(1.0, abs(facing)))))


def _fit_robustly(
    views: Sequence[SheetCorners], size: tuple[int, int], focal: float
) -> tuple[_Fit, list[SheetCorners]]:
    """Fit, leaving out corners and photos that do not belong, with the print's stretch and with k3 if determined."""
    kept = list(views)
    fit = _fit(kept, size, focal)
    for _ in range(3):
        limit = max(4 * float(np.median(np.concatenate(fit.misses))), 1e-4 * max(size))
        cleaned = [
            replace(
                view, sheet_mm=frozen(view.sheet_mm[miss <= limit]), points_px=frozen(view.points_px[miss <= limit])
            )
            for view, miss in zip(kept, fit.misses, strict=True)
        ]
        good = [view for view in cleaned if len(view.points_px) >= _FEWEST_CORNERS]
        if len(good) < FEWEST_PHOTOS or sum(map(_count, good)) == sum(map(_count, kept)):
            break
        _log.info("%d of %d corners left out", sum(map(_count, kept)) - sum(map(_count, good)), sum(map(_count, kept)))
        kept = good
        fit = _fit(kept, size, fit.focal)
    # The squared residual is a parabola over the print's stretch; three fits find its bottom.
    squares = [_fit(kept, size, fit.focal, stretch).rms ** 2 for stretch in (-_STRETCH, _STRETCH)]
    bend = squares[0] + squares[1] - 2 * fit.rms**2
    stretch = 0.0
    if bend > 0:
        stretch = float(np.clip((squares[0] - squares[1]) / (2 * bend), -2, 2)) * _STRETCH
        fit = _fit(kept, size, fit.focal, stretch)
    _log.info("print stretched by %.2f %%", 100 * stretch)
    higher = _fit(kept, size, fit.focal, stretch, with_k3=True)
    if higher.rms < 0.97 * fit.rms and abs(higher.distortion[4]) > 4 * float(higher.deviations[8]):
        fit = higher
    return fit, kept


def _count(view: SheetCorners) -> int:
    return len(view.points_px)


def _fit(
    views: Sequence[SheetCorners], size: tuple[int, int], focal: float, stretch: float = 0.0, with_k3: bool = False
) -> _Fit:
    on_sheet = [
        np.column_stack([view.sheet_mm * (1.0, 1.0 + stretch), np.zeros(_count(view))]).astype(np.float32)
        for view in views
    ]
    seen = [view.points_px.astype(np.float32) for view in views]
    matrix = np.array([[focal, 0, (size[0] - 1) / 2], [0, focal, (size[1] - 1) / 2], [0, 0, 1.0]])
    flags = cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_ASPECT_RATIO | (0 if with_k3 else cv2.CALIB_FIX_K3)
    criteria = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 60, 1e-9)
    rms, found, bent, turns, shifts, deviations, _, view_rms = cv2.calibrateCameraExtended(
        on_sheet, seen, size, matrix, np.zeros(5), flags=flags, criteria=criteria
    )
    k1, k2, p1, p2, k3 = (float(value) for value in np.asarray(bent).ravel()[:5])
    misses = []
    for own, there, turn, shift in zip(on_sheet, seen, turns, shifts, strict=True):
        put = np.asarray(cv2.projectPoints(own, turn, shift, found, bent)[0]).reshape(-1, 2)
        misses.append(np.linalg.norm(put - there, axis=1))
    return _Fit(
        float(rms),
        float(found[1, 1]),
        (float(found[0, 2]), float(found[1, 2])),
        (k1, k2, p1, p2, k3),
        np.asarray(deviations, dtype=np.float64).ravel(),
        tuple(np.asarray(turn, dtype=np.float64).ravel() for turn in turns),
        np.asarray(view_rms, dtype=np.float64).ravel(),
        tuple(misses),
    )
