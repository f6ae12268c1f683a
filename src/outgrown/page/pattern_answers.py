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
from .answers import Answers, get, post
from .desk import Work
from .form import read_drawing, read_settings, read_units
from .reading import answer_file, read_json, read_stamp

_FILES = ("pattern.pdf", "pattern.svg", "pattern.json", "check.png", "check-back.png")


class PatternAnswers(Answers):
    """What the page's browser may ask of a pattern.

    Args:
        desk: garments being worked on.
    """

    def routes(self) -> list[Route]:
        """Return everything that can be asked for."""
        return [
            post("/api/works/{key}/pattern", self.make),
            get("/api/works/{key}/said", self.said),
            get("/api/works/{key}/files/{name}", self.file),
            get("/api/works/{key}/paper", self.paper),
            get("/api/works/{key}/pages", self.pages),
        ]

    async def make(self, request: Request) -> Response:
        """Make the pattern with the answers given, and return it."""
        work = self.work_of(request)
        said = await read_json(request)

        after = read_stamp(said.pop("after", None))

        def make() -> dict[str, Any]:
            with work.lock:
                work.check_current(after)
                if work.opened is None:
                    work.units = read_units(said)  # what is refused is said in them, too
                made = making.make_pattern(self.desk, work, read_settings(said))
                work.said = said
                work.made_of = work.stamp()
                return made | {"stamp": work.made_of}

        return JSONResponse(await run_in_threadpool(make))

    async def said(self, request: Request) -> Response:
        """Return what a pattern was made with, for a screen that goes on with it."""
        return JSONResponse(wire.describe_said(self.work_of(request)))

    async def file(self, request: Request) -> Response:
        """Return a file of the pattern made last."""
        work, name = self.work_of(request), request.path_params["name"]
        if name not in _FILES:
            raise HTTPException(404, "There is no such file.")
        stamp = read_stamp(request.query_params.get("of"))
        content = await run_in_threadpool(partial(self._draw, work, name, stamp))
        return answer_file(name, content, saves="save" in request.query_params)

    def _draw(self, work: Work, name: str, stamp: str | None) -> bytes:
        with work.lock:
            pattern = work.made_pattern(stamp)
            if name not in work.files:
                if name.startswith("check"):
                    role = "front" if name == "check.png" else "back"
                    work.files[name] = making.draw_check(self.desk, work, role, pattern.title)
                else:
                    work.files.update(steps.draw_pattern_files(pattern))
            return work.files[name]

    async def paper(self, request: Request) -> Response:
        """Return the pattern drawn in another form: a large sheet, a projector page, DXF ..."""
        work = self.work_of(request)
        drawing = read_drawing(request.query_params)
        pattern = work.made_pattern(read_stamp(request.query_params.get("of")))
        content = await run_in_threadpool(steps.draw_paper, pattern, drawing)
        return answer_file(f"pattern-{drawing.form}.{drawing.form.suffix}", content, saves=True)

    async def pages(self, request: Request) -> Response:
        """Return the printed pages as drawings."""
        work = self.work_of(request)
        pattern = work.made_pattern(read_stamp(request.query_params.get("of")))
        pages = await run_in_threadpool(steps.draw_pattern_pages, pattern)
        return JSONResponse({"pages": list(pages)})
