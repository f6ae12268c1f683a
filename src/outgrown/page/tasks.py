"""Tasks: the long work, done in a process of its own so that it can be stopped and may crash."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from ..progress import Progress


def trace(values: Mapping[str, Any], progress: Progress) -> Any:
    """Return the outline in a photo (`steps.Traced`).

    Args:
        values: `path` of the photo, `name` the person knows it by; perhaps `hints` as [(side, points)],
            `reference_at_px`, `reference_corners_px`, `no_references_px`, `floor` (a path) and `floor_name`, `bar_mm`,
            `thickness_mm`.
        progress: told how far the work has come.
    """
    from .. import steps
    from ..outline.hints import Side, make_hints
    from ..photo import read_photo
    from ..practice import GARMENT_THICKNESS_MM

    photo = read_photo(Path(values["path"]), str(values["name"]))
    said: dict[str, list[Any]] = {side: [] for side in Side}
    for side, points in values.get("hints") or ():
        said[Side(side)].append(points)
    floor = values.get("floor")
    return steps.trace_outline(
        photo,
        hints=make_hints(said[Side.GARMENT], said[Side.FLOOR]),
        reference_at_px=values.get("reference_at_px"),
        reference_corners_px=values.get("reference_corners_px"),
        no_references_px=values.get("no_references_px") or (),
        floor=read_photo(Path(floor), str(values.get("floor_name") or "")) if floor else None,
        bar_mm=values.get("bar_mm"),
        thickness_mm=values.get("thickness_mm") or GARMENT_THICKNESS_MM.value,
        profile=steps.choose_profile(photo),
        progress=progress,
    )


def lay(values: Mapping[str, Any], progress: Progress) -> Any:
    """Return how a pattern's pieces lie on a cloth: sentences, the plan as SVG, and files.

    Args:
        values: `pattern` as JSON text, `rules`; and `bolt` for cloth off the roll, `traced` for the cloth in a photo
            (with `on_hem`), or `shirt_mm`, its width and length.
        progress: told how far the work has come.
    """
    from .. import lay_steps
    from ..drawer.archive import read_pattern_json
    from ..practice import GARMENT_THICKNESS_MM, LEFTOVER_MARGIN_MM

    progress("laying the pieces", 0.2)
    patterns, rules, margin = [read_pattern_json(values["pattern"])], values["rules"], LEFTOVER_MARGIN_MM.value
    if values.get("bolt") is not None:
        laid = lay_steps.lay_on_bolt(patterns, values["bolt"], rules, opens_folds=bool(values.get("opens_folds")))
        files = lay_steps.draw_lay(laid)
    elif values.get("traced") is not None:
        on_photo = lay_steps.lay_on_photo(
            patterns,
            values["traced"],
            rules,
            margin_mm=margin,
            thickness_mm=GARMENT_THICKNESS_MM.value,
            on_hem=bool(values.get("on_hem")),
        )
        laid, files = on_photo.lay, lay_steps.draw_lay_on_photo(on_photo)
    else:
        width_mm, length_mm = values["shirt_mm"]
        laid = lay_steps.lay_on_shirt(patterns, width_mm, length_mm, rules, margin_mm=margin)
        files = lay_steps.draw_lay(laid)
    answer, about, rows = lay_steps.describe_lay(laid)
    return {
        "answer": answer,
        "about": about,
        "rows": rows,
        "offers": [offer.sentence() for offer in laid.offers],
        "svg": lay_steps.draw_lay_picture(laid),
        "has_photo": values.get("traced") is not None,
        "files": dict(files),
    }


def lens(values: Mapping[str, Any], progress: Progress) -> Any:
    """Return what was learned of a lens, in sentences; it is kept for later photos.

    Args:
        values: `sheets`, the photos of the lens sheet as (path, name).
        progress: told how far the work has come.
    """
    from .. import steps
    from ..camera.profile import LensError
    from ..photo import read_photo

    sheets = values["sheets"]
    seen = []
    for index, (path, name) in enumerate(sheets):
        progress("looking at the photos", index / (len(sheets) + 1))
        seen.append(read_photo(Path(path), str(name)))
    progress("learning the lens", len(sheets) / (len(sheets) + 1))
    profile = steps.learn_lens(seen)
    if not profile.model:
        raise LensError(
            "The photos do not say which camera took them, so the lens cannot be kept for later photos.",
            "Use the original files from the phone.",
        )
    steps.keep_lens(profile)
    return {
        "camera": f"{profile.make} {profile.model}".strip(),
        "photos": profile.photos,
        "focal_px": round(profile.focal_px),
        "k1": round(profile.distortion[0], 3),
        "k1_doubt": round(profile.doubts.k1, 3),
        "residual_px": round(profile.doubts.residual_px, 2),
    }


TASKS: dict[str, Callable[[Mapping[str, Any], Progress], Any]] = {"trace": trace, "lay": lay, "lens": lens}
