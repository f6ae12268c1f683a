"""Outline: the garment told from the floor, its edge to a fraction of a pixel."""

from .contour import Contour
from .find import find_contour
from .hints import Hints
from .outline import Outline
from .segmentation import Segmentation, segment_garment

__all__ = ["Contour", "Hints", "Outline", "Segmentation", "find_contour", "segment_garment"]
