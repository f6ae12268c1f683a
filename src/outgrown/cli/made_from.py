"""What a pattern was made from: the photo's bytes and every choice, as two numbers kept in the pattern.

By them a folder made before is known again, whatever the photo is called now.
"""

import hashlib
import json
from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path
from typing import Any

from ..drawer.lens_shelf import lens_folder
from .making import names_of_files


class There(StrEnum):
    """What a folder holds of a photo."""

    NOTHING = "nothing"
    SAME = "the pattern of this photo"
    OTHER_CHOICES = "a pattern of this photo made with other choices"
    OTHER = "another pattern"


def describe_origin(photo: Path, options: Mapping[str, Any]) -> dict[str, str]:
    """Return `photo_sha256` and `choices_sha256`; empty where the photo cannot be read, which is told later.

    Args:
        photo: of the garment.
        options: of `outgrown pattern`; files named by them count by their content, and so does a lens learned.
    """
    content = _digest(photo)
    if content is None:
        return {}
    files = {name: options.get(name) for name in ("back", "floor_photo")}
    lens = options.get("lens")
    shelf = sorted(lens_folder().glob("*.json")) if lens is None else [Path(lens)]
    told = {
        **{name: _plain(value) for name, value in options.items() if name not in files},
        **{name: None if path is None else _digest(path) for name, path in files.items()},
        "lens": [_digest(path) or path.name for path in shelf],
    }
    text = json.dumps(told, sort_keys=True, ensure_ascii=False)
    return {"photo_sha256": content, "choices_sha256": hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()}


def look_into(folder: Path, origin: Mapping[str, str], back: Path | None) -> There:
    """Return what `folder` holds already of the photo that `origin` describes."""
    names = names_of_files(back)
    there = [name for name in names if (folder / name).exists()]
    if not there:
        return There.NOTHING
    try:
        kept = json.loads((folder / "pattern.json").read_bytes())["provenance"]["made_from"]
        same_photo, same_choices = (kept[name] == origin[name] for name in ("photo_sha256", "choices_sha256"))
        is_whole = all((folder / name).stat().st_size for name in names)
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return There.OTHER
    if not same_photo or not is_whole:
        return There.OTHER
    return There.SAME if same_choices else There.OTHER_CHOICES


def read_facts(folder: Path) -> tuple[str, float]:
    """Return the kind of garment and the expected error [mm] of the pattern in `folder`; for one `look_into` knows."""
    document = json.loads((folder / "pattern.json").read_bytes())
    return str(document["provenance"]["taken"]["kind"]), float(document["expected_error_mm"]["p95"])


def _plain(value: Any) -> Any:
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value if value is None or isinstance(value, bool | int | float | str) else str(value)


def _digest(path: Path) -> str | None:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except (OSError, ValueError):
        return None
