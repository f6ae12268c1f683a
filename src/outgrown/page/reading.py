"""Reading: what a browser sends as JSON, read no further than it may be long; and files sent to it."""

import json
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

MOST_JSON_BYTES = 400_000
_TYPES = {
    "pdf": "application/pdf",
    "svg": "image/svg+xml",
    "json": "application/json",
    "png": "image/png",
    "dxf": "image/vnd.dxf",
}
_UNREADABLE = "This could not be read. Load the page anew."


async def read_json(request: Request) -> dict[str, Any]:
    """Return the request's JSON object; an empty request is an empty object.

    Raises:
        HTTPException: 413 where it is too long, 400 where it is no object.
    """
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > MOST_JSON_BYTES:
            raise HTTPException(413, "That is too much at once.")
    try:
        said = json.loads(body or b"{}")
    except (ValueError, RecursionError) as error:
        raise HTTPException(400, _UNREADABLE) from error
    if not isinstance(said, dict):
        raise HTTPException(400, _UNREADABLE)
    return said


def read_stamp(said: Any) -> str | None:
    """Return the stamp of the state that a browser shows, or None where it says none."""
    return None if said is None else str(said)[:40]


def answer_file(name: str, content: bytes, *, saves: bool) -> Response:
    """Return a file of ours, to be saved under its name or to be looked at; its ending says what it is."""
    how = "attachment" if saves else "inline"
    headers = {"Content-Disposition": f'{how}; filename="{name}"'}
    return Response(content, media_type=_TYPES[name.rpartition(".")[2]], headers=headers)
