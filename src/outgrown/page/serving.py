"""Serving: the page on this computer, and in the home network where it is asked to be."""

import contextlib
import io
import os
import socket
import threading
import webbrowser
from collections.abc import Callable

import uvicorn

from ..errors import OutgrownError
from .app import make_app
from .guard import Doorkeeper

FIRST_PORT = 8765
_TRIES = 20


class PortError(OutgrownError, OSError):
    """The page cannot be offered at that port."""


def serve(
    *,
    port: int | None = None,
    opens_browser: bool = True,
    for_phone: bool = False,
    say: Callable[[str], None],
) -> None:
    """Serve the page until the person ends it.

    Args:
        port: to listen at; None for the first free one.
        opens_browser: open the page in the person's browser.
        for_phone: a phone in the same home network may come in with a code.
        say: told where the page is.

    Raises:
        PortError: the port is taken or not allowed.
    """
    listener = _listen("0.0.0.0" if for_phone else "127.0.0.1", port)
    number = listener.getsockname()[1]
    here = f"http://127.0.0.1:{number}"
    hosts = {f"127.0.0.1:{number}", f"localhost:{number}", f"[::1]:{number}"}
    address = ""
    if for_phone:
        home = _home_address()
        if home:
            hosts.add(f"{home}:{number}")
            address = f"http://{home}:{number}"
    doorkeeper = Doorkeeper(frozenset(hosts), asks_code=for_phone)
    app = make_app(doorkeeper, address=address)
    say(f"The page is at {here}")
    if for_phone and not address:
        say("No home network was found, so no phone can reach it.")
    if address:
        import segno

        link = f"{address}/in/{doorkeeper.make_code()}"
        say(f"On the phone, in the same network: {link}")
        say("The code is good once, for ten minutes; the page shows another. Nobody else in your network comes in")
        say("without one, but what is sent is not encrypted: use it at home only.")
        drawn = io.StringIO()
        segno.make(link, error="m").terminal(out=drawn, compact=True)
        say(drawn.getvalue().rstrip("\n"))
    say("End it with Ctrl-C.")
    server = uvicorn.Server(
        uvicorn.Config(
            app,
            log_level="warning",
            access_log=False,
            server_header=False,
            limit_concurrency=100,
            timeout_keep_alive=10,
            timeout_graceful_shutdown=3,
            lifespan="on",
        )
    )
    if opens_browser:
        threading.Timer(0.6, webbrowser.open, (here,)).start()
    with contextlib.closing(listener):
        server.run(sockets=[listener])


def _listen(host: str, port: int | None) -> socket.socket:
    numbers = [port] if port is not None else [*range(FIRST_PORT, FIRST_PORT + _TRIES), 0]
    for number in numbers:
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":  # a page ended a moment ago holds its port still
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        with contextlib.suppress(OSError, OverflowError):
            listener.bind((host, number))
            listener.listen(128)
            return listener
        listener.close()
    raise PortError(f"Port {port} is taken or may not be used.", "Choose another with --port, or leave it out.")


def _home_address() -> str:
    """Return this computer's address in the home network, or empty. Nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address kept for documents, RFC 5737: only the route is looked up
            found = str(probe.getsockname()[0])
        except OSError:
            return ""
    return "" if found.startswith("127.") else found
