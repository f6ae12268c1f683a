"""Minimum cut on the graph of patches: the cheapest way to call some garment and the rest floor."""

from typing import Any

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import breadth_first_order, maximum_flow

from ..arrays import Flags
from .patches import Reals, Whole

# maximum_flow works in whole numbers
UNIT = 100.0


class PatchGraph:
    """A graph whose ties are fixed and whose leanings change from cut to cut."""

    def __init__(self, pair: Whole, ties: Reals, count: int) -> None:
        self.count = count
        self._ties = ties
        nodes = np.arange(count)
        rows = np.concatenate([pair[:, 0], pair[:, 1], np.full(count, count), nodes, nodes, np.full(count, count + 1)])
        columns = np.concatenate(
            [pair[:, 1], pair[:, 0], nodes, np.full(count, count + 1), np.full(count, count), nodes]
        )
        self._order = np.lexsort((columns, rows))
        self._columns = columns[self._order].astype(np.int32)
        starts = np.searchsorted(rows[self._order], np.arange(count + 3))
        self._starts = starts.astype(np.int32)

    def cut(self, leaning: Reals) -> Flags:
        """Return (n,) True where garment.

        Args:
            leaning: (n,) what calling a patch floor costs more than calling it garment; negative for floor.
        """
        zeros = np.zeros(self.count)
        values = np.concatenate([self._ties, self._ties, np.maximum(leaning, 0), np.maximum(-leaning, 0), zeros, zeros])
        whole = np.minimum(values * UNIT, 1e8).astype(np.int32)[self._order]
        size = self.count + 2
        # The stubs ask for a csr_array; the function takes either.
        capacity: Any = csr_matrix((whole, self._columns, self._starts), shape=(size, size))
        source, sink = self.count, self.count + 1
        rest = capacity - maximum_flow(capacity, source, sink).flow
        rest.data = np.maximum(rest.data, 0)
        rest.eliminate_zeros()
        reached = breadth_first_order(rest, source, directed=True, return_predecessors=False)
        garment = np.zeros(size, bool)
        garment[reached] = True
        return garment[: self.count]
