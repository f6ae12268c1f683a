"""On the bolt: how much cloth of a width is needed."""

from collections.abc import Sequence
from dataclasses import replace

from ..errors import LayError
from ..findings import Finding, Severity
from ..practice import SOLD_BY_MM
from .buying import round_up_mm, write_to_buy
from .cloth import Bolt, Rules
from .lay import Lay, Offer
from .part import Part
from .placing import list_items
from .strip import lay_strip, used_length_mm

_LONGEST_STEP_MM = 10_000.0


def lay_on_bolt(
    parts: Sequence[Part],
    bolt: Bolt,
    rules: Rules,
    *,
    opens_folds: bool = False,
    sold_by_mm: float = SOLD_BY_MM.value,
    findings: Sequence[Finding] = (),
) -> Lay:
    """Return the parts on cloth off the roll.

    Args:
        parts: what is wanted.
        bolt: the cloth.
        rules: how they may lie.
        opens_folds: on folded cloth, halves are opened along their fold and cut through both layers as pairs.
        sold_by_mm: cloth is sold in such steps [mm].
        findings: known already.

    Raises:
        LayError: a piece is wider than the cloth, or no shop cuts to such steps.
    """
    if not 1.0 <= sold_by_mm <= _LONGEST_STEP_MM:
        raise LayError(
            f"Cloth sold in steps of {sold_by_mm:g} mm cannot be.", "Give the step with its unit, for example 10cm."
        )
    mine = list(findings)
    items = list_items(parts, bolt, opens_folds)
    placed = lay_strip(items, bolt, rules)
    offers = []
    if bolt.is_folded:
        for item in items:
            if item.gives == 1 and not item.on_fold:
                mine.append(
                    Finding(
                        "cut-through-one-layer",
                        f"One {item.part.name} is wanted by itself: both layers give two.",
                        "Cut it through the upper layer only, or keep the second.",
                        Severity.NOTE,
                    )
                )
        if not opens_folds and any(item.on_fold and item.part.count > 1 for item in items):
            offers += _offer_opening(parts, bolt, rules, used_length_mm(placed), sold_by_mm)
    return Lay(bolt, rules, tuple(parts), placed, offers=tuple(offers), findings=tuple(mine), sold_by_mm=sold_by_mm)


def _offer_opening(parts: Sequence[Part], bolt: Bolt, rules: Rules, length_mm: float, sold_by_mm: float) -> list[Offer]:
    quick = replace(rules, seconds=max(0.5, 0.4 * rules.seconds))
    try:
        items = list_items(parts, bolt, opens_folds=True)
        length = used_length_mm(lay_strip(items, bolt, quick))
    except LayError:
        return []
    if round_up_mm(length, sold_by_mm) >= round_up_mm(length_mm, sold_by_mm):
        return []
    return [
        Offer(
            "Open the halves along their fold and cut each once through both layers (--open-folds)",
            f"{write_to_buy(length, sold_by_mm)} is enough",
        )
    ]
