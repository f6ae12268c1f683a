"""Receiving: photos that a browser sends, counted while they come and told by their first bytes."""

import contextlib
from pathlib import Path

import anyio
from starlette.exceptions import HTTPException
from starlette.requests import Request

MOST_PHOTO_BYTES = 80_000_000
"""A 108-megapixel JPEG has some 40 MB."""
TOO_LARGE = f"This file is larger than {MOST_PHOTO_BYTES // 1_000_000} MB. Send the photo as the phone took it."
_NAME = 80
_FIRST_BYTES = (
    (b"\xff\xd8\xff", ".jpg"),
    (b"\x89PNG\r\n\x1a\n", ".png"),
    (b"RIFF", ".webp"),
    (b"II*\x00", ".tif"),
    (b"MM\x00*", ".tif"),
)


async def receive_photo(request: Request, path: Path) -> Path:
    """Write the request's body to disk, counting; return the path with the ending its first bytes ask for.

    Raises:
        HTTPException: 413 where it is too large, 415 where it is no photo.
    """
    got, first = 0, b""
    try:
        async with await anyio.open_file(path, "wb") as file:
            async for chunk in request.stream():
                got += len(chunk)
                if got > MOST_PHOTO_BYTES:
                    raise HTTPException(413, TOO_LARGE)
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


async def hear_out(request: Request) -> None:
    """Read what is still being sent and forget it: a browser hears an answer only after it has said everything."""
    heard = 0
    with contextlib.suppress(RuntimeError):  # the body was read already
        async for chunk in request.stream():
            heard += len(chunk)
            if heard > MOST_PHOTO_BYTES:
                return


def check_declared(request: Request) -> None:
    """Refuse a request that says it is too long, before any of it is read.

    Raises:
        HTTPException: 413.
    """
    length = request.headers.get("content-length", "")
    if length.isdecimal() and int(length) > MOST_PHOTO_BYTES:
        raise HTTPException(413, TOO_LARGE)


def _ending(first: bytes) -> str:
    """Return the ending of a photo's file by its first bytes, before anything of it is decoded."""
    for start, ending in _FIRST_BYTES:
        if first.startswith(start):
            return ending
    if first[4:8] == b"ftyp":
        return ".heic"
    raise HTTPException(415, "This is not a photo that can be read. Use the JPEG, PNG or HEIC file from the phone.")


def plain_name(name: str, role: str) -> str:
    """Return the name a person gave a photo, for messages only."""
    kept = "".join(c for c in name.replace("\\", "/").rpartition("/")[2] if c.isprintable())
    return kept[:_NAME] or f"{role} photo"
