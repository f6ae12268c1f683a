"""Packing: patterns as one file to carry elsewhere, and back.

The file is a zip of plain files: `drawer.json` (schema `outgrown-pack/1`) and `patterns/ID/...` as in the drawer. What
comes back is taken for something a stranger made: names are checked, sizes counted while unpacking, every pattern read
wholly, pictures drawn again. What lies in the drawer is never written over.
"""

import json
import os
import re
import tempfile
import zipfile
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from ..errors import ArchiveError, OutgrownError, PieceError, TargetError
from ..progress import Progress, silent
from .entry import (
    DRAWING,
    HEADER,
    ID_FORM,
    MOST_BYTES,
    MOST_NOTES,
    NOTES,
    PATTERN,
    PHOTO,
    Entry,
    State,
    make_id,
    read_entry,
)
from .keeping import Kept, prepare_pattern, put_in_held
from .listing import list_entries
from .place import Drawer, writing

SCHEMA = "outgrown-pack"
VERSION = 1
MANIFEST = "drawer.json"
_MEMBERS = {PATTERN: MOST_BYTES, HEADER: 100_000, NOTES: MOST_NOTES, DRAWING: 5_000_000, PHOTO: 5_000_000}
"""Files of a pattern -> most bytes."""
_MOST_MEMBERS = 200_000
_MOST_TOTAL = 8_000_000_000
_PLACE = re.compile(rf"patterns/({ID_FORM.pattern})/([A-Za-z0-9._-]+)")
_STAMP = (1980, 1, 1, 0, 0, 0)
"""The same patterns give the same file."""
_AGAIN = "Pack it again with “outgrown drawer pack”."


@dataclass(frozen=True)
class Unpacked:
    """What became of a packed file's patterns.

    Attributes:
        kept: brought in, or there already.
        refused: (ID, the sentence that says why).
    """

    kept: tuple[Kept, ...]
    refused: tuple[tuple[str, str], ...]


def pack(drawer: Drawer, entries: Sequence[Entry], target: Path, may_replace: bool = False) -> None:
    """Write `entries` into the one file `target`: wholly, or not at all. Damaged ones are not packed.

    Raises:
        ArchiveError: one of them is damaged.
        TargetError: the file is there already, or cannot be written.
    """
    for entry in entries:
        if entry.state is State.DAMAGED:
            raise ArchiveError(f"“{entry.name}” ({entry.id}) cannot be packed.", entry.trouble)
    if target.exists() and not may_replace:
        raise TargetError(
            f"“{target}” is there already; nothing was changed.",
            "Choose another name, or say --replace to write over it.",
        )
    made: Path | None = None
    try:
        handle, name = tempfile.mkstemp(dir=target.absolute().parent, prefix=".outgrown-")
        made = Path(name)
        with os.fdopen(handle, "wb") as file:
            with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
                manifest = {"schema": f"{SCHEMA}/{VERSION}", "patterns": len(entries)}
                packed.writestr(_member(MANIFEST), json.dumps(manifest) + "\n")
                for entry in sorted(entries, key=lambda e: e.id):
                    ident = entry.id if ID_FORM.fullmatch(entry.id) else make_id(entry.kept_on or entry.made_on)
                    _pack_one(packed, drawer.folder / entry.place, ident)
            file.flush()
            os.fsync(file.fileno())
        mask = os.umask(0)
        os.umask(mask)
        made.chmod(0o666 & ~mask)
        made.replace(target)
        made = None
    except OSError as error:
        reason = (error.strerror or "it failed").lower()
        raise TargetError(f"I cannot write “{target}”: {reason}.", "Choose another place to write to.") from error
    finally:
        if made is not None:
            made.unlink(missing_ok=True)


def _pack_one(packed: zipfile.ZipFile, folder: Path, ident: str) -> None:
    for name in _MEMBERS:
        if (folder / name).is_file():
            content = (folder / name).read_bytes()
            packed.writestr(_member(f"patterns/{ident}/{name}"), content)


def _member(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, _STAMP)
    info.compress_type = zipfile.ZIP_STORED if name.endswith((".png", ".jpg")) else zipfile.ZIP_DEFLATED
    info.external_attr = 0o644 << 16
    return info


def unpack(drawer: Drawer, source: Path, progress: Progress = silent) -> Unpacked:
    """Bring the patterns packed in `source` into the drawer, beside what is there.

    A pattern that is there already, with the same name and notes, is not brought in twice. One that cannot be read is
    refused alone.

    Raises:
        ArchiveError: the file is no packed drawer, or holds something it must not; nothing was brought in.
        TargetError: the drawer cannot be written.
    """
    kept: list[Kept] = []
    refused: list[tuple[str, str]] = []
    try:
        with zipfile.ZipFile(source) as packed:
            members = _check(packed, source)
            with writing(drawer):
                there = list_entries(drawer)
                taken = {entry.id for entry in (*there, *list_entries(drawer, is_binned=True))}
                for count, (ident, names) in enumerate(members.items()):
                    progress("bringing the patterns in", count / len(members))
                    try:
                        done = _unpack_one(packed, names, ident, drawer, there, taken)
                    except (ArchiveError, PieceError, zipfile.BadZipFile, zlib.error, EOFError) as error:
                        said = str(error) if isinstance(error, OutgrownError) else "It is damaged in this file."
                        refused.append((ident, said))
                        continue
                    kept.append(done)
                    if done.is_new:
                        there.append(done.entry)
                        taken.add(done.entry.id)
    except FileNotFoundError as error:
        raise ArchiveError(f"There is no “{source}”.", "Name the file that “outgrown drawer pack” wrote.") from error
    except (zipfile.BadZipFile, NotImplementedError, EOFError, zlib.error) as error:
        raise ArchiveError(f"“{source}” is no packed drawer, or is damaged.", _AGAIN) from error
    except OutgrownError:
        raise
    except OSError as error:
        reason = (error.strerror or "it failed").lower()
        raise ArchiveError(f"I cannot read “{source}”: {reason}.", _AGAIN) from error
    return Unpacked(tuple(kept), tuple(refused))


def _check(packed: zipfile.ZipFile, source: Path) -> dict[str, dict[str, zipfile.ZipInfo]]:
    """Return ID -> file name -> member; everything that the names and the headers tell is checked here."""
    infos = packed.infolist()
    if len(infos) > _MOST_MEMBERS or sum(info.file_size for info in infos) > _MOST_TOTAL:
        raise ArchiveError(f"“{source}” holds far more than a drawer does; nothing was brought in.", _AGAIN)
    members: dict[str, dict[str, zipfile.ZipInfo]] = {}
    seen = set()
    for info in infos:
        name = info.orig_filename
        if name in seen or not _is_plain(name) or (info.external_attr >> 28) == 0xA or info.flag_bits & 1:
            raise ArchiveError(
                f"“{source}” holds “{name[:60]!r}”, which no packed drawer holds; nothing was brought in.", _AGAIN
            )
        seen.add(name)
        match = _PLACE.fullmatch(name)
        if match and match[2] in _MEMBERS:
            members.setdefault(match[1], {})[match[2]] = info
    if MANIFEST not in seen:
        raise ArchiveError(f"“{source}” is no packed drawer: it holds no {MANIFEST}.", _AGAIN)
    try:
        schema, _, version = str(json.loads(_read(packed, packed.getinfo(MANIFEST), 10_000))["schema"]).partition("/")
    except (ValueError, KeyError, TypeError, RecursionError):
        schema, version = "", ""
    if schema != SCHEMA or not version.isdecimal():
        raise ArchiveError(f"“{source}” is no packed drawer.", _AGAIN)
    if int(version) > VERSION:
        raise ArchiveError(
            f"“{source}” was packed by a newer outgrown (its schema is {schema}/{version}); nothing was brought in.",
            "Bring outgrown up to date and try again; the file is unharmed.",
        )
    return {ident: names for ident, names in members.items() if PATTERN in names}


def _is_plain(name: str) -> bool:
    """Return whether `name` stays below where it is unpacked, on every system."""
    parts = PurePosixPath(name).parts
    return bool(parts) and not name.startswith("/") and ".." not in parts and not re.search(r"[\\:\x00-\x1f]", name)


def _unpack_one(
    packed: zipfile.ZipFile,
    names: dict[str, zipfile.ZipInfo],
    ident: str,
    drawer: Drawer,
    there: Sequence[Entry],
    taken: set[str],
) -> Kept:
    content = {name: _read(packed, info, _MEMBERS[name]) for name, info in names.items() if name != DRAWING}
    with tempfile.TemporaryDirectory(prefix="outgrown-") as place:  # read as a folder of the drawer is
        folder = Path(place) / ident
        folder.mkdir()
        for name in (HEADER, NOTES):
            if name in content:
                (folder / name).write_bytes(content[name])
        (folder / PATTERN).write_bytes(content[PATTERN])
        entry = read_entry(folder, ident, ident)
    if entry.state is not State.GOOD:
        raise ArchiveError(f"“{entry.name}” was not brought in.", entry.trouble)
    bringing = prepare_pattern(
        content[PATTERN],
        content.get(PHOTO),
        name=entry.name,
        for_whom=entry.for_whom,
        notes=entry.notes,
        kept_on=entry.kept_on if re.fullmatch(r"\d{4}-\d\d-\d\d(T\d\d:\d\d:\d\d)?", entry.kept_on) else None,
        wanted_id=ident,
    )
    return put_in_held(drawer, bringing, there, taken)


def _read(packed: zipfile.ZipFile, info: zipfile.ZipInfo, most: int) -> bytes:
    """Return a member's content; never more than `most` bytes are unpacked, whatever its header says."""
    with packed.open(info) as file:
        content = file.read(most + 1)
    if len(content) > most:
        raise ArchiveError(f"It holds a {PurePosixPath(info.filename).name} of more than {most // 1000} kB.", _AGAIN)
    return content
