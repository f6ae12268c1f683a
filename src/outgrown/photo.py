"""Photo: decoded upright pixels and what the file says of its lens."""

import logging
import math
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import ExifTags, Image, UnidentifiedImageError

from .arrays import Bytes, Floats, frozen_bytes
from .errors import PhotoError
from .findings import Finding, Severity
from .standards import FILM_DIAGONAL_MM, LUMA

_log = logging.getLogger(__name__)

_UPRIGHT_FORMAT = "HEIF"
"""What Pillow calls HEIC; its reader has turned the picture upright already."""
LARGEST_PX = 110_000_000
"""More pixels than this are refused from the header alone, before any memory is taken."""
SMALLEST_SIDE_PX = 480
"""Below this a millimetre is less than half a pixel on a garment of one metre."""

_SENSOR_SHAPES = (4 / 3, 3 / 2)
"""Shapes of whole sensors; any other shape is a crop of one, made by the phone or afterwards."""
_FOCAL_ROUNDING_MM = 0.29
"""Standard deviation of rounding to whole millimetres: 1 / sqrt(12)."""
_FOCAL_SPREAD = 0.008
"""Focusing near and the maker's own rounding move the true value by about this share (from memory)."""


_TURNS = {1: 0, 6: 1, 3: 2, 8: 3}
"""Clockwise quarter turns that make the picture upright, by EXIF orientation; the others are mirrored."""


@dataclass(frozen=True, eq=False)
class Photo:
    """An upright photo.

    Pixels: x right, y down, pixel centres at whole numbers.

    Attributes:
        pixels: (H, W, 3) uint8 RGB, read-only.
        name: file name without folder, for messages.
        focal_px: focal length from EXIF [px], or None.
        focal_doubt: relative standard deviation of `focal_px` (EXIF rounds to whole mm), or None.
        make: camera maker from EXIF, or empty.
        model: camera model from EXIF, or empty.
        focal_mm: the lens's own focal length from EXIF [mm], or None; tells one lens of a phone from another.
        focal_35_mm: 35 mm equivalent from EXIF [mm], or None.
        findings: what the person should know about the file.
        quarter_turns: clockwise quarter turns that made the stored picture upright (EXIF orientation), or None.
    """

    pixels: Bytes
    name: str = "photo"
    focal_px: float | None = None
    focal_doubt: float | None = None
    make: str = ""
    model: str = ""
    focal_mm: float | None = None
    focal_35_mm: float | None = None
    findings: tuple[Finding, ...] = ()
    quarter_turns: int | None = None

    @property
    def width_px(self) -> int:
        """Width [px]."""
        return int(self.pixels.shape[1])

    @property
    def height_px(self) -> int:
        """Height [px]."""
        return int(self.pixels.shape[0])


def focal_px_from_35mm(focal_35_mm: float, width_px: float, height_px: float) -> float:
    """Return the focal length [px] for a 35 mm equivalent [mm].

    By the diagonal: the equivalent lens has the same angle of view across the picture's diagonal as on a
    36 x 24 mm frame. Source: CIPA DCG-001 (from memory); phone makers follow it, their sensors being 4:3.

    >>> round(focal_px_from_35mm(26, 4032, 3024), 1)
    3028.7
    """
    return focal_35_mm * math.hypot(width_px, height_px) / FILM_DIAGONAL_MM.value


def read_photo(path: Path, name: str = "") -> Photo:
    """Return the photo in `path`, upright.

    Reads JPEG, PNG, HEIC and whatever else Pillow reads. Sizes are checked from the header before decoding.

    Args:
        path: of the file.
        name: what the person knows it by; empty for the file's name.

    Raises:
        PhotoError: not a photo, broken, too large or too small.
    """
    name = name or path.name
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _decode(path, name)
    except FileNotFoundError:
        raise PhotoError(f"There is no file “{path}”.", "Check the name and the folder.") from None
    except IsADirectoryError:
        raise PhotoError(f"“{path}” is a folder, not a photo.", "Name the photo in it.") from None
    except Image.DecompressionBombError:
        raise _too_large(name) from None
    except UnidentifiedImageError:
        raise PhotoError(
            f"“{name}” is not a photo that can be read.", "Use the JPEG, PNG or HEIC file from the phone."
        ) from None
    except PermissionError:
        raise PhotoError(f"“{name}” may not be read.", "Copy it to a folder of yours and try again.") from None
    except (OSError, SyntaxError, ValueError, EOFError, OverflowError) as error:
        if isinstance(error, PhotoError):
            raise
        _log.info("decoding failed", exc_info=True)
        raise PhotoError(
            f"“{name}” is broken: it could not be read to its end.",
            "Copy it from the phone again, as the original file.",
        ) from None


_SHRUNK_PX = 64
"""On the longer side. One of its pixels is two centimetres or more of floor: the same in a picture sent again."""
_ALIKE = 8.0
"""Greatest difference of a shrunk pixel's lightness, of 255. Measured: four fixtures made 640 to 1600 px long and saved
as JPEG of quality 10 to 75 differ by up to 6.5 (their colours by 31, so those are not asked), where a resizing skips
pixels by up to 14.5. Drawn photos of a front and a back from one spot, cloth hardly told from the floor, differ by 19
or more, where the camera moved 1 cm by 50. A pair refused wrongly is worse than a copy that slips past."""


def is_same_picture(one: Photo, other: Photo) -> bool:
    """Tell whether two photos are one picture, also where it was renamed, made smaller or saved again."""
    if one.pixels is other.pixels:
        return True
    if abs(one.width_px / one.height_px - other.width_px / other.height_px) > 0.01:
        return False
    share = _SHRUNK_PX / max(one.width_px, one.height_px)
    size = max(1, round(one.width_px * share)), max(1, round(one.height_px * share))
    first, second = (_shrunk(photo, size) for photo in (one, other))
    return float(np.abs(first - second).max()) < _ALIKE


def _shrunk(photo: Photo, size: tuple[int, int]) -> Floats:
    """Return the lightness of a photo at a size (width, height), each pixel the mean of what it covers."""
    return np.asarray(cv2.resize(photo.pixels, size, interpolation=cv2.INTER_AREA) @ np.array(LUMA))


def _make_readable(path: Path) -> None:
    """Teach Pillow the phone's own format where `path` is of it; copies sent about often bear another's ending."""
    with path.open("rb") as file:
        is_of_it = file.read(8)[4:] == b"ftyp"
    if is_of_it:
        import pillow_heif

        pillow_heif.register_heif_opener()


def read_size_px(path: Path) -> tuple[int, int] | None:
    """Return width and height of the upright photo in `path` from its header, or None where it is no photo [px]."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            _make_readable(path)
            with Image.open(path) as image:
                width, height = image.size
                turned = image.format != _UPRIGHT_FORMAT and image.getexif().get(ExifTags.Base.Orientation, 1) >= 5
        return (height, width) if turned else (width, height)
    except (OSError, SyntaxError, ValueError, EOFError, OverflowError, Image.DecompressionBombError):
        return None


def _too_large(name: str) -> PhotoError:
    return PhotoError(
        f"“{name}” says it is larger than {LARGEST_PX // 1_000_000} megapixels.",
        "Take the photo at 12 to 50 megapixels, or save a smaller copy.",
    )


def _decode(path: Path, name: str) -> Photo:
    _make_readable(path)
    with Image.open(path) as image:
        width, height = image.size
        if width * height > LARGEST_PX:
            raise _too_large(name)
        if min(width, height) < SMALLEST_SIDE_PX:
            raise PhotoError(
                f"“{name}” is only {width} x {height} pixels; a millimetre cannot be seen in it.",
                "Use the original photo from the phone, not a preview or a copy sent by a messenger.",
            )
        exif = image.getexif()
        turns = _TURNS.get(image.info.get("original_orientation") or exif.get(ExifTags.Base.Orientation, 0))
        pixels = _rgb(image)
        upright = pixels if image.format == _UPRIGHT_FORMAT else _upright(pixels, exif)
    array = np.asarray(upright)
    return Photo(
        pixels=frozen_bytes(np.ascontiguousarray(array)),
        name=name,
        quarter_turns=turns,
        **_lens_facts(exif, width, height),
    )


def _rgb(image: Image.Image) -> Image.Image:
    if image.mode in {"I;16", "I;16B", "I;16L", "I"}:
        # Pillow clips 16-bit grey when converting; scale it instead.
        grey = np.asarray(image).astype(np.float64)
        scaled = grey / max(float(grey.max()), 1.0) * 255.0
        return Image.fromarray(scaled.astype(np.uint8)).convert("RGB")
    if image.mode in {"RGBA", "LA", "PA"} or "transparency" in image.info:
        layer = image.convert("RGBA")
        ground = Image.new("RGBA", layer.size, "white")
        return Image.alpha_composite(ground, layer).convert("RGB")
    return image.convert("RGB")


def _upright(image: Image.Image, exif: Image.Exif) -> Image.Image:
    turns = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_270,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_90,
    }
    turn = turns.get(exif.get(ExifTags.Base.Orientation, 1))
    return image.transpose(turn) if turn is not None else image


def _number(value: Any) -> float | None:
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return number if math.isfinite(number) and number > 0 else None


def _lens_facts(exif: Image.Exif, width: int, height: int) -> dict[str, Any]:
    """Return Photo's lens fields from EXIF; `width`, `height` as stored in the file."""
    try:
        details = exif.get_ifd(ExifTags.IFD.Exif)
    except (ValueError, SyntaxError, OSError, KeyError):
        details = {}
    facts: dict[str, Any] = {
        "make": str(exif.get(ExifTags.Base.Make, "")).strip(" \0"),
        "model": str(exif.get(ExifTags.Base.Model, "")).strip(" \0"),
        "focal_mm": _number(details.get(ExifTags.Base.FocalLength)),
        "focal_35_mm": _number(details.get(ExifTags.Base.FocalLengthIn35mmFilm)),
    }
    findings: list[Finding] = []
    focal_35 = facts["focal_35_mm"]
    if focal_35 is None or not 8 <= focal_35 <= 400:
        return facts
    doubt = math.hypot(_FOCAL_ROUNDING_MM / focal_35, _FOCAL_SPREAD)
    stored = (
        _number(details.get(ExifTags.Base.ExifImageWidth)),
        _number(details.get(ExifTags.Base.ExifImageHeight)),
    )
    shape = max(width, height) / min(width, height)
    if stored[0] and stored[1] and abs(max(stored) / min(stored) / shape - 1) > 0.02:  # type: ignore[type-var, operator]
        findings.append(
            Finding(
                "photo-cropped",
                "The photo was cropped after it was taken, so its focal length cannot be used.",
                "Use the original photo from the phone.",
            )
        )
        return facts | {"findings": tuple(findings)}
    # Each of these readings is as likely as the other: half way between them, the doubt reaching both.
    readings: list[float] = []
    if all(abs(shape / whole - 1) > 0.02 for whole in _SENSOR_SHAPES):
        readings.append(_uncut_diagonal_share(shape))
        findings.append(
            Finding(
                "photo-shape",
                "The photo does not have the shape of the whole sensor, so its focal length is less sure.",
                "Set the camera to 4:3.",
                Severity.NOTE,
            )
        )
    zoom = _number(details.get(ExifTags.Base.DigitalZoomRatio))
    if zoom is not None and zoom > 1.01:
        readings.append(zoom)
        findings.append(
            Finding(
                "digital-zoom",
                f"The photo was taken with digital zoom ({zoom:.1f} x), so its focal length is less sure.",
                "Take it without zoom.",
            )
        )
    return facts | {
        "focal_px": focal_px_from_35mm(focal_35, width, height) * math.sqrt(math.prod(readings)),
        "focal_doubt": math.hypot(doubt, *(math.log(reading) / 2 for reading in readings)),
        "findings": tuple(findings),
    }


def _uncut_diagonal_share(shape: float) -> float:
    """Return how much longer the diagonal of a 4:3 sensor is than that of the picture cut from it.

    Some makers state the 35 mm equivalent of the picture, some that of the sensor, from which 16:9 and square pictures
    are cut: of the whole width, or of the whole height.

    Args:
        shape: the picture's long side by its short one.
    """
    uncut = max(shape, 4 / 3)
    return math.hypot(uncut, uncut * 3 / 4) / math.hypot(shape, 1)
