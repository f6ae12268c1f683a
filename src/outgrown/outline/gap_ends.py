"""Gap ends: narrow gaps between two parts of a garment, followed to their end at full resolution.

Where open legs meet, the gap between them runs out in a tip that is narrower than a pixel of the scale at which the
garment is told from the floor. The tip is the crotch, from which the pattern is measured. In the photo itself it can
still be followed: from where the gap was lost, section after section, as long as what lies in the middle looks like
the floor in the gap behind, in whatever shade, and what lies at both sides does not.
"""

from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Bytes, Flags, Floats
from .gap_walk import NARROWEST_PX, OTHER_SHADES, Section, measure_away, walk_gap
from .masks import disc
from .proposals import find_few
from .stations import measure_normals, resample_ring, sample_along, turn_counter_clockwise

SPACING_PX = 2.0
ARM = 0.04
"""Length of the edge looked at on either side of an end, as a share of the garment's longest extent."""
NARROW = 0.5
"""The ends of the two arms lie closer than this share of their length both together, 60 degrees or less: a gap lost
where it is wide ends blunt, and the corner under a sleeve is no gap. With 0.4 two of 334 outlines lost the end of
one, 25 and 146 mm; with 0.6 no more was found."""
FLOOR_COLOURS, ROUND = 8, (0.01, 0.06)
"""Colours of the floor, from so far round the garment as shares of its longest extent."""
COARSE_PX = 500
OWN_COLOUR = 25.0
"""Levels within which the gap's own floor is one of these, in some shade."""
MOSTLY, AHEAD_PX = 0.9, 10.0
"""This share of what was gained, and what lies so far beyond it, was taken for cloth."""
LEAST_PX = 8.0
"""What is gained is worth it from here."""


class _Ground:
    """What a ring covers, coarsely, and the colours of the floor round it."""

    def __init__(self, points: Floats, image: Bytes, apart: NDArray[Any]) -> None:
        """See the floor round stations (N, 2), but where one lies not `apart` (N,) from the ends of gaps."""
        extent = float(np.ptp(points, axis=0).max())
        self._coarse = max(1.0, extent / COARSE_PX)
        height, width = image.shape[:2]
        self._covered = np.zeros((int(height / self._coarse) + 2, int(width / self._coarse) + 2), np.uint8)
        cv2.fillPoly(self._covered, [np.round(points / self._coarse).astype(np.int32)], 1)
        reach = np.linspace(*ROUND, 6) * extent
        places = points[:, None] + reach[:, None] * measure_normals(points, 2.0)[:, None]
        places = places[apart][::5].reshape(-1, 2)
        places = places[((places > 0) & (places < np.array([width, height]) - 1)).all(axis=1)]
        # Not what lies beyond a gap: the other leg, or the gap itself where that was lost.
        closing = disc(round(0.5 * ROUND[1] * extent / self._coarse))
        closed = np.asarray(cv2.morphologyEx(self._covered, cv2.MORPH_CLOSE, closing))
        seen = sample_along(image, places[self._look_up(closed, places) == 0]).astype(np.float32)
        few = find_few(seen, FLOOR_COLOURS, 3) if len(seen) > FLOOR_COLOURS else seen
        self.colours: Floats = np.asarray(few, dtype=np.float64)

    def covers(self, places: Floats) -> Flags:
        """Return (N,) True where places lie within the ring."""
        return self._look_up(self._covered, places) > 0

    def _look_up(self, picture: NDArray[Any], places: Floats) -> NDArray[Any]:
        at = np.clip(np.round(places / self._coarse).astype(int), 0, np.array(picture.shape[::-1]) - 1)
        found: NDArray[Any] = picture[at[:, 1], at[:, 0]]
        return found


def lengthen_gaps(ring: Floats, image: Bytes, is_asked: Callable[[Floats], Flags] | None = None) -> Floats:
    """Return the ring with the gaps that lead into it followed to their ends; the ring itself where there are none.

    Args:
        ring: (N, 2) the garment's edge, right to a few pixels, counter-clockwise on the picture.
        image: (H, W, 3) uint8 RGB in whose pixels the ring is.
        is_asked: tells of places (N, 2) whether a gap that ends there is to be followed; all are where it is missing.
    """
    points = turn_counter_clockwise(resample_ring(ring, SPACING_PX))
    arm = max(6, int(ARM * float(np.ptp(points, axis=0).max()) / SPACING_PX))
    ends = _find_ends(points, arm)
    if is_asked is not None and ends:
        ends = [end for end, asked in zip(ends, is_asked(points[ends]), strict=True) if asked]
    if not ends:
        return ring
    # No end lies where the list of stations does.
    apart = _count_between(np.arange(len(points))[:, None], np.array(ends), len(points)).min(axis=1)
    ground = _Ground(points, image, apart > 2 * arm)
    shift = int(apart.argmax())
    points, ends = np.roll(points, -shift, axis=0), [(end - shift) % len(points) for end in ends]
    if not len(ground.colours):
        return ring
    inner = [end for end in ends if arm <= end < len(points) - arm]
    walks = [walk for walk in (_follow(points, end, arm, image, ground) for end in inner) if walk is not None]
    if not walks:
        return ring
    for first, last, sections in sorted(walks, key=lambda walk: -walk[0]):
        # Going round counter-clockwise the floor lies on the right: the way in runs along the gap's left bank.
        way = [section.left for section in sections] + [section.right for section in reversed(sections)]
        points = np.vstack([points[: first + 1], way, points[last:]])
    return points


def _count_between(one: NDArray[Any] | int, other: NDArray[Any] | int, count: int) -> NDArray[Any]:
    """Return how many stations lie between two of `count`, the shorter way round."""
    return np.minimum((one - other) % count, (other - one) % count)


def _find_ends(points: Floats, arm: int) -> list[int]:
    """Return the stations at which the ring turns round a gap's end, the sharpest first; `arm` stations either way."""
    count = len(points)
    if count < 6 * arm:
        return []
    before, after = np.roll(points, arm, axis=0), np.roll(points, -arm, axis=0)
    chord = np.linalg.norm(after - before, axis=1) / (2 * arm * SPACING_PX)
    one, other = points - before, after - points
    # With y down a counter-clockwise ring turns right, on the screen's numbers, where it is hollow.
    hollow = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0] > 0
    ends: list[int] = []
    for at in np.argsort(chord):
        if chord[at] > NARROW:
            break
        if hollow[at] and all(_count_between(at, end, count) > arm for end in ends):
            ends.append(int(at))
    return ends


def _follow(points: Floats, end: int, arm: int, image: Bytes, ground: _Ground) -> tuple[int, int, list[Section]] | None:
    """Return (first, last) stations that the sections found replace, and these; None where nothing is gained."""
    around = points[end - arm : end + arm + 1]
    half = arm // 2
    near, far = around[: half + 1], around[-1 : -half - 2 : -1]
    middles = (near + far) / 2
    heading = middles[-1] - middles[0]
    heading = heading / max(float(np.hypot(*heading)), 1e-6)
    own: Floats = np.median(sample_along(image, middles).astype(float), axis=0)
    if min(measure_away(own[None], floor, OTHER_SHADES)[0][0] for floor in ground.colours) > OWN_COLOUR:
        return None  # a dent in the cloth
    leftwards = np.array([heading[1], -heading[0]])
    # The end itself may be ragged: behind it the gap is plainly seen, unless it is so short that that lies before it.
    for first in (0, half):
        across = (near[first] - far[first]) @ leftwards / 2 * leftwards
        start = Section(left=middles[first] + across, right=middles[first] - across)
        if not NARROWEST_PX < start.width < arm * SPACING_PX:
            continue
        sections = walk_gap(image, start, heading, np.vstack([own, ground.colours]))
        tip = float(((around - start.middle) @ heading).max())
        along = np.array([(section.middle - start.middle) @ heading for section in sections])
        if not len(along) or along[-1] <= tip + LEAST_PX:
            continue
        beyond = np.array([section.middle for section in sections])[along > tip + LEAST_PX]
        # What was lost lies in what was taken for cloth; a way that leads out again cuts the garment in two.
        ahead = beyond[-1] + np.array([1.0, 2.0])[:, None] * AHEAD_PX * heading
        if ground.covers(beyond).mean() > MOSTLY and ground.covers(ahead).all():
            return end - arm + first, end + arm - first, sections
    return None
