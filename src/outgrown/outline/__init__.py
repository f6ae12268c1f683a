"""Outline: the garment told from the floor, its edge to a fraction of a pixel."""

from .contour import Contour
from .hints import Hints, Side, Stroke, make_hints
from .outline import Outline
from .segmentation import Segmentation
from .tracer import Tracer, find_contour, segment_garment

__all__ = [
    "Contour",
    "Hints",
    "Outline",
    "Segmentation",
    "Side",
    "Stroke",
    "Tracer",
    "find_contour",
    "make_hints",
    "segment_garment",
]
