"""Unused: what a person chose that this garment has no use for, said instead of passed over in silence."""

from collections.abc import Iterable, Sequence

from ..findings import Finding, Severity
from ..garment.garment import EdgeName, Garment, Laid
from ..practice import ELASTIC_WIDTH_MM, SHARE_UP_TO_MM
from .choices import EDGES_WITH_ALLOWANCE, Choices, Hem, Waist
from .piece import Piece

NOT_USED = "choice-not-used"
_ONE_EDGE = "this garment is drawn as an outline without one"


def find_unused(choices: Choices, garment: Garment, pieces: Sequence[Piece], *, is_matched: bool) -> list[Finding]:
    """Return a finding for each choice that changed nothing.

    Args:
        choices: what the person decided; her choice shows where it is not the default.
        garment: the only one, or the front.
        pieces: as drafted.
        is_matched: front and back were made to fit each other.
    """
    has_legs = garment.laid is not Laid.OTHER
    there = {edge.name for piece in pieces for edge in piece.edges}
    has_half = any(EdgeName.CENTRE in {edge.name for edge in piece.edges} for piece in pieces) or len(there) > 1
    no_hem, no_waist = EdgeName.HEM not in there, EdgeName.WAIST not in there
    has_casing = choices.waist in (Waist.CASING, Waist.ELASTIC_TURNED)
    as_lies = "this garment is kept as it lies, not read as legs"
    asked = (
        (
            choices.edge_is is not None and garment.laid is not Laid.PANEL,
            "What the edge of a piece taken apart is (--edge-is)",
            "this garment was not taken apart: its edge is where its seams are",
        ),
        (
            choices.is_whole and (has_legs or not garment.is_upright),
            "The wish for the whole outline (--whole)",
            "legs are drawn by their seams" if has_legs else "this outline is kept whole in any case",
        ),
        (
            choices.share_up_to_mm != SHARE_UP_TO_MM.value and not is_matched,
            "How much front and back may share (--share-up-to)",
            "front and back are cut alike, so they share nothing"
            if has_legs or has_half
            else "this garment has no front and back to fit each other",
        ),
        (choices.side_seam and not has_legs, "The seam at the side (--side-seam)", as_lies),
        (
            choices.waist_flat_mm is not None and not has_legs,
            "The waist pulled out flat (--waist-flat)",
            as_lies,
        ),
        (
            choices.waist_mm is not None and no_waist,
            "The body's waist (--waist)",
            f"a waist edge takes elastic or band, and {_ONE_EDGE}",
        ),
        (
            choices.waist is not Waist.CASING and no_waist,
            "How the waist is finished (--waist-finish)",
            f"it needs a waist edge, and {_ONE_EDGE}",
        ),
        (
            choices.hem is not Hem.PLAIN and no_hem,
            "How the hem is finished (--hem)",
            f"it needs a hem, and {_ONE_EDGE}",
        ),
        (
            choices.elastic_width_mm != ELASTIC_WIDTH_MM.value and (no_waist or not has_casing),
            "The width of the elastic (--elastic)",
            "no edge of this garment is turned down over one" if has_casing else "a folded waistband has none",
        ),
    )
    return say_unused(asked)


def say_unused(asked: Iterable[tuple[bool, str, str]]) -> list[Finding]:
    """Return a finding for each of (whether it changed nothing, what was said, why) that did.

    They are for her who makes the pattern now, so paper leaves them out.
    """
    return [
        Finding(NOT_USED, f"{what} changed nothing: {why}.", severity=Severity.NOTE)
        for is_idle, what, why in asked
        if is_idle
    ]


def find_unused_allowances(choices: Choices, pieces: Sequence[Piece]) -> list[Finding]:
    """Say which allowances were given for edges that no piece has."""
    there = {edge.name for piece in pieces for edge in piece.edges}
    return [
        Finding(
            "allowance-not-used",
            f"No piece has an edge called {edge}, so the allowance given for it was not used.",
            f"The edges are: {', '.join(name for name in EDGES_WITH_ALLOWANCE if name in there)}.",
            place=str(edge),
        )
        for edge in choices.allowance_mm
        if edge not in there
    ]
