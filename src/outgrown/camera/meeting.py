"""Meeting: which way the sides of a reference face, where neighbours, prolonged straight, meet, and sides moved."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..arrays import Floats, frozen
from .reference import EdgeSamples, Reference

_PARALLEL = 1e-3


def outward_normals(corners_px: Floats) -> Floats:
    """Return (4, 2) unit normals of the sides, out of the reference; side i from corner i to corner i + 1."""
    along = np.roll(corners_px, -1, axis=0) - corners_px
    normals = np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(along[:, 0], along[:, 1])[:, None]
    outward = ((corners_px - corners_px.mean(axis=0)) * normals).sum(axis=1) > 0
    turned: Floats = np.where(outward[:, None], normals, -normals)
    return turned


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


def move_sides(reference: Reference, moves_px: Floats, doubts_px: Floats) -> Reference:
    """Return the reference with its sides moved outward, and how far each may still be off.

    Args:
        reference: as it is.
        moves_px: (4,) of its sides.
        doubts_px: (4,) standard deviations.
    """
    edges = tuple(
        replace(
            edge,
            points_px=frozen(edge.points_px + move * edge.normals_px),
            shift_px=float(doubt),
        )
        for edge, move, doubt in zip(reference.edges, moves_px, doubts_px, strict=True)
    )
    return replace(reference, edges=edges, corners_px=frozen(meet_sides(reference.corners_px, edges)))
