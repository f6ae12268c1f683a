"""Durable: files and folders that are wholly there after a killed process or a lost current, or not at all.

Everything is written under another name in the same file system, pushed to the disk, and given its name in one step.
"""

import contextlib
import os
import shutil
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path

_TRIES = 20
_PAUSE_S = 0.05
"""On Windows a file that someone reads cannot be moved; reading lasts milliseconds."""


def write_new_folder(target: Path, files: Mapping[str, bytes], staging: Path) -> None:
    """Write `files` (name -> content) as the new folder `target`, which must not be there.

    Args:
        target: the folder; its parent is there.
        files: plain names -> content.
        staging: a folder of the same file system for what is not finished yet.

    Raises:
        OSError: it cannot be written; nothing is left in `target`.
    """
    made = staging / target.name
    try:
        made.mkdir()
        for name, content in files.items():
            _write(made / name, content)
        push_folder(made)
        move(made, target)
    except OSError:
        shutil.rmtree(made, ignore_errors=True)
        raise


def replace_file(target: Path, content: bytes, staging: Path) -> None:
    """Write `content` in place of what `target` held, in one step.

    Raises:
        OSError: it cannot be written; `target` is as it was.
    """
    made = staging / f"{target.parent.name}.{target.name}"
    try:
        _write(made, content)
        _patiently(lambda: made.replace(target))
    except OSError:
        with contextlib.suppress(OSError):
            made.unlink()
        raise
    push_folder(target.parent)


def move(source: Path, target: Path) -> None:
    """Give the folder `source` the name `target`, which must not be there, in one step.

    Raises:
        OSError: `target` is there, or the folder cannot be moved; nothing has changed.
    """
    if os.path.lexists(target):  # an empty folder would be replaced silently
        raise FileExistsError(f"{target} is there already")
    _patiently(lambda: source.rename(target))
    for folder in {source.parent, target.parent}:
        push_folder(folder)


def push_folder(folder: Path) -> None:
    """Push the names in `folder` to the disk, where the system can."""
    if sys.platform == "win32":
        return
    with contextlib.suppress(OSError):  # some network file systems refuse it
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _write(path: Path, content: bytes) -> None:
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _patiently(step: Callable[[], object]) -> None:
    for left in reversed(range(_TRIES)):
        try:
            step()
            return
        except PermissionError:
            if sys.platform != "win32" or not left:
                raise
            time.sleep(_PAUSE_S)
