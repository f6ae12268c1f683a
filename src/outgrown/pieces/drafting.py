"""Drafting: a garment and the person's choices become a pattern."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..arrays import Floats, frozen
from ..findings import Finding, Severity
from ..garment.garment import EdgeName, Garment, Laid
from ..geometry.polylines import length_mm
from ..practice import (
    ELASTIC_OVERLAP_MM,
    ELASTIC_SHARE_OF_WAIST,
    FOLDED_BAND_HEIGHT_MM,
    FOLDED_BAND_SHORTER_MM,
    RIB_CUFF_HEIGHT_MM,
    RIB_CUFF_SHARE,
)
from .choices import Allowance, Choices, Hem, Waist, choose_allowances
from .leg import build_leg
from .leg_seams import ORDER, LegSeams, heighten, lengthen, lower_waist, raise_hem, spread_waist, true_corners
from .piece import CutListRow, Finish, Pattern, Piece
from .whole_piece import build_whole

ON_FOLD_TWICE = "cut 2, mirrored, on fold"


def draft_pattern(
    garment: Garment,
    choices: Choices,
    *,
    outline_mm: Floats | None = None,
    expected_error_mm: tuple[float, float] = (0.0, 0.0),
    provenance: Mapping[str, Any] | None = None,
    findings: tuple[Finding, ...] = (),
) -> Pattern:
    """Return the pattern of a garment: a leg on the fold from a folded pair, else its whole outline.

    Args:
        garment: from `read_garment`.
        choices: what the person decided.
        outline_mm: the ring as photographed, kept in the pattern.
        expected_error_mm: median and 95th percentile of the outline's error [mm].
        provenance: plain JSON values: photo, references, camera.
        findings: from earlier steps, kept before this step's own.

    Raises:
        PieceError: the choices do not fit the garment.
    """
    allowances = choose_allowances(choices)
    pieces: tuple[Piece, ...]
    if garment.laid is Laid.FOLDED:
        pieces, cut_list, own = _draft_leg(garment, choices, allowances)
    else:
        pieces, cut_list, own = _draft_whole(garment, choices, allowances)
    return Pattern(
        title=choices.title,
        for_whom=choices.for_whom,
        made_on=choices.date,
        pieces=pieces,
        cut_list=cut_list,
        measurements=garment.measurements,
        choices=choices.as_json(),
        outline_mm=frozen(np.zeros((0, 2)) if outline_mm is None else outline_mm),
        expected_error_mm=expected_error_mm,
        provenance=dict(provenance or {}),
        findings=(*findings, *garment.findings, *own),
    )


_Drafted = tuple[tuple[Piece, ...], tuple[CutListRow, ...], tuple[Finding, ...]]


def _draft_leg(garment: Garment, choices: Choices, allowances: dict[EdgeName, Allowance]) -> _Drafted:
    """Return the leg on the fold, what else to cut, and what to know."""
    seams, bands = _seams_for(garment, choices)
    seams, trued = true_corners(seams)
    leg = build_leg(
        seams,
        allowances,
        name="leg",
        quantity=ON_FOLD_TWICE,
        labels=_labels(choices, allowances),
    )
    cut_list, own = _cut_list(leg, seams, choices, allowances, bands)
    return (leg,), cut_list, (*_leg_findings(seams, allowances), *trued, *own)


def _draft_whole(garment: Garment, choices: Choices, allowances: dict[EdgeName, Allowance]) -> _Drafted:
    """Return the outline as one piece."""
    allowance = allowances[EdgeName.OUTLINE]
    labels = (
        *_headings(choices),
        "outline as photographed",
        f"allowance all round: {choices.length(allowance.amount_mm)}",
    )
    piece = build_whole(garment, allowance, labels)
    row = CutListRow(piece.name, 1, None, None, "main fabric", "the whole outline; how many the garment needs is yours")
    return (piece,), (row,), ()


@dataclass(frozen=True)
class _Bands:
    """What is sewn to the leg: finished heights, and the garment's own edge where it shows one [mm]."""

    cuff_mm: float | None = None
    cuff_edge_mm: float | None = None
    waistband_mm: float | None = None
    waistband_edge_mm: float | None = None


def _seams_for(garment: Garment, choices: Choices) -> tuple[LegSeams, _Bands]:
    """Return the leg's seam lines, ending where waistband and cuff begin, and those."""
    seams, bands = LegSeams.of(garment), _Bands()
    own = garment.cuff.height_mm if garment.cuff else 0.0
    wanted = 0.0
    if choices.hem is Hem.RIBBED_CUFF:
        wanted = choices.cuff_height_mm or own or RIB_CUFF_HEIGHT_MM.value
        bands = replace(bands, cuff_mm=wanted, cuff_edge_mm=garment.cuff.edge_mm if garment.cuff else None)
    if own > wanted:
        seams = lengthen(seams, own - wanted)
    elif wanted > own:
        seams = raise_hem(seams, wanted - own)
    own = garment.waistband.height_mm if garment.waistband else 0.0
    wanted = 0.0
    if choices.waist is Waist.FOLDED_BAND:
        wanted = choices.band_height_mm or own or FOLDED_BAND_HEIGHT_MM.value
        edge = garment.waistband.edge_mm if garment.waistband else None
        bands = replace(bands, waistband_mm=wanted, waistband_edge_mm=edge)
    if own > wanted:
        seams = heighten(seams, own - wanted)
    if choices.waist_flat_mm is not None:
        seams = spread_waist(seams, 0.5 * choices.waist_flat_mm)
    if wanted > own:
        seams = lower_waist(seams, wanted - own)
    return seams, bands


def write_allowances(choices: Choices, allowances: Mapping[EdgeName, Allowance]) -> tuple[str, ...]:
    """Return one line of text per edge: what is left beyond the seam line, and who says so."""
    words = {
        Finish.SEAM: "seam",
        Finish.FOLD: "fold, no allowance",
        Finish.CASING: "turned down",
        Finish.HEM: "turned up",
        Finish.RAW: "raw edge, no allowance",
        Finish.FINISHED: "finished edge of the cloth, no allowance",
    }
    lines = []
    for name in ORDER:
        allowance = allowances[name]
        if allowance.amount_mm > 0:
            lines.append(f"{name}: {choices.length(allowance.amount_mm)}, {words[allowance.finish]}")
        else:
            word = words[allowance.finish]
            lines.append(f"{name}: {word}" if "no allowance" in word else f"{name}: {word}, no allowance")
    return tuple(lines)


def _headings(choices: Choices) -> tuple[str, ...]:
    lines = [choices.title]
    if choices.for_whom:
        lines.append(f"for {choices.for_whom}" if not choices.for_whom.lower().startswith("for ") else choices.for_whom)
    if choices.date:
        lines.append(choices.date)
    return tuple(lines)


def _labels(choices: Choices, allowances: Mapping[EdgeName, Allowance]) -> tuple[str, ...]:
    lines = [*_headings(choices)]
    lines += [ON_FOLD_TWICE, "front and back alike; place the side on a fold", "allowances included:"]
    return (*lines, *write_allowances(choices, allowances))


def _cut_list(
    leg: Piece,
    seams: LegSeams,
    choices: Choices,
    allowances: Mapping[EdgeName, Allowance],
    bands: _Bands,
) -> tuple[tuple[CutListRow, ...], tuple[Finding, ...]]:
    """Return the cut list, and what to know about it."""
    rows = [CutListRow(leg.name, 2, None, None, "main fabric", "on a fold; the second is the mirror image")]
    findings = []
    opening = 4.0 * length_mm(seams.waist_mm)
    seam = allowances[EdgeName.WAIST].amount_mm
    if bands.waistband_mm is not None:
        if choices.waist_mm is None:
            edge = bands.waistband_edge_mm
            length = (opening if edge is None else 4.0 * edge) + 2 * seam
            whose = "the legs' waist edge" if edge is None else "the garment's own"
            note = f"as long as {whose}; give the waist for a snug band. "
        else:
            length = choices.waist_mm - FOLDED_BAND_SHORTER_MM.value
            note = f"waist less {choices.length(FOLDED_BAND_SHORTER_MM.value)}. "
            if length - 2 * seam > opening + 5.0:
                longer = length - 2 * seam - opening
                findings.append(
                    Finding(
                        "band-longer-than-waist-edge",
                        f"The waistband is {choices.length(longer)} longer than the legs' waist edge.",
                        "Cut the next size up, or a shorter band.",
                        place="waist",
                        amount_mm=longer,
                    )
                )
        height = 2 * bands.waistband_mm + 2 * seam
        rows.append(CutListRow("waistband", 1, length, height, "main fabric", note + _halved(length, choices)))
    elif choices.waist_mm is None:
        findings.append(
            Finding(
                "no-waist-given",
                "Without the waist the elastic's length is not known.",
                "Measure the waist and give it with --waist.",
                Severity.NOTE,
                "waist",
            )
        )
    else:
        share, overlap = ELASTIC_SHARE_OF_WAIST, ELASTIC_OVERLAP_MM
        length = choices.waist_mm * share.value + overlap.value
        rows.append(
            CutListRow(
                "elastic",
                1,
                length,
                choices.elastic_width_mm,
                "elastic",
                f"waist x {share.value:g} + {choices.length(overlap.value)} overlap ({share.source})",
            )
        )
        if choices.waist_mm * share.value > opening and choices.waist_flat_mm is None:
            findings.append(
                Finding(
                    "waist-edge-shorter-than-elastic",
                    f"The waist edge lay {choices.length(opening)} round, shorter than the elastic.",
                    "If its elastic gathers it, pull the waist out flat, measure it side to side and give that too.",
                    place="waist",
                    amount_mm=choices.waist_mm * share.value - opening,
                )
            )
    if bands.cuff_mm is not None:
        seam = allowances[EdgeName.HEM].amount_mm
        share = RIB_CUFF_SHARE
        if bands.cuff_edge_mm is None:
            round_mm, why = 2.0 * length_mm(seams.hem_mm) * share.value, f"leg x {share.value:g} ({share.source})"
        else:
            round_mm, why = 2.0 * bands.cuff_edge_mm, "as long as the garment's own"
        length = round_mm + 2 * allowances[EdgeName.INSEAM].amount_mm
        note = f"{why} + seams; folded in half along its length. {_halved(length, choices)}"
        rows.append(CutListRow("ribbed cuff", 2, length, 2 * bands.cuff_mm + 2 * seam, "rib", note))
    return tuple(rows), tuple(findings)


def _halved(length_mm_: float, choices: Choices) -> str:
    return f"On a fold: {choices.length(length_mm_ / 2)}"


def _leg_findings(seams: LegSeams, allowances: Mapping[EdgeName, Allowance]) -> tuple[Finding, ...]:
    findings = [
        Finding(
            "front-and-back-alike",
            "One folded photo shows one rise: front and back are cut alike, on the fold.",
            "For the true, higher back take a second photo with the backs out.",
            Severity.NOTE,
            "rise",
        )
    ]
    hem = seams.hem_mm
    if allowances[EdgeName.HEM].finish is Finish.FINISHED:
        rest = hem - hem[0]
        chord = rest[-1] / np.hypot(*rest[-1])
        bent = float(np.abs(rest @ np.array([-chord[1], chord[0]])).max())
        if bent > 3.0 or abs(chord[1]) > 0.03:
            findings.append(
                Finding(
                    "hem-not-straight",
                    "The hem is not straight, but the finished edge it is to be laid on is.",
                    "Lay the fold end of the hem on the finished edge and let the rest be trimmed.",
                    place="hem",
                    amount_mm=bent,
                )
            )
    return tuple(findings)
