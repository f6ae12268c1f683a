"""Reference: a thing of known size found in the photo, and the edge samples that place it."""

from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from ..arrays import Floats, frozen

SURE_ENOUGH = 0.3
"""A thing with a lower score is taken only where nothing else is, or where somebody points to it."""


class Kind(StrEnum):
    """What a reference is."""

    CARD = "id-1"
    A4 = "a4"
    LETTER = "letter"
    TARGET = "target"

    @property
    def words(self) -> str:
        """What a person calls it."""
        return _WORDS[self]


_WORDS = {
    Kind.CARD: "bank card",
    Kind.A4: "A4 sheet",
    Kind.LETTER: "Letter sheet",
    Kind.TARGET: "printed target",
}


@dataclass(frozen=True, eq=False)
class EdgeSamples:
    """Points measured along one straight edge of a reference.

    Attributes:
        points_px: (N, 2) subpixel positions on the edge.
        normals_px: (N, 2) unit normals in the image, pointing out of the reference.
        share: (N,) where along the edge each lies, 0 at its first corner, 1 at its second.
        sigma_px: standard deviation of one sample along its normal [px].
        shift_px: standard deviation of a shift common to the whole edge: rim, shadow, sharpening [px].
    """

    points_px: Floats
    normals_px: Floats
    share: Floats
    sigma_px: float
    shift_px: float = 0.15


@dataclass(frozen=True, eq=False)
class Reference:
    """A rectangle of known size lying on the floor.

    Attributes:
        kind: what it is.
        corners_px: (4, 2) where the straight edges (extended over rounded corners) meet in the photo, in the
            order of `corners_mm`: going round counter-clockwise as seen from above (so counter-clockwise on
            the screen too, y being turned), starting with a long side.
        corners_mm: (4, 2) its own size: (0, 0), (long, 0), (long, short), (0, short).
        edges: four `EdgeSamples`, edge i running from corner i to corner i + 1.
        size_doubt: relative standard deviation of its size.
        thickness_mm: height of its upper face above the floor [mm].
        score: 0..1, how sure the finder is.
        outline_px: (N, 2) what it covers where that is more than its corners say (a target's paper), or empty.
        name: which of its kind (`square A`), or empty.
        shared_doubt: the part of `size_doubt` it shares with all others of its kind (one print): more of them do
            not lessen it.
    """

    kind: Kind
    corners_px: Floats
    corners_mm: Floats
    edges: tuple[EdgeSamples, ...] = ()
    size_doubt: float = 0.0
    thickness_mm: float = 0.0
    score: float = 1.0
    outline_px: Floats = field(default_factory=lambda: frozen(np.zeros((0, 2))))
    name: str = ""
    shared_doubt: float = 0.0

    @property
    def is_faint(self) -> bool:
        """Whether it is seen so badly that a person should look whether it is what it is taken for."""
        return self.score < SURE_ENOUGH
