"""App: what the page's browser may ask for. Thin over desk, form and wire; no path comes from the client."""

import contextlib
import tempfile
from collections.abc import AsyncIterator
from importlib.resources import files
from io import BytesIO
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from ..errors import OutgrownError, PieceError
from ..names import LONGEST_NAME
from ..units import Units
from . import wire
from .desk import Desk, GoneError, NotReadyError, StaleError
from .drawer_answers import DrawerAnswers
from .form import AnswerError
from .guard import COOKIE, Doorkeeper, Guard
from .lay_answers import LayAnswers
from .lens_answers import LensAnswers
from .pattern_answers import PatternAnswers
from .photo_answers import PhotoAnswers
from .questions import describe_form
from .receiving import MOST_PHOTO_BYTES, TOO_LARGE
from .workshop import BusyError, Workshop

_HERE = ("127.0.0.1", "::1")


class Page:
    """The page's answers.

    Args:
        desk: garments being worked on.
        doorkeeper: who may come in.
        address: where a phone finds the page, or empty where it cannot.
        drawer: folder of the kept patterns; None for the person's.
    """

    def __init__(self, desk: Desk, doorkeeper: Doorkeeper, address: str = "", drawer: Path | None = None) -> None:
        self._parts = (
            PhotoAnswers(desk),
            PatternAnswers(desk),
            DrawerAnswers(desk, drawer),
            LayAnswers(desk),
            LensAnswers(desk),
        )
        self.desk = desk
        self.doorkeeper = doorkeeper
        self.address = address

    def routes(self) -> list[Route | Mount]:
        """Return everything that can be asked for."""
        return [
            Route("/", self.front, methods=["GET"]),
            Route("/in/{code}", self.come_in, methods=["GET"]),
            Route("/api/form", self.form, methods=["GET"]),
            Route("/api/phone", self.phone, methods=["GET"]),
            *(route for part in self._parts for route in part.routes()),
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
        # Lax, as the scanned link is opened from outside of the page; changes are guarded by their origin.
        answer.set_cookie(COOKIE, guest, httponly=True, samesite="lax", max_age=12 * 3600)
        return answer

    async def phone(self, request: Request) -> Response:
        """Return a fresh code for a phone, as a picture; only on this computer."""
        if not self._lets_in(request):
            return JSONResponse({"address": "", "qr": ""})
        import segno

        link = f"{self.address}/in/{self.doorkeeper.make_code()}"
        picture = BytesIO()
        segno.make(link, error="m").save(
            picture, kind="svg", scale=6, dark="#000", light="#fff", border=4, xmldecl=False
        )
        return JSONResponse({"address": link, "qr": picture.getvalue().decode("utf-8")})

    async def form(self, request: Request) -> Response:
        """Return what can be decided."""
        limits = {"most_photo_bytes": MOST_PHOTO_BYTES, "too_large": TOO_LARGE, "longest_name": LONGEST_NAME}
        return JSONResponse({**describe_form(), **limits, "lets_phones_in": self._lets_in(request)})

    def _lets_in(self, request: Request) -> bool:
        """Tell whether this browser may show a code: the computer's own, where phones are let in."""
        return bool(self.address) and request.client is not None and request.client.host in _HERE


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
    if isinstance(error, StaleError):
        status = 412
    problem, advice = (error.problem, error.advice) if isinstance(error, OutgrownError) else (str(error), "")
    units = _units_of(request)
    said = {"problem": wire.say(problem, units=units), "advice": wire.say(advice, units=units)}
    if "text/html" in request.headers.get("accept", ""):  # a link was followed: the person reads it as it is
        return PlainTextResponse(" ".join(said.values()), status)
    if isinstance(error, PieceError):  # a choice is wrong, not the photo; perhaps it is known which
        said["question"] = error.question if isinstance(error, AnswerError) else ""
    return JSONResponse(said, status)


def _units_of(request: Request) -> Units:
    """Return the units that whoever asks is told in: those of the garment asked about."""
    page: Page = request.app.state.page
    try:
        return page.desk.find(request.path_params.get("key", "")).units
    except GoneError:
        return Units.MM


async def _refuse_plainly(request: Request, error: Exception) -> Response:
    status, words = (error.status_code, error.detail) if isinstance(error, HTTPException) else (400, str(error))
    return JSONResponse({"problem": words, "advice": ""}, status)
