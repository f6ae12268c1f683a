"""Opening: a kept pattern from its folder, its file or its name in the drawer; every command asks here."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import ArchiveError
from .entry import ID_FORM, MOST_BYTES, PATTERN, Entry, State
from .listing import list_entries
from .place import Drawer, find_drawer
from .searching import simplify

if TYPE_CHECKING:
    from ..pieces.piece import Pattern

_GIVE = "Give the folder of a pattern made before, its pattern.json, or a name in the drawer (outgrown drawer list)."
_MOST_TOLD = 6
_RESERVED = re.compile(r"con|prn|aux|nul|com\d|lpt\d")
"""No file or folder may be called so on Windows."""


@dataclass(frozen=True, eq=False)
class Opened:
    """A kept pattern and where it was.

    Attributes:
        pattern: read; from the drawer it bears its name there.
        name: good for the name of a file or folder: of the folder it lay in, or made from its name in the drawer.
        entry: in the drawer, or None.
    """

    pattern: "Pattern"
    name: str
    entry: Entry | None = None


def read_kept_pattern(place: Path | str, drawer: Drawer | None = None) -> "Pattern":
    """Return the pattern that `place` means; see `open_pattern`."""
    return open_pattern(place, drawer).pattern


def open_pattern(place: Path | str, drawer: Drawer | None = None) -> Opened:
    """Return the pattern that `place` means.

    Args:
        place: a folder that holds a pattern.json, such a file, or a pattern's name or ID in the drawer. A file or
            folder that is there goes before a name.
        drawer: None for the person's own.

    Raises:
        ArchiveError: there is none, several are meant, or it cannot be read.
    """
    path = Path(place)
    if _is_file(path / PATTERN) or _is_file(path):
        file = path / PATTERN if _is_file(path / PATTERN) else path
        named = file.absolute().parent.resolve().name
        return Opened(_read(file), named or "pattern")
    drawer = drawer or find_drawer()
    try:
        entry = find_entry(drawer, str(place))
    except ArchiveError as error:
        if path.is_dir():
            raise ArchiveError(f"The folder “{place}” holds no pattern.json.", _GIVE) from error
        raise
    return open_entry(drawer, entry)


def open_entry(drawer: Drawer, entry: Entry) -> Opened:
    """Return the pattern of an entry, with its name and person of the drawer.

    Raises:
        ArchiveError: it is damaged or newer.
    """
    if entry.state is not State.GOOD:
        raise ArchiveError(f"“{entry.name}” ({entry.id}) cannot be opened.", entry.trouble)
    pattern = _read(drawer.folder / entry.place / PATTERN)
    words = re.sub(r"[^a-z0-9]+", "-", simplify(entry.name)).strip("-")[:60].strip("-")
    if not words or _RESERVED.fullmatch(words):
        words = entry.id if ID_FORM.fullmatch(entry.id) else "pattern"
    return Opened(replace(pattern, title=entry.name, for_whom=entry.for_whom), words, entry)


def find_entry(drawer: Drawer, words: str, *, is_binned: bool = False) -> Entry:
    """Return the one pattern that a person means by `words`.

    An ID or a whole name goes before a part of a name; letters' case and accents do not matter.

    Raises:
        ArchiveError: none, or several are meant; the sentence lists them.
    """
    entries = list_entries(drawer, is_binned=is_binned)
    wanted = simplify(" ".join(words.split()))
    where = "the bin" if is_binned else "the drawer"
    if not wanted:
        raise ArchiveError("No name was given.", _GIVE)
    for is_meant in (
        lambda e: e.id == words,
        lambda e: simplify(e.name) == wanted,
        lambda e: wanted in (simplify(f"{e.name} {e.for_whom}"), simplify(f"{e.name}, {e.for_whom}")),
        lambda e: wanted in simplify(f"{e.name}, {e.for_whom}") or e.id.endswith(f"-{wanted}"),
        lambda e: all(word in simplify(f"{e.name} {e.for_whom}") for word in wanted.split()),
    ):
        found = [entry for entry in entries if is_meant(entry)]
        if len(found) == 1:
            return found[0]
        if found:
            raise ArchiveError(
                f"“{words}” may mean {_several(found)} in {where}.",
                "Name one by its whole name, or by what stands in brackets.",
            )
    raise ArchiveError(f"There is no “{words}”, neither as a file nor in {where} “{drawer.folder}”.", _GIVE)


def _several(entries: Sequence[Entry]) -> str:
    told = [
        f"“{e.name}{f', {e.for_whom}' if e.for_whom else ''}” of {e.made_on or e.kept_on} ({e.id})"
        for e in entries[:_MOST_TOLD]
    ]
    more = len(entries) - len(told)
    return " or ".join((*told, f"{more} more") if more else told)


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):  # a name too long or with a null in it is no file
        return False


def _read(path: Path) -> "Pattern":
    from .archive import read_pattern_json

    try:
        if path.stat().st_size > MOST_BYTES:
            raise ArchiveError(f"“{path}” is too large for a pattern.", "Give a pattern.json.")
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise ArchiveError(f"“{path}” is not a pattern: it is not text.", "Give a pattern.json.") from error
    except OSError as error:
        reason = (error.strerror or "it failed").lower()
        raise ArchiveError(f"I cannot read “{path}”: {reason}.", _GIVE) from error
    return read_pattern_json(text)


def read_pattern_files(place: Path) -> tuple[bytes, bytes | None]:
    """Return the content of pattern.json in `place`, and of check.png beside it, or None.

    Args:
        place: the folder of a pattern made before, or its pattern.json.

    Raises:
        ArchiveError: there is none, or it cannot be read.
    """
    file = place / PATTERN if place.is_dir() else place
    if not _is_file(file):
        what = f"The folder “{place}” holds no pattern.json." if place.is_dir() else f"There is no “{place}”."
        raise ArchiveError(what, "Give the folder of a pattern made before, or its pattern.json.")
    check = file.with_name("check.png")
    try:
        if file.stat().st_size > MOST_BYTES:
            raise ArchiveError(f"“{file}” is too large for a pattern.", "Give a pattern.json.")
        picture = check.read_bytes() if _is_file(check) and check.stat().st_size <= MOST_BYTES else None
        return file.read_bytes(), picture
    except OSError as error:
        reason = (error.strerror or "it failed").lower()
        raise ArchiveError(f"I cannot read “{file}”: {reason}.", "Mend the file's rights and try again.") from error
