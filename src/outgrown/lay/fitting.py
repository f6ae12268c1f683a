"""Fitting: items on a cloth of any shape; all of them, or as many as can be found room for."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import Polygon, affinity

from ..arrays import Floats, frozen
from .cloth import Leftover, Rules
from .ground import Ground
from .placing import Item, Placed
from .search import Budget, Forms, Search, Spot

_POINTS = 40_000
"""Lattice points on the cloth at the first try; each later try is finer."""
_COARSEST_MM, _FINEST_MM = 6.0, 0.5
_TRIES = 3
_BELOW_MM = 3.0


def fit_items(items: Sequence[Item], cloth: Leftover, rules: Rules) -> tuple[Placed, ...]:
    """Return where the items lie; those without a place are left out. The same seed gives the same answer."""
    area = cloth.area()
    if area.is_empty:
        return ()
    rng = np.random.default_rng([rules.seed, len(items)])
    best: list[Placed] = []
    step = min(max(math.sqrt(area.area / _POINTS), 1.0), _COARSEST_MM)
    for number in range(_TRIES):
        budget = Budget(rules.seconds * (0.5, 0.3, 0.2)[number])
        found = _try(items, cloth, area, rules, step, budget, rng, number)
        if _worth(found) > _worth(best):
            best = found
        if len(best) == len(items):
            break
        step = max(0.7 * step, _FINEST_MM)
    return tuple(best)


def _worth(placed: Sequence[Placed]) -> tuple[int, float]:
    return sum(one.item.gives for one in placed), sum(Polygon(one.item.ring_mm).area for one in placed)


def _try(
    items: Sequence[Item],
    cloth: Leftover,
    area: shapely.Geometry,
    rules: Rules,
    step: float,
    budget: Budget,
    rng: np.random.Generator,
    number: int,
) -> list[Placed]:
    forms = Forms(items, rules.turns_deg(), rules, step, cloth.grain_deg)
    offset = _offset(forms, area, step, rng, number)
    line_area = None
    if any(item.on_line for item in items):
        offset[1] = 0.0
        line_area = affinity.translate(cloth.hem_area(_BELOW_MM), -offset[0], 0.0)
    ground = Ground(affinity.translate(area, *-offset), step, line_area)
    search = Search(forms, ground, rng)
    able = [i for i in range(len(items)) if search.can_lie(i)]
    spots: dict[int, Spot] = {}
    room = area.area
    if len(able) == len(items) and sum(Polygon(item.ring_mm).area for item in items) <= room:
        whole = Budget(0.0)
        whole.left = 0.7 * budget.left
        budget.left -= whole.left
        spots = fit_all(search, able, whole) or {}
        budget.left += max(whole.left, 0.0)
    if len(spots) < len(able):
        some = fit_most(search, able, budget)
        spots = max(spots, some, key=len)
    placed = [forms.place(item, spot) for item, spot in sorted(spots.items())]
    return [replace(one, shift_mm=frozen(one.shift_mm + offset)) for one in placed]


def _offset(forms: Forms, area: shapely.Geometry, step: float, rng: np.random.Generator, number: int) -> Floats:
    """Return where the lattice lies: first so that the largest piece touches the cloth's left and lower end."""
    if number == 0:
        ring = forms.forms[forms.of[0][0]].bare
        return np.asarray(np.array(area.bounds[:2]) - ring.min(axis=0) + 1e-6)
    return np.asarray(rng.uniform(0.0, step, 2))


def fit_all(search: Search, items: Sequence[int], budget: Budget) -> dict[int, Spot] | None:
    """Return a place for every item without overlap, or None."""
    order = list(items)
    start: dict[int, Spot] = {}
    while not budget.is_spent:
        search.pull_to(None)
        start = search.put_down(order, budget)
        if not search.overlaps(start):
            return start
        found = search.settle(start, budget, most_sweeps=60 + 20 * len(items))
        if found is not None:
            return found
        search.rng.shuffle(order)
    return None


def fit_most(search: Search, items: Sequence[int], budget: Budget) -> dict[int, Spot]:
    """Return places for as many items as are found room for, the larger ones where it makes no difference."""
    sizes = {i: Polygon(search.forms.items[i].ring_mm).area for i in items}
    gives = {i: search.forms.items[i].gives for i in items}
    best: dict[int, Spot] = {}
    orders = [sorted(items, key=lambda i: -sizes[i]), sorted(items, key=lambda i: sizes[i])]

    def worth(spots: dict[int, Spot]) -> tuple[int, float]:
        return sum(gives[i] for i in spots), sum(sizes[i] for i in spots)

    tries = 0
    while tries < 8 and not budget.is_spent:
        order = orders[tries] if tries < len(orders) else list(items)
        if tries >= len(orders):
            search.rng.shuffle(order)
        search.pull_to(None)
        spots = _put_free(search, order, budget)
        if worth(spots) > worth(best):
            best = spots
        tries += 1
    while not budget.is_spent and len(best) < len(items):
        missing = sorted((i for i in items if i not in best), key=lambda i: sizes[i])
        before = len(best)
        for item in missing:
            if budget.is_spent:
                break
            some = Budget(0.0)
            some.left = budget.left / 3
            budget.left -= some.left
            found = fit_all(search, [*best, item], some)
            budget.left += max(some.left, 0.0)
            if found is not None:
                best = found
                break
        if len(best) == before:
            break
    return best


def _put_free(search: Search, order: Sequence[int], budget: Budget) -> dict[int, Spot]:
    """Return places for items put down one by one, those left out that would overlap."""
    count = len(search.forms.items)
    spots: dict[int, Spot] = {}
    for item in order:
        spot = search.best_spot(item, spots, np.ones((count, count)), budget)
        if spot is not None and all(search.forms.deep(other, spot) == 0.0 for other in spots.values()):
            spots[item] = spot
    return spots
