"""Desk: the garments being worked on. Photos lie on disk; what was made of them is kept as long as there is room."""

import hashlib
import json
import secrets
import shutil
import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ..drawer.lens_shelf import list_lenses
from ..errors import OutgrownError
from ..outline.pulling import Pull
from ..photo import read_size_px
from ..pieces.piece import Pattern
from ..steps import Traced
from ..units import Units
from .workshop import ENDED, State, Ticket, Workshop

ROLES = ("front", "back", "floor", "cloth", "cloth-floor")
"""What a photo shows: the garment (its fronts out), its backs out, the empty floor, a leftover of cloth, its floor."""
_FLOOR_OF = {"front": "floor", "cloth": "cloth-floor"}
"""The photo that may help to tell what lies in another from the floor."""
_LAID_IN = {floor: role for role, floor in _FLOOR_OF.items()}
MOST_WORKS = 24
"""Garments on the desk; the one not touched for longest makes room."""
MOST_TRACED = 8
"""Traced photos kept in memory, some 60 MB each at 12 megapixels; others are traced again when needed."""


class GoneError(OutgrownError, LookupError):
    """What was asked for is not on the desk."""


class NotReadyError(OutgrownError, RuntimeError):
    """What was asked for is still being worked on."""


class StaleError(OutgrownError, RuntimeError):
    """What is asked rests on a state that has changed since, perhaps in another window."""


@dataclass(eq=False)
class PhotoOnDesk:
    """A photo as it was given, and what is made of it.

    Attributes:
        path: of the file on disk.
        name: as the person knows it.
        ticket: the task of tracing it, or None.
        said: what the person pointed at: `hints`, `reference_at_px`, `reference_corners_px`, `no_references_px`,
            `bar_mm`.
        size_px: upright width and height, or None where it is no photo [px].
    """

    path: Path
    name: str
    ticket: Ticket | None = None
    said: dict[str, Any] = field(default_factory=dict)
    size_px: tuple[int, int] | None = None


@dataclass(eq=False)
class Work:
    """One garment on the desk.

    Attributes:
        key: random, known to the browser only.
        folder: where its photos lie.
        photos: by role.
        opened: from the drawer, where there is no photo.
        pattern: last made.
        laying: the task of laying it on cloth, or None.
        files: drawn of the last pattern, by name.
        said: answers, pulls and corners that it was made with, as the browser sent them.
        cloth_pulls: where the outline of the cloth in a photo was drawn, for the lay.
        sheets: photos of the lens sheet, (path, name); such a work has no garment.
        learning: the task of learning a lens from them, or None.
        made_of: the stamp of what the pattern was made with.
        units: that the person is told in, as chosen last or as the opened pattern was made.
        lock: held while something is made of it.
    """

    key: str
    folder: Path
    photos: dict[str, PhotoOnDesk] = field(default_factory=dict)
    opened: Pattern | None = None
    pattern: Pattern | None = None
    laying: Ticket | None = None
    files: dict[str, bytes] = field(default_factory=dict)
    said: dict[str, Any] = field(default_factory=dict)
    cloth_pulls: tuple[Pull, ...] = ()
    made_of: str = ""
    sheets: list[tuple[str, str]] = field(default_factory=list)
    learning: Ticket | None = None
    units: Units = Units.MM
    lock: threading.Lock = field(default_factory=threading.Lock)

    def photos_stamp(self) -> str:
        """Return a short text that changes with the photos that the pattern is made of, and what was said of them."""
        return _shorten(
            {
                role: [photo.path.name, {name: value for name, value in photo.said.items() if value}]
                for role, photo in self.photos.items()
                if not role.startswith("cloth")
            }
        )

    def stamp(self) -> str:
        """Return a short text that changes with the photos and the answers; the same ones give the same text."""
        return _shorten([self.photos_stamp(), self.said])

    def check_current(self, stamp: str | None) -> None:
        """Refuse what rests on another state than this; None rests on none.

        Raises:
            StaleError: photos or answers are others by now.
        """
        if stamp is not None and stamp != self.stamp():
            raise _stale()

    def made_pattern(self, stamp: str | None) -> Pattern:
        """Return the pattern made last, where it is the one wanted; None wants that one.

        Raises:
            StaleError: the pattern is another by now, or is about to be.
            NotReadyError: there is none yet.
        """
        if stamp is not None and not stamp == self.made_of == self.stamp():
            raise _stale()
        if self.pattern is None:
            raise NotReadyError("There is no pattern yet.", "Wait until it is drawn.")
        return self.pattern


def _stale() -> StaleError:
    return StaleError(
        "This was changed meanwhile, perhaps in another window.", "Look at it as it is now, then do it again."
    )


def _shorten(told: Any) -> str:
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()[:16]


def _digest(photo: PhotoOnDesk, floor: PhotoOnDesk | None) -> str:
    """Return what a trace depends on, the photos' bytes and what was said of them, as a short text."""
    told = hashlib.sha256(repr((sorted(photo.said.items()), photo.name)).encode())
    told.update(repr(list_lenses()).encode())  # a lens learned since then measures otherwise
    for seen in (photo, floor):
        told.update(b"" if seen is None else seen.path.read_bytes())
    return told.hexdigest()


class Desk:
    """All the garments being worked on, and the workshop.

    Args:
        folder: private to the program; photos are kept in it.
        workshop: does the long work.
    """

    def __init__(self, folder: Path, workshop: Workshop) -> None:
        self.workshop = workshop
        self._folder = folder
        self._works: OrderedDict[str, Work] = OrderedDict()
        self._traced: OrderedDict[str, Ticket] = OrderedDict()
        self._lock = threading.Lock()

    def new(self) -> Work:
        """Return a new work; the one not touched for longest may make room for it."""
        key = secrets.token_urlsafe(12)
        folder = self._folder / secrets.token_hex(8)
        folder.mkdir(mode=0o700)
        work = Work(key, folder)
        with self._lock:
            self._works[key] = work
            old = [self._works.popitem(last=False)[1] for _ in range(len(self._works) - MOST_WORKS)]
        for gone in old:
            self._clear(gone)
        return work

    def find(self, key: str) -> Work:
        """Return a work.

        Raises:
            GoneError: there is none of that key.
        """
        with self._lock:
            work = self._works.get(key)
            if work is not None:
                self._works.move_to_end(key)
        if work is None:
            raise GoneError(
                "This garment is no longer on the desk.", "Choose its photo again, or open it in the drawer."
            )
        return work

    def put(self, work: Work, role: str, path: Path, name: str) -> None:
        """Put a photo that lies in the work's folder on the desk and trace it.

        Raises:
            BusyError: too much is waiting; the photo is kept.
        """
        before = work.photos.get(role)
        if before is not None and before.ticket is not None:
            self.workshop.stop(before.ticket)
        work.photos[role] = PhotoOnDesk(path, name, size_px=read_size_px(path))
        if role == "cloth":
            work.cloth_pulls = ()
            work.photos.pop("cloth-floor", None)  # it was of the cloth before
        self.trace(work, _LAID_IN.get(role, role))

    def take_away(self, work: Work, role: str) -> None:
        """Take a second photo, of the backs, the floor or a cloth, off the desk again."""
        photo = work.photos.pop(role, None)
        if photo is not None and photo.ticket is not None:
            self.workshop.stop(photo.ticket)
        if _LAID_IN.get(role) in work.photos:
            self.trace(work, _LAID_IN[role])

    def works(self) -> list[Work]:
        """Return the garments on the desk, the one touched last first."""
        with self._lock:
            return list(reversed(self._works.values()))

    def trace(self, work: Work, role: str) -> Ticket:
        """Trace a photo; one that was traced before with all the same is known still.

        Raises:
            GoneError: there is no such photo.
            BusyError: too much is waiting.
        """
        photo = work.photos.get(role)
        if photo is None:
            raise GoneError("There is no such photo.", "Choose a photo first.")
        if photo.ticket is not None:
            self.workshop.stop(photo.ticket)
        floor = work.photos.get(_FLOOR_OF.get(role, ""))
        values = {**photo.said, "path": str(photo.path), "name": photo.name}
        if floor is not None:
            values["floor"], values["floor_name"] = str(floor.path), floor.name
        known = _digest(photo, floor)
        with self._lock:
            ticket = self._traced.get(known)
        if ticket is None or ticket.state is not State.DONE or ticket.result is None:
            ticket = self.workshop.give("trace", values)
        photo.ticket = ticket
        with self._lock:
            self._traced[known] = ticket
            self._traced.move_to_end(known)
            while len(self._traced) > MOST_TRACED:
                _, old = self._traced.popitem(last=False)
                old.result = None
        return ticket

    def traced(self, work: Work, role: str, wait_s: float = 0.0) -> Traced:
        """Return what was found in a photo.

        Raises:
            GoneError: there is no such photo.
            NotReadyError: it is still being looked at, or was not understood.
        """
        photo = work.photos.get(role)
        if photo is None or photo.ticket is None:
            raise GoneError("There is no such photo.", "Choose a photo first.")
        ticket = photo.ticket
        if ticket.state is State.DONE and ticket.result is None:
            ticket = self.trace(work, role)  # it had made room for others
        if ticket.state not in ENDED and not ticket.ended.wait(wait_s):
            raise NotReadyError("The photo is still being looked at.", "Wait a moment.")
        if ticket.state is not State.DONE:
            raise NotReadyError(ticket.problem, ticket.advice)
        found: Traced = ticket.result
        return found

    def _clear(self, work: Work) -> None:
        for photo in work.photos.values():
            if photo.ticket is not None:
                self.workshop.stop(photo.ticket)
        for ticket in (work.laying, work.learning):
            if ticket is not None:
                self.workshop.stop(ticket)
        shutil.rmtree(work.folder, ignore_errors=True)
