"""Tracing a photo with the options of `vision_options`; shared by the commands that measure."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..progress import Progress

if TYPE_CHECKING:
    from ..steps import Traced

VISION_NAMES = (
    "kinds",
    "reference_at_px",
    "garment_at_px",
    "floor_at_px",
    "floor_photo",
    "thickness_mm",
    "bar_mm",
    "lens",
)
"""Names of the options that `vision_options` adds."""


def trace_photo(path: Path, vision: Mapping[str, Any], progress: Progress, *, is_first: bool = True) -> "Traced":
    """Return the outline in a photo.

    Args:
        path: of the photo.
        vision: values of `VISION_NAMES`.
        progress: told how far the work has come.
        is_first: places pointed at, and the photo of the floor, belong to the first photo alone.
    """
    from .. import steps
    from ..camera.reference import Kind
    from ..outline.hints import make_hints
    from ..photo import read_photo
    from .options import choose_lens

    seen = read_photo(path)
    floor_photo = vision["floor_photo"]
    return steps.trace_outline(
        seen,
        kinds=[Kind(kind) for kind in vision["kinds"]] or None,
        reference_at_px=vision["reference_at_px"] if is_first else None,
        hints=make_hints(vision["garment_at_px"], vision["floor_at_px"]) if is_first else None,
        floor=read_photo(floor_photo) if floor_photo and is_first else None,
        thickness_mm=vision["thickness_mm"],
        bar_mm=vision["bar_mm"],
        profile=choose_lens(seen, vision["lens"]),
        progress=progress,
    )
