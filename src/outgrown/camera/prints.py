"""What all prints of one printer share: a doubt of size that more of them do not lessen."""

import math
from collections.abc import Sequence
from dataclasses import replace

from ..arrays import frozen
from .camera import PARAMETERS, Camera
from .reference import Reference

_LOG_DISTANCE = PARAMETERS.index("log_distance")


def take_shared_doubt(references: Sequence[Reference]) -> tuple[tuple[Reference, ...], float]:
    """Return `references` without the doubt of size they all share, and that doubt.

    Prints of one printer are wrong in size together: among themselves they agree far better than their size is known.
    Where a card or sheet lies beside them nothing is shared by all, and everything stays as it is.
    """
    if not all(reference.shared_doubt > 0 for reference in references):
        return tuple(references), 0.0
    shared = max(reference.shared_doubt for reference in references)
    own = (
        replace(r, size_doubt=math.sqrt(max(r.size_doubt**2 - r.shared_doubt**2, 0.0)), shared_doubt=0.0)
        for r in references
    )
    return tuple(own), shared


def give_shared_doubt(camera: Camera, shared: float) -> Camera:
    """Return `camera` with the shared relative doubt of size put back: all distances may be wrong together by it."""
    if shared == 0:
        return camera
    covariance = camera.covariance.copy()
    covariance[_LOG_DISTANCE, _LOG_DISTANCE] += shared**2
    by_lens = None if camera.by_lens is None else give_shared_doubt(camera.by_lens, shared)
    return replace(camera, covariance=frozen(covariance), by_lens=by_lens)
