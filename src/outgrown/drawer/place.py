"""Place: where the drawer is, what lies in it, and one writer at a time.

DRAWER/
  patterns/ID/     one folder a pattern, see entry.py
  bin/DATE_ID/     what was put into the bin on DATE
  .writing/        not finished yet; emptied by the next writer
  .lock            held while something is written; a killed process lets go of it
  .list.json       a cache of the list; may be deleted at any time
"""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import platformdirs

from ..errors import TargetError

DRAWER_VARIABLE = "OUTGROWN_DRAWER"
"""Environment variable that names the drawer's folder."""
DATA_VARIABLE = "OUTGROWN_DATA"
"""Environment variable that names another folder for everything the program keeps."""
_PATIENCE_S = 30.0
"""A whole drawer brought in takes longer; then the other program is told to wait and try again."""


@dataclass(frozen=True)
class Drawer:
    """A folder of kept patterns; it need not be there yet.

    Attributes:
        folder: where it is.
    """

    folder: Path

    @property
    def patterns(self) -> Path:
        """The folder of the patterns' folders."""
        return self.folder / "patterns"

    @property
    def bin(self) -> Path:
        """The folder of patterns put away."""
        return self.folder / "bin"

    @property
    def staging(self) -> Path:
        """The folder of what is not finished yet."""
        return self.folder / ".writing"

    @property
    def cache(self) -> Path:
        """The file that remembers the list."""
        return self.folder / ".list.json"


def find_drawer(chosen: Path | None = None) -> Drawer:
    """Return the drawer: `chosen`, else what OUTGROWN_DRAWER names, else `outgrown` among the person's documents."""
    if chosen is not None:
        return Drawer(chosen)
    for variable, below in ((DRAWER_VARIABLE, ""), (DATA_VARIABLE, "drawer")):
        if os.environ.get(variable):
            return Drawer(Path(os.environ[variable]).expanduser() / below)
    return Drawer(platformdirs.user_documents_path() / "outgrown")


@contextmanager
def writing(drawer: Drawer) -> Iterator[None]:
    """Be the only writer of `drawer` meanwhile; makes the drawer if it is not there, and clears what a kill left.

    Raises:
        TargetError: it cannot be written to, is no drawer, or another program is writing for too long.
    """
    from filelock import FileLock, Timeout

    _check(drawer)
    try:
        for folder in (drawer.patterns, drawer.bin, drawer.staging):
            folder.mkdir(parents=True, exist_ok=True)
        lock = FileLock(drawer.folder / ".lock", timeout=_PATIENCE_S)
        lock.acquire()
    except Timeout:
        raise TargetError(
            f"Another outgrown has been writing into the drawer “{drawer.folder}” for a while; nothing was changed.",
            "Wait until it is done, and try again.",
        ) from None
    except OSError as error:
        raise cannot(drawer.folder, error) from error
    try:
        _clear(drawer)
        yield
    except TargetError:
        raise
    except OSError as error:
        raise cannot(drawer.folder, error) from error
    finally:
        lock.release()


def cannot(folder: Path, error: OSError) -> TargetError:
    """Return the error that says why the drawer could not be written."""
    reason = (error.strerror or str(error) or "it failed").lower()
    return TargetError(
        f"I cannot write into the drawer “{folder}”: {reason}.",
        "What was in it is unharmed; make room or mend the folder's rights, or choose another with --drawer.",
    )


def _check(drawer: Drawer) -> None:
    """Refuse a folder that is used for something else."""
    folder = drawer.folder
    if folder.exists() and not folder.is_dir():
        raise TargetError(f"“{folder}” is a file, so it cannot be a drawer.", "Choose another with --drawer.")
    if folder.is_dir() and not drawer.patterns.is_dir():
        there = sorted(item.name for item in folder.iterdir() if not item.name.startswith("."))
        if there:
            raise TargetError(
                f"“{folder}” is no drawer: it holds {there[0]}; nothing was changed.",
                "Choose a new folder with --drawer.",
            )


def _clear(drawer: Drawer) -> None:
    """Remove what a killed writer left; nobody else writes while the lock is held.

    A cache that another program is writing at this moment may go too: it will be written by the next.
    """
    for left in (*drawer.staging.iterdir(), *drawer.folder.glob(f"{drawer.cache.name}.*")):
        if left.is_dir() and not left.is_symlink():
            shutil.rmtree(left, ignore_errors=True)
        else:
            left.unlink(missing_ok=True)
