"""Faults: what happened, written into a file that a person can send us."""

import sys
import tempfile
import traceback

from .. import __version__


def write_fault(error: BaseException) -> str:
    """Write the traceback of `error` into a new file and return the file's name."""
    what = "".join(traceback.format_exception(error))
    with tempfile.NamedTemporaryFile("w", prefix="outgrown-", suffix=".log", delete=False, encoding="utf-8") as log:
        log.write(f"outgrown {__version__}, Python {sys.version}\n{what}")
    return log.name
