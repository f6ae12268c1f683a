"""The progress bar: on stderr, only on a terminal."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from ..progress import Progress, silent

_WIDTH = 24


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """Yield a `Progress` that draws one line and takes it away at the end."""
    if not sys.stderr.isatty():
        yield silent
        return

    def draw(step: str, share: float) -> None:
        done = round(min(max(share, 0.0), 1.0) * _WIDTH)
        sys.stderr.write(f"\r\033[K  {'#' * done}{'.' * (_WIDTH - done)}  {step}")
        sys.stderr.flush()

    try:
        yield draw
    finally:
        sys.stderr.write("\r\033[K")
        sys.stderr.flush()
