"""Tasks: the long work, done in a process of its own so that it can be stopped and may crash."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from ..progress import Progress


def trace(values: Mapping[str, Any], progress: Progress) -> Any:
    """Return the outline in a photo (`steps.Traced`).

    Args:
        values: `path` of the photo, `name` the person knows it by; perhaps `hints` as [(side, points)],
            `reference_at_px`, `floor` (a path), `bar_mm`, `thickness_mm`.
        progress: told how far the work has come.
    """
    from .. import steps
    from ..outline.hints import Side, make_hints
    from ..photo import read_photo
    from ..practice import GARMENT_THICKNESS_MM

    photo = replace(read_photo(Path(values["path"])), name=str(values["name"]))
    said: dict[str, list[Any]] = {side: [] for side in Side}
    for side, points in values.get("hints") or ():
        said[Side(side)].append(points)
    floor = values.get("floor")
    return steps.trace_outline(
        photo,
        hints=make_hints(said[Side.GARMENT], said[Side.FLOOR]),
        reference_at_px=values.get("reference_at_px"),
        floor=read_photo(Path(floor)) if floor else None,
        bar_mm=values.get("bar_mm"),
        thickness_mm=values.get("thickness_mm") or GARMENT_THICKNESS_MM.value,
        profile=steps.choose_profile(photo),
        progress=progress,
    )


TASKS: dict[str, Callable[[Mapping[str, Any], Progress], Any]] = {"trace": trace}
