"""Halves: a garment with mirrored halves becomes half a pattern on the fold, its edges named where they can be told."""

import numpy as np

from ..errors import PieceError
from ..findings import Finding, Severity
from ..garment.garment import EdgeName, Garment
from ..garment.kinds import KINDS
from ..geometry.offsets import offset_edge
from ..geometry.polylines import length_mm
from ..practice import FOLDED_BAND_HEIGHT_MM
from .band_pieces import draw_bands
from .bands_to_cut import Bands, list_bands
from .choices import Allowance, Choices, Hem, Waist, choose_allowances
from .half_piece import allow_half, build_half, join_fold
from .labelling import write_headings, write_labels
from .leg_seams import trim_to
from .legs import Drafted
from .piece import CutListRow, SeamEdge

TWICE = "cut 2 on fold: front and back"


def draft_half(garment: Garment, choices: Choices) -> Drafted | None:
    """Return half of the garment on the fold, with an allowance for each edge, or one where edges cannot be told.

    Also one for all where the person gave an allowance of the outline. None when half of the garment falls in two.
    """
    allowances = choose_allowances(choices, is_half=True)
    edges = allow_half(garment, allowances)
    if not edges:
        return None
    has_names = len(edges) > 2
    is_even = EdgeName.OUTLINE in choices.allowance_mm
    if has_names and not is_even:
        try:
            return _draft_named(garment, edges, choices, allowances)
        except PieceError:
            has_names = False  # no room for a deep hem or casing: one seam allowance has
    amount = choices.length(allowances[EdgeName.OUTLINE].amount_mm)
    labels = (
        *write_headings(choices),
        "half of the outline, both halves averaged; place the middle on a fold",
        f"allowance round the outline: {amount}",
    )
    if len(edges) > 2:
        rest = [edges[1].points_mm, *(edge.points_mm[1:] for edge in edges[2:])]
        edges = join_fold([(EdgeName.OUTLINE, np.vstack(rest))], allowances)
    piece = build_half(garment, edges, "cut on fold, as often as the garment needs", labels)
    row = CutListRow(piece.name, 1, None, None, "main fabric", "on a fold; how many the garment needs is yours")
    kind = KINDS.get(garment.kind)
    findings = []
    if kind is not None and kind.half_edges and not has_names and not is_even:
        findings.append(
            Finding(
                "edges-not-told",
                f"Not every edge of this {garment.kind} could be told from its corners or drawn with its own "
                f"allowance, so one allowance of {amount} runs round it, hem and all.",
                "Add what the hem needs by hand, or choose an allowance for the whole outline "
                "(--allowance outline=2cm).",
            )
        )
    return Drafted((piece,), (row,), tuple(findings))


def _draft_named(
    garment: Garment, edges: tuple[SeamEdge, ...], choices: Choices, allowances: dict[EdgeName, Allowance]
) -> Drafted:
    """Return the half with its edges named: front and back alike."""
    lines = [(edge.name, edge.points_mm) for edge in edges[1:]]
    names = [name for name, _ in lines]
    findings: list[Finding] = []
    rest: tuple[CutListRow, ...] = ()
    own = [TWICE, "front and back alike"]
    if EdgeName.WAIST in names:
        bands = Bands()
        if choices.waist is Waist.FOLDED_BAND:
            bands = Bands(waistband_mm=choices.band_height_mm or FOLDED_BAND_HEIGHT_MM.value)
            # The band makes up the top of the garment, as on legs.
            side, waist = trim_to(lines[-2][1], offset_edge(lines[-1][1], -(bands.waistband_mm or 0.0)))
            lines[-2:] = [(lines[-2][0], side), (EdgeName.WAIST, waist)]
            edges = join_fold(lines, allowances)
        rest, about = list_bands(4.0 * length_mm(lines[-1][1]), 0.0, choices, allowances, bands)
        findings += about
    if EdgeName.NECK in names:
        own.append("the neck is the outline's: draw the front's deeper")
        findings.append(
            Finding(
                "one-neck-seen",
                "The outline shows one neck edge, as a rule the back's; front and back are cut alike, each in one with "
                "its half of the sleeves.",
                "Draw the front's neck deeper before you cut it.",
                Severity.NOTE,
                "neck",
            )
        )
    if choices.hem is Hem.RIBBED_CUFF:
        findings.append(
            Finding(
                "cuff-not-drawn",
                f"Ribbed cuffs are drawn for legs only; the hem of this {garment.kind} has a seam to sew one to.",
                "Shorten the piece by the cuff's finished height.",
                place="hem",
            )
        )
    labels = write_labels(choices, allowances, [EdgeName.CENTRE, *names], own)
    piece = build_half(garment, edges, TWICE, labels)
    row = CutListRow(piece.name, 2, None, None, "main fabric", "on a fold: front and back")
    return Drafted((piece, *draw_bands(rest, choices, allowances, side_share=0.5)), (row, *rest), tuple(findings))
