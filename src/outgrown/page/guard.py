"""Guard: who may ask the page for something, and what browsers may do with its answers."""

import logging
import secrets
import threading
import time
from collections.abc import Collection
from dataclasses import dataclass, field
from http.cookies import SimpleCookie

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ..faults import write_fault

COOKIE = "outgrown"
_OUR_FAULT = {"problem": "That was our fault, not yours.", "advice": "Try again; nothing was lost."}
CODE_LIVES_S = 600.0
"""A code not used within ten minutes is worthless."""
_LOOPBACK = ("127.0.0.1", "::1")
_SAFE_METHODS = ("GET", "HEAD")
_HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
    "font-src 'self'; connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), microphone=(), payment=()",
}


@dataclass(eq=False)
class Doorkeeper:
    """Which addresses the page answers to, and which phones have come in with a code.

    Attributes:
        hosts: values of the Host header that are ours, e.g. `127.0.0.1:8000`.
        asks_code: others than this computer need a code to come in.
    """

    hosts: Collection[str]
    asks_code: bool = False
    _codes: dict[str, float] = field(default_factory=dict)
    _guests: set[str] = field(default_factory=set)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def make_code(self) -> str:
        """Return a new code, good for one phone; codes not used yet are worthless from now on."""
        with self._lock:
            self._codes.clear()
            code = secrets.token_urlsafe(9)
            self._codes[code] = time.monotonic() + CODE_LIVES_S
        return code

    def let_in(self, code: str) -> str | None:
        """Return a guest's secret for a code that is good, which it is once; None for any other."""
        with self._lock:
            for known, until in list(self._codes.items()):
                if secrets.compare_digest(known.encode(), code.encode()) and time.monotonic() < until:
                    del self._codes[known]
                    guest = secrets.token_urlsafe(24)
                    self._guests.add(guest)
                    return guest
        return None

    def is_guest(self, secret: str) -> bool:
        """Tell whether a secret is that of a phone that came in."""
        with self._lock:
            return any(secrets.compare_digest(known.encode(), secret.encode()) for known in self._guests)


class Guard:
    """Answers only what this household's browsers ask, and says how browsers must treat the answers."""

    def __init__(self, app: ASGIApp, doorkeeper: Doorkeeper) -> None:
        self._app = app
        self._doorkeeper = doorkeeper

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check a request and pass it on, or refuse it."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        refusal = self._refusal(scope)

        has_begun = False

        async def send_guarded(message: Message) -> None:
            nonlocal has_begun
            has_begun = True
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        if refusal is not None:
            await refusal(scope, receive, send_guarded)
            return
        try:
            await self._app(scope, receive, send_guarded)
        except Exception as error:
            # The person is told in words; what happened goes into a file for us.
            logging.getLogger(__name__).error("That was our fault; what happened is in %s", write_fault(error))
            if not has_begun:
                await JSONResponse(_OUR_FAULT, 500)(scope, receive, send_guarded)

    def _refusal(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if host.lower() not in self._doorkeeper.hosts:
            return _no("This address is not the page's own. Open the one that the terminal shows.", 421)
        origin = headers.get("origin")
        if origin is not None and origin.lower() != f"http://{host.lower()}":
            return _no("Another site asked for this, so it was not done.", 403)
        if scope["method"] not in _SAFE_METHODS and (
            origin is None or headers.get("sec-fetch-site", "same-origin") != "same-origin"
        ):
            return _no("This was not asked from the page itself, so it was not done.", 403)
        if self._doorkeeper.asks_code and not scope["path"].startswith("/in/"):
            client = (scope.get("client") or ("", 0))[0]
            cookie = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
            if client not in _LOOPBACK and not (cookie and self._doorkeeper.is_guest(cookie.value)):
                return _no("Scan the code that the page shows on the computer.", 401)
        return None


def _no(words: str, status: int) -> Response:
    return PlainTextResponse(words, status)
