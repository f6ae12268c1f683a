"""Photo: decoded upright pixels and what the file says of its lens."""

from dataclasses import dataclass

from .arrays import Bytes


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
    """

    pixels: Bytes
    name: str = "photo"
    focal_px: float | None = None
    focal_doubt: float | None = None
    make: str = ""
    model: str = ""

    @property
    def width_px(self) -> int:
        """Width [px]."""
        return int(self.pixels.shape[1])

    @property
    def height_px(self) -> int:
        """Height [px]."""
        return int(self.pixels.shape[0])
