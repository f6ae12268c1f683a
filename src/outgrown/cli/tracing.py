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
    "reference_corners_px",
    "no_references_px",
    "garment_at_px",
    "floor_at_px",
    "floor_photo",
    "thickness_mm",
    "bar_mm",
    "lens",
    "pulls_px",
)
"""Names of the options that `vision_options` adds."""


def trace_photo(path: Path, vision: Mapping[str, Any], progress: Progress, *, is_first: bool = True) -> "Traced":
    """Return the outline in a photo.

    Args:
        path: of the photo.
        vision: values of `VISION_NAMES`; all but `thickness_mm` may be left out.
        progress: told how far the work has come.
        is_first: places pointed at, and the photo of the floor, belong to the first photo alone.
    """
    from .. import steps
    from ..camera.reference import Kind
    from ..outline.hints import make_hints
    from ..outline.pulling import Pull
    from ..photo import read_photo
    from .options import choose_lens

    seen = read_photo(path)
    floor_photo = vision.get("floor_photo")
    traced = steps.trace_outline(
        seen,
        kinds=[Kind(kind) for kind in vision.get("kinds") or ()] or None,
        reference_at_px=vision.get("reference_at_px") if is_first else None,
        reference_corners_px=vision.get("reference_corners_px") if is_first else None,
        no_references_px=(vision.get("no_references_px") or ()) if is_first else (),
        hints=make_hints(vision.get("garment_at_px") or (), vision.get("floor_at_px") or ()) if is_first else None,
        floor=read_photo(floor_photo) if floor_photo and is_first else None,
        thickness_mm=vision["thickness_mm"],
        bar_mm=vision.get("bar_mm"),
        profile=choose_lens(seen, vision.get("lens")),
        progress=progress,
    )
    pulls = [Pull(places[0], places[-1]) for places in vision.get("pulls_px") or ()] if is_first else []
    return steps.pull_outline(traced, pulls)
