"""Meeting: where the neighbouring sides of a reference, prolonged straight, meet."""

from collections.abc import Sequence

import numpy as np

from ..arrays import Floats
from .reference import EdgeSamples

_PARALLEL = 1e-3


def meet_sides(corners_px: Floats, edges: Sequence[EdgeSamples]) -> Floats:
    """Return (4, 2) the corners where the edges meet; a corner whose edges run parallel stays as it is.

    Args:
        corners_px: (4, 2) the corners so far.
        edges: four, edge i from corner i to corner i + 1.
    """
    lines = []
    for edge in edges:
        middle = edge.points_px.mean(axis=0)
        lines.append((middle, np.linalg.svd(edge.points_px - middle, full_matrices=False)[2][0]))
    corners = np.array(corners_px, dtype=np.float64)
    for index in range(4):
        (a, u), (b, v) = lines[index - 1], lines[index]
        matrix = np.column_stack([u, -v])
        if abs(np.linalg.det(matrix)) > _PARALLEL:
            corners[index] = a + u * np.linalg.solve(matrix, b - a)[0]
    return corners
