"""Pattern answers: the pattern made of a garment, its files, its printed pages, and other paper."""

from functools import partial
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from .. import steps
from . import making, wire
from .desk import Desk, NotReadyError, Work
from .form import read_drawing, read_settings, read_units
from .reading import answer_file, read_json, read_stamp

_FILES = ("pattern.pdf", "pattern.svg", "pattern.json", "check.png", "check-back.png")


class PatternAnswers:
    """What the page's browser may ask of a pattern.

    Args:
        desk: garments being worked on.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def routes(self) -> list[Route]:
        """Return everything that can be asked for."""
        return [
            Route("/api/works/{key}/pattern", self.make, methods=["POST"]),
            Route("/api/works/{key}/said", self.said, methods=["GET"]),
            Route("/api/works/{key}/files/{name}", self.file, methods=["GET"]),
            Route("/api/works/{key}/paper", self.paper, methods=["GET"]),
            Route("/api/works/{key}/pages", self.pages, methods=["GET"]),
        ]

    async def make(self, request: Request) -> Response:
        """Make the pattern with the answers given, and return it."""
        work = self._desk.find(request.path_params["key"])
        said = await read_json(request)

        after = read_stamp(said.pop("after", None))

        def make() -> dict[str, Any]:
            with work.lock:
                work.check_current(after)
                if work.opened is None:
                    work.units = read_units(said)  # what is refused is said in them, too
                made = making.make_pattern(self._desk, work, read_settings(said))
                work.said = said
                work.made_of = work.stamp()
                return made | {"stamp": work.made_of}

        return JSONResponse(await run_in_threadpool(make))

    async def said(self, request: Request) -> Response:
        """Return what a pattern was made with, for a screen that goes on with it."""
        return JSONResponse(wire.describe_said(self._desk.find(request.path_params["key"])))

    async def file(self, request: Request) -> Response:
        """Return a file of the pattern made last."""
        work, name = self._desk.find(request.path_params["key"]), request.path_params["name"]
        if name not in _FILES:
            raise HTTPException(404, "There is no such file.")
        stamp = read_stamp(request.query_params.get("of"))
        content = await run_in_threadpool(partial(self._draw, work, name, stamp))
        return answer_file(name, content, saves="save" in request.query_params)

    def _draw(self, work: Work, name: str, stamp: str | None) -> bytes:
        with work.lock:
            work.check_made(stamp)
            if work.pattern is None:
                raise NotReadyError("There is no pattern yet.", "Wait until it is drawn.")
            if name not in work.files:
                if name.startswith("check"):
                    role = "front" if name == "check.png" else "back"
                    work.files[name] = making.draw_check(self._desk, work, role, work.pattern.title)
                else:
                    work.files.update(steps.draw_pattern_files(work.pattern))
            return work.files[name]

    async def paper(self, request: Request) -> Response:
        """Return the pattern drawn in another form: a large sheet, a projector page, DXF ..."""
        work = self._desk.find(request.path_params["key"])
        drawing = read_drawing(request.query_params)
        work.check_made(read_stamp(request.query_params.get("of")))
        if work.pattern is None:
            raise NotReadyError("There is no pattern yet.", "Wait until it is drawn.")
        content = await run_in_threadpool(steps.draw_paper, work.pattern, drawing)
        return answer_file(f"pattern-{drawing.form}.{drawing.form.suffix}", content, saves=True)

    async def pages(self, request: Request) -> Response:
        """Return the printed pages as drawings."""
        work = self._desk.find(request.path_params["key"])
        work.check_made(read_stamp(request.query_params.get("of")))
        if work.pattern is None:
            raise NotReadyError("There is no pattern yet.", "Wait until it is drawn.")
        pages = await run_in_threadpool(steps.draw_pattern_pages, work.pattern)
        return JSONResponse({"pages": list(pages)})
