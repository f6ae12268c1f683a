"""Lay answers: how the pattern on the desk lies on cloth off the roll, on a leftover in a photo, or on a shirt."""

from collections.abc import Mapping
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from .. import steps
from ..errors import LayError
from ..lay.cloth import Bolt, Rules
from ..units import read_length_mm
from . import wire
from .answers import Answers, get, post
from .desk import GoneError, Work
from .form import read_pulls
from .reading import answer_file, read_json, read_stamp
from .workshop import State

_FILES = ("lay.pdf", "lay.png", "lay.json")
_SECONDS = 4.0


class LayAnswers(Answers):
    """What the page's browser may ask of a lay.

    Args:
        desk: garments being worked on.
    """

    def routes(self) -> list[Route]:
        """Return everything that can be asked for."""
        return [
            post("/api/works/{key}/lay", self.begin),
            get("/api/works/{key}/lay", self.status),
            post("/api/works/{key}/lay/stop", self.stop),
            get("/api/works/{key}/lay/{name}", self.file),
        ]

    async def begin(self, request: Request) -> Response:
        """Begin to lay the pattern made last; the cloth in a photo was sent before and is understood."""
        work = self.work_of(request)
        said = await read_json(request)

        def begin() -> None:
            with work.lock:
                pattern = work.made_pattern(read_stamp(said.get("of")))
                values = {"pattern": steps.draw_pattern_files(pattern)["pattern.json"].decode("utf-8")}
                cloth = self._read_cloth(work, said)
                if work.laying is not None:
                    self.desk.workshop.stop(work.laying)
                work.laying = self.desk.workshop.give("lay", values | cloth)

        await run_in_threadpool(begin)
        return JSONResponse({})

    def _read_cloth(self, work: Work, said: Mapping[str, Any]) -> dict[str, Any]:
        rules = Rules(is_one_way=bool(said.get("one_way")), seconds=_SECONDS)
        how = said.get("how")
        if how == "width":
            bolt = Bolt(_length(said, "width", "Width of the cloth"), bool(said.get("folded")))
            return {"rules": rules, "bolt": bolt, "opens_folds": bool(said.get("folded") and said.get("open_folds"))}
        if how == "photo":
            pulls = read_pulls({"cloth": said.get("pulls") or []})["cloth"]
            traced = steps.pull_outline(self.desk.traced(work, "cloth"), pulls)
            work.cloth_pulls = pulls
            return {"rules": rules, "traced": traced, "on_hem": bool(said.get("on_hem"))}
        if how == "shirt":
            sizes = [_length(said, name, words) for name, words in _SHIRT]
            return {"rules": rules, "shirt_mm": tuple(sizes)}
        raise LayError("It was not said which cloth is meant.", "Choose the width of the cloth, a photo or a shirt.")

    async def status(self, request: Request) -> Response:
        """Return how far the lay has come, and how the pieces lie."""
        work = self.work_of(request)
        ticket = work.laying
        if ticket is None:
            raise GoneError("Nothing was laid yet.", "Choose a cloth first.")
        row = wire.describe_ticket(ticket, units=work.units)
        if ticket.state is State.DONE:
            told = {name: value for name, value in ticket.result.items() if name != "files"}
            row |= told | {name: [wire.say(line) for line in told[name]] for name in ("offers", "about", "rows")}
        return JSONResponse(row)

    async def stop(self, request: Request) -> Response:
        """Stop laying."""
        ticket = self.work_of(request).laying
        if ticket is not None:
            await run_in_threadpool(self.desk.workshop.stop, ticket)
        return JSONResponse({})

    async def file(self, request: Request) -> Response:
        """Return a file of the lay made last."""
        name, ticket = request.path_params["name"], self.work_of(request).laying
        if name not in _FILES or ticket is None or ticket.state is not State.DONE:
            raise HTTPException(404, "There is no such file.")
        return answer_file(name, ticket.result["files"][name], saves="save" in request.query_params)


_SHIRT = (("shirt_width", "Width of the shirt"), ("shirt_length", "Length from hem to underarm"))


def _length(said: Mapping[str, Any], name: str, words: str) -> float:
    text = str(said.get(name) or "").strip()[:40]
    if not text:
        raise LayError(f"“{words}” is not said.", "Write it like 150 cm or 60 in.")
    try:
        return read_length_mm(text, "cm")
    except ValueError as error:
        raise LayError(f"{words}: {error}") from error
