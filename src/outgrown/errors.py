"""What can go wrong, said as a home sewist reads it: the problem, then what to do."""


class OutgrownError(Exception):
    """A job that cannot be done as asked.

    Args:
        problem: what was seen, one sentence with its full stop.
        advice: what to do about it, one sentence with its full stop.
    """

    exit_status = 2

    def __init__(self, problem: str, advice: str = "") -> None:
        super().__init__(f"{problem} {advice}".strip())
        self.problem = problem
        self.advice = advice


class PhotoError(OutgrownError, ValueError):
    """The file is not a photo that can be used."""


class ScaleError(OutgrownError, ValueError):
    """The thing of known size was not found, or cannot be trusted."""


class OutlineError(OutgrownError, ValueError):
    """The garment's edge was not found, or cannot be trusted."""


class GarmentError(OutgrownError, ValueError):
    """The outline is not that of the garment named."""


class GeometryError(OutgrownError, ValueError):
    """A line or ring cannot be measured or drawn as asked."""


class PieceError(OutgrownError, ValueError):
    """A piece or its allowances cannot be drawn as asked."""


class ArchiveError(OutgrownError, ValueError):
    """The file is not a pattern that can be read."""


class TargetError(OutgrownError, OSError):
    """A result cannot be written where it was asked for."""


class LayError(OutgrownError, ValueError):
    """Pieces cannot be laid on this cloth as asked."""
