"""Answers: what the groups of answers have in common: their desk, and how a question is tied to its answer."""

from collections.abc import Awaitable, Callable

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from .desk import Desk, Work

Answer = Callable[[Request], Awaitable[Response]]


def get(path: str, answer: Answer) -> Route:
    """Return the route of something to look at."""
    return Route(path, answer, methods=["GET"])


def post(path: str, answer: Answer) -> Route:
    """Return the route of something to do."""
    return Route(path, answer, methods=["POST"])


class Answers:
    """A group of things that the page's browser may ask.

    Args:
        desk: garments being worked on.
    """

    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    def routes(self) -> list[Route]:
        """Return everything that can be asked for."""
        raise NotImplementedError

    def work_of(self, request: Request) -> Work:
        """Return the garment asked about, by the key in the address.

        Raises:
            GoneError: it is no longer on the desk.
        """
        return self.desk.find(request.path_params["key"])


def answer_work(work: Work) -> Response:
    """Return which garment it is, and the state that it is in now."""
    return JSONResponse({"work": work.key, "stamp": work.stamp(), "photos_stamp": work.photos_stamp()})
