"""What the plan of a lay says in words; the terminal says the same."""

from collections.abc import Sequence

from ..lay.buying import write_to_buy
from ..lay.cloth import Bolt, Stretch
from ..lay.lay import Lay
from ..lay.placing import Placed
from ..units import Units, write_cm, write_inch
from .words import write_small


def both(length_mm: float) -> str:
    """Return a length both ways: `150.0 cm (59 in)`."""
    return f"{write_cm(length_mm)} ({write_inch(length_mm)})"


def both_small(length_mm: float) -> str:
    """Return a small length both ways: `10 mm (3/8 in)`."""
    return write_small(round(length_mm, 1), Units.MM)


def describe_answer(lay: Lay) -> str:
    """Return the answer in one line: how much to buy, or whether it fits."""
    if isinstance(lay.cloth, Bolt):
        return f"Buy {write_to_buy(lay.length_mm, lay.sold_by_mm)}: {both(lay.length_mm)} are used."
    wanted = sum(part.count for part in lay.parts)
    there = min(sum(one.item.gives for one in lay.placed), wanted)
    if lay.fits:
        return f"It fits: all {wanted} pieces." if wanted > 1 else "It fits."
    left = count_words([item.part.label for item in lay.missing for _ in range(item.gives)])
    return f"It does not fit: {there} of {wanted} pieces find a place. No room for: {left}."


def count_words(names: Sequence[str]) -> str:
    """Return names with how often each: `2 leg (2 times), 3 band`."""
    counts = {name: names.count(name) for name in dict.fromkeys(names)}
    return ", ".join(f"{name} ({n} times)" if n > 1 else name for name, n in counts.items())


def describe_cloth(lay: Lay) -> list[str]:
    """Return what was taken for granted of the cloth, a few lines."""
    cloth, rules = lay.cloth, lay.rules
    lines = []
    if isinstance(cloth, Bolt):
        how = "folded lengthwise, right sides together" if cloth.is_folded else "one layer, right side up"
        edges = f"{both_small(cloth.selvedge_mm)} free at each selvedge" if cloth.selvedge_mm else "used to its edges"
        lines.append(f"Cloth {both(cloth.width_mm)} wide, {how}; {edges}.")
    else:
        what = "Shirt, front and back cut at once" if cloth.layers == 2 else "Leftover, right side up"
        lines.append(f"{what}; {both_small(cloth.margin_mm)} kept free along its edges.")
    grain = "Grainlines along the grain" + (
        f", up to {rules.grain_tolerance_deg:g}° off" if rules.grain_tolerance_deg else ""
    )
    if rules.stretch is Stretch.ALONG:
        grain = "Pieces turned by a quarter: the cloth stretches most along its length"
    ways = "all tops one way" if rules.is_one_way else "tops either way"
    lines.append(f"{grain}; {ways}; {both_small(rules.gap_mm)} between pieces.")
    return lines


_TOLD = ("largest-size-laid", "not-of-this-cloth", "count-not-known", "body-of-the-shirt", "hem-not-straight")


def told_findings(lay: Lay) -> list[str]:
    """Return what a person who cuts by the plan must know besides, a sentence each."""
    return [finding.sentence() for finding in lay.findings if finding.code in _TOLD]


def describe_placed(one: Placed) -> str:
    """Return how a piece lies, in a few words, empty where there is nothing to say."""
    words = []
    if one.item.on_fold:
        words.append("half, on the fold")
    elif one.item.gives == 2:
        words.append("gives two")
    if one.is_mirrored and not one.item.on_fold and not one.item.part.is_own_mirror:
        words.append("mirrored")
    return ", ".join(words)
