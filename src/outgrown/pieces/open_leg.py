"""Open leg: front and back drafted from a pair that lay open; the rise curves are estimates.

How far front and back reach beyond the body's middle at the crotch, their forks, follows an old rule of trouser
drafts: a sixteenth of the seat's girth in front (Aldrich, "Metric Pattern Cutting", trouser block; from memory), twice
that behind (common practice, no source).
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from ..arrays import Floats
from ..findings import Finding, Severity
from ..garment.garment import EdgeName, Garment
from ..geometry.polylines import length_mm, resample, tangent_at_end
from ..practice import BACK_FORK_SHARE, BACK_HIGHER_SHARE, FRONT_FORK_SHARE, SEAT_ABOVE_CROTCH_MM
from .leg_seams import LegSeams

LEAST_OF_RULE, MOST_OF_RULE = 0.45, 1.25
"""The legs' own width at the crotch is believed when both forks together make this share of the rule's."""
FLARE_MM = 70.0
"""The inseam's last stretch, which flares to the crotch point and is hidden where the legs meet."""
ESTIMATE = "ESTIMATE: rise curves by a drafting rule, not from the photo"


@dataclass(frozen=True, eq=False)
class OpenDraft:
    """Front and back halves with drafted rises.

    Attributes:
        front: seam lines, side on x = 0.
        back: the same.
        findings: what was estimated, by how much.
    """

    front: LegSeams
    back: LegSeams
    findings: tuple[Finding, ...]


def draft_rises(garment: Garment) -> OpenDraft:
    """Return front and back of a pair read as laid open: widths and lengths as seen, forks and rise curves by rule."""
    side, hem, inseam, centre, waist = (
        garment.edge(name).points_mm
        for name in (EdgeName.SIDE, EdgeName.HEM, EdgeName.INSEAM, EdgeName.CENTRE, EdgeName.WAIST)
    )
    crotch = float(inseam[-1, 1])
    rise = float(centre[-1, 1]) - crotch
    level = crotch + 0.5 * rise
    body = float(np.interp(level, centre[:, 1], centre[:, 0]))
    seat_level = crotch + min(SEAT_ABOVE_CROTCH_MM.value, 0.5 * rise)
    seat = 4.0 * min(float(np.interp(seat_level, centre[:, 1], centre[:, 0])), 1.12 * body)
    forks = (FRONT_FORK_SHARE.value + BACK_FORK_SHARE.value) * seat
    seen = float(inseam[-1, 0])
    body = min(body, 0.25 * seat)
    wide = float(np.clip(seen, body + 0.5 * LEAST_OF_RULE * forks, body + 0.5 * MOST_OF_RULE * forks))
    both = 2.0 * (wide - body)
    share = FRONT_FORK_SHARE.value / (FRONT_FORK_SHARE.value + BACK_FORK_SHARE.value)
    higher = BACK_HIGHER_SHARE.value * seat
    front = _half(side, hem, inseam, waist, wide, wide - 0.5 * both + share * both, level, body, 0.0)
    back = _half(side, hem, inseam, waist, wide, wide - 0.5 * both + (1.0 - share) * both, level, body, higher)
    lengths = length_mm(front.rise_mm), length_mm(back.rise_mm)
    findings = [
        Finding(
            "rise-estimated",
            f"Laid open, the rise is hidden: its curves are estimates, {lengths[0]:.0f} mm in front and "
            f"{lengths[1]:.0f} mm behind, with forks of {share * both:.0f} and {(1 - share) * both:.0f} mm by the rule "
            f"of a sixteenth of the seat in front and twice that behind (the rule alone: {share * forks:.0f} and "
            f"{(1 - share) * forks:.0f} mm).",
            "Photograph the pair folded with the fronts out and with the backs out for the true curves.",
            Severity.WARNING,
            "rise",
        )
    ]
    if abs(wide - seen) > 3.0:
        findings.append(
            Finding(
                "crotch-width-by-rule",
                f"The legs show {2 * seen:.0f} mm round at the crotch, which leaves "
                f"{'too little' if wide > seen else 'too much'} for the forks; {2 * wide:.0f} mm was drawn by rule.",
                "Measure the thigh on the garment and compare it with the pattern.",
                Severity.NOTE,
                "crotch point",
                2.0 * (wide - seen),
            )
        )
    return OpenDraft(front, back, tuple(findings))


def _half(
    side: Floats,
    hem: Floats,
    inseam: Floats,
    waist: Floats,
    mean_mm: float,
    wide_mm: float,
    level_mm: float,
    body_mm: float,
    higher_mm: float,
) -> LegSeams:
    """Return one half: its crotch point at `wide_mm`, its rise through the body's middle, its waist raised behind."""
    crotch = float(inseam[-1, 1])
    low = float(inseam[0, 1])
    up = np.clip((inseam[:, 1] - low) / (crotch - low), 0.0, 1.0)
    # Below the flare the legs are as wide as they lie; front and back part from 40 % of the length up.
    flare = min(FLARE_MM / (crotch - low), 0.5)
    near, far = np.clip((up - 1.0 + flare) / flare, 0.0, 1.0), np.clip((up - 0.4) / 0.6, 0.0, 1.0)
    wider = (mean_mm - inseam[-1, 0]) * near**2 + (wide_mm - mean_mm) * far**2
    leg = _as_long(np.column_stack([inseam[:, 0] + wider, inseam[:, 1]]), length_mm(inseam))
    by = 1.0 - np.clip(waist[:, 0] / waist[0, 0], 0.0, 1.0)
    edge = waist + np.outer(higher_mm * (1.0 - by) ** 2, [0.0, 1.0])
    point, top = leg[-1], edge[0]
    into = tangent_at_end(leg, 15.0)
    leaving = np.array([-into[1], into[0]])
    middle = np.array([body_mm, level_mm])
    straight = (top - middle) / np.hypot(*(top - middle))
    fork, depth = abs(float(point[0] - middle[0])), float(middle[1] - point[1])
    handles = np.array([point, point + 0.8 * fork * leaving, middle - 0.6 * depth * straight, middle])
    u = np.linspace(0.0, 1.0, 120)[:, None]
    v = 1.0 - u
    curve = v**3 * handles[0] + 3 * v**2 * u * handles[1] + 3 * v * u**2 * handles[2] + u**3 * handles[3]
    rise = np.vstack([curve, resample(np.array([middle, top]), 2.0)[1:]])
    return LegSeams(np.array([edge[-1], [0.0, 0.0]]), hem, leg, rise, edge)


def _as_long(leg: Floats, wanted_mm: float) -> Floats:
    """Return the inseam with its heights stretched from the hem so that it is `wanted_mm` long; wider forks sink."""
    low = float(leg[0, 1])

    def scaled(scale: float) -> Floats:
        return np.column_stack([leg[:, 0], low + scale * (leg[:, 1] - low)])

    if length_mm(scaled(0.3)) >= wanted_mm:
        return scaled(0.3)
    return scaled(float(brentq(lambda k: length_mm(scaled(k)) - wanted_mm, 0.3, 1.5, xtol=1e-12)))
