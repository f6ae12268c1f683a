"""Gap walk: a gap between two parts of a garment, followed section by section at full resolution.

A section is taken where what lies in the middle looks like the floor in the gap behind, in whatever shade, or like
another colour of the floor, and what lies at both sides does not.
"""

from dataclasses import dataclass

import numpy as np

from ..arrays import Bytes, Flags, Floats
from .stations import sample_along

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
OTHER_COLOUR, OTHER_SHADES = 30.0, (0.5, 1.1)
"""Levels by which another colour of the floor is none of the shades of the gap's own: that of a rug's pattern. Such a
one may be in any of these shades, what is nearer to the gap's own only in about the same as that."""
BREAK_PX = 3.0
"""Where two colours of the floor meet they blur into one that is neither's, over so many pixels."""
LEAST_APART = 18.0
"""Levels that cloth and floor must differ by to be told apart so narrowly."""
NARROWEST_PX = 2.5
WIDER, WIDER_PX = 1.25, 1.5
"""A gap that ends grows by no more than this beyond the width of the sections before."""
MISSED, MISSED_OPEN = 3, 30
"""Sections one after another without a gap end the walk; and those where there is floor in the middle, though its edges
are not seen: beside a motif that looks like it."""
USUAL = 7
"""So many sections tell how wide a gap is; twice to four times as many, which way it goes."""
MOST_SECTIONS = 2000


@dataclass(frozen=True, eq=False)
class Section:
    """One section across a gap: its edges on the left and right of the way in.

    Attributes:
        left: (2,) one edge [px].
        right: (2,) the other.
        shade: how light the floor is there.
        banks: (3,) each, colours of the cloth beside the left and the right, where they are known.
    """

    left: Floats
    right: Floats
    shade: float = 1.0
    banks: tuple[Floats, ...] = ()

    @property
    def middle(self) -> Floats:
        """(2,) between the edges."""
        middle: Floats = (self.left + self.right) / 2
        return middle

    @property
    def width(self) -> float:
        """[px]."""
        return float(np.hypot(*(self.right - self.left)))


def walk_gap(image: Bytes, start: Section, heading: Floats, floors: Floats) -> list[Section]:
    """Return the sections of a gap, one after another on the way in; none where no gap is seen.

    Args:
        image: (H, W, 3) uint8 RGB.
        start: where the gap is plainly seen.
        heading: (2,) the way in, of length 1.
        floors: (K, 3) colours of the floor in full light, the gap's own first [levels].
    """
    sections: list[Section] = []
    # After a stretch of which nothing is sure, as many sections again must be seen.
    sure, unseen = 0, 0
    place, missed = start.middle, 0.0
    while missed < MISSED and len(sections) < MOST_SECTIONS:
        place = place + STEP_PX * heading
        if not (1 < place[0] < image.shape[1] - 2 and 1 < place[1] < image.shape[0] - 2):
            break
        last = sections[-1] if sections else start
        width = float(np.median([section.width for section in [start, *sections][-USUAL:]]))
        section, is_open = _cross(image, place, heading, width, last, floors)
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
    image: Bytes, place: Floats, heading: Floats, usual: float, last: Section, floors: Floats
) -> tuple[Section | None, bool]:
    """Return the section at a place, or None where no gap is seen, and whether it looks like floor there at all.

    Args:
        image: the photo.
        place: (2,) where its middle should lie.
        heading: (2,) the way in.
        usual: width of the sections before [px].
        last: the section before.
        floors: (K, 3) colours of the floor in full light, the gap's own first.
    """
    leftwards = np.array([heading[1], -heading[0]])
    bank = 0.65 * usual + SIDE_PX[0]
    half = np.ceil(bank + SIDE_PX[1])
    offsets = np.arange(-half, half + 0.1, 0.5)
    rows = np.array([-1.0, 0.0, 1.0])[:, None, None] * heading
    profile = sample_along(image, place + offsets[:, None] * leftwards + rows).astype(float).mean(axis=0)
    # Of each section anew: stripes run across a leg.
    banks = tuple(np.asarray(np.median(profile[side * offsets > bank], axis=0)) for side in (1, -1))
    if last.banks:
        # Where the section before lay askew, the place beside this one is in the gap.
        banks = tuple(_choose_bank(*pair, floors) for pair in zip(banks, last.banks, strict=True))
    like, likely, shade = _tell_floor(profile, banks, floors, last.shade)
    is_open = bool(likely[np.abs(offsets) <= 0.2 * usual].all())
    run = _find_run(like, offsets, 0.5 * usual + 1.0)
    if run is None:
        return None, is_open
    low, high = run
    width = offsets[high] - offsets[low] + 0.5
    if not NARROWEST_PX <= width <= WIDER * usual + WIDER_PX:
        return None, is_open
    left, right = place + (offsets[high] + 0.25) * leftwards, place + (offsets[low] - 0.25) * leftwards
    return Section(left, right, shade, banks), True


def _choose_bank(now: Floats, before: Floats, floors: Floats) -> Floats:
    """Return the cloth's colour beside a section: what is seen there, or `before` if that may be the floor."""
    off, off_before = (
        min(float(measure_away(bank[None], floor, OTHER_SHADES)[0][0]) for floor in floors) for bank in (now, before)
    )
    return before if off < LEAST_APART and off_before > off else now


def _tell_floor(profile: Floats, banks: tuple[Floats, ...], floors: Floats, shade: float) -> tuple[Flags, Flags, float]:
    """Return (N,) which colours are floor's and not cloth's, which may be, and the shade of the gap's own floor."""
    to_cloth = np.min([measure_away(profile, cloth, CLOTH_SHADES)[0] for cloth in banks], axis=0)
    darkest, lightest = FLOOR_SHADES
    known = max(darkest, shade * (1 - SHADE_STEP)), min(lightest, shade * (1 + SHADE_STEP))
    like, likely = np.zeros((2, len(profile)), bool)
    is_other = measure_away(floors, floors[0], FLOOR_SHADES)[0] > OTHER_COLOUR
    for number, floor in enumerate(floors):
        away = [float(np.linalg.norm(floor - cloth)) for cloth in banks]
        if max(away) < LEAST_APART:
            continue
        to_floor, seen = measure_away(profile, floor, OTHER_SHADES if is_other[number] else known)
        likely |= to_floor < min(ALIKE * max(away), MOST_ALIKE)
        own = (to_floor < min(ALIKE * min(away), MOST_ALIKE)) & (to_floor < LIKER * to_cloth)
        if not number and own.any():
            shade = float(np.median(seen[own]))
        like |= own
    return like, likely, shade


def measure_away(profile: Floats, colour: Floats, shades: tuple[float, float]) -> tuple[Floats, Floats]:
    """Return (N,) how far colours lie from the nearest shade of one [levels], and (N,) which shade that is."""
    shade: Floats = np.clip(profile @ colour / max(float(colour @ colour), 1e-6), *shades)
    away: Floats = np.linalg.norm(profile - shade[:, None] * colour, axis=1)
    return away, shade


def _find_run(like: Flags, offsets: Floats, reach: float) -> tuple[int, int] | None:
    """Return the first and last index of the longest run of `like` that comes within `reach` of the middle."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], like.astype(int), [0]])))
    runs: list[tuple[int, int]] = []
    for first, last in zip(edges[::2].tolist(), (edges[1::2] - 1).tolist(), strict=True):
        if runs and offsets[first] - offsets[runs[-1][1]] <= BREAK_PX:
            runs[-1] = runs[-1][0], last
        else:
            runs.append((first, last))
    runs = [run for run in runs if offsets[run[0]] <= reach and offsets[run[1]] >= -reach]
    return max(runs, key=lambda run: run[1] - run[0]) if runs else None
