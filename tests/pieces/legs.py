"""Legs read without noise, for pieces."""

from shapes import Leg

from outgrown.arrays import frozen
from outgrown.garment.fold import straighten_side
from outgrown.garment.garment import Edge, EdgeName, Garment, Laid

ORDER = (EdgeName.SIDE, EdgeName.HEM, EdgeName.INSEAM, EdgeName.RISE, EdgeName.WAIST)


def garment_of(leg: Leg, cuff=None, waistband=None) -> Garment:
    """The leg's own edges as a garment, so that pieces are judged apart from reading."""
    edges = straighten_side(list(leg.edges().values())).edges_mm
    return Garment(
        "leggings",
        Laid.FOLDED,
        tuple(Edge(name, frozen(line)) for name, line in zip(ORDER, edges, strict=True)),
        cuff=cuff,
        waistband=waistband,
    )


STRAIGHT_ENDS = Leg(waist_slant=0.0, waist_curve=0.0, hem_slant=0.0)
"""Hem and waist are straight and level, so that folding along them can be done by matrix."""
