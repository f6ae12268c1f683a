"""Bites: narrow dents and bumps of an edge that runs straight on at both sides of them.

A print of the floor's colour that is cut off at the cloth's edge looks like a piece of floor, and a spot of the floor
beside it like cloth. But cloth's edges do not turn out of their way for a centimetre and come back to it: where the
edge goes on behind the dent in line with how it came, and something changes across the line between, the line is the
edge.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from ..arrays import Bytes, Flags, Floats
from .edge import Edge
from .line_step import SHORTEST_LINE_PX, measure_clearness
from .stations import sample_along

_WIDEST = 0.045
"""Along the edge, as a share of the garment's longest extent: a motif 4 cm wide on leggings of 90 cm."""
_DEEPEST = 0.03
"""The gap between two legs, as narrow at its mouth, is deeper."""
_SHORTEST_PX = 6.0
_SHALLOWEST_PX, _SHALLOWEST_SLIGHT_PX = 2.5, 3.2
_DETOUR, _SLIGHT = 1.12, 1.04
"""How much longer than the line a way is that must be explained; the roughest true edges stay below. A slight bite, as
of a motif of which the edge leaves a sliver, is longer by the second at least."""
_IN_LINE = np.cos(np.radians(14.0))
_STEP_LAB = 2.0
"""A change of colour across the line that is more than the light's fall-off (CIE Lab). For a deep bite it is enough: on
64 drawn and rendered photos it closed 138 deep dents, 130 of them to the better and 3 to the worse; an edge as clear as
is asked of slight ones had 30."""
_LENGTHS = 14
_SHORT, _SHORT_SLIGHT = 0.05, 0.3
"""What the detour counts for beside how straight the ends are."""


@dataclass(frozen=True)
class _Bite:
    """A way that leaves its line and comes back to it.

    Attributes:
        start: its first station.
        length: stations on to its last.
        worth: how well its ends suit, the higher the better.
        is_slight: it is hardly longer than the line.
    """

    start: int
    length: int
    worth: float
    is_slight: bool


def close_bites(edge: Edge, image: Bytes, within: Flags | None = None) -> tuple[Edge, Flags]:
    """Return the edge with its bites cut short, and (N,) True where it was.

    Args:
        edge: running counter-clockwise on the picture.
        image: (H, W, 3) uint8 RGB in whose pixels the ring is.
        within: (N,) stations that may be moved; None for all.
    """
    ring = edge.ring
    count = len(ring)
    closed = np.zeros(count, bool)
    extent = float(np.ptp(ring, axis=0).max())
    step = float(np.median(np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1)))
    longest = min(int(2 * _WIDEST * extent / step), count // 6)
    shortest = max(4, int(_SHORTEST_PX / step))
    if longest <= shortest:
        return edge, closed
    moved = ring.copy()
    lengths = np.unique(np.geomspace(shortest, longest, _LENGTHS).astype(int))
    found = [one for length in lengths for one in _find_bites(ring, int(length), extent)]
    for bite in sorted(found, key=lambda one: (one.is_slight, -one.worth)):
        rows = (bite.start + np.arange(bite.length + 1)) % count
        if closed[rows].any() or (within is not None and not within[rows[1:-1]].all()):
            continue
        share = np.linspace(0, 1, bite.length + 1)[:, None]
        line = ring[rows[0]] * (1 - share) + ring[rows[-1]] * share
        is_edge = _is_clear if bite.is_slight else _is_step
        if is_edge(image, line, ring[rows]):
            moved[rows[1:-1]] = line[1:-1]
            closed[rows[1:-1]] = True
    sigma = np.where(closed, np.maximum(edge.sigma, 1.0), edge.sigma)
    return replace(edge, ring=moved, sigma=sigma), closed


def _find_bites(ring: Floats, length: int, extent: float) -> list[_Bite]:
    """Return the ways of `length` points that leave their line and come back to it."""
    lead = max(4, length // 2)
    ahead = np.roll(ring, -length, axis=0)
    chord = ahead - ring
    across = np.linalg.norm(chord, axis=1)
    unit = chord / np.maximum(across, 1e-6)[:, None]
    came = ring - np.roll(ring, lead, axis=0)
    goes = np.roll(ahead, -lead, axis=0) - ahead
    came /= np.maximum(np.linalg.norm(came, axis=1), 1e-6)[:, None]
    goes /= np.maximum(np.linalg.norm(goes, axis=1), 1e-6)[:, None]
    in_line = np.minimum((came * unit).sum(axis=1), (goes * unit).sum(axis=1))
    # Stations stand evenly along the edge as first thought; a way that leaves it has them farther apart.
    paces = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1)
    walked = np.concatenate([[0.0], np.cumsum(np.concatenate([paces, paces]))])
    detour = (walked[length : length + len(ring)] - walked[: len(ring)]) / np.maximum(across, 1e-6)
    likely = (detour > _SLIGHT) & (in_line > _IN_LINE) & (across < _WIDEST * extent) & (across > _SHORTEST_PX)
    out = []
    for start in np.flatnonzero(likely):
        rows = (start + np.arange(length + 1)) % len(ring)
        away = (ring[rows] - ring[start]) @ np.array([-unit[start, 1], unit[start, 0]])
        depth = float(np.abs(away).max())
        is_slight = bool(detour[start] <= _DETOUR)
        if (_SHALLOWEST_SLIGHT_PX if is_slight else _SHALLOWEST_PX) < depth < _DEEPEST * extent:
            # The straightest and the shortest: ends inside the dent are not in line, ends far off waste true edge.
            longer = (_SHORT_SLIGHT if is_slight else _SHORT) * (detour[start] - 1)
            out.append(_Bite(int(start), length, float(in_line[start] + longer), is_slight))
    return out


def _is_clear(image: Bytes, line: Floats, way: Floats) -> bool:
    """Whether the photo shows an edge along the line; asked only of dents, where cloth lies between line and way."""
    along = line[-1] - line[0]
    # Counter-clockwise on a picture whose y runs down the inside is on this side.
    inside = np.array([along[1], -along[0]])
    away = (way - line) @ inside
    if np.linalg.norm(along) < SHORTEST_LINE_PX or -away.min() > away.max():
        return False
    return measure_clearness(image, line[0], line[-1], line[0] + inside) >= 1


def _is_step(image: Bytes, line: Floats, way: Floats) -> bool:
    """Whether the colour changes across the line on the way's side of it."""
    along = line[-1] - line[0]
    normal = np.array([-along[1], along[0]]) / max(float(np.linalg.norm(along)), 1e-6)
    depth = (way - line) @ normal
    inner = normal * np.sign(depth[int(np.abs(depth).argmax())])
    deep = np.abs(depth) > min(3.5, 0.6 * float(np.abs(depth).max()))
    if deep.sum() < 2:
        return False
    places = line[deep][:, None] + np.array([-4.0, -3.0, -2.0, 1.5, 2.5, 3.5])[:, None] * inner
    lab = cv2.cvtColor((sample_along(image, places) / 255.0).astype(np.float32), cv2.COLOR_RGB2LAB)
    outside, inside = lab[:, :3].mean(axis=(0, 1)), lab[:, 3:].mean(axis=(0, 1))
    return bool(np.linalg.norm(outside - inside) > _STEP_LAB)
