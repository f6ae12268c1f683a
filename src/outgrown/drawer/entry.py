"""Entry: what the drawer knows of one pattern, and the plain files it lies in.

    ID/pattern.json    the pattern, as it was kept, never altered
    ID/entry.json      its name in the drawer and what the list shows, schema `outgrown-drawer/1`
    ID/notes.txt       the person's notes, UTF-8; may be edited by hand
    ID/drawing.png     its pieces, small
    ID/photo.jpg       the check picture, small, where there was one

An ID is a date and six letters: no title ever becomes a path. `pattern.json` alone is enough: what `entry.json` says of
it is read from it again where the two do not belong together.
"""

import hashlib
import json
import re
import secrets
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import Any

from ..names import LONGEST_NAME
from .upgrading import NEWEST

PATTERN = "pattern.json"
HEADER = "entry.json"
NOTES = "notes.txt"
DRAWING = "drawing.png"
PHOTO = "photo.jpg"

SCHEMA = "outgrown-drawer"
VERSION = 1
PATTERN_SCHEMA = "outgrown-pattern"
MOST_BYTES = 50_000_000
"""Of a pattern.json."""
MOST_NOTES = 1_000_000
"""Of notes, in bytes."""
_LETTERS = "bcdfghjkmnpqrstvwxz23456789"
"""No vowels, so no words; nothing that looks like another, in either case."""
ID_FORM = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")


class State(StrEnum):
    """Whether the pattern can be opened."""

    GOOD = "good"
    NEWER = "newer"
    DAMAGED = "damaged"


@dataclass(frozen=True)
class Entry:
    """One pattern in the drawer, as the list shows it.

    Attributes:
        id: its folder's name, without the date of the bin.
        place: its folder, relative to the drawer, with `/`.
        name: in the drawer; can be changed.
        for_whom: for whom or which size; can be changed.
        garment: kind, e.g. `leggings`, or empty.
        made_on: ISO date in the pattern.
        kept_on: ISO date and time it came into the drawer.
        grown_cm: body height it was grown to [cm], or None.
        pieces: names of the pieces.
        error_mm: expected error along 95 % of the outline [mm], or None.
        photo: file name of the photo it was made from.
        notes: the person's.
        sha256: of pattern.json, in hex.
        state: whether it can be opened.
        trouble: what is wrong and what to do, or empty.
        binned_on: ISO date it was put into the bin, or empty.
    """

    id: str
    place: str
    name: str = ""
    for_whom: str = ""
    garment: str = ""
    made_on: str = ""
    kept_on: str = ""
    grown_cm: int | None = None
    pieces: tuple[str, ...] = ()
    error_mm: float | None = None
    photo: str = ""
    notes: str = ""
    sha256: str = ""
    state: State = State.GOOD
    trouble: str = ""
    binned_on: str = ""

    @property
    def sizes(self) -> tuple[int, ...]:
        """Body heights it is for [cm], as far as anybody said: in its name, for whom, or when it was grown."""
        grown = () if self.grown_cm is None else (self.grown_cm,)
        return tuple(sorted({*find_sizes(self.name, self.for_whom), *grown}))


_NEWER = "Kept by a newer outgrown; bring this one up to date to open it. The files are unharmed."
_KEPT_FACTS = ("name", "for_whom", "garment", "made_on", "kept_on", "grown_cm", "pieces", "error_mm", "photo", "sha256")


def make_id(kept_on: str) -> str:
    """Return a new ID for a pattern kept on the ISO date (and time) `kept_on`."""
    return f"{kept_on[:10]}-{''.join(secrets.choice(_LETTERS) for _ in range(6))}"


def clean_words(text: str, longest: int = LONGEST_NAME) -> str:
    """Return `text` on one line, without what a terminal or a file system could stumble over."""
    if text.isascii() and text.isprintable() and len(text) <= longest:
        return " ".join(text.split())
    plain = "".join(
        " " if unicodedata.category(c) in ("Cc", "Zl", "Zp") else c
        for c in unicodedata.normalize("NFC", text)
        if unicodedata.category(c) != "Cs" and c not in _TURNS_TEXT
    )
    plain = " ".join(plain.split())
    return plain if len(plain) <= longest else plain[: longest - 1].rstrip() + "…"


_TURNS_TEXT = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff"
"""They turn the direction of all text that follows."""


def digest(content: bytes) -> str:
    """Return the SHA-256 of `content` in hex."""
    return hashlib.sha256(content).hexdigest()


def facts_of(content: bytes) -> dict[str, Any]:
    """Return what the list shows of the pattern in `content`, as fields of `Entry`; never raises."""
    try:
        document = json.loads(content)
        schema, _, version = str(document["schema"]).partition("/")
        if schema != PATTERN_SCHEMA or not version.isdecimal():
            raise ValueError
    except (ValueError, KeyError, TypeError, RecursionError):
        return _damaged("its pattern.json is no pattern any more")
    facts: dict[str, Any] = {"sha256": digest(content)}
    if int(version) > NEWEST:
        facts |= {"state": State.NEWER, "trouble": _NEWER}
    try:
        return facts | _told(document)
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError):
        return facts if int(version) > NEWEST else _damaged("a part of its pattern.json is missing or wrong")


def _told(document: Mapping[str, Any]) -> dict[str, Any]:
    choices, origin = document["choices"], document["provenance"]
    taken = origin.get("taken") or {}
    grown = (choices.get("grown") or {}).get("height_now_mm")
    return {
        "name": clean_words(str(document["title"])),
        "for_whom": clean_words(str(document["for_whom"])),
        "garment": clean_words(str(taken.get("kind") or choices.get("kind") or "")),
        "made_on": clean_words(str(document["made_on"])),
        "grown_cm": round(float(grown) / 10.0) if grown else None,
        "pieces": tuple(clean_words(str(piece["name"])) for piece in document["pieces"]),
        "error_mm": round(float(document["expected_error_mm"]["p95"]), 2),
        "photo": clean_words(str(origin.get("photo", ""))),
    }


_HEIGHT = re.compile(r"(?<![\d.,])\d{2,3}(?![\d.,]*\d|\s*(?:%|mm?\b|months?\b|y\b|years?\b))", re.IGNORECASE)


def find_sizes(*texts: str) -> tuple[int, ...]:
    """Return the body heights in `texts`, in cm: numbers from 44 to 210, e.g. `110 cm` or `104/110`."""
    numbers = (int(n) for text in texts for n in _HEIGHT.findall(text))
    return tuple(n for n in numbers if 44 <= n <= 210)


def _damaged(what: str) -> dict[str, Any]:
    return {
        "state": State.DAMAGED,
        "trouble": f"Damaged: {what}. Bring it in again from a copy (outgrown drawer unpack), or put it into the bin.",
    }


def write_header(entry: Entry, pattern_bytes: int, pattern_schema: str) -> bytes:
    """Return `entry.json` of an entry whose pattern.json is `pattern_bytes` long."""
    document = {
        "schema": f"{SCHEMA}/{VERSION}",
        "pattern_schema": pattern_schema,
        "pattern_bytes": pattern_bytes,
        **{name: getattr(entry, name) for name in _KEPT_FACTS},
    }
    return (json.dumps(document, ensure_ascii=False, indent=1) + "\n").encode("utf-8")


def read_entry(folder: Path, ident: str, place: str, binned_on: str = "") -> Entry:
    """Return the entry `ident` in `folder`; what is damaged or newer is said in it, never raised.

    Raises:
        FileNotFoundError: the folder is gone.
    """
    known = Entry(id=clean_words(ident), place=place, binned_on=binned_on)
    header, trouble = _read_header(folder / HEADER)
    notes, notes_trouble = _read_notes(folder / NOTES)
    is_newer = trouble == _NEWER
    facts: dict[str, Any]
    try:
        size = (folder / PATTERN).stat().st_size
        if header and header["pattern_bytes"] == size and header["pattern_version"] <= NEWEST:
            facts = {name: header[name] for name in _KEPT_FACTS}
        elif size > MOST_BYTES:
            facts = _damaged("its pattern.json is too large")
        else:
            facts = facts_of((folder / PATTERN).read_bytes())
            facts |= {name: header[name] for name in ("name", "for_whom", "kept_on") if header}
            if facts.get("state") is State.DAMAGED and header:
                facts |= {name: header[name] for name in _KEPT_FACTS}
    except FileNotFoundError:
        if not folder.is_dir():
            raise
        facts = _damaged("its pattern.json is missing")
        facts |= {name: header[name] for name in _KEPT_FACTS} if header else {}
    except OSError as error:
        facts = _damaged(f"its pattern.json cannot be read ({(error.strerror or 'it failed').lower()})")
    if is_newer and facts.get("state", State.GOOD) is State.GOOD:
        facts |= {"state": State.NEWER, "trouble": _NEWER}
    elif facts.get("state", State.GOOD) is State.GOOD:
        facts["trouble"] = " ".join(words for words in (trouble, notes_trouble) if words)
    facts["name"] = facts.get("name") or "(no name)"
    return replace(known, notes=notes, **facts)


def _read_header(path: Path) -> tuple[dict[str, Any] | None, str]:
    """Return the header with its lists as tuples, or None and why."""
    try:
        with path.open("rb") as file:
            document = json.loads(file.read(MOST_NOTES))
        schema, _, version = str(document["schema"]).partition("/")
        if schema != SCHEMA or not version.isdecimal():
            raise ValueError
        if int(version) > VERSION:
            return None, _NEWER
        header = {name: document[name] for name in _KEPT_FACTS}
        for name in ("name", "for_whom", "garment", "made_on", "kept_on", "photo", "sha256"):
            header[name] = clean_words(str(header[name]))
        header["grown_cm"] = None if header["grown_cm"] is None else int(header["grown_cm"])
        header["pieces"] = tuple(clean_words(str(p)) for p in header["pieces"])
        header["error_mm"] = None if header["error_mm"] is None else float(header["error_mm"])
        header["pattern_bytes"] = int(document["pattern_bytes"])
        header["pattern_version"] = int(str(document["pattern_schema"]).partition("/")[2])
    except FileNotFoundError:
        return None, ""
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None, (
            "Its entry.json is damaged, so it has the name written in the pattern; “outgrown drawer rename” mends it."
        )
    return header, ""


def _read_notes(path: Path) -> tuple[str, str]:
    try:
        with path.open("rb") as file:
            content = file.read(MOST_NOTES + 1)
    except FileNotFoundError:
        return "", ""
    except OSError as error:
        return "", f"Its notes cannot be read ({(error.strerror or 'it failed').lower()})."
    text = content[:MOST_NOTES].decode("utf-8", errors="replace").removeprefix("\ufeff").replace("\r\n", "\n").strip()
    return text, "Its notes.txt is not UTF-8 text; some letters are lost." if "\ufffd" in text else ""
