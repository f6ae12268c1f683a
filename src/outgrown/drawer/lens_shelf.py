"""Where learned lenses are kept: one file a lens, in the person's own data folder."""

import contextlib
import hashlib
import logging
import os
import re
from pathlib import Path

import platformdirs

from ..camera.profile import LensError, LensProfile, is_profile_of
from ..photo import Photo
from .folder import write_file
from .lens_json import read_lens_json, write_lens_json
from .place import DATA_VARIABLE

_log = logging.getLogger(__name__)

_LARGEST_BYTES = 100_000


def lens_folder() -> Path:
    """Return the folder of kept lenses; it need not be there."""
    chosen = os.environ.get(DATA_VARIABLE)
    base = Path(chosen) if chosen else platformdirs.user_data_path("outgrown", appauthor=False)
    return base / "lenses"


def list_lenses() -> list[tuple[str, int]]:
    """Return the kept files, each with when it was written [ns]: the same list means the same lenses."""
    found = []
    for path in sorted(lens_folder().glob("*.json")):
        with contextlib.suppress(OSError):  # it has just been taken away
            found.append((path.name, path.stat().st_mtime_ns))
    return found


def read_lens(path: Path) -> LensProfile:
    """Return the profile in the file `path`.

    Raises:
        LensError: it cannot be read, or is not a profile.
    """
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise LensError(f"“{path.name}” is too large for a lens profile.", "Name the file “outgrown lens” wrote.")
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        raise LensError(f"The lens profile “{path}” cannot be read.", "Check its name, or leave --lens away.") from None
    return read_lens_json(text, path.name)


def write_lens(profile: LensProfile) -> Path:
    """Keep `profile` for later photos of the same lens, in place of an older one, and return its file.

    Raises:
        LensError: the profile does not say which camera it belongs to.
        TargetError: it cannot be written.
    """
    if not profile.model:
        raise LensError(
            "The photos do not say which camera took them, so the lens cannot be kept for later photos.",
            "Use the original files from the phone, or write the profile with --out FILE and name it with --lens FILE.",
        )
    sides = sorted((profile.width_px, profile.height_px), reverse=True)
    key = f"{profile.make}|{profile.model}|{profile.focal_mm}|{profile.focal_35_mm}|{sides[0] / sides[1]:.2f}"
    words = re.sub(r"[^a-z0-9]+", "-", f"{profile.make} {profile.model}".lower()).strip("-")[:60]
    path = lens_folder() / f"{words or 'lens'}-{hashlib.sha256(key.encode()).hexdigest()[:8]}.json"
    path.parent.mkdir(parents=True, exist_ok=True)
    write_file(path, write_lens_json(profile).encode("utf-8"), may_replace=True)
    return path


def find_lens(photo: Photo) -> LensProfile | None:
    """Return the kept profile of the lens that took `photo`, or None. Files that cannot be read are passed over."""
    folder = lens_folder()
    if not photo.model or not folder.is_dir():
        return None
    for path in sorted(folder.glob("*.json")):
        try:
            profile = read_lens(path)
        except LensError:
            _log.warning("passed over %s, which is not a lens profile", path)
            continue
        if is_profile_of(profile, photo):
            return profile
    return None
