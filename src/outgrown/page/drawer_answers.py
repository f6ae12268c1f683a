"""Drawer answers: the kept patterns, to find, open, compare, rename and put away."""

from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from .. import steps
from ..drawer import keeping
from ..drawer.entry import DRAWING, PHOTO, Entry, State
from ..drawer.listing import list_entries
from ..drawer.opening import open_entry
from ..drawer.place import Drawer, find_drawer
from ..drawer.searching import Wanted, find_entries
from ..names import LONGEST_NAME
from ..paper.words import choose_units
from . import making, wire
from .answers import Answers, get, post
from .desk import Desk, GoneError
from .reading import read_json, read_stamp

_PICTURES = {"drawing": (DRAWING, "image/png"), "photo": (PHOTO, "image/jpeg")}


class DrawerAnswers(Answers):
    """What the page's browser may ask of the drawer.

    Args:
        desk: where opened patterns are put.
        place: the drawer's folder; None for the person's.
    """

    def __init__(self, desk: Desk, place: Path | None = None) -> None:
        super().__init__(desk)
        self._place = place

    def routes(self) -> list[Route]:
        """Return everything that can be asked for."""
        return [
            get("/api/drawer", self.list_all),
            post("/api/drawer/compare", self.compare),
            get("/api/drawer/{ident}/pictures/{name}", self.picture),
            post("/api/drawer/{ident}/open", self.open),
            post("/api/drawer/{ident}/rename", self.rename),
            post("/api/drawer/{ident}/note", self.note),
            post("/api/drawer/{ident}/bin", self.put_away),
            post("/api/drawer/{ident}/restore", self.restore),
            post("/api/works/{key}/keep", self.keep),
        ]

    def _drawer(self) -> Drawer:
        return find_drawer(self._place)

    def _find(self, ident: str, *, is_binned: bool = False) -> Entry:
        for entry in list_entries(self._drawer(), is_binned=is_binned):
            if entry.id == ident:
                return entry
        raise GoneError("This pattern is not in the drawer.", "Look at the list again.")

    async def list_all(self, request: Request) -> Response:
        """Return the patterns that hold all words looked for, the newest first."""
        words = tuple(request.query_params.get("words", "")[:LONGEST_NAME].split())
        is_binned = "binned" in request.query_params

        def find() -> list[Entry]:
            return find_entries(list_entries(self._drawer(), is_binned=is_binned), Wanted(words))

        entries = await run_in_threadpool(find)
        return JSONResponse({"entries": [_describe(entry) for entry in entries]})

    async def picture(self, request: Request) -> Response:
        """Return a pattern's small drawing, or the small photo it was made from."""
        name = request.path_params["name"]
        if name not in _PICTURES:
            raise HTTPException(404, "There is no such picture.")
        file, media_type = _PICTURES[name]

        def read() -> bytes:
            for is_binned in (False, True):
                try:
                    entry = self._find(request.path_params["ident"], is_binned=is_binned)
                    return (self._drawer().folder / entry.place / file).read_bytes()
                except (GoneError, OSError):
                    continue
            raise GoneError("There is no such picture.", "Look at the list again.")

        return Response(await run_in_threadpool(read), media_type=media_type)

    async def open(self, request: Request) -> Response:
        """Put a kept pattern on the desk, to print, grow or lay."""

        def bring() -> dict[str, Any]:
            opened = open_entry(self._drawer(), self._find(request.path_params["ident"]))
            work = self.desk.new()
            work.opened, work.units = opened.pattern, choose_units(opened.pattern)
            making.hold(work, opened.pattern)
            return {"work": work.key}

        return JSONResponse(await run_in_threadpool(bring))

    async def rename(self, request: Request) -> Response:
        """Give a pattern another name, or say for whom it is."""
        said = await read_json(request)
        name, for_whom = str(said.get("name", ""))[:LONGEST_NAME], said.get("for_whom")

        def rename() -> Entry:
            entry = self._find(request.path_params["ident"])
            return keeping.rename(
                self._drawer(), entry, name, None if for_whom is None else str(for_whom)[:LONGEST_NAME]
            )

        return JSONResponse(_describe(await run_in_threadpool(rename)))

    async def note(self, request: Request) -> Response:
        """Write a pattern's notes in place of those there."""
        text = str((await read_json(request)).get("text", ""))

        def write() -> Entry:
            return keeping.note(self._drawer(), self._find(request.path_params["ident"]), text, is_instead=True)

        return JSONResponse(_describe(await run_in_threadpool(write)))

    async def put_away(self, request: Request) -> Response:
        """Put a pattern into the bin, from where it can be taken again."""
        ident = request.path_params["ident"]
        await run_in_threadpool(lambda: keeping.put_in_bin(self._drawer(), self._find(ident)))
        return JSONResponse({})

    async def restore(self, request: Request) -> Response:
        """Take a pattern out of the bin."""
        ident = request.path_params["ident"]
        await run_in_threadpool(lambda: keeping.take_from_bin(self._drawer(), self._find(ident, is_binned=True)))
        return JSONResponse({})

    async def keep(self, request: Request) -> Response:
        """Put the pattern made last into the drawer."""
        work = self.work_of(request)
        stamp = read_stamp((await read_json(request)).get("of"))

        def keep() -> keeping.Kept:
            with work.lock:
                pattern = work.made_pattern(stamp)
                content = steps.draw_pattern_files(pattern)["pattern.json"]
                check = making.draw_check(self.desk, work, "front") if "front" in work.photos else None
            return keeping.put_in(self._drawer(), keeping.prepare_pattern(content, check))

        kept = await run_in_threadpool(keep)
        return JSONResponse({**_describe(kept.entry), "is_new": kept.is_new})

    async def compare(self, request: Request) -> Response:
        """Return two kept patterns laid on one another, drawn and in numbers."""
        said = await read_json(request)

        def compare() -> dict[str, Any]:
            entries = [self._find(str(said.get(which, ""))) for which in ("first", "second")]
            patterns = [open_entry(self._drawer(), entry).pattern for entry in entries]
            names = tuple(", ".join(part for part in (e.name, e.for_whom, e.made_on) if part) for e in entries)
            units = choose_units(patterns[0])
            found = steps.compare(patterns[0], patterns[1], (names[0], names[1]))
            return wire.describe_difference(found, steps.draw_difference_picture(found, units), units)

        return JSONResponse(await run_in_threadpool(compare))


def _describe(entry: Entry) -> dict[str, Any]:
    """Return an entry for the page."""
    return {
        "id": entry.id,
        "name": entry.name,
        "for_whom": entry.for_whom,
        "garment": entry.garment,
        "made_on": entry.made_on,
        "kept_on": entry.kept_on,
        "notes": entry.notes,
        "can_open": entry.state is State.GOOD,
        "trouble": wire.say(entry.trouble),
        "binned_on": entry.binned_on,
    }
