"""Gap ends: narrow gaps between two parts of a garment, followed to their end at full resolution.

Where open legs meet, the gap between them runs out in a tip that is narrower than a pixel of the scale at which the
garment is told from the floor. The tip is the crotch, from which the pattern is measured. In the photo itself it can
still be followed: from where the gap was lost, section after section, as long as what lies in the middle looks like
the floor in the gap behind, in whatever shade, and what lies at both sides does not.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Bytes, Flags, Floats
from .masks import disc
from .proposals import find_few
from .stations import measure_normals, resample_ring, sample_along, signed_area

SPACING_PX = 2.0
ARM = 0.04
"""Length of the edge looked at on either side of an end, as a share of the garment's longest extent."""
NARROW = 0.4
"""The ends of the two arms lie closer than this share of their length both together, 47 degrees or less: the corner
under a sleeve is no gap."""
STEP_PX = 2.0
SIDE_PX = (3.0, 6.0)
"""What lies so far beyond the gap's banks, over so many pixels, says what the cloth is like."""
FLOOR_SHADES, CLOTH_SHADES = (0.3, 1.1), (0.55, 1.1)
"""Shares of their light that the floor in a gap, and the cloth beside it, may have: a gap is dark, and so is a seam."""
SHADE_STEP = 0.3
"""From section to section the floor's shade changes by this share at most."""
ALIKE, MOST_ALIKE, LIKER = 0.35, 32.0, 0.7
"""A place looks like floor if it is so near to one of its shades, as a share of what the cloth differs and in levels,
and as a share of how near it is to one of the cloth's."""
FLOOR_COLOURS, ROUND = 8, (0.01, 0.06)
"""Colours of the floor, from so far round the garment as shares of its longest extent."""
COARSE_PX = 500
OWN_COLOUR = 25.0
"""Levels within which the gap's own floor is one of these, in some shade."""
MOSTLY, AHEAD_PX = 0.9, 10.0
OTHER_COLOUR, OTHER_SHADES = 30.0, (0.5, 1.1)
"""Levels by which such a colour is none of the shades of what is seen in the gap: that of a rug's pattern."""
LEAST_APART = 18.0
"""Levels that cloth and floor must differ by to be told apart so narrowly."""
NARROWEST_PX = 2.5
WIDER, WIDER_PX = 1.25, 1.5
"""A gap that ends grows by no more than this beyond the width of the sections before."""
MISSED, MISSED_OPEN = 3, 30
"""Sections one after another without a gap end the walk; and those where there is floor in the middle, though its edges
are not seen: beside a motif that looks like it."""
LEAST_PX = 8.0
"""What is gained is worth it from here."""
USUAL = 7
"""So many sections tell how wide a gap is; twice to four times as many, which way it goes."""
MOST_SECTIONS = 2000


@dataclass(frozen=True, eq=False)
class _Section:
    """One section across a gap: its edges on the left and right of the way in, and how light the floor is there."""

    left: Floats
    right: Floats
    shade: float = 1.0

    @property
    def middle(self) -> Floats:
        """(2,) between the edges."""
        middle: Floats = (self.left + self.right) / 2
        return middle

    @property
    def width(self) -> float:
        """[px]."""
        return float(np.hypot(*(self.right - self.left)))


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
    points = resample_ring(ring, SPACING_PX)
    if signed_area(points) < 0:
        points = points[::-1]
    arm = max(6, int(ARM * float(np.ptp(points, axis=0).max()) / SPACING_PX))
    ends = _find_ends(points, arm)
    if is_asked is not None and ends:
        ends = [end for end, asked in zip(ends, is_asked(points[ends]), strict=True) if asked]
    if not ends:
        return ring
    # No end lies where the list of stations does.
    apart = np.abs((np.arange(len(points))[:, None] - ends + len(points) // 2) % len(points) - len(points) // 2)
    apart = apart.min(axis=1)
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
        if hollow[at] and all(min((at - end) % count, (end - at) % count) > arm for end in ends):
            ends.append(int(at))
    return ends


def _follow(
    points: Floats, end: int, arm: int, image: Bytes, ground: _Ground
) -> tuple[int, int, list[_Section]] | None:
    """Return (first, last) stations that the sections found replace, and these; None where nothing is gained."""
    around = points[end - arm : end + arm + 1]
    half = arm // 2
    near, far = around[: half + 1], around[-1 : -half - 2 : -1]
    middles = (near + far) / 2
    heading = middles[-1] - middles[0]
    heading = heading / max(float(np.hypot(*heading)), 1e-6)
    own: Floats = np.median(sample_along(image, middles).astype(float), axis=0)
    if min(_measure_away(own[None], floor, OTHER_SHADES)[0][0] for floor in ground.colours) > OWN_COLOUR:
        return None  # a dent in the cloth
    others = ground.colours[_measure_away(ground.colours, own, FLOOR_SHADES)[0] > OTHER_COLOUR]
    leftwards = np.array([heading[1], -heading[0]])
    # The end itself may be ragged: behind it the gap is plainly seen, unless it is so short that that lies before it.
    for first in (0, half):
        across = (near[first] - far[first]) @ leftwards / 2 * leftwards
        start = _Section(left=middles[first] + across, right=middles[first] - across)
        if not NARROWEST_PX < start.width < arm * SPACING_PX:
            continue
        sections = _walk(image, start, heading, np.vstack([own, others]))
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


def _walk(image: Bytes, start: _Section, heading: Floats, floors: Floats) -> list[_Section]:
    """Return the sections of a gap, one after another on the way in."""
    sections: list[_Section] = []
    # After a stretch of which nothing is sure, as many sections again must be seen.
    sure, unseen = 0, 0
    place, missed = start.middle, 0.0
    while missed < MISSED and len(sections) < MOST_SECTIONS:
        place = place + STEP_PX * heading
        if not (1 < place[0] < image.shape[1] - 2 and 1 < place[1] < image.shape[0] - 2):
            break
        last = sections[-1] if sections else start
        width = float(np.median([section.width for section in [start, *sections][-USUAL:]]))
        section, is_open = _cross(image, place, heading, width, last.shade, floors)
        if section is None:
            missed += MISSED / MISSED_OPEN if is_open else 1
            unseen += 1
            continue
        sections.append(section)
        if len(sections) - sure >= unseen:
            sure, unseen = len(sections), 0
        place, missed = section.middle, 0.0
        if len(sections) >= 2 * USUAL:
            middles = np.array([section.middle for section in sections[-4 * USUAL :]])
            ahead = middles[len(middles) // 2 :].mean(axis=0) - middles[: len(middles) // 2].mean(axis=0)
            heading = ahead / max(float(np.hypot(*ahead)), 1e-6)
    return sections[:sure]


def _cross(
    image: Bytes, place: Floats, heading: Floats, usual: float, shade: float, floors: Floats
) -> tuple[_Section | None, bool]:
    """Return the section at a place, or None where no gap is seen, and whether it looks like floor there at all.

    Args:
        image: the photo.
        place: (2,) where its middle should lie.
        heading: (2,) the way in.
        usual: width of the sections before [px].
        shade: of the gap's own floor in the last.
        floors: (K, 3) colours of the floor in full light, the gap's own first.
    """
    leftwards = np.array([heading[1], -heading[0]])
    bank = 0.65 * usual + SIDE_PX[0]
    half = np.ceil(bank + SIDE_PX[1])
    offsets = np.arange(-half, half + 0.1, 0.5)
    rows = np.array([-1.0, 0.0, 1.0])[:, None, None] * heading
    profile = sample_along(image, place + offsets[:, None] * leftwards + rows).astype(float).mean(axis=0)
    # Of each section anew: stripes run across a leg.
    banks = [np.median(profile[side * offsets > bank], axis=0) for side in (-1, 1)]
    like, likely, shade = _tell_floor(profile, banks, floors, shade)
    is_open = bool(likely[np.abs(offsets) <= 0.2 * usual].all())
    run = _find_run(like, offsets, 0.5 * usual + 1.0)
    if run is None:
        return None, is_open
    low, high = run
    width = offsets[high] - offsets[low] + 0.5
    if not NARROWEST_PX <= width <= WIDER * usual + WIDER_PX:
        return None, is_open
    left, right = place + (offsets[high] + 0.25) * leftwards, place + (offsets[low] - 0.25) * leftwards
    return _Section(left, right, shade), True


def _tell_floor(profile: Floats, banks: list[Floats], floors: Floats, shade: float) -> tuple[Flags, Flags, float]:
    """Return (N,) which colours are floor's and not cloth's, which may be, and the shade of the gap's own floor."""
    to_cloth = np.min([_measure_away(profile, cloth, CLOTH_SHADES)[0] for cloth in banks], axis=0)
    darkest, lightest = FLOOR_SHADES
    known = max(darkest, shade * (1 - SHADE_STEP)), min(lightest, shade * (1 + SHADE_STEP))
    like, likely = np.zeros((2, len(profile)), bool)
    for number, floor in enumerate(floors):
        away = [float(np.linalg.norm(floor - cloth)) for cloth in banks]
        if max(away) < LEAST_APART:
            continue
        to_floor, seen = _measure_away(profile, floor, OTHER_SHADES if number else known)
        likely |= to_floor < min(ALIKE * max(away), MOST_ALIKE)
        own = (to_floor < min(ALIKE * min(away), MOST_ALIKE)) & (to_floor < LIKER * to_cloth)
        if not number and own.any():
            shade = float(np.median(seen[own]))
        like |= own
    return like, likely, shade


def _measure_away(profile: Floats, colour: Floats, shades: tuple[float, float]) -> tuple[Floats, Floats]:
    """Return (N,) how far colours lie from the nearest shade of one [levels], and (N,) which shade that is."""
    shade: Floats = np.clip(profile @ colour / max(float(colour @ colour), 1e-6), *shades)
    away: Floats = np.linalg.norm(profile - shade[:, None] * colour, axis=1)
    return away, shade


def _find_run(like: Flags, offsets: Floats, reach: float) -> tuple[int, int] | None:
    """Return the first and last index of the longest run of `like` that comes within `reach` of the middle."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], like.astype(int), [0]])))
    runs = [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    runs = [run for run in runs if offsets[run[0]] <= reach and offsets[run[1]] >= -reach]
    return max(runs, key=lambda run: run[1] - run[0]) if runs else None
