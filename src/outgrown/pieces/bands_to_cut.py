"""Bands to cut: lengths of waistband, elastic and cuffs; `band_pieces` draws those of cloth."""

from collections.abc import Mapping
from dataclasses import dataclass

from ..findings import Finding, Severity
from ..garment.garment import EdgeName
from ..practice import (
    ELASTIC_OVERLAP_MM,
    ELASTIC_SHARE_OF_WAIST,
    FOLDED_BAND_SHORTER_MM,
    RIB_CUFF_SHARE,
)
from .choices import Allowance, Choices
from .piece import CutListRow


@dataclass(frozen=True)
class Bands:
    """What is sewn to the leg: finished heights, and the garment's own edge where it shows one [mm]."""

    cuff_mm: float | None = None
    cuff_edge_mm: float | None = None
    waistband_mm: float | None = None
    waistband_edge_mm: float | None = None


def list_bands(
    opening: float,
    hem_round: float,
    choices: Choices,
    allowances: Mapping[EdgeName, Allowance],
    bands: Bands,
) -> tuple[tuple[CutListRow, ...], tuple[Finding, ...]]:
    """Return what is cut besides the drawn pieces, and what to know about it.

    Args:
        opening: all round the waist edge [mm].
        hem_round: all round one leg's hem edge [mm].
        choices: what the person decided.
        allowances: of each edge.
        bands: what is sewn to the legs.
    """
    seam = allowances[EdgeName.WAIST].amount_mm
    if bands.waistband_mm is not None:
        row, findings = _list_waistband(opening, seam, choices, bands.waistband_mm, bands.waistband_edge_mm)
        rows = [row]
    else:
        rows, findings = _list_elastic(opening, choices)
    if bands.cuff_mm is not None:
        rows.append(_list_cuff(hem_round, choices, allowances, bands.cuff_mm, bands.cuff_edge_mm))
    return tuple(rows), tuple(findings)


def _list_waistband(
    opening: float, seam: float, choices: Choices, height: float, own_edge: float | None
) -> tuple[CutListRow, list[Finding]]:
    """Return the folded waistband, finished `height` high [mm], and what to know about it."""
    findings = []
    if choices.waist_mm is None:
        length = (opening if own_edge is None else 4.0 * own_edge) + 2 * seam
        whose = "the waist edge" if own_edge is None else "the garment's own"
        note = f"as long as {whose}; give the waist for a snug band. "
    else:
        length = choices.waist_mm - FOLDED_BAND_SHORTER_MM.value
        note = f"waist less {choices.length(FOLDED_BAND_SHORTER_MM.value)}. "
        if length - 2 * seam > opening + 5.0:
            longer = length - 2 * seam - opening
            findings.append(
                Finding(
                    "band-longer-than-waist-edge",
                    f"The waistband is {choices.length(longer)} longer than the waist edge.",
                    "Cut the next size up, or a shorter band.",
                    place="waist",
                    amount_mm=longer,
                )
            )
    note += _halved(length, choices)
    return CutListRow("waistband", 1, length, 2 * height + 2 * seam, "main fabric", note), findings


def _list_elastic(opening: float, choices: Choices) -> tuple[list[CutListRow], list[Finding]]:
    """Return the elastic, where the waist is known, and what to know about it."""
    if choices.waist_mm is None:
        missing = Finding(
            "no-waist-given",
            "Without the waist the elastic's length is not known.",
            "Measure the waist and give it, too (--waist).",
            Severity.NOTE,
            "waist",
        )
        return [], [missing]
    share, overlap = ELASTIC_SHARE_OF_WAIST, ELASTIC_OVERLAP_MM
    row = CutListRow(
        "elastic",
        1,
        choices.waist_mm * share.value + overlap.value,
        choices.elastic_width_mm,
        "elastic",
        f"waist x {share.value:g} + {choices.length(overlap.value)} overlap ({share.source})",
    )
    if choices.waist_mm * share.value <= opening or choices.waist_flat_mm is not None:
        return [row], []
    gathered = Finding(
        "waist-edge-shorter-than-elastic",
        f"The waist edge lay {choices.length(opening)} round, shorter than the elastic.",
        "If its elastic gathers it, pull the waist out flat, measure it side to side and give that, too "
        "(--waist-flat).",
        place="waist",
        amount_mm=choices.waist_mm * share.value - opening,
    )
    return [row], [gathered]


def _list_cuff(
    hem_round: float,
    choices: Choices,
    allowances: Mapping[EdgeName, Allowance],
    height: float,
    own_edge: float | None,
) -> CutListRow:
    """Return the ribbed cuffs, finished `height` high [mm]."""
    share = RIB_CUFF_SHARE
    if own_edge is None:
        round_mm, why = hem_round * share.value, f"leg x {share.value:g} ({share.source})"
    else:
        round_mm, why = 2.0 * own_edge, "as long as the garment's own"
    length = round_mm + 2 * allowances[EdgeName.INSEAM].amount_mm
    note = f"{why} + seams; folded in half along its length. {_halved(length, choices)}"
    return CutListRow("ribbed cuff", 2, length, 2 * height + 2 * allowances[EdgeName.HEM].amount_mm, "rib", note)


def _halved(length_mm: float, choices: Choices) -> str:
    return f"On a fold: {choices.length(length_mm / 2)}"
