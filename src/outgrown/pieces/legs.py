"""Legs: folded photos, one or two, become the pieces of a leg."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..arrays import Floats, frozen
from ..findings import Finding, Severity
from ..garment.garment import EdgeName, Garment, Measurement
from ..geometry.polylines import length_mm
from ..practice import FOLDED_BAND_HEIGHT_MM, RIB_CUFF_HEIGHT_MM
from .band_pieces import draw_bands
from .bands_to_cut import Bands, list_bands
from .choices import Allowance, Choices, Hem, Waist
from .labelling import write_labels
from .leg import build_joined_leg, build_leg
from .leg_seams import ORDER, LegSeams, heighten, lengthen, lower_waist, raise_hem, spread_waist, true_corners
from .matching import MatchedLeg, are_mixed_up, match_halves
from .open_leg import ESTIMATE, draft_rises
from .panel_leg import split_panel
from .piece import CutListRow, Finish, Piece

ON_FOLD_TWICE = "cut 2, mirrored, on fold"
MIRRORED = "cut 2, mirrored"
MEAN_OF_BOTH = "; mean of both photos"
MIRRORED_TWICE = "cut 4, two of them mirrored"
_JOINED = (EdgeName.HEM, EdgeName.INSEAM, EdgeName.RISE, EdgeName.WAIST)
Allowances = dict[EdgeName, Allowance]


@dataclass(frozen=True, eq=False)
class Drafted:
    """What a drafting step hands over.

    Attributes:
        pieces: to draw.
        cut_list: to cut.
        findings: what the person should know.
        provenance: plain JSON values to keep: seams walked, corners joined.
    """

    pieces: tuple[Piece, ...]
    cut_list: tuple[CutListRow, ...]
    findings: tuple[Finding, ...]
    provenance: Mapping[str, Any] | None = None


def draft_alike(garment: Garment, choices: Choices, allowances: Allowances) -> Drafted:
    """Return the leg from one folded photo: front and back alike, on the fold or with a side seam."""
    seams, bands = _seams_for(garment, choices, *_wanted_heights((garment,), choices))
    shape, about_side = side_shape((garment,), choices)
    seams, trued = true_corners(seams if shape is None else seams.shaped(shape))
    if choices.side_seam:
        quantity, own, note = MIRRORED_TWICE, "front and back alike", "front and back alike, each twice, mirrored"
    else:
        quantity, own = ON_FOLD_TWICE, "front and back alike; place the side on a fold"
        note = "on a fold; the second is the mirror image"
    labels = write_labels(choices, allowances, ORDER, (quantity, own))
    leg = build_leg(seams, allowances, name="leg", quantity=quantity, labels=labels)
    rest, about = list_bands(4.0 * length_mm(seams.waist_mm), 2.0 * length_mm(seams.hem_mm), choices, allowances, bands)
    row = CutListRow(leg.name, 4 if choices.side_seam else 2, None, None, "main fabric", note)
    lost = Finding(
        "front-and-back-alike",
        "One folded photo shows one rise: front and back are cut alike, so the back is no higher than the front.",
        "For the true back, photograph the pair with the backs out too, and give both photos (--back).",
        Severity.NOTE,
        "rise",
    )
    strips = draw_bands(rest, choices, allowances, side_share=0.5)
    return Drafted((leg, *strips), (row, *rest), (lost, *about_side, *_hem_findings(seams, allowances), *trued, *about))


def draft_front_and_back(front: Garment, back: Garment, choices: Choices, allowances: Allowances) -> Drafted:
    """Return the leg from two folded photos, one with the fronts out and one with the backs out.

    Raises:
        PieceError: seams that are sewn together differ too much.
    """
    heights = _wanted_heights((front, back), choices)
    (front_seams, of_front), (back_seams, of_back) = (_seams_for(g, choices, *heights) for g in (front, back))
    findings: list[Finding] = []
    if are_mixed_up(front_seams, back_seams):
        findings.append(
            Finding(
                "front-and-back-swapped",
                f"The rise of the first photo is {length_mm(front_seams.rise_mm) - length_mm(back_seams.rise_mm):.0f} "
                "mm longer than that of the second, so the first is taken for the back.",
                "Backs are higher than fronts; look at both check pictures.",
                place="rise",
            )
        )
        front_seams, back_seams, of_front, of_back = back_seams, front_seams, of_back, of_front
    bands = replace(
        of_front,
        cuff_edge_mm=_mean(of_front.cuff_edge_mm, of_back.cuff_edge_mm),
        waistband_edge_mm=_mean(of_front.waistband_edge_mm, of_back.waistband_edge_mm),
    )
    shape, about_side = side_shape((front, back), choices)
    matched = match_halves(front_seams, back_seams, choices.share_up_to_mm, side_shape_mm=shape)
    return assemble(matched, choices, allowances, bands, [*findings, *about_side])


def side_shape(garments: tuple[Garment, ...], choices: Choices) -> tuple[Floats | None, tuple[Finding, ...]]:
    """Return the shape of the side to be kept, the photos' mean, or None where it is straight or there is no seam."""
    shapes = [g.side_shape_mm for g in garments if g.side_shape_mm is not None]
    if not choices.side_seam or not shapes:
        return None, ()
    heights = np.linspace(min(s[0, 0] for s in shapes), max(s[-1, 0] for s in shapes), 200)
    aside = sum(np.interp(heights, *s.T) for s in shapes) / len(garments)
    bow = float(np.abs(aside).max())
    finding = Finding(
        "side-shape-kept",
        f"The side seam keeps the shape of the side, {bow:.0f} mm from straight.",
        severity=Severity.NOTE,
        place="side",
        amount_mm=bow,
    )
    return frozen(np.column_stack([heights, aside])), (finding,)


def measure_both(front: Garment, back: Garment) -> tuple[Measurement, ...]:
    """Return the measurements of two photos of one pair: rises of each, means of what both show."""
    rises = [m for g in (front, back) for m in g.measurements if m.name == "rise"]
    if are_mixed_up(LegSeams.of(front), LegSeams.of(back)):
        rises.reverse()
    theirs = {m.name: m for m in back.measurements}
    found: list[Measurement] = []
    for m in front.measurements:
        if m.name == "rise":
            found += [replace(r, name=f"{part} rise") for r, part in zip(rises, ("front", "back"), strict=True)]
        elif m.name in theirs:
            mean = 0.5 * (m.value_mm + theirs[m.name].value_mm)
            found.append(replace(m, value_mm=mean, how=m.how + MEAN_OF_BOTH))
        else:
            found.append(m)
    return tuple(found)


def draft_open(garment: Garment, choices: Choices, allowances: Allowances) -> Drafted:
    """Return the leg from a pair that lay open: front and back, their rises drafted by rule."""
    drafted = draft_rises(garment)
    heights = _wanted_heights((garment,), choices)
    (front, bands), (back, _) = (
        _fit_finish(half, garment, choices, *heights) for half in (drafted.front, drafted.back)
    )
    matched = match_halves(front, back, choices.share_up_to_mm)
    return assemble(matched, choices, allowances, bands, list(drafted.findings), (ESTIMATE,))


def draft_panel(garment: Garment, choices: Choices, allowances: Allowances) -> Drafted:
    """Return the leg from one piece taken apart."""
    front, back, findings = split_panel(garment, choices, allowances)
    heights = _wanted_heights((garment,), choices)
    (front, bands), (back, _) = (_fit_finish(half, garment, choices, *heights) for half in (front, back))
    matched = match_halves(front, back, choices.share_up_to_mm, has_side=choices.side_seam)
    return assemble(matched, choices, allowances, bands, list(findings))


def assemble(
    matched: MatchedLeg,
    choices: Choices,
    allowances: Allowances,
    bands: Bands,
    findings: list[Finding],
    own: tuple[str, ...] = (),
) -> Drafted:
    """Return the pieces of matched halves: one leg, or front and back with a side seam.

    Args:
        matched: front and back that fit each other.
        choices: what the person decided.
        allowances: of each edge.
        bands: what is sewn to the leg.
        findings: from earlier, kept before this step's own.
        own: further lines on the pieces' labels.
    """
    front, back = matched.front, matched.back
    pieces: tuple[Piece, ...]
    if choices.side_seam:
        labels = write_labels(choices, allowances, ORDER, (MIRRORED, *own))
        pieces = tuple(
            build_leg(seams, allowances, name=name, quantity=MIRRORED, labels=labels, part=name)
            for name, seams in (("front", front), ("back", back))
        )
    else:
        labels = write_labels(choices, allowances, _JOINED, (MIRRORED, "front at the single notches", *own))
        pieces = (build_joined_leg(front, back, allowances, name="leg", quantity=MIRRORED, labels=labels),)
    rows = [CutListRow(p.name, 2, None, None, "main fabric", "the second is the mirror image") for p in pieces]
    front_waist, back_waist = length_mm(front.waist_mm), length_mm(back.waist_mm)
    opening = 2.0 * (front_waist + back_waist)
    hem_round = length_mm(front.hem_mm) + length_mm(back.hem_mm)
    rest, about = list_bands(opening, hem_round, choices, allowances, bands)
    hems = [*_hem_findings(front, allowances), *_hem_findings(back, allowances)][:1]
    strips = draw_bands(rest, choices, allowances, side_share=front_waist / (front_waist + back_waist))
    return Drafted(
        (*pieces, *strips),
        (*rows, *rest),
        (*findings, *matched.findings, *hems, *about),
        {
            "walked": [seam.as_json() for seam in matched.walked],
            "joined_corners": [corner.as_json() for corner in matched.corners],
            "rise_mm": {"front": length_mm(front.rise_mm), "back": length_mm(back.rise_mm)},
        },
    )


def _mean(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else 0.5 * (one + other)


def _wanted_heights(garments: tuple[Garment, ...], choices: Choices) -> tuple[float, float]:
    """Return the finished heights of cuff and waistband that are sewn on; 0 = none [mm]."""

    def own(heights: list[float]) -> float:
        return float(np.mean(heights)) if len(heights) == len(garments) else 0.0

    cuff = waistband = 0.0
    if choices.hem is Hem.RIBBED_CUFF:
        seen = own([g.cuff.height_mm for g in garments if g.cuff])
        cuff = choices.cuff_height_mm or seen or RIB_CUFF_HEIGHT_MM.value
    if choices.waist is Waist.FOLDED_BAND:
        seen = own([g.waistband.height_mm for g in garments if g.waistband])
        waistband = choices.band_height_mm or seen or FOLDED_BAND_HEIGHT_MM.value
    return cuff, waistband


def _seams_for(garment: Garment, choices: Choices, cuff_mm: float, waistband_mm: float) -> tuple[LegSeams, Bands]:
    """Return the leg's seam lines, ending where waistband and cuff begin, and those."""
    return _fit_finish(LegSeams.of(garment), garment, choices, cuff_mm, waistband_mm)


def _fit_finish(
    seams: LegSeams, garment: Garment, choices: Choices, cuff_mm: float, waistband_mm: float
) -> tuple[LegSeams, Bands]:
    bands = Bands()
    own = garment.cuff.height_mm if garment.cuff else 0.0
    if choices.hem is Hem.RIBBED_CUFF:
        bands = replace(bands, cuff_mm=cuff_mm, cuff_edge_mm=garment.cuff.edge_mm if garment.cuff else None)
    if own > cuff_mm:
        seams = lengthen(seams, own - cuff_mm)
    elif cuff_mm > own:
        seams = raise_hem(seams, cuff_mm - own)
    own = garment.waistband.height_mm if garment.waistband else 0.0
    if choices.waist is Waist.FOLDED_BAND:
        edge = garment.waistband.edge_mm if garment.waistband else None
        bands = replace(bands, waistband_mm=waistband_mm, waistband_edge_mm=edge)
    if own > waistband_mm:
        seams = heighten(seams, own - waistband_mm)
    if choices.waist_flat_mm is not None:
        seams = spread_waist(seams, 0.5 * choices.waist_flat_mm)
    if waistband_mm > own:
        seams = lower_waist(seams, waistband_mm - own)
    return seams, bands


def _hem_findings(seams: LegSeams, allowances: Mapping[EdgeName, Allowance]) -> list[Finding]:
    if allowances[EdgeName.HEM].finish is not Finish.FINISHED:
        return []
    rest = seams.hem_mm - seams.hem_mm[0]
    chord = rest[-1] / np.hypot(*rest[-1])
    bent = float(np.abs(rest @ np.array([-chord[1], chord[0]])).max())
    if bent <= 3.0 and abs(chord[1]) <= 0.03:
        return []
    return [
        Finding(
            "hem-not-straight",
            "The hem is not straight, but the finished edge it is to be laid on is.",
            "Lay the fold end of the hem on the finished edge and let the rest be trimmed.",
            place="hem",
            amount_mm=bent,
        )
    ]
