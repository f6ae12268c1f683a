"""What is seen of the references: means of samples along their edges."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Floats, frozen
from .meeting import outward_normals
from .reference import EdgeSamples, Reference

_BINS = 9
"""Samples along one edge are gathered into this many means: enough for its bow, few enough to be quick."""
_BIN_FLOOR_PX = 0.08
"""No mean of samples is trusted beyond this: neighbouring samples share the demosaicing, the JPEG blocks, and the
rim's reflections."""


@dataclass(frozen=True, eq=False)
class Observations:
    """Means of samples along the references' edges."""

    points_px: Floats  # (M, 2)
    normals_px: Floats  # (M, 2), out of the reference
    sigma_px: Floats  # (M,)
    owner: np.ndarray  # (M,) index of the reference
    side: np.ndarray  # (M,) 0..3
    along: Floats  # (M,) where on its edge, -1 at the first corner to 1 at the second


def gather(references: Sequence[Reference]) -> Observations:
    """Return what is seen of the references; their corners where one has no edges."""
    points, normals, sigmas, owners, sides, along = [], [], [], [], [], []
    for owner, reference in enumerate(references):
        edges = reference.edges or corner_samples(reference.corners_px)
        for side, edge in enumerate(edges):
            for mean_px, normal_px, sigma_px, share in _binned(edge):
                points.append(mean_px)
                normals.append(normal_px)
                sigmas.append(sigma_px)
                owners.append(owner)
                sides.append(side)
                along.append(2 * share - 1)
    return Observations(*map(np.array, (points, normals, sigmas, owners, sides, along)))


def corner_samples(corners_px: Floats, sigma_px: float = 0.3) -> tuple[EdgeSamples, ...]:
    """Return edge samples that stand for four corners known to `sigma_px` alone."""
    edges = []
    normals = outward_normals(corners_px)
    for index in range(4):
        first, second = corners_px[index], corners_px[(index + 1) % 4]
        share = np.array([0.02, 0.5, 0.98])
        along = second - first
        edges.append(
            EdgeSamples(
                frozen(first + share[:, None] * along),
                frozen(np.tile(normals[index], (3, 1))),
                frozen(share),
                sigma_px,
            )
        )
    return tuple(edges)


def _binned(edge: EdgeSamples) -> list[tuple[Floats, Floats, float, float]]:
    if len(edge.points_px) == 0:
        return []
    order = np.argsort(edge.share)
    means = []
    for chosen in np.array_split(order, min(_BINS, len(order))):
        normal = edge.normals_px[chosen].mean(axis=0)
        normal = normal / np.linalg.norm(normal)
        sigma = max(edge.sigma_px / math.sqrt(len(chosen)), _BIN_FLOOR_PX)
        means.append((edge.points_px[chosen].mean(axis=0), normal, sigma, float(edge.share[chosen].mean())))
    return means
