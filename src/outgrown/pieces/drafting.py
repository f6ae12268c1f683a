"""Drafting: a garment and the person's choices become a pattern."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from ..arrays import Floats, frozen
from ..errors import PieceError
from ..findings import Finding, Severity
from ..garment.garment import EdgeName, Garment, Laid
from .choices import Allowance, Choices, choose_allowances
from .half_piece import halves_apart_mm
from .halves import draft_half
from .labelling import write_headings
from .legs import Drafted, draft_alike, draft_front_and_back, draft_open, draft_panel, measure_both
from .piece import CutListRow, Pattern
from .unused import find_unused, find_unused_allowances
from .whole_piece import build_whole

UNEVEN_MM = 12.0
"""Halves farther from alike than this were probably not laid straight."""


def draft_pattern(
    garment: Garment,
    choices: Choices,
    *,
    back: Garment | None = None,
    outline_mm: Floats | None = None,
    expected_error_mm: tuple[float, float] = (0.0, 0.0),
    provenance: Mapping[str, Any] | None = None,
    findings: tuple[Finding, ...] = (),
) -> Pattern:
    """Return the pattern of a garment: a leg from a folded pair, else its whole outline.

    Args:
        garment: from `read_garment`; the front where `back` is given.
        choices: what the person decided.
        back: the same pair folded with the backs out.
        outline_mm: the ring as photographed, kept in the pattern.
        expected_error_mm: median and 95th percentile of the outline's error [mm].
        provenance: plain JSON values: photo, references, camera.
        findings: from earlier steps, kept before this step's own.

    Raises:
        PieceError: the choices do not fit the garment, or front and back do not fit each other.
    """
    allowances = choose_allowances(choices)
    if back is not None:
        if garment.laid is not Laid.FOLDED or back.laid is not Laid.FOLDED:
            raise PieceError(
                "Two photos make a pattern together only when the pair is folded lengthwise in both.",
                "Photograph it folded with the fronts out, then with the backs out, or give one photo.",
            )
        drafted = draft_front_and_back(garment, back, choices, allowances)
        own = tuple(replace(f, text=f"Second photo: {f.text[0].lower()}{f.text[1:]}") for f in back.findings)
        measurements = measure_both(garment, back)
    else:
        own, measurements = (), garment.measurements
        drafted = _draft_one(garment, choices, allowances)
    return Pattern(
        title=choices.title,
        for_whom=choices.for_whom,
        made_on=choices.date,
        pieces=drafted.pieces,
        cut_list=drafted.cut_list,
        measurements=measurements,
        choices=choices.as_json(),
        outline_mm=frozen(np.zeros((0, 2)) if outline_mm is None else outline_mm),
        expected_error_mm=expected_error_mm,
        provenance={
            **(provenance or {}),
            "taken": {"kind": garment.kind, "laid": str(garment.laid)},
            **(drafted.provenance or {}),
        },
        findings=_without_overtaken(
            (
                *findings,
                *garment.findings,
                *own,
                *drafted.findings,
                *find_unused(
                    choices, garment, drafted.pieces, is_matched=bool((drafted.provenance or {}).get("walked"))
                ),
                *find_unused_allowances(choices, drafted.pieces),
            )
        ),
    )


_OF_STRAIGHT_SIDE = ("side-straightened", "side-probably-shaped")


def _without_overtaken(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Return the findings without those on a straightened side where its own shape was kept after all."""
    if not any(finding.code == "side-shape-kept" for finding in findings):
        return findings
    return tuple(finding for finding in findings if finding.code not in _OF_STRAIGHT_SIDE)


def _draft_one(garment: Garment, choices: Choices, allowances: dict[EdgeName, Allowance]) -> Drafted:
    if garment.laid is Laid.FOLDED:
        return draft_alike(garment, choices, allowances)
    if garment.laid is Laid.OPEN and any(edge.name is EdgeName.CENTRE for edge in garment.edges):
        return draft_open(garment, choices, allowances)
    if garment.laid is Laid.PANEL and len(garment.edges) > 1:
        return draft_panel(garment, choices, allowances)
    return _draft_whole(garment, choices, allowances)


def _draft_whole(garment: Garment, choices: Choices, allowances: dict[EdgeName, Allowance]) -> Drafted:
    """Return the outline as one piece, or half of it on a fold where its halves are mirror images."""
    if garment.is_upright and not choices.is_whole:
        half = draft_half(garment, choices)
        if half is not None:
            apart = halves_apart_mm(garment)
            finding = Finding(
                "halves-averaged",
                f"The two halves lay within {apart:.1f} mm of mirror images of each other and were averaged.",
                "To have the outline as it lies, ask for the whole of it (--whole).",
                Severity.NOTE if apart < UNEVEN_MM else Severity.WARNING,
                amount_mm=apart,
            )
            return replace(half, findings=(finding, *half.findings))
    allowance = allowances[EdgeName.OUTLINE]
    amount = choices.length(allowance.amount_mm)
    piece = build_whole(
        garment, allowance, (*write_headings(choices), "outline as photographed", f"allowance all round: {amount}")
    )
    row = CutListRow(piece.name, 1, None, None, "main fabric", "the whole outline; how many the garment needs is yours")
    return Drafted((piece,), (row,), ())
