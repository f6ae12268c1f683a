"""Opening: a kept pattern from its folder or its file."""

from pathlib import Path

from ..errors import ArchiveError
from ..pieces.piece import Pattern
from .archive import read_pattern_json

_MOST_BYTES = 50_000_000


def read_kept_pattern(place: Path) -> Pattern:
    """Return the pattern kept in `place`: a pattern.json, or the folder that holds one.

    Raises:
        ArchiveError: there is none, or it cannot be read.
    """
    path = place / "pattern.json" if place.is_dir() else place
    if not path.is_file():
        what = f"The folder “{place}” holds no pattern.json." if place.is_dir() else f"There is no “{place}”."
        raise ArchiveError(what, "Give the folder of a pattern made before, or its pattern.json.")
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise ArchiveError(f"“{path}” is too large for a pattern.", "Give a pattern.json.")
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise ArchiveError(f"“{path}” is not a pattern: it is not text.", "Give a pattern.json.") from error
    except OSError as error:
        reason = (error.strerror or "it failed").lower()
        raise ArchiveError(f"I cannot read “{path}”: {reason}.", "Give the folder of a pattern made before.") from error
    return read_pattern_json(text)
