"""Lens answers: targets and lens sheet to print, and a phone's lens learned from photos of the sheet."""

import asyncio
from functools import partial

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from .. import steps
from ..errors import OutgrownError
from . import wire
from .answers import Answers, get, post
from .desk import Desk, GoneError
from .reading import answer_file
from .receiving import check_declared, hear_out, plain_name, receive_photo
from .workshop import BusyError, State

MOST_PHOTOS = 12
"""Six are asked for; more make the learning slow and the lens no better known."""
_SHEETS = {"targets.pdf": False, "lens-sheet.pdf": True}
_AT_ONCE = 2


class LensAnswers(Answers):
    """What the page's browser may ask of a lens.

    Args:
        desk: where photos of the sheet are put while the lens is learned.
    """

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._uploads = asyncio.Semaphore(_AT_ONCE)

    def routes(self) -> list[Route]:
        """Return everything that can be asked for."""
        return [
            get("/api/lens/sheets/{name}", self.sheet),
            post("/api/lens", self.take_photo),
            get("/api/lens/{key}", self.status),
            post("/api/lens/{key}/learn", self.learn),
            post("/api/lens/{key}/stop", self.stop),
        ]

    async def sheet(self, request: Request) -> Response:
        """Return the targets with the lens sheet, or the lens sheet alone."""
        name = request.path_params["name"]
        if name not in _SHEETS:
            raise HTTPException(404, "There is no such file.")
        paper = request.query_params.get("paper", "a4")
        draw = partial(steps.draw_target_sheet, paper, lens_sheet_only=_SHEETS[name])
        return answer_file(name, await run_in_threadpool(draw), saves="save" in request.query_params)

    async def take_photo(self, request: Request) -> Response:
        """Take a photo of the lens sheet: the first, or another of those named by `work`."""
        check_declared(request)
        key = request.query_params.get("work")
        try:
            work = self.desk.find(key) if key else self.desk.new()
            if len(work.sheets) >= MOST_PHOTOS:
                raise BusyError(f"More than {MOST_PHOTOS} photos of the sheet are not needed.", "Choose six good ones.")
        except OutgrownError:
            await hear_out(request)
            raise
        async with self._uploads:
            path = await receive_photo(request, work.folder / f"sheet-{len(list(work.folder.iterdir()))}")
        work.sheets.append((str(path), plain_name(request.query_params.get("name", ""), "sheet")))
        return JSONResponse({"work": work.key})

    async def learn(self, request: Request) -> Response:
        """Learn the lens from the photos sent."""
        work = self.work_of(request)
        if work.learning is not None:
            await run_in_threadpool(self.desk.workshop.stop, work.learning)
        work.learning = self.desk.workshop.give("lens", {"sheets": tuple(work.sheets)})
        return JSONResponse({})

    async def status(self, request: Request) -> Response:
        """Return how far the learning has come, and what was learned."""
        ticket = self.work_of(request).learning
        if ticket is None:
            raise GoneError("No lens is being learned.", "Choose photos of the lens sheet first.")
        row = wire.describe_ticket(ticket)
        if ticket.state is State.DONE:
            row |= ticket.result
        return JSONResponse(row)

    async def stop(self, request: Request) -> Response:
        """Stop learning."""
        ticket = self.work_of(request).learning
        if ticket is not None:
            await run_in_threadpool(self.desk.workshop.stop, ticket)
        return JSONResponse({})
