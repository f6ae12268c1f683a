"""Strip: pieces on cloth off the roll, as short as can be found.

On a single layer the strip packing of `spyrrow` is used (MIT; J. Gardeyn, G. Vanden Berghe, T. Wauters, "An open-source
heuristic to reboot 2D nesting research", 2025), on folded cloth our own search, which can hold fold edges on the fold.
"""

import math
from collections.abc import Sequence

import numpy as np
from shapely import Polygon, box

from ..arrays import Floats, frozen
from ..errors import LayError
from .cloth import Bolt, Rules, turned_matrix
from .compacting import push_left
from .ground import Ground
from .lattice import outer_ring
from .placing import Item, Placed
from .search import Budget, Forms, Search, Spot
from .splitting import can_split

_HAIR_MM = 0.05
_CUTS = (0.04, 0.02, 0.01, 0.005, 0.03, 0.015)
"""Shares by which a lay is tried to be shortened, in turn."""
_TIGHT_MM = 2.0
"""A piece that leaves less of the width is beyond the packing library, which keeps distances its own way."""
_LEFT = np.array([-1.0, 0.0])


def lay_strip(items: Sequence[Item], bolt: Bolt, rules: Rules) -> tuple[Placed, ...]:
    """Return the items on the cloth, from x = 0, as short as was found.

    Raises:
        LayError: a piece is wider than the cloth.
    """
    _check_width(items, bolt, rules)
    is_own = bolt.is_folded or _slack_mm(items, bolt, rules) < rules.gap_mm + _TIGHT_MM
    placed = (None if is_own else _pack(items, bolt, rules)) or _search_short(items, bolt, rules)
    return tuple(push_left(placed, 0.0, rules.gap_mm, 4.0))


def used_length_mm(placed: Sequence[Placed]) -> float:
    """Return where the last piece ends [mm]."""
    return max(float(one.ring_mm[:, 0].max()) for one in placed)


def _check_width(items: Sequence[Item], bolt: Bolt, rules: Rules) -> None:
    room = bolt.high_mm - bolt.low_mm
    for item in items:
        turns = [t for t in rules.turns_deg() if not item.on_fold or t % 180.0 == 0.0]
        if not turns:
            raise LayError(
                f"The {item.part.name} has its fold along the grain, and this cloth is turned by a quarter: its fold "
                "cannot lie on the cloth's.",
                "Lay it on a single layer: leave the fold out.",
            )
        wide = min(_height(item.ring_mm, turn) for turn in turns)
        if wide > room + 1e-6:
            raise LayError(
                f"The {item.part.name} is {wide / 10:.1f} cm wide, and the cloth leaves {room / 10:.1f} cm.",
                _advise(item, bolt),
            )


def _advise(item: Item, bolt: Bolt) -> str:
    """Return what to do about a piece wider than the cloth."""
    if bolt.is_folded:
        return "Take a wider cloth, or lay it on a single layer."
    if can_split(item.part):
        return f'Take a wider cloth, or sew the piece from two: --split "{item.part.name}".'
    return "Take a wider cloth."


def _slack_mm(items: Sequence[Item], bolt: Bolt, rules: Rules) -> float:
    """Return how much of the width the widest piece leaves [mm]."""
    widest = max(min(_height(item.ring_mm, turn) for turn in rules.turns_deg()) for item in items)
    return bolt.high_mm - bolt.low_mm - widest


def _find_step(items: Sequence[Item], bolt: Bolt, rules: Rules, step: float) -> float:
    """Return a lattice's step near `step` at which the widest piece can touch the cloth's lower side exactly."""
    off_line = [item for item in items if not item.on_line]
    if not off_line:
        return step
    turn = rules.turns_deg()[0]
    widest = max(off_line, key=lambda item: _height(item.ring_mm, turn))
    ring = widest.ring_mm @ turned_matrix(turn, widest.mirrors[0])
    way = _lowest(bolt, rules) - float(ring[:, 1].min())
    return way / max(1, round(way / step)) if way > 0.0 else step


def _height(ring: Floats, turn_deg: float) -> float:
    a = math.radians(turn_deg)
    y = ring[:, 0] * math.sin(a) + ring[:, 1] * math.cos(a)
    return float(np.ptp(y))


def _pack(items: Sequence[Item], bolt: Bolt, rules: Rules) -> list[Placed] | None:
    """Return the items as the library packs them; None where it gives up, as it does on some crowded strips."""
    import spyrrow  # a moment to load, and only this needs it

    gap = max(rules.gap_mm, _HAIR_MM)
    turns = [turn % 360.0 for turn in rules.turns_deg()]
    packed = []
    for number, item in enumerate(items):
        ring = item.ring_mm * [1.0, -1.0] if item.mirrors[0] else item.ring_mm
        rough = outer_ring(Polygon(ring).buffer(0), 0.0, 0.1)
        points = [(float(x), float(y)) for x, y in rough]
        packed.append(spyrrow.Item(str(number), points, 1, turns))
    room = bolt.high_mm - bolt.low_mm
    instance = spyrrow.StripPackingInstance("lay", room, packed)
    whole = max(1, round(rules.seconds))
    exploring = max(1, round(0.8 * whole))
    config = spyrrow.StripPackingConfig(
        exploration_time=exploring,
        compression_time=whole - exploring,
        total_computation_time=None,
        min_items_separation=gap,
        num_workers=1,
        seed=rules.seed,
    )
    try:
        solution = instance.solve(config)
    except BaseException as error:
        # A failure inside the library is no `Exception`; its class cannot be imported.
        if type(error).__name__ != "PanicException":
            raise
        return None
    if len(solution.placed_items) != len(items):
        return None
    placed = [
        Placed(items[int(p.id)], items[int(p.id)].mirrors[0], float(p.rotation) % 360.0, frozen(p.translation))
        for p in solution.placed_items
    ]
    placed = [_rounded(one, rules) for one in placed]
    low = np.min([one.ring_mm.min(axis=0) for one in placed], axis=0)
    high = max(float(one.ring_mm[:, 1].max()) for one in placed)
    # To the left, and off the lower selvedge no further than the upper allows.
    up = min(max(bolt.low_mm - float(low[1]), 0.0), bolt.high_mm - high) if low[1] < bolt.low_mm else bolt.low_mm
    up = min(up, bolt.high_mm - high)
    return [
        Placed(one.item, one.is_mirrored, one.turn_deg, frozen(one.shift_mm + np.array([-low[0], up])))
        for one in placed
    ]


def _rounded(one: Placed, rules: Rules) -> Placed:
    """Return it with the turn that was asked for, which the packing keeps to seven figures only."""
    turns = np.asarray(rules.turns_deg()) % 360.0
    off = np.abs((turns - one.turn_deg + 180.0) % 360.0 - 180.0)
    return Placed(one.item, one.is_mirrored, float(turns[int(np.argmin(off))]), one.shift_mm)


def _search_short(items: Sequence[Item], bolt: Bolt, rules: Rules) -> list[Placed]:
    """Return the items on folded cloth: ever shorter cloth is tried, from the last lay that fitted."""
    rng = np.random.default_rng([rules.seed, len(items)])
    area = sum(Polygon(item.ring_mm).area for item in items)
    room = bolt.high_mm - bolt.low_mm
    longest = max(float(np.hypot(*np.ptp(item.ring_mm, axis=0))) for item in items)
    length = max(1.6 * area / room, longest) + 2 * longest
    step = min(max(math.sqrt(1.3 * area / 30_000), 1.5), 6.0)
    budget = Budget(rules.seconds)
    for part in (1, 2, 4, 8):
        fine = _find_step(items, bolt, rules, step / part)
        forms = Forms(items, rules.turns_deg(), rules, fine)
        search = Search(forms, _ground(bolt, length, fine, rules), rng)
        if all(search.can_lie(i) for i in range(len(items))):
            break
    else:
        raise LayError(
            "A piece fills this cloth's width to the last millimetre, and I found no place for it.",
            "Leave a narrower selvedge, or allow a smaller gap.",
        )
    step = fine
    best: dict[int, Spot] | None = None
    shortest = math.inf
    largest = sorted(range(len(items)), key=lambda i: (not items[i].on_fold, -Polygon(items[i].ring_mm).area))
    for order in (list(range(len(items))), largest, *[rng.permutation(len(items)).tolist() for _ in range(4)]):
        for lean in (0.0, 0.35, -0.35):
            search.pull_to(np.array([-1.0, lean]))
            spots = search.put_down(order, budget)
            while len(spots) < len(items) or search.overlaps(spots):
                length *= 1.5
                search.set_ground(_ground(bolt, length, step, rules), _LEFT)
                spots = search.put_down(order, budget)
            reached = _reach(forms, spots)
            if reached < shortest:
                best, shortest = spots, reached
    assert best is not None
    bound = _least_length(items, bolt, rules)
    tries = 0
    while not budget.is_spent and shortest - bound > step:
        wanted = max(shortest * (1.0 - _CUTS[tries % len(_CUTS)]), bound)
        tries += 1
        search.set_ground(_ground(bolt, wanted, step, rules), _LEFT)
        if not all(search.can_lie(i) for i in range(len(items))):
            if tries % len(_CUTS) == 0:
                break
            continue
        kept = best if tries % 3 else _shaken(best, rng)
        found = search.settle(_hold(search, kept, budget), budget, most_sweeps=120)
        if found is not None and (reached := _reach(forms, found)) < shortest:
            best, shortest = found, reached
            tries = 0
    return [forms.place(item, spot) for item, spot in sorted(best.items())]


def _hold(search: Search, spots: dict[int, Spot], budget: Budget) -> dict[int, Spot]:
    """Return the places on a shorter cloth: what lies beyond its end is put down anew."""
    count = len(search.forms.items)
    held = {item: spot for item, spot in spots.items() if search.holds(spot)}
    for item in spots:
        if item not in held:
            spot = search.best_spot(item, held, np.ones((count, count)), budget)
            assert spot is not None
            held[item] = spot
    return held


def _shaken(spots: dict[int, Spot], rng: np.random.Generator) -> dict[int, Spot]:
    """Return the places with two items' exchanged, each in its own form, to leave a lay that cannot be shortened."""
    shaken = dict(spots)
    one, other = rng.choice(list(spots), 2, replace=False).tolist() if len(spots) > 1 else (0, 0)
    a, b = spots[one], spots[other]
    shaken[one], shaken[other] = Spot(a.form, b.column, b.row), Spot(b.form, a.column, a.row)
    return shaken


def _least_length(items: Sequence[Item], bolt: Bolt, rules: Rules) -> float:
    """Return a length no lay can be shorter than [mm]: by area, by the longest piece, by what lies along the fold."""
    area = sum(Polygon(item.ring_mm).area for item in items)
    along = [
        min(
            _height(item.ring_mm[:, ::-1], -turn)
            for turn in rules.turns_deg()
            if not item.on_fold or turn % 180.0 == 0.0
        )
        for item in items
    ]
    folds = [float(np.ptp(item.ring_mm[item.ring_mm[:, 1] < 1e-6, 0])) for item in items if item.on_fold]
    return float(max(area / (bolt.high_mm - bolt.low_mm), *along, sum(folds)))


def _reach(forms: Forms, spots: dict[int, Spot]) -> float:
    return max(s.column * forms.step_mm + float(forms.forms[s.form].bare[:, 0].max()) for s in spots.values())


def _ground(bolt: Bolt, length_mm: float, step: float, rules: Rules) -> Ground:
    low, high = bolt.low_mm, bolt.high_mm
    if not bolt.is_folded:
        return Ground(box(0.0, low, length_mm, high), step)
    area = box(0.0, _lowest(bolt, rules), length_mm, high)
    return Ground(area, step, line_area=box(0.0, -3.0, length_mm, high))


def _lowest(bolt: Bolt, rules: Rules) -> float:
    """Return the lowest y of what does not lie on the fold [mm]: the gap is kept from the fold too."""
    return rules.gap_mm if bolt.is_folded else bolt.low_mm
