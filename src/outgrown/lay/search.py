"""Search: items put down one by one, then moved while any two overlap, until none do.

Every move tries all places of the lattice and takes the one where the item overlaps least. Pairs that go on overlapping
weigh more and more, so that the search leaves the places where it is stuck: guided local search (J. Egeblad, B. K.
Nielsen, A. Odgaard, "Fast neighborhood search for two- and three-dimensional nesting problems", EJOR 183, 2007), on
rasters (S. Umetani, S. Murakami, "Coordinate descent heuristics for the irregular strip packing problem of rasterized
shapes", EJOR 303, 2022).

The work is counted in lattice points looked at, not in seconds: the same seed gives the same lay on any machine.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from ..arrays import Floats, frozen
from .cloth import Rules, turned_matrix
from .ground import Ground
from .lattice import Reals, Window, depth_between, exact_ring, outer_ring
from .placing import Item, Placed

POINTS_PER_SECOND = 5.0e8
_MOVE_COSTS, _PAIR_COSTS, _POINT_COSTS = 30_000, 300_000, 15
"""What one look costs besides its lattice points, in points; what a pair of forms costs once, and each point of it."""
_HAIR_MM = 0.02
_HEAVIEST = 1e4
_NEVER = np.float32(1e9)


@dataclass(frozen=True, eq=False)
class Form:
    """One way an item may lie: mirrored or not, turned."""

    is_mirrored: bool
    turn_deg: float
    bare: Floats
    grown: Floats
    on_line: bool


@dataclass
class Spot:
    """Where an item lies: its form, column and row."""

    form: int
    column: int
    row: int


class Forms:
    """All forms of all items, and how deep each two overlap; reckoned once.

    Args:
        items: what is put down.
        turns_deg: allowed on the cloth.
        rules: for the gap.
        step_mm: of the lattice.
        grain_deg: of the cloth.
    """

    def __init__(
        self, items: Sequence[Item], turns_deg: Sequence[float], rules: Rules, step_mm: float, grain_deg: float = 0.0
    ) -> None:
        self.items = items
        self.step_mm = step_mm
        self.forms: list[Form] = []
        self.of: list[tuple[int, ...]] = []
        known: dict[tuple[int, bool, float, bool], int] = {}
        for item in items:
            mine = []
            for is_mirrored, turn_deg in _ways(item, turns_deg):
                whole = (turn_deg + grain_deg) % 360.0
                key = (id(item.ring_mm), is_mirrored, whole, item.on_line)
                if key not in known:
                    known[key] = len(self.forms)
                    shape = Polygon(item.ring_mm @ turned_matrix(whole, is_mirrored)).buffer(0)
                    bare = exact_ring(shape)
                    grown = outer_ring(shape, rules.gap_mm / 2 + _HAIR_MM)
                    self.forms.append(Form(is_mirrored, whole, bare, grown, item.on_line))
                mine.append(known[key])
            self.of.append(tuple(mine))
        self._depths: dict[tuple[int, int], Window] = {}
        self.unpaid = 0.0

    def depth(self, fixed: int, moved: int) -> Window:
        """Return how deep form `moved` overlaps form `fixed`, by their distance on the lattice."""
        key = (fixed, moved)
        if key not in self._depths:
            self._depths[key] = depth_between(self.forms[fixed].grown, self.forms[moved].grown, self.step_mm)
            self.unpaid += _PAIR_COSTS + _POINT_COSTS * self._depths[key].values.size
        return self._depths[key]

    def deep(self, one: Spot, other: Spot) -> float:
        """Return how deep two items overlap where they lie [mm]."""
        window = self.depth(one.form, other.form)
        column = other.column - one.column - window.first[0]
        row = other.row - one.row - window.first[1]
        rows, columns = window.values.shape
        return float(window.values[row, column]) if 0 <= row < rows and 0 <= column < columns else 0.0

    def place(self, item: int, spot: Spot) -> Placed:
        """Return the item where the spot says."""
        form = self.forms[spot.form]
        shift = frozen([spot.column * self.step_mm, spot.row * self.step_mm])
        return Placed(self.items[item], form.is_mirrored, form.turn_deg, shift)


def _ways(item: Item, turns_deg: Sequence[float]) -> list[tuple[bool, float]]:
    if item.on_hem:  # upright on the hem, whatever else may turn
        return [(is_mirrored, 0.0) for is_mirrored in item.mirrors if 0.0 in turns_deg]
    if not item.on_fold:
        return [(is_mirrored, turn) for is_mirrored in item.mirrors for turn in turns_deg]
    # A half on the fold is above it either way round: turned by half a turn it is turned over too.
    exact = [turn for turn in turns_deg if turn % 180.0 == 0.0]
    return [(turn % 360.0 == 180.0, turn) for turn in exact]


class Budget:
    """How much may still be searched."""

    def __init__(self, seconds: float) -> None:
        self.left = seconds * POINTS_PER_SECOND

    @property
    def is_spent(self) -> bool:
        """Nothing is left."""
        return self.left <= 0.0


class Search:
    """Puts items down on a ground.

    Args:
        forms: of the items.
        ground: the cloth.
        rng: for everything left to chance.
    """

    def __init__(self, forms: Forms, ground: Ground, rng: np.random.Generator) -> None:
        self.forms, self.rng = forms, rng
        self.set_ground(ground)

    def set_ground(self, ground: Ground, pull: Floats | None = None) -> None:
        """Search on this cloth from now on; free items are pulled along `pull`, else anywhere."""
        self.ground = ground
        free = [ground.free(form.bare, form.on_line) for form in self.forms.forms]
        self.firsts = [first for first, _ in free]
        self._bars = [np.where(flags, np.float32(0.0), _NEVER) for _, flags in free]
        self.pull_to(pull)

    def pull_to(self, pull: Floats | None) -> None:
        """Prefer places far along `pull` where nothing else tells two places apart."""
        if pull is None:
            angle = self.rng.uniform(0.0, 2.0 * np.pi)
            pull = np.array([np.cos(angle), np.sin(angle)])
        self.bases: list[Reals] = []
        for first, bar in zip(self.firsts, self._bars, strict=True):
            rows, columns = bar.shape
            along = -1e-4 * pull[0] * (first[0] + np.arange(columns))
            up = -1e-4 * pull[1] * (first[1] + np.arange(rows))
            self.bases.append((bar + along[None, :] + up[:, None]).astype(np.float32))

    def holds(self, spot: Spot) -> bool:
        """Tell whether the place is one where the item stays on the cloth."""
        first, bar = self.firsts[spot.form], self._bars[spot.form]
        column, row = spot.column - first[0], spot.row - first[1]
        rows, columns = bar.shape
        return 0 <= row < rows and 0 <= column < columns and bool(bar[row, column] == 0.0)

    def can_lie(self, item: int) -> bool:
        """Tell whether the item fits on the cloth by itself."""
        return any((self._bars[form] == 0.0).any() for form in self.forms.of[item])

    def best_spot(self, item: int, spots: dict[int, Spot], weights: Floats, budget: Budget) -> Spot | None:
        """Return the place where the item overlaps the others least; None where it fits nowhere on the cloth."""
        best, lowest = None, float(_NEVER) / 2
        for form in self.forms.of[item]:
            base = self.bases[form]
            if base.size == 0:
                continue
            cost = base.copy()
            first = self.firsts[form]
            rows, columns = cost.shape
            for other, spot in spots.items():
                if other == item:
                    continue
                window = self.forms.depth(spot.form, form)
                column = spot.column + window.first[0] - first[0]
                row = spot.row + window.first[1] - first[1]
                deep_rows, deep_columns = window.values.shape
                left, right = max(column, 0), min(column + deep_columns, columns)
                low, high = max(row, 0), min(row + deep_rows, rows)
                budget.left -= _MOVE_COSTS // 3
                if left < right and low < high:
                    part = window.values[low - row : high - row, left - column : right - column]
                    cost[low:high, left:right] += np.float32(weights[item, other]) * part
                    budget.left -= part.size
            place = int(np.argmin(cost))
            budget.left -= cost.size + _MOVE_COSTS
            value = float(cost.flat[place])
            if value < lowest:
                lowest = value
                best = Spot(form, first[0] + place % columns, first[1] + place // columns)
        budget.left -= self.forms.unpaid
        self.forms.unpaid = 0.0
        return best

    def put_down(self, order: Sequence[int], budget: Budget) -> dict[int, Spot]:
        """Return a place for each item, put down in this order where it overlaps least."""
        count = len(self.forms.items)
        spots: dict[int, Spot] = {}
        for item in order:
            spot = self.best_spot(item, spots, np.ones((count, count)), budget)
            if spot is not None:
                spots[item] = spot
        return spots

    def overlaps(self, spots: dict[int, Spot]) -> dict[tuple[int, int], float]:
        """Return how deep each two items overlap, those that do [mm]."""
        names = list(spots)
        found = {}
        for n, one in enumerate(names):
            for other in names[n + 1 :]:
                deep = self.forms.deep(spots[one], spots[other])
                if deep > 0.0:
                    found[(one, other)] = deep
        return found

    def settle(self, spots: dict[int, Spot], budget: Budget, most_sweeps: int = 400) -> dict[int, Spot] | None:
        """Return places without overlap, found by moving what overlaps; None where the budget or patience ends."""
        spots = dict(spots)
        count = len(self.forms.items)
        weights = np.ones((count, count))
        for _ in range(most_sweeps):
            clashes = self.overlaps(spots)
            if not clashes:
                return spots
            if budget.is_spent:
                return None
            moving = list(dict.fromkeys(name for pair in clashes for name in pair))
            self.rng.shuffle(moving)
            for item in moving:
                mine = [o for o in spots if o != item and self.forms.deep(spots[o], spots[item]) > 0.0]
                if mine:
                    spot = self.best_spot(item, spots, weights, budget)
                    if spot is not None:
                        spots[item] = spot
            clashes = self.overlaps(spots)
            worst = max(clashes.values(), default=1.0)
            weights = np.clip(0.95 * weights, 1.0, _HEAVIEST)
            for (one, other), deep in clashes.items():
                weights[one, other] *= 1.25 + 0.8 * deep / worst
                weights[other, one] = weights[one, other]
        return None
