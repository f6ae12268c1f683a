"""Sewn: a pair that was made from a pattern, compared with it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..arrays import Floats, frozen
from ..errors import PieceError
from ..findings import Finding, Severity
from ..garment.garment import Garment, Laid
from ..geometry.moves import Frame
from .choices import Choices, Hem
from .comparable import Shape, find_shapes
from .difference import Difference, compare_shapes
from .drafting import draft_pattern
from .piece import Pattern
from .unused import say_unused

GATHERED_SHARE = 0.97
"""A waist narrower than this share of the pattern's was probably gathered by its elastic."""


@dataclass(frozen=True, eq=False)
class SewnCheck:
    """A sewn garment beside its pattern.

    Attributes:
        difference: the pattern first, the garment second.
        wanted_mm: rings of the pattern's seam line, laid on the garment as it was photographed, in the outline's mm.
        findings: what the person should know.
    """

    difference: Difference
    wanted_mm: tuple[Floats, ...]
    findings: tuple[Finding, ...]


def check_sewn(
    kept: Pattern,
    garment: Garment,
    outline_mm: Floats,
    *,
    part: str = "front",
    waist_flat_mm: float | None = None,
    is_washed: bool = False,
) -> SewnCheck:
    """Return where and by how much a garment differs from the pattern it was sewn from.

    The garment is read with the pattern's own choices, so that bands and cuffs are taken off alike; its allowances,
    which are inside it now, do not matter.

    Args:
        kept: the pattern.
        garment: as read from the photo; legs folded lengthwise.
        outline_mm: (N, 2) ring it was read from [mm].
        part: which half of a leg lies on top: `front` or `back`.
        waist_flat_mm: its waist pulled out flat, side to side, where elastic gathers it [mm].
        is_washed: the cloth has shrunk as far as the pattern allows for it.

    Raises:
        PieceError: it is no garment of this kind.
    """
    if garment.laid is Laid.OPEN:
        raise PieceError(
            "A pair that lies open hides its rise.",
            "Fold it lengthwise, one leg on the other, with the rise pulled out flat, and photograph it again.",
        )
    choices = replace(Choices.from_json(kept.choices), laid="", waist_flat_mm=waist_flat_mm)
    sewn = draft_pattern(garment, choices)
    wanted = [_washed(shape, kept.choices) if is_washed else shape for shape in find_shapes(kept.pieces)]
    found = find_shapes(sewn.pieces)
    pairs = [(shape, own) for own in found for shape in [_find(wanted, own, part)] if shape is not None]
    if not pairs:
        raise PieceError(
            f"The photo shows {garment.kind}, and the pattern “{kept.title}” is of something else.",
            "Give the pattern that this garment was sewn from, or say with --kind what it is.",
        )
    names = f"pattern “{kept.title}”", "what was sewn"
    doubts = {m.name: m.doubt_mm for m in garment.measurements if m.doubt_mm is not None}
    difference = compare_shapes(pairs, names, doubts)
    rings = tuple(_as_photographed(shape, own, garment, outline_mm) for shape, own in pairs)
    findings = [*_findings(difference, kept, choices, is_washed), *_unused(kept, garment, choices, is_washed)]
    return SewnCheck(difference, rings, tuple(findings))


def _unused(kept: Pattern, garment: Garment, choices: Choices, is_washed: bool) -> list[Finding]:
    """Say what was told of the garment and changed nothing."""
    fabric = kept.choices.get("fabric") or {}
    asked = (
        (
            is_washed and not (fabric.get("shrink_long") or fabric.get("shrink_wide")),
            "That it has been washed (--washed)",
            "the pattern allows for no shrinkage",
        ),
        (
            choices.waist_flat_mm is not None and garment.laid is not Laid.FOLDED,
            "The waist pulled out flat (--waist-flat)",
            "this garment is not read as legs",
        ),
    )
    return say_unused(asked)


def _find(wanted: list[Shape], own: Shape, part: str) -> Shape | None:
    by_name = {shape.name: shape for shape in wanted}
    return by_name.get(f"{part} half leg", by_name.get("half leg")) if own.is_leg else by_name.get(own.name)


def _washed(shape: Shape, choices: Mapping[str, Any]) -> Shape:
    """Return the shape after the shrinkage that its pattern allows for."""
    fabric = choices.get("fabric") or {}
    share = 1.0 - np.array([float(fabric.get("shrink_wide") or 0.0), float(fabric.get("shrink_long") or 0.0)])
    return replace(shape, lines={name: frozen(line * share) for name, line in shape.lines.items()})


def _as_photographed(wanted: Shape, own: Shape, garment: Garment, outline_mm: Floats) -> Floats:
    """Return the wanted ring where it would lie in the photographed outline, in the outline's millimetres."""
    ring = wanted.ring_mm() - (np.array(own.shift_mm) if own.is_leg else 0.0)
    if garment.corners:
        here = np.array([corner.point_mm for corner in garment.corners])
        there = np.array([corner.seen_mm for corner in garment.corners])
        # The photographed garment may lie turned over, so the move may be a reflection.
        middle, middle_there = here.mean(axis=0), there.mean(axis=0)
        u, _, v = np.linalg.svd((here - middle).T @ (there - middle_there))
        return frozen((ring - middle) @ (u @ v) + middle_there)
    if "centre" in wanted.lines:
        ring = np.vstack([ring, ring[::-1] * np.array([-1.0, 1.0])])
    frame = garment.frame or Frame((0.0, 0.0), (0.0, 1.0))
    seen = frame.into(outline_mm)
    low = np.array([0.0 if garment.is_upright else 0.5 * (seen[:, 0].min() + seen[:, 0].max()), seen[:, 1].min()])
    return frozen(frame.out_of(ring + low))


def _findings(difference: Difference, kept: Pattern, choices: Choices, is_washed: bool) -> list[Finding]:
    findings = []
    waists = [row for row in difference.lengths if row.what == "waist edge"]
    if choices.waist_flat_mm is None and any(row.second_mm < GATHERED_SHARE * row.first_mm for row in waists):
        row = min(waists, key=lambda row: row.more_mm)
        findings.append(
            Finding(
                "waist-gathered",
                f"The waist edge is {-row.more_mm:.0f} mm shorter than the pattern's: elastic probably gathers it.",
                "Pull the waist out flat, measure it side to side, and give what you find (--waist-flat).",
                Severity.NOTE,
                "waist",
                -row.more_mm,
            )
        )
    fabric = kept.choices.get("fabric") or {}
    if not is_washed and (fabric.get("shrink_long") or fabric.get("shrink_wide")):
        findings.append(
            Finding(
                "not-yet-washed",
                "The pattern allows for shrinkage; the garment is compared as cut, before washing.",
                "Once it has been washed, compare it again as washed (--washed).",
                Severity.NOTE,
            )
        )
    hems = [row for row in difference.lengths if row.what == "inseam" and row.is_sure]
    turned = choices.hem in (Hem.PLAIN, Hem.MOCK_CUFF)
    if turned and hems and abs(hems[0].more_mm) >= 5.0:
        more = hems[0].more_mm
        findings.append(
            Finding(
                "hem-turned-otherwise",
                f"The legs came out {abs(more):.0f} mm {'longer' if more > 0 else 'shorter'} than the pattern; a hem "
                f"turned up {'less' if more > 0 else 'more'} than the pattern says does that.",
                "Measure how far it is turned up before changing the pattern.",
                Severity.NOTE,
                "hem",
                more,
            )
        )
    return findings
