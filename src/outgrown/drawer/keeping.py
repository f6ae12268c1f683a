"""Keeping: patterns put into the drawer, renamed, noted, put into the bin and taken out of it again.

Each change of a pattern is one step of the file system (a folder or a file is given its name), made while nobody else
writes: whenever the program is killed, the pattern is as before or as after.
"""

import json
import shutil
from collections.abc import Container, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from ..errors import ArchiveError, TargetError
from .durable import move, push_folder, replace_file, write_new_folder
from .entry import (
    DRAWING,
    HEADER,
    MOST_BYTES,
    MOST_NOTES,
    NOTES,
    PATTERN,
    PHOTO,
    Entry,
    State,
    clean_words,
    digest,
    facts_of,
    make_id,
    read_entry,
    write_header,
)
from .listing import list_entries
from .place import Drawer, writing


@dataclass(frozen=True)
class Kept:
    """What became of a pattern that was put in.

    Attributes:
        entry: as it lies in the drawer.
        is_new: False where the same pattern was there already, under the same name and with the same notes.
    """

    entry: Entry
    is_new: bool


@dataclass(frozen=True)
class Bringing:
    """A pattern to put in, checked and drawn.

    Attributes:
        content: of pattern.json.
        drawing: its pieces as PNG.
        photo: the check picture as JPEG, or None.
        name: in the drawer; None for its title.
        for_whom: None for what the pattern says.
        notes: the person's.
        kept_on: ISO date and time; None for now.
        id: wanted; taken where it is free.
    """

    content: bytes
    drawing: bytes
    photo: bytes | None = None
    name: str | None = None
    for_whom: str | None = None
    notes: str = ""
    kept_on: str | None = None
    id: str | None = None


def prepare_pattern(
    content: bytes,
    check_picture: bytes | None = None,
    *,
    name: str | None = None,
    for_whom: str | None = None,
    notes: str = "",
    kept_on: str | None = None,
    wanted_id: str | None = None,
) -> Bringing:
    """Return the pattern in `content` ready to be put in.

    Raises:
        ArchiveError: it is no pattern, damaged, too large or of a newer schema.
    """
    from .archive import read_pattern_json
    from .thumbnails import draw_pieces_png, shrink_photo

    if len(content) > MOST_BYTES:
        raise ArchiveError("This file is too large for a pattern.", "Give a pattern.json.")
    try:
        pattern = read_pattern_json(content.decode("utf-8"))
    except UnicodeDecodeError as error:
        raise ArchiveError("This file is not a pattern: it is not text.", "Give a pattern.json.") from error
    if len(notes.encode("utf-8", errors="replace")) > MOST_NOTES:
        raise ArchiveError("The notes are too long.", f"Shorten them to {MOST_NOTES // 1000} kB.")
    return Bringing(
        content=content,
        drawing=draw_pieces_png(pattern),
        photo=None if check_picture is None else shrink_photo(check_picture),
        name=None if name is None else clean_words(name),
        for_whom=None if for_whom is None else clean_words(for_whom),
        notes=notes.strip(),
        kept_on=kept_on,
        id=wanted_id,
    )


def put_in(drawer: Drawer, bringing: Bringing) -> Kept:
    """Put a pattern into the drawer as a folder of its own.

    Raises:
        TargetError: it cannot be written; nothing of it is there then.
    """
    with writing(drawer):
        there = list_entries(drawer)
        return put_in_held(drawer, bringing, there, {e.id for e in (*there, *list_entries(drawer, is_binned=True))})


def put_in_held(drawer: Drawer, bringing: Bringing, there: Sequence[Entry], taken: Container[str]) -> Kept:
    """Put a pattern in while the drawer is held (see `place.writing`), `there` lies in it and the IDs `taken` exist."""
    facts = facts_of(bringing.content)
    facts |= {
        name: said for name, said in (("name", bringing.name), ("for_whom", bringing.for_whom)) if said is not None
    }
    facts["name"] = facts.get("name") or facts.get("garment") or "pattern"
    told = (digest(bringing.content), facts["name"], facts["for_whom"], bringing.notes)
    for entry in there:
        if entry.state is State.GOOD and (entry.sha256, entry.name, entry.for_whom, entry.notes) == told:
            return Kept(entry, False)
    kept_on = bringing.kept_on or datetime.now().isoformat(timespec="seconds")
    chosen = bringing.id or make_id(kept_on)
    while chosen in taken or (drawer.patterns / chosen).exists():
        chosen = make_id(kept_on)
    entry = Entry(id=chosen, place=f"patterns/{chosen}", kept_on=kept_on, notes=bringing.notes, **facts)
    files = {
        PATTERN: bringing.content,
        HEADER: write_header(entry, len(bringing.content), _schema(bringing.content)),
        DRAWING: bringing.drawing,
    }
    if bringing.notes:
        files[NOTES] = f"{bringing.notes}\n".encode()
    if bringing.photo is not None:
        files[PHOTO] = bringing.photo
    write_new_folder(drawer.patterns / chosen, files, drawer.staging)
    return Kept(entry, True)


def rename(drawer: Drawer, entry: Entry, name: str, for_whom: str | None = None) -> Entry:
    """Give a pattern another name in the drawer, and say for whom it is where `for_whom` is not None.

    Its folder and its pattern.json stay as they are; what is printed from the drawer bears the new name.

    Raises:
        ArchiveError: the name is empty, or the pattern cannot be opened.
        TargetError: it is gone, or cannot be written.
    """
    name = clean_words(name)
    if not name:
        raise ArchiveError("The new name is empty.", "Give the pattern a name of at least one letter.")
    with writing(drawer):
        now = _again(drawer, entry)
        renamed = replace(now, name=name, for_whom=now.for_whom if for_whom is None else clean_words(for_whom))
        content = (drawer.folder / entry.place / PATTERN).read_bytes()
        facts = facts_of(content)
        renamed = replace(renamed, sha256=facts["sha256"], trouble="")
        header = write_header(renamed, len(content), _schema(content))
        replace_file(drawer.folder / entry.place / HEADER, header, drawer.staging)
    return renamed


def note(drawer: Drawer, entry: Entry, text: str, *, is_instead: bool = False) -> Entry:
    """Add a line to a pattern's notes, or write `text` in place of them.

    Raises:
        ArchiveError: the notes grow too long, or the pattern cannot be opened.
        TargetError: it is gone, or cannot be written.
    """
    with writing(drawer):
        now = _again(drawer, entry)
        if "notes.txt" in now.trouble and not is_instead:
            raise ArchiveError(now.trouble, "Mend the file, or say --instead to write new notes in place of it.")
        notes = text.strip() if is_instead else "\n".join(part for part in (now.notes, text.strip()) if part)
        content = f"{notes}\n".encode("utf-8", errors="replace")
        if len(content) > MOST_NOTES:
            raise ArchiveError("The notes are too long.", f"Shorten them to {MOST_NOTES // 1000} kB.")
        replace_file(drawer.folder / entry.place / NOTES, content, drawer.staging)
    return replace(now, notes=notes)


def put_in_bin(drawer: Drawer, entry: Entry) -> None:
    """Put a pattern into the bin, from where it can be taken out again; damaged ones too.

    Raises:
        TargetError: it is gone, or cannot be moved.
    """
    with writing(drawer):
        source = _folder(drawer, entry)
        move(source, drawer.bin / f"{date.today().isoformat()}_{source.name}")


def take_from_bin(drawer: Drawer, entry: Entry) -> None:
    """Put a pattern back from the bin among the others.

    Raises:
        TargetError: it is gone, cannot be moved, or its place is taken.
    """
    with writing(drawer):
        source = _folder(drawer, entry)
        target = drawer.patterns / entry.id
        if target.exists():
            raise TargetError(
                f"Another pattern lies in the drawer in the place of “{entry.name}” ({entry.id}); nothing was changed.",
                "Put that one into the bin first.",
            )
        move(source, target)


def empty_bin(drawer: Drawer, entries: Sequence[Entry]) -> int:
    """Delete these patterns of the bin for good and return how many; those that were taken out meanwhile stay.

    Raises:
        TargetError: one cannot be deleted.
    """
    deleted = 0
    with writing(drawer):
        for entry in entries:
            source = drawer.folder / entry.place
            if source.parent != drawer.bin or not source.is_dir():
                continue
            # Out of the bin in one step: a kill leaves no half of it there.
            gone = drawer.staging / f"deleted-{source.name}"
            move(source, gone)
            shutil.rmtree(gone)
            deleted += 1
        push_folder(drawer.bin)
    return deleted


def _schema(content: bytes) -> str:
    return str(json.loads(content)["schema"])


def _folder(drawer: Drawer, entry: Entry) -> Path:
    folder = drawer.folder / entry.place
    if not folder.is_dir():
        raise TargetError(
            f"“{entry.name}” ({entry.id}) is not where it was: another program moved it; nothing was changed.",
            "Look at the list again.",
        )
    return folder


def _again(drawer: Drawer, entry: Entry) -> Entry:
    """Return the entry as it is now, while the drawer is held."""
    now = read_entry(_folder(drawer, entry), entry.id, entry.place, entry.binned_on)
    if now.state is not State.GOOD:
        raise ArchiveError(f"“{now.name}” ({now.id}) cannot be changed.", now.trouble)
    return now
