"""On a leftover: whether the pieces fit, how many do, and which change would make them fit."""

from collections.abc import Sequence
from dataclasses import replace

from ..errors import LayError
from ..findings import Finding
from .cloth import Leftover, Rules
from .fitting import fit_items
from .lay import Lay, Offer
from .part import Part
from .placing import Item, Placed, list_items
from .splitting import can_split, split_parts

OFFERED_TOLERANCE_DEG = 3.0
_OFFER_SHARE = 0.3
"""Of the search's time, for each offer."""


def lay_on_leftover(
    parts: Sequence[Part], cloth: Leftover, rules: Rules, *, findings: Sequence[Finding] = (), has_offers: bool = True
) -> Lay:
    """Return the parts on a leftover, as many as found a place.

    Args:
        parts: what is wanted.
        cloth: the leftover.
        rules: how they may lie.
        findings: known already.
        has_offers: when not all fit, tell what would help.

    Raises:
        LayError: nothing of the cloth is left inside its margin.
    """
    if cloth.area().is_empty:
        raise LayError(
            "Nothing is left of this cloth inside its margin.", "Take a larger cloth, or photograph it closer."
        )
    placed, missing = _fit(parts, cloth, rules)
    offers = _offers(parts, cloth, rules) if missing and has_offers else ()
    return Lay(cloth, rules, tuple(parts), placed, missing, offers, tuple(findings))


def _fit(parts: Sequence[Part], cloth: Leftover, rules: Rules) -> tuple[tuple[Placed, ...], tuple[Item, ...]]:
    items = list_items(parts, cloth)
    placed = fit_items(items, cloth, rules)
    there = {id(one.item) for one in placed}
    return placed, tuple(item for item in items if id(item) not in there)


def _offers(parts: Sequence[Part], cloth: Leftover, rules: Rules) -> tuple[Offer, ...]:
    """Return the changes that make everything fit; where none does alone, all together."""
    quick = replace(rules, seconds=max(0.5, _OFFER_SHARE * rules.seconds))
    changes: list[tuple[str, tuple[str, ...], Rules]] = []
    if rules.is_one_way:
        changes.append(("Let tops point either way (leave --one-way out)", (), replace(quick, is_one_way=False)))
    if rules.grain_tolerance_deg < OFFERED_TOLERANCE_DEG:
        off = OFFERED_TOLERANCE_DEG
        words = f"Let grainlines be up to {off:g}° off (--grain-tolerance {off:g})"
        changes.append((words, (), replace(quick, grain_tolerance_deg=off)))
    for part in {part.name: part for part in parts if can_split(part)}.values():
        how = "sewn from two, a seam in its middle" if part.is_band else "cut in two, a seam where its fold was"
        changes.append((f"The {part.name} {how} (--split {part.name!r})".replace("'", '"'), (part.name,), quick))
    offers = [Offer(words, "then it fits") for words, names, ruled in changes if _all_fit(parts, cloth, ruled, names)]
    if not offers and len(changes) > 1:
        names = tuple(name for _, more, _ in changes for name in more)
        ruled = replace(
            quick, is_one_way=False, grain_tolerance_deg=max(OFFERED_TOLERANCE_DEG, rules.grain_tolerance_deg)
        )
        if _all_fit(parts, cloth, ruled, names):
            offers = [Offer("; ".join(words for words, _, _ in changes), "all together, then it fits")]
    return tuple(offers)


def _all_fit(parts: Sequence[Part], cloth: Leftover, rules: Rules, names: Sequence[str]) -> bool:
    changed = split_parts(parts, names) if names else tuple(parts)
    wanted = sum(part.area_mm2 * part.count for part in changed) / cloth.layers
    if wanted > cloth.area().area:
        return False
    return not _fit(changed, cloth, rules)[1]
