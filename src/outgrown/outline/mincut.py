"""Minimum cut on a graph of patches or pixels: the cheapest way to call some garment and the rest floor."""

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import breadth_first_order, maximum_flow

from ..arrays import Flags

# maximum_flow works in whole numbers
UNIT = 100.0


class Graph:
    """A graph whose ties are fixed and whose leanings change from cut to cut."""

    def __init__(self, pair: NDArray[np.integer[Any]], ties: NDArray[np.floating[Any]], count: int) -> None:
        """Make the graph.

        Args:
            pair: (m, 2) nodes tied to each other, no pair twice.
            ties: (m,) cost of parting them.
            count: number of nodes n.
        """
        self.count = count
        self._ties = ties
        nodes, source, sink = np.arange(count), np.full(count, count), np.full(count, count + 1)
        rows = np.concatenate([pair[:, 0], pair[:, 1], source, nodes, nodes, sink])
        columns = np.concatenate([pair[:, 1], pair[:, 0], nodes, sink, source, nodes])
        numbered = csr_matrix((np.arange(1, len(rows) + 1), (rows, columns)), shape=(count + 2, count + 2))
        self._order = numbered.data - 1
        self._columns, self._starts = numbered.indices, numbered.indptr

    def cut(self, leaning: NDArray[np.floating[Any]]) -> Flags:
        """Return (n,) True where garment.

        Args:
            leaning: (n,) what calling a node floor costs more than calling it garment; negative for floor.
        """
        idle = np.zeros(self.count)
        values = np.concatenate([self._ties, self._ties, np.maximum(leaning, 0), np.maximum(-leaning, 0), idle, idle])
        whole = np.minimum(values * UNIT, 1e8).astype(np.int32)[self._order]
        size = self.count + 2
        # The stubs ask for a csr_array; the function takes either.
        capacity: Any = csr_matrix((whole, self._columns, self._starts), shape=(size, size))
        rest = capacity - maximum_flow(capacity, self.count, self.count + 1).flow
        rest.data = np.maximum(rest.data, 0)
        rest.eliminate_zeros()
        reached = breadth_first_order(rest, self.count, directed=True, return_predecessors=False)
        garment = np.zeros(size, bool)
        garment[reached] = True
        return garment[: self.count]
