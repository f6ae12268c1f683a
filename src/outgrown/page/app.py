"""App: what the page's browser may ask for. Thin over desk, form and wire; no path comes from the client."""

import asyncio
import contextlib
import shutil
import tempfile
from collections.abc import AsyncIterator, Awaitable, Callable
from functools import partial
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from typing import Any

import anyio
from PIL import Image
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from .. import steps
from ..errors import OutgrownError
from ..photo import read_photo
from ..sample import find_sample_photo
from . import making, wire
from .desk import ROLES, Desk, GoneError, NotReadyError, Work
from .drawer_answers import DrawerAnswers
from .form import describe_form, read_drawing, read_settings
from .guard import COOKIE, Doorkeeper, Guard
from .lay_answers import LayAnswers
from .reading import read_json
from .workshop import ENDED, BusyError, Workshop

MOST_PHOTO_BYTES = 80_000_000
"""A 108-megapixel JPEG has some 40 MB."""
_AT_ONCE = 4
"""Uploads taken side by side; others wait."""
_MOST_ARRIVING = 16
"""Uploads taken and waiting; more are told to come again."""
_PREVIEW_PX = 1600
_CHUNK = 1 << 20
_NAME = 80
_FIRST_BYTES = (
    (b"\xff\xd8\xff", ".jpg"),
    (b"\x89PNG\r\n\x1a\n", ".png"),
    (b"RIFF", ".webp"),
    (b"II*\x00", ".tif"),
    (b"MM\x00*", ".tif"),
)
_TYPES = {
    "pattern.pdf": "application/pdf",
    "pattern.svg": "image/svg+xml",
    "pattern.json": "application/json",
    "check.png": "image/png",
    "check-back.png": "image/png",
}
_MEDIA = {"pdf": "application/pdf", "svg": "image/svg+xml", "dxf": "image/vnd.dxf"}
Answer = Callable[[Request], Awaitable[Response]]


class Page:
    """The page's answers.

    Args:
        desk: garments being worked on.
        doorkeeper: who may come in.
        address: where a phone finds the page, or empty where it cannot.
        drawer: folder of the kept patterns; None for the person's.
    """

    def __init__(self, desk: Desk, doorkeeper: Doorkeeper, address: str = "", drawer: Path | None = None) -> None:
        self._drawer = DrawerAnswers(desk, drawer)
        self._lay = LayAnswers(desk)
        self.desk = desk
        self.doorkeeper = doorkeeper
        self.address = address
        self._uploads = asyncio.Semaphore(_AT_ONCE)
        self._arriving = 0

    def routes(self) -> list[Route | Mount]:
        """Return everything that can be asked for."""
        return [
            Route("/", self.front, methods=["GET"]),
            Route("/in/{code}", self.come_in, methods=["GET"]),
            Route("/api/form", self.form, methods=["GET"]),
            Route("/api/phone", self.phone, methods=["GET"]),
            Route("/api/photos", self.take_photo, methods=["POST"]),
            Route("/api/sample", self.take_sample, methods=["POST"]),
            Route("/api/works", self.list_works, methods=["GET"]),
            Route("/api/works/{key}", self.status, methods=["GET"]),
            Route("/api/works/{key}/stop", self.stop, methods=["POST"]),
            Route("/api/works/{key}/again", self.again, methods=["POST"]),
            Route("/api/works/{key}/photos/{role}", self.preview, methods=["GET"]),
            Route("/api/works/{key}/photos/{role}/away", self.take_away, methods=["POST"]),
            Route("/api/works/{key}/seen/{role}", self.seen, methods=["GET"]),
            Route("/api/works/{key}/pattern", self.make, methods=["POST"]),
            Route("/api/works/{key}/files/{name}", self.file, methods=["GET"]),
            Route("/api/works/{key}/paper", self.paper, methods=["GET"]),
            Route("/api/works/{key}/pages", self.pages, methods=["GET"]),
            *self._drawer.routes(),
            *self._lay.routes(),
            Mount("/static", StaticFiles(packages=[("outgrown.page", "static")])),
            Mount("/fonts", StaticFiles(packages=[("outgrown.paper", "fonts")])),
        ]

    async def front(self, request: Request) -> Response:
        """Return the page itself."""
        text = (files("outgrown.page") / "static" / "index.html").read_text(encoding="utf-8")
        return Response(text, media_type="text/html")

    async def come_in(self, request: Request) -> Response:
        """Let a phone in with its code, once."""
        guest = self.doorkeeper.let_in(request.path_params["code"])
        if guest is None:
            raise HTTPException(403, "This code was used already or is too old. Let the computer show a new one.")
        answer = RedirectResponse("/", 303)
        answer.set_cookie(COOKIE, guest, httponly=True, samesite="strict", max_age=12 * 3600)
        return answer

    async def phone(self, request: Request) -> Response:
        """Return a fresh code for a phone, as a picture; only on this computer."""
        client = request.client.host if request.client else ""
        if not self.address or client not in ("127.0.0.1", "::1"):
            return JSONResponse({"address": "", "qr": ""})
        import segno

        link = f"{self.address}/in/{self.doorkeeper.make_code()}"
        picture = segno.make(link, error="m").svg_inline(scale=6, dark="#000", light="#fff", border=4)
        return JSONResponse({"address": link, "qr": picture})

    async def form(self, request: Request) -> Response:
        """Return what can be decided."""
        return JSONResponse({**describe_form(), "most_photo_bytes": MOST_PHOTO_BYTES, "too_large": _TOO_LARGE})

    async def take_photo(self, request: Request) -> Response:
        """Take a photo: a new garment's, or another of the garment named by `work`."""
        role = request.query_params.get("role", "front")
        if role not in ROLES:
            raise HTTPException(400, "This photo is of nothing known here.")
        key = request.query_params.get("work")
        said = _declared(request)
        if said is not None and said > MOST_PHOTO_BYTES:
            raise HTTPException(413, _TOO_LARGE)
        try:
            if self._arriving >= _MOST_ARRIVING:
                raise BusyError("Many photos are being sent at once.", "Wait a moment and send this one again.")
            self._arriving += 1
            try:
                async with self._uploads:
                    self.desk.workshop.check_room()
                    work = self.desk.find(key) if key else self.desk.new()
                    path = work.folder / f"{role}-{len(list(work.folder.iterdir()))}"
                    path = await self._receive(request, path)
                    name = _plain_name(request.query_params.get("name", ""), role)
                    await run_in_threadpool(self.desk.put, work, role, path, name)
            finally:
                self._arriving -= 1
        except OutgrownError:
            await _hear_out(request)
            raise
        return JSONResponse({"work": work.key})

    async def _receive(self, request: Request, path: Path) -> Path:
        """Write the request's body to disk, counting; return the path with the ending its first bytes ask for."""
        got, first = 0, b""
        try:
            async with await anyio.open_file(path, "wb") as file:
                async for chunk in request.stream():
                    got += len(chunk)
                    if got > MOST_PHOTO_BYTES:
                        raise HTTPException(413, _TOO_LARGE)
                    if len(first) < 16:
                        first += chunk[:16]
                        if len(first) >= 16:
                            _ending(first)
                    await file.write(chunk)
            ending = _ending(first)
        except BaseException:
            with contextlib.suppress(OSError):
                path.unlink()
            raise
        return path.rename(path.with_suffix(ending))

    async def take_sample(self, request: Request) -> Response:
        """Start with the photo that comes with the program."""
        self.desk.workshop.check_room()
        work = self.desk.new()
        path = work.folder / "sample.jpg"
        await run_in_threadpool(shutil.copyfile, find_sample_photo(), path)
        await run_in_threadpool(self.desk.put, work, "front", path, "sample.jpg")
        return JSONResponse({"work": work.key})

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
        work, role = self.desk.find(request.path_params["key"]), request.path_params["role"]
        if role not in ROLES or role == "front":
            raise HTTPException(400, "The first photo stays. Begin with another garment instead.")
        await run_in_threadpool(self.desk.take_away, work, role)
        return JSONResponse({"work": work.key})

    async def seen(self, request: Request) -> Response:
        """Return what was found in a photo, also where it could not be read as a garment."""
        work = self.desk.find(request.path_params["key"])
        traced = await run_in_threadpool(self.desk.traced, work, request.path_params["role"])
        return JSONResponse(wire.describe_traced(traced))

    async def status(self, request: Request) -> Response:
        """Return how far each photo has come, and what was found in it."""
        work = self.desk.find(request.path_params["key"])
        photos: dict[str, Any] = {}
        for role, photo in work.photos.items():
            ticket = photo.ticket
            row: dict[str, Any] = {"name": photo.name, "size": photo.size_px}
            if ticket is not None:
                row |= {
                    "state": str(ticket.state),
                    "doing": ticket.doing,
                    "share": round(ticket.share, 3),
                    "problem": wire.say(ticket.problem),
                    "advice": wire.say(ticket.advice),
                    "ended": ticket.state in ENDED,
                }
            photos[role] = row
        return JSONResponse({"work": work.key, "photos": photos, "opened": work.opened is not None})

    async def stop(self, request: Request) -> Response:
        """Stop what is being done on a garment."""
        work = self.desk.find(request.path_params["key"])
        for photo in work.photos.values():
            if photo.ticket is not None:
                await run_in_threadpool(self.desk.workshop.stop, photo.ticket)
        return JSONResponse({})

    async def again(self, request: Request) -> Response:
        """Look at a photo again, with what the person pointed at."""
        work = self.desk.find(request.path_params["key"])
        said = await read_json(request)
        role = str(said.get("role", "front"))
        photo = work.photos.get(role)
        if photo is None:
            raise GoneError("There is no such photo.", "Choose a photo first.")
        photo.said = _pointed_at(said)
        await run_in_threadpool(self.desk.trace, work, role)
        return JSONResponse({"work": work.key})

    async def preview(self, request: Request) -> Response:
        """Return a photo, upright and small enough to show."""
        work = self.desk.find(request.path_params["key"])
        photo = work.photos.get(request.path_params["role"])
        if photo is None:
            raise GoneError("There is no such photo.", "Choose a photo first.")
        content = await run_in_threadpool(_small_copy, photo.path)
        return Response(content, media_type="image/jpeg")

    async def make(self, request: Request) -> Response:
        """Make the pattern with the answers given, and return it."""
        work = self.desk.find(request.path_params["key"])
        said = await read_json(request)

        def make() -> dict[str, Any]:
            with work.lock:
                return making.make_pattern(self.desk, work, read_settings(said))

        return JSONResponse(await run_in_threadpool(make))

    async def file(self, request: Request) -> Response:
        """Return a file of the pattern made last."""
        work, name = self.desk.find(request.path_params["key"]), request.path_params["name"]
        if name not in _TYPES:
            raise HTTPException(404, "There is no such file.")
        content = await run_in_threadpool(partial(self._draw, work, name))
        how = "attachment" if "save" in request.query_params else "inline"
        return Response(content, media_type=_TYPES[name], headers={"Content-Disposition": f'{how}; filename="{name}"'})

    def _draw(self, work: Work, name: str) -> bytes:
        with work.lock:
            if work.pattern is None:
                raise NotReadyError("There is no pattern yet.", "Wait until it is drawn.")
            if name not in work.files:
                if name.startswith("check"):
                    role = "front" if name == "check.png" else "back"
                    work.files[name] = steps.draw_check(self.desk.traced(work, role), work.pattern.title)
                else:
                    work.files.update(steps.draw_pattern_files(work.pattern))
            return work.files[name]

    async def paper(self, request: Request) -> Response:
        """Return the pattern drawn in another form: a large sheet, a projector page, DXF ..."""
        work = self.desk.find(request.path_params["key"])
        drawing = read_drawing(request.query_params)
        if work.pattern is None:
            raise NotReadyError("There is no pattern yet.", "Wait until it is drawn.")
        content = await run_in_threadpool(steps.draw_paper, work.pattern, drawing)
        name = f"pattern-{drawing.form}.{drawing.form.suffix}"
        how = {"Content-Disposition": f'attachment; filename="{name}"'}
        return Response(content, media_type=_MEDIA.get(drawing.form.suffix, "application/octet-stream"), headers=how)

    async def pages(self, request: Request) -> Response:
        """Return the printed pages as drawings."""
        work = self.desk.find(request.path_params["key"])
        if work.pattern is None:
            raise NotReadyError("There is no pattern yet.", "Wait until it is drawn.")
        pages = await run_in_threadpool(steps.draw_pattern_pages, work.pattern)
        return JSONResponse({"pages": list(pages)})


_TOO_LARGE = f"This file is larger than {MOST_PHOTO_BYTES // 1_000_000} MB. Send the photo as the phone took it."


def make_app(
    doorkeeper: Doorkeeper,
    *,
    address: str = "",
    workshop: Workshop | None = None,
    folder: Path | None = None,
    drawer: Path | None = None,
) -> Starlette:
    """Return the page as an ASGI application.

    Args:
        doorkeeper: who may come in.
        address: where a phone finds the page, or empty.
        workshop: does the long work; None for one of its own.
        folder: for photos; None for a private one that is removed at the end.
        drawer: folder of the kept patterns; None for the person's.
    """
    temporary = None if folder else tempfile.TemporaryDirectory(prefix="outgrown-page-")
    place = folder or Path(temporary.name if temporary else "")
    shop = workshop or Workshop()
    page = Page(Desk(place, shop), doorkeeper, address, drawer)

    @contextlib.asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        yield
        shop.close()
        if temporary is not None:
            temporary.cleanup()

    app = Starlette(
        routes=page.routes(),
        lifespan=lifespan,
        middleware=[Middleware(Guard, doorkeeper=doorkeeper)],
        exception_handlers={
            OutgrownError: _refuse,
            HTTPException: _refuse_plainly,
        },
    )
    app.state.page = page
    return app


async def _refuse(request: Request, error: Exception) -> Response:
    status = 503 if isinstance(error, BusyError) else 404 if isinstance(error, GoneError) else 422
    if isinstance(error, NotReadyError):
        status = 409
    problem, advice = (error.problem, error.advice) if isinstance(error, OutgrownError) else (str(error), "")
    return JSONResponse({"problem": wire.say(problem), "advice": wire.say(advice)}, status)


async def _refuse_plainly(request: Request, error: Exception) -> Response:
    status, words = (error.status_code, error.detail) if isinstance(error, HTTPException) else (400, str(error))
    return JSONResponse({"problem": words, "advice": ""}, status)


async def _hear_out(request: Request) -> None:
    """Read what is still being sent and forget it: a browser hears an answer only after it has said everything."""
    heard = 0
    with contextlib.suppress(RuntimeError):  # the body was read already
        async for chunk in request.stream():
            heard += len(chunk)
            if heard > MOST_PHOTO_BYTES:
                return


def _declared(request: Request) -> int | None:
    length = request.headers.get("content-length", "")
    return int(length) if length.isdecimal() else None


def _ending(first: bytes) -> str:
    """Return the ending of a photo's file by its first bytes, before anything of it is decoded."""
    for start, ending in _FIRST_BYTES:
        if first.startswith(start):
            return ending
    if first[4:8] == b"ftyp":
        return ".heic"
    raise HTTPException(415, "This is not a photo that can be read. Use the JPEG, PNG or HEIC file from the phone.")


def _plain_name(name: str, role: str) -> str:
    """Return the name a person gave a photo, for messages only."""
    kept = "".join(c for c in name.replace("\\", "/").rpartition("/")[2] if c.isprintable())
    return kept[:_NAME] or f"{role} photo"


def _pointed_at(said: dict[str, Any]) -> dict[str, Any]:
    """Return what a person pointed at, checked."""
    try:
        hints = [
            (str(side), [(float(x), float(y)) for x, y in points])
            for side, points in (said.get("hints") or [])
            if side in ("garment", "floor") and points
        ]
        at = said.get("reference_at")
        place = None if at is None else (float(at[0]), float(at[1]))
        bar = said.get("bar_mm")
        return {"hints": hints, "reference_at_px": place, "bar_mm": None if not bar else float(bar)}
    except (TypeError, ValueError, IndexError) as error:
        raise HTTPException(400, "The places pointed at cannot be read. Load the page anew.") from error


def _small_copy(path: Path) -> bytes:
    picture = Image.fromarray(read_photo(path).pixels)
    picture.thumbnail((_PREVIEW_PX, _PREVIEW_PX), Image.Resampling.LANCZOS, reducing_gap=2.0)
    buffer = BytesIO()
    picture.save(buffer, "JPEG", quality=88)
    return buffer.getvalue()
