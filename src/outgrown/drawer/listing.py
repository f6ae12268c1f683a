"""Listing: every pattern in the drawer, quickly.

A cache remembers what each folder held, beside the size, time and number of its files; a folder where one of them
differs is read again. The plain files are the truth: without a cache, or with one that is damaged, all are read.
"""

import contextlib
import json
import os
import re
from collections.abc import Iterator
from dataclasses import fields
from datetime import date
from pathlib import Path
from typing import Any

from .entry import HEADER, NOTES, PATTERN, Entry, State, digest, read_entry
from .place import Drawer
from .upgrading import NEWEST

_FORM = f"outgrown-list/1/{NEWEST}"
"""A cache of another form, or of a program that reads other schemas, is not used."""
_FIELDS = tuple(field.name for field in fields(Entry))
_FILES = (PATTERN, HEADER, NOTES)
_BINNED = re.compile(r"(\d{4}-\d\d-\d\d)_(.+)", re.DOTALL)


def list_entries(drawer: Drawer, *, is_binned: bool = False, use_cache: bool = True) -> list[Entry]:
    """Return what is in the drawer, or in its bin, the newest first; an empty list where there is no drawer.

    Args:
        drawer: where to look.
        is_binned: what lies in the bin instead.
        use_cache: False reads every folder.
    """
    known = _read_cache(drawer.cache) if use_cache else {}
    rows: dict[str, tuple[list[Any], Entry]] = {}
    stale = False
    for place, folder, ident, binned_on in _folders(drawer):
        mark = _mark(folder)
        row = known.get(place)
        if row is not None and row[0] == mark:
            rows[place] = row
            continue
        stale = True
        try:
            rows[place] = (mark, read_entry(Path(folder), ident, place, binned_on))
        except FileNotFoundError:  # moved away meanwhile
            continue
    if use_cache and (stale or len(rows) != len(known)):
        _write_cache(drawer, rows)
    entries = [entry for _, entry in rows.values() if bool(entry.binned_on) == is_binned]
    return sorted(entries, key=lambda entry: (entry.kept_on, entry.id), reverse=True)


def _folders(drawer: Drawer) -> Iterator[tuple[str, str, str, str]]:
    """Yield (place, folder, ID, date of the bin or empty) of every folder; those put there by hand have any name."""
    for parent in (drawer.patterns, drawer.bin):
        try:
            with os.scandir(parent) as found:
                items = [item for item in found if item.is_dir(follow_symlinks=False) and item.name[0] != "."]
        except (FileNotFoundError, NotADirectoryError, PermissionError):
            continue
        for item in items:
            ident, binned_on = item.name, ""
            if parent == drawer.bin:
                match = _BINNED.fullmatch(item.name)
                binned_on, ident = match.groups() if match else (_changed_on(item), item.name)
            yield f"{parent.name}/{item.name}", item.path, ident, binned_on


def _changed_on(item: os.DirEntry[str]) -> str:
    try:
        return date.fromtimestamp(item.stat().st_mtime).isoformat()
    except (OSError, ValueError, OverflowError):  # moved away meanwhile, or a time no calendar has
        return date.today().isoformat()


def _mark(folder: str) -> list[int]:
    """Return numbers that change when one of the folder's files does."""
    mark = []
    for name in _FILES:
        try:
            seen = os.stat(f"{folder}{os.sep}{name}")  # noqa: PTH116 (six thousand of them: Path takes three times as long)
        except OSError:
            mark.append(0)
        else:
            mark += (seen.st_mtime_ns, seen.st_size, seen.st_ino)
    return mark


def _read_cache(path: Path) -> dict[str, tuple[list[Any], Entry]]:
    """Return place -> (mark, entry), empty where the cache is missing, damaged or of another form."""
    try:
        head, _, body = path.read_bytes().partition(b"\n")
        if head.decode("ascii") != f"{_FORM} {digest(body)}":
            return {}
        rows = json.loads(body)
        return {place: (mark, _entry(values)) for place, mark, *values in rows}
    except (OSError, ValueError, TypeError):
        return {}


def _write_cache(drawer: Drawer, rows: dict[str, tuple[list[Any], Entry]]) -> None:
    """Remember the list; where that fails the next list only takes longer."""
    lines = [[place, mark, *(getattr(entry, name) for name in _FIELDS)] for place, (mark, entry) in rows.items()]
    body = json.dumps(lines, ensure_ascii=False).encode("utf-8", errors="replace")
    made = drawer.cache.with_name(f"{drawer.cache.name}.{os.getpid()}")
    try:
        made.write_bytes(f"{_FORM} {digest(body)}\n".encode("ascii") + body)
        made.replace(drawer.cache)
    except OSError:
        with contextlib.suppress(OSError):
            made.unlink(missing_ok=True)


def _entry(values: list[Any]) -> Entry:
    told = dict(zip(_FIELDS, values, strict=True))
    told["pieces"] = tuple(told["pieces"])
    told["state"] = State(told["state"])
    return Entry(**told)
