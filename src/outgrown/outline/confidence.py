"""Confidence: how sure it is, stretch by stretch, that the ring runs along the cloth's edge and not along another.

Seven signs (`signs.py`) each add to the log-odds that the ring lies more than 3 px beside the true edge, in a photo of
400 px on its shorter side. The tables are a logistic fit in which no sign may count the other way round: on 518
rings in 14 photos of clothes with hand-made masks, 117 composites of them (garments cut out, turned, recoloured towards
the floor's colour, with bands of it, laid in each other's photos with shadows, joints and patches of sun) and 30 drawn
scenes. A third of the rings were those found; the others were cut with another leaning or by grabCut, so that
the signs do not hang on one way of finding them. `benchmarks/fit_signs.py` fits the tables anew, `benchmarks/flags.py`
measures what they come to.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter1d

from ..arrays import Flags, Floats
from ..findings import Finding
from .band import LocalLooks
from .masks import measure_away
from .segmentation import Segmentation
from .signs import measure_signs
from .stations import find_runs

Table = tuple[tuple[float, ...], tuple[float, ...]]
LOG_ODDS = -5.95
"""Where no sign speaks against the ring."""
TABLES: dict[str, Table] = {
    "inside like cloth": ((0.10, 0.23, 0.41, 0.54), (2.2, 1.55, 0.5, 0.0)),
    "inside like floor": ((0.0, 0.01, 0.13), (0.0, 0.8, 1.1)),
    "outside like floor": ((0.06, 0.17, 0.42, 0.65, 0.75, 0.92), (2.85, 1.4, 1.1, 0.7, 0.5, 0.0)),
    "wide inside": ((-3.54, -2.9, -1.9, -0.7), (0.0, 0.2, 0.5, 0.7)),
    "taught outside": ((-3.6, -3.4, -3.0, -1.85, 0.0), (0.2, 0.45, 0.65, 1.25, 1.4)),
    "hue": ((0.47, 1.07, 1.67, 3.43, 3.97), (3.55, 1.6, 0.65, 0.65, 0.0)),
    "clear": ((0.8, 0.95), (1.45, 0.0)),
}
"""What each sign adds, from value to value."""
UNSURE_LOG_ODDS = -2.3
"""A chance of 0.09 of being wrong is where confidence is a half. With 0.13 the precision is the same, but on the 14
photos 65 % of what is wrong was told instead of 80 %, and 76 % instead of 97 % of what is grossly wrong, for 26 % of
the outline told instead of 34 %."""
EASE = 2.0
"""Spread along the ring [stations]."""
NEAR_PX = 4.0
"""What a hint changed speaks for the ring within this distance, at working scale."""
UNSURE = 0.5
"""Below this a stretch is told and drawn as unsure."""
TOLD_SHARE = 0.05
"""A single unsure stretch of this share of the outline is worth a warning."""
MOST_PLACES = 3
UNSURE_CODE = "outline-unsure"
PULLED_SHARE = 2e-3
"""What a pull moved by more than this share of the outline's extent was drawn to where it lies."""


def measure_confidence(
    looks: LocalLooks, seen: Segmentation, said: Flags, ring_px: Floats, *, from_change: bool = False
) -> Floats:
    """Return (N,) 0..1 how sure it is that the ring runs along the cloth's edge; 0.5 is where it is told as unsure.

    Args:
        looks: of the cut-out.
        seen: its segmentation.
        said: (h, w) True where a person's hint decided.
        ring_px: (N, 2) in the photo, counter-clockwise.
        from_change: what the segmentation rests on is the change from the empty floor; colours are then not asked.
    """
    at = (ring_px - np.array(seen.origin_px) + 0.5) / np.array(seen.step_px) - 0.5
    stations, signs = measure_signs(looks, seen.log_ratio, seen.blocked, at)
    against = np.maximum(signs["taught inside"], signs["taught outside"]) if from_change else _weigh(signs)
    confidence = _carry(1.0 / (1.0 + np.exp(against)), stations, at)
    if said.any():
        away = measure_away(said)
        spots = at.astype(np.float32)
        near = np.asarray(cv2.remap(away, spots[None, :, 0], spots[None, :, 1], cv2.INTER_LINEAR))[0] < NEAR_PX
        confidence[near] = 1.0
    return confidence


def _weigh(signs: dict[str, Floats]) -> Floats:
    """Return (N,) log-odds that the ring is wrong, above those from which it is told."""
    total = LOG_ODDS - UNSURE_LOG_ODDS + sum(np.interp(signs[name], *table) for name, table in TABLES.items())
    eased: Floats = gaussian_filter1d(total, EASE, mode="wrap")
    return eased


def _carry(values: Floats, stations: Floats, ring: Floats) -> Floats:
    """Return the values (M,) of stations, which begin with the ring and run along it, at its own points."""
    step = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1)
    along = np.concatenate([[0.0], np.cumsum(step)[:-1]]) * len(stations) / max(float(step.sum()), 1e-9)
    carried: Floats = np.interp(along, np.arange(len(stations) + 1), np.append(values, values[0]))
    return carried


def count_as_said(before_px: Floats, after_px: Floats, confidence: Floats) -> Floats:
    """Return the confidence (N,) of a ring that a person drew to where it lies (N, 2): sure where it was moved."""
    moved = np.linalg.norm(after_px - before_px, axis=1) > PULLED_SHARE * float(np.ptp(before_px, axis=0).max())
    said: Floats = np.where(moved, 1.0, confidence)
    return said


def find_unsure(ring_px: Floats, confidence: Floats) -> tuple[Finding, ...]:
    """Return a warning that names the longest stretches of the ring that are not sure, or nothing."""
    step = np.linalg.norm(np.roll(ring_px, -1, axis=0) - ring_px, axis=1)
    unsure = confidence < UNSURE
    if not unsure.any():
        return ()
    long = [run for run in find_runs(unsure) if unsure[run[0]] and step[run].sum() >= TOLD_SHARE * step.sum()]
    if not long:
        return ()
    long.sort(key=lambda run: -float(step[run].sum()))
    places = [name_place(ring_px, ring_px[run[len(run) // 2]]) for run in long]
    share = 100 * float(step[unsure].sum() / step.sum())
    whole = unsure.all()
    where = "all round" if whole else f"along {share:.0f} % of its length, above all near the {list_places(places)}"
    return (
        Finding(
            UNSURE_CODE,
            f"Cloth and floor are hard to tell apart, and the outline may be wrong {where}.",
            "Look there in the check picture; where the line is wrong, point at the garment or at the floor there.",
            place="outer edge" if whole else f"outer edge near the {places[0]}",
        ),
    )


def list_places(places: Sequence[str]) -> str:
    """Return the first few of the places, none twice, as part of a sentence: `top left, middle and bottom left`."""
    named = list(dict.fromkeys(places))[:MOST_PLACES]
    return " and ".join(filter(None, [", ".join(named[:-1]), named[-1]]))


def name_place(ring_px: Floats, at_px: Floats) -> str:
    """Return where a place lies within the ring's box, as seen in the photo: `top left`, `middle of the right side`."""
    low, high = ring_px.min(axis=0), ring_px.max(axis=0)
    x, y = np.clip((at_px - low) / np.maximum(high - low, 1.0), 0, 1)
    across = "left" if x < 0.36 else "right" if x > 0.64 else ""
    down = "top" if y < 0.36 else "bottom" if y > 0.64 else ""
    if across and down:
        return f"{down} {across}"
    if across:
        return f"middle of the {across} side"
    return f"middle of the {down}" if down else "middle"
