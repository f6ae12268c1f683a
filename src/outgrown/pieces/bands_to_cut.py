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
    rows: list[CutListRow] = []
    findings = []
    seam = allowances[EdgeName.WAIST].amount_mm
    if bands.waistband_mm is not None:
        if choices.waist_mm is None:
            edge = bands.waistband_edge_mm
            length = (opening if edge is None else 4.0 * edge) + 2 * seam
            whose = "the waist edge" if edge is None else "the garment's own"
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
        height = 2 * bands.waistband_mm + 2 * seam
        rows.append(CutListRow("waistband", 1, length, height, "main fabric", note + _halved(length, choices)))
    elif choices.waist_mm is None:
        findings.append(
            Finding(
                "no-waist-given",
                "Without the waist the elastic's length is not known.",
                "Measure the waist and give it, too (--waist).",
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
                    "If its elastic gathers it, pull the waist out flat, measure it side to side and give that, too "
                    "(--waist-flat).",
                    place="waist",
                    amount_mm=choices.waist_mm * share.value - opening,
                )
            )
    if bands.cuff_mm is not None:
        seam = allowances[EdgeName.HEM].amount_mm
        share = RIB_CUFF_SHARE
        if bands.cuff_edge_mm is None:
            round_mm, why = hem_round * share.value, f"leg x {share.value:g} ({share.source})"
        else:
            round_mm, why = 2.0 * bands.cuff_edge_mm, "as long as the garment's own"
        length = round_mm + 2 * allowances[EdgeName.INSEAM].amount_mm
        note = f"{why} + seams; folded in half along its length. {_halved(length, choices)}"
        rows.append(CutListRow("ribbed cuff", 2, length, 2 * bands.cuff_mm + 2 * seam, "rib", note))
    return tuple(rows), tuple(findings)


def _halved(length_mm_: float, choices: Choices) -> str:
    return f"On a fold: {choices.length(length_mm_ / 2)}"
