"""Writing results: wholly or not at all, and never over what is there unless told so."""

import contextlib
import os
import shutil
import tempfile
from collections.abc import Collection, Mapping
from pathlib import Path

from ..errors import TargetError

_ELSEWHERE = "Choose another place to write to."


def check_target(folder: Path, names: Collection[str], may_replace: bool = False) -> None:
    """Raise now what writing `names` into `folder` would raise later, so that no work is done in vain.

    Raises:
        TargetError: a pattern is there already, or the folder cannot be written to.
    """
    if folder.exists() and not folder.is_dir():
        raise TargetError(f"“{folder}” is a file, so no folder of that name can be made.", _ELSEWHERE)
    there = sorted(name for name in names if (folder / name).exists())
    if there and not may_replace:
        raise TargetError(
            f"The folder “{folder}” already holds {there[0]}; nothing was changed.",
            "Choose another place with --out, or say --replace to write over it.",
        )
    base = next(parent for parent in (folder, *folder.absolute().parents) if parent.exists())
    try:
        with tempfile.TemporaryDirectory(dir=base, prefix=".outgrown-"):
            pass
    except OSError as error:
        raise _cannot(folder, error) from error


def write_folder(folder: Path, files: Mapping[str, bytes], may_replace: bool = False) -> None:
    """Write all `files` (name -> content) into `folder`: a new folder appears whole, or not at all.

    Files that were there under other names stay. See `check_target` for what is refused.
    """
    check_target(folder, files, may_replace)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(dir=folder.parent, prefix=".outgrown-"))
    except OSError as error:
        raise _cannot(folder, error) from error
    try:
        for name, content in files.items():
            with (made / name).open("wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
        if folder.exists():
            for name in files:
                (made / name).replace(folder / name)
        else:
            mask = os.umask(0)  # a temporary folder is private; the kept one gets the usual rights
            os.umask(mask)
            made.chmod(0o777 & ~mask)
            made.rename(folder)
    except OSError as error:
        raise _cannot(folder, error) from error
    finally:
        with contextlib.suppress(OSError):
            shutil.rmtree(made)


def check_file(path: Path, may_replace: bool = False) -> None:
    """Raise now what writing to `path` would raise later.

    Raises:
        TargetError: the file is there already, its folder is not, or it cannot be written.
    """
    if path.is_dir():
        raise TargetError(f"“{path}” is a folder, so no file of that name can be written.", _ELSEWHERE)
    if path.exists() and not may_replace:
        raise TargetError(
            f"“{path}” is there already; nothing was changed.",
            "Choose another name, or say --replace to write over it.",
        )
    check_target(path.parent, ())
    if not path.parent.exists():
        raise TargetError(f"There is no folder “{path.parent}” to write to.", "Make it first, or choose another place.")


def write_file(path: Path, content: bytes, may_replace: bool = False) -> None:
    """Write `content` to `path`: wholly, or not at all. See `check_file` for what is refused."""
    check_file(path, may_replace)
    temporary: str | None = None
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".outgrown-")
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        mask = os.umask(0)
        os.umask(mask)
        Path(temporary).chmod(0o666 & ~mask)
        Path(temporary).replace(path)
    except OSError as error:
        if temporary is not None:
            with contextlib.suppress(OSError):
                Path(temporary).unlink()
        raise _cannot(path, error) from error


def _cannot(path: Path, error: OSError) -> TargetError:
    reason = (error.strerror or "it failed").lower()
    return TargetError(f"I cannot write to “{path}”: {reason}.", _ELSEWHERE)
