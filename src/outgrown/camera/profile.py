"""Lens profile: what was learned of a phone's lens, made to fit another photo of the same lens.

Fitting is scaling (a smaller copy of the same shape) and turning by quarter turns (the phone held upright or lying).
"""

import math
from dataclasses import dataclass, replace

from ..errors import OutgrownError
from ..photo import Photo
from .lens import Lens

Distortion = tuple[float, float, float, float, float]

_SHAPE_LIMIT = 0.004
"""Shapes that differ by less are the same one rounded to whole pixels; 4:3 and 3:2 differ by 12 %."""
FOCUS_DOUBT = 0.004
"""Relative doubt of the focal length in another photo: focusing from half a metre to two metres moves the lens of a
phone out by up to 1 % of its focal length (thin lens, f = 5 mm: f / distance), less where the phone corrects for it."""
LEAST_K1_DOUBT = 0.002
"""Lenses held by springs tilt and shift from photo to photo; no profile is trusted beyond this (from memory)."""


class LensError(OutgrownError, ValueError):
    """A lens cannot be learned, or a profile does not fit the photo."""


@dataclass(frozen=True)
class Doubts:
    """Standard deviations of a calibration.

    Attributes:
        focal: relative, of the focal length.
        centre_px: of the centre, the larger of x and y [px].
        k1: of the radial distortion.
        residual_px: root mean square distance of the sheet's corners from where the lens puts them [px].
    """

    focal: float = 0.0
    centre_px: float = 0.0
    k1: float = 0.0
    residual_px: float = 0.0


@dataclass(frozen=True)
class LensProfile:
    """A lens as learned, for an upright picture of one size; OpenCV's convention, pixel centres at whole numbers.

    Attributes:
        width_px: of the picture [px].
        height_px: of the picture [px].
        focal_px: focal length [px].
        centre_px: principal point (x, y) [px].
        distortion: k1, k2, p1, p2, k3.
        quarter_turns: clockwise turns from the picture as the sensor stores it to the upright one; None where unknown.
        make: camera maker from EXIF, or empty.
        model: camera model from EXIF, or empty.
        focal_mm: the lens's own focal length from EXIF [mm], or None.
        focal_35_mm: 35 mm equivalent from EXIF [mm], or None.
        doubts: of the calibration.
        photos: how many it was learned from.
    """

    width_px: int
    height_px: int
    focal_px: float
    centre_px: tuple[float, float]
    distortion: Distortion
    quarter_turns: int | None = None
    make: str = ""
    model: str = ""
    focal_mm: float | None = None
    focal_35_mm: float | None = None
    doubts: Doubts = Doubts()
    photos: int = 0

    @property
    def lens(self) -> Lens:
        """The lens of the picture the profile is for."""
        return Lens(self.focal_px, self.centre_px, self.distortion)

    def focal_prior(self) -> tuple[float, float]:
        """Return the focal length to expect in another photo [px] and its relative doubt."""
        return self.focal_px, math.hypot(FOCUS_DOUBT, self.doubts.focal)

    def k1_prior(self) -> tuple[float, float]:
        """Return the radial distortion to expect in another photo and its doubt."""
        return self.distortion[0], math.hypot(LEAST_K1_DOUBT, self.doubts.k1)


def turn_profile(profile: LensProfile, quarter_turns: int) -> LensProfile:
    """Return the profile for the picture turned clockwise by `quarter_turns` times 90 degrees.

    A point right of the centre comes to lie below it. The pair (p2, p1) is a vector in the picture and turns with it.
    """
    turned = profile
    for _ in range(quarter_turns % 4):
        cx, cy = turned.centre_px
        k1, k2, p1, p2, k3 = turned.distortion
        turned = replace(
            turned,
            width_px=turned.height_px,
            height_px=turned.width_px,
            centre_px=(turned.height_px - 1 - cy, cx),
            distortion=(k1, k2, p2, -p1, k3),
        )
    if profile.quarter_turns is not None:
        turned = replace(turned, quarter_turns=(profile.quarter_turns + quarter_turns) % 4)
    return turned


def scale_profile(profile: LensProfile, width_px: int, height_px: int) -> LensProfile:
    """Return the profile for a copy of the picture at another size, of the same shape.

    Raises:
        LensError: the shape is another.
    """
    across, down = width_px / profile.width_px, height_px / profile.height_px
    if abs(across / down - 1) > _SHAPE_LIMIT:
        raise LensError(
            f"The lens was learned from photos of {profile.width_px} x {profile.height_px} pixels, and this photo has "
            f"another shape ({width_px} x {height_px}).",
            "Take it in the camera's same setting, uncropped, or leave --lens away.",
        )
    cx, cy = profile.centre_px
    scale = math.sqrt(across * down)
    return replace(
        profile,
        width_px=width_px,
        height_px=height_px,
        focal_px=profile.focal_px * scale,
        centre_px=((cx + 0.5) * across - 0.5, (cy + 0.5) * down - 0.5),
        doubts=replace(
            profile.doubts,
            centre_px=profile.doubts.centre_px * scale,
            residual_px=profile.doubts.residual_px * scale,
        ),
    )


def fit_profile(profile: LensProfile, photo: Photo) -> LensProfile:
    """Return the profile turned and scaled to `photo`.

    Where the turn of one of them is not known, a picture of the same shape is taken as it is, and an upright one of
    a lying profile as turned clockwise, as phones do when they are held upright.

    Raises:
        LensError: the photo has another shape.
    """
    is_across = (photo.width_px > photo.height_px) != (profile.width_px > profile.height_px)
    turns = 0
    if profile.quarter_turns is not None and photo.quarter_turns is not None:
        turns = (photo.quarter_turns - profile.quarter_turns) % 4
    if turns % 2 != is_across:
        # The file was turned by other means than its EXIF orientation, which says nothing then.
        turns = int(is_across) if photo.width_px < photo.height_px else 3 * is_across
    return scale_profile(turn_profile(profile, turns), photo.width_px, photo.height_px)


def is_profile_of(profile: LensProfile, photo: Photo) -> bool:
    """Return whether `photo` says that it was taken with the very lens of `profile`, whole and without zoom."""
    if not photo.model or (photo.make, photo.model) != (profile.make, profile.model):
        return False
    if any(finding.code in {"photo-cropped", "digital-zoom"} for finding in photo.findings):
        return False
    for own, other, limit in (
        (profile.focal_mm, photo.focal_mm, 0.01),
        (profile.focal_35_mm, photo.focal_35_mm, 0.001),
    ):
        if (own is None) != (other is None):
            return False
        if own is not None and other is not None and abs(other / own - 1) > limit:
            return False
    shape = max(profile.width_px, profile.height_px) / min(profile.width_px, profile.height_px)
    seen = max(photo.width_px, photo.height_px) / min(photo.width_px, photo.height_px)
    return abs(seen / shape - 1) <= _SHAPE_LIMIT
