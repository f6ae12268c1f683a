"""Pieces and cloths drawn by chance or by hand for the tests and benchmarks of laying."""

from dataclasses import replace

import numpy as np
from paper.sample_patterns import make_band, make_leg, make_pattern
from shapely import Polygon

from outgrown.arrays import frozen
from outgrown.lay.cloth import Leftover
from outgrown.lay.part import Part, read_parts
from outgrown.pieces.piece import Finish


def make_front(*sizes, name="front"):
    """A leg without a fold, of which the second is the mirror image."""
    leg = make_leg(*sizes)
    edges = tuple(replace(edge, finish=Finish.SEAM) for edge in leg.edges)
    return replace(leg, name=name, quantity="cut 2, mirrored", edges=edges)


def parts_of(*pieces):
    """The parts of a pattern of these pieces; the cut list does not know them."""
    return read_parts([replace(make_pattern(*pieces), cut_list=())])[0]


def star(rng, radius, corners, low=0.35):
    """A ring of any shape round the origin, convex or not."""
    angles = np.sort((np.arange(corners) + rng.uniform(-0.35, 0.35, corners)) * 2 * np.pi / corners)
    return np.column_stack([np.cos(angles), np.sin(angles)]) * (radius * rng.uniform(low, 1.0, corners))[:, None]


def any_part(rng, number, radius):
    ring = star(rng, radius, int(rng.integers(4, 11)))
    ring = ring - 0.5 * (ring.min(axis=0) + ring.max(axis=0))
    count = int(rng.integers(1, 4))
    return Part(number, f"piece {number}", "any", frozen(ring), None, count, count // 2, False)


def any_cloth(rng, size):
    """A blob with up to three holes."""
    ring = star(rng, size, int(rng.integers(5, 14)), 0.55)
    shape = Polygon(ring)
    holes = []
    for _ in range(int(rng.integers(0, 4))):
        hole = star(rng, 0.12 * size, 7) + rng.uniform(-0.5, 0.5, 2) * size
        if shape.buffer(-5).contains(Polygon(hole)) and not any(Polygon(h).intersects(Polygon(hole)) for h in holes):
            holes.append(frozen(hole))
    return Leftover(frozen(ring), tuple(holes), float(rng.uniform(0, 6)), float(rng.uniform(0, 360)))


__all__ = ["any_cloth", "any_part", "make_band", "make_front", "make_leg", "make_pattern", "parts_of", "star"]
