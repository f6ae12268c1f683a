"""Progress as a protocol: the library reports, the caller draws (or does not)."""

from typing import Protocol


class Progress(Protocol):
    """Called as work goes on."""

    def __call__(self, step: str, share: float) -> None:
        """Report that `step` (a few words) is being done and `share` of the whole job is behind us (0..1)."""


def silent(step: str, share: float) -> None:
    """Report nothing."""
