"""Photo answers: photos taken, looked at, pointed into, shown and taken away again; the garments on the desk."""

import asyncio
import shutil
from io import BytesIO
from pathlib import Path
from typing import Any

from PIL import Image
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from .. import steps
from ..errors import OutgrownError
from ..photo import read_photo
from ..sample import find_sample_photo
from . import wire
from .answers import Answers, answer_work, get, post
from .desk import ROLES, Desk, GoneError
from .form import read_bar_mm
from .reading import read_json, read_stamp
from .receiving import check_declared, hear_out, plain_name, receive_photo
from .workshop import BusyError

_AT_ONCE = 4
"""Uploads taken side by side; others wait."""
_MOST_ARRIVING = 16
"""Uploads taken and waiting; more are told to come again."""
_PREVIEW_PX = 1600


class PhotoAnswers(Answers):
    """What the page's browser may ask of photos.

    Args:
        desk: garments being worked on.
    """

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._uploads = asyncio.Semaphore(_AT_ONCE)
        self._arriving = 0

    def routes(self) -> list[Route]:
        """Return everything that can be asked for."""
        return [
            post("/api/photos", self.take_photo),
            post("/api/sample", self.take_sample),
            get("/api/works", self.list_works),
            get("/api/works/{key}", self.status),
            post("/api/works/{key}/stop", self.stop),
            post("/api/works/{key}/again", self.again),
            get("/api/works/{key}/photos/{role}", self.preview),
            post("/api/works/{key}/photos/{role}/away", self.take_away),
            get("/api/works/{key}/seen/{role}", self.seen),
        ]

    async def take_photo(self, request: Request) -> Response:
        """Take a photo: a new garment's, or another of the garment named by `work`."""
        role = request.query_params.get("role", "front")
        if role not in ROLES:
            raise HTTPException(400, "This photo is of nothing known here.")
        key = request.query_params.get("work")
        check_declared(request)
        try:
            if self._arriving >= _MOST_ARRIVING:
                raise BusyError("Many photos are being sent at once.", "Wait a moment and send this one again.")
            self._arriving += 1
            try:
                async with self._uploads:
                    self.desk.workshop.check_room()
                    work = self.desk.find(key) if key else self.desk.new()
                    path = work.folder / f"{role}-{len(list(work.folder.iterdir()))}"
                    path = await receive_photo(request, path)
                    name = plain_name(request.query_params.get("name", ""), role)
                    await run_in_threadpool(self.desk.put, work, role, path, name)
            finally:
                self._arriving -= 1
        except OutgrownError:
            await hear_out(request)
            raise
        return answer_work(work)

    async def take_sample(self, request: Request) -> Response:
        """Start with the photo that comes with the program."""
        self.desk.workshop.check_room()
        work = self.desk.new()
        path = work.folder / "sample.jpg"
        await run_in_threadpool(shutil.copyfile, find_sample_photo(), path)
        await run_in_threadpool(self.desk.put, work, "front", path, "sample.jpg")
        return answer_work(work)

    async def list_works(self, request: Request) -> Response:
        """Return the garments on the desk, to go on with on this screen or another."""
        rows = []
        for work in self.desk.works():
            front = work.photos.get("front")
            if front is None and work.pattern is None:
                continue
            name = work.pattern.title if work.pattern is not None else front.name if front else ""
            rows.append({"work": work.key, "name": name, "has_photo": front is not None})
        return JSONResponse({"works": rows})

    async def take_away(self, request: Request) -> Response:
        """Do without a second photo after all."""
        work, role = self.work_of(request), request.path_params["role"]
        if role not in ROLES or role == "front":
            raise HTTPException(400, "The first photo stays. Begin with another garment instead.")
        await run_in_threadpool(self.desk.take_away, work, role)
        return answer_work(work)

    async def seen(self, request: Request) -> Response:
        """Return what was found in a photo, also where it could not be read as a garment."""
        work = self.work_of(request)
        role = request.path_params["role"]
        traced = await run_in_threadpool(self.desk.traced, work, role)
        if role == "cloth":
            traced = await run_in_threadpool(steps.pull_outline, traced, work.cloth_pulls)
        return JSONResponse(wire.describe_traced(traced, units=work.units))

    async def status(self, request: Request) -> Response:
        """Return how far each photo has come, and what was found in it."""
        work = self.work_of(request)
        photos: dict[str, Any] = {}
        for role, photo in work.photos.items():
            ticket = photo.ticket
            row: dict[str, Any] = {"name": photo.name, "size": photo.size_px}
            if ticket is not None:
                row |= wire.describe_ticket(ticket, is_cloth=role == "cloth", units=work.units)
            photos[role] = row
        stamps = {"stamp": work.stamp(), "photos_stamp": work.photos_stamp()}
        return JSONResponse({"work": work.key, "photos": photos, "opened": work.opened is not None, **stamps})

    async def stop(self, request: Request) -> Response:
        """Stop what is being done on a garment."""
        work = self.work_of(request)
        for photo in work.photos.values():
            if photo.ticket is not None:
                await run_in_threadpool(self.desk.workshop.stop, photo.ticket)
        return JSONResponse({})

    async def again(self, request: Request) -> Response:
        """Look at a photo again, with what the person pointed at."""
        work = self.work_of(request)
        said = await read_json(request)
        role = str(said.get("role", "front"))
        if role != "cloth":
            work.check_current(read_stamp(said.get("after")))
        photo = work.photos.get(role)
        if photo is None:
            raise GoneError("There is no such photo.", "Choose a photo first.")
        photo.said = _pointed_at(said)
        await run_in_threadpool(self.desk.trace, work, role)
        return answer_work(work)

    async def preview(self, request: Request) -> Response:
        """Return a photo, upright and small enough to show."""
        work = self.work_of(request)
        photo = work.photos.get(request.path_params["role"])
        if photo is None:
            raise GoneError("There is no such photo.", "Choose a photo first.")
        content = await run_in_threadpool(_small_copy, photo.path)
        return Response(content, media_type="image/jpeg")


def _pointed_at(said: dict[str, Any]) -> dict[str, Any]:
    """Return what a person pointed at, checked."""
    try:
        hints = [
            (str(side), [(float(x), float(y)) for x, y in points])
            for side, points in (said.get("hints") or [])
            if side in ("garment", "floor") and points
        ]
        at, corners = said.get("reference_at"), said.get("reference_corners")
        place = None if at is None else (float(at[0]), float(at[1]))
        frame = None if not corners else [(float(x), float(y)) for x, y in corners[:5]]
        none_at = [(float(x), float(y)) for x, y in said.get("no_references") or ()]
    except (TypeError, ValueError, IndexError) as error:
        raise HTTPException(400, "The places pointed at cannot be read. Load the page anew.") from error
    bar = str(said.get("bar") or "").strip()
    return {
        "hints": hints,
        "reference_at_px": place,
        "reference_corners_px": frame,
        "no_references_px": none_at,
        "bar_mm": read_bar_mm(bar) if bar else None,
    }


def _small_copy(path: Path) -> bytes:
    picture = Image.fromarray(read_photo(path).pixels)
    picture.thumbnail((_PREVIEW_PX, _PREVIEW_PX), Image.Resampling.LANCZOS, reducing_gap=2.0)
    buffer = BytesIO()
    picture.save(buffer, "JPEG", quality=88)
    return buffer.getvalue()
