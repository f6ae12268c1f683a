"""Kind: what the program knows of one kind of garment. Each has a small file in `kinds/`."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..arrays import Floats
from ..geometry.sections import span_at_height
from .garment import EdgeName

OUT, IN = 1, -1
"""Corners of a half, counter-clockwise from the hem's middle: outward like that of a hem, inward like an armpit."""


@dataclass(frozen=True)
class Span:
    """A length to take on a garment that stands upright, its middle line on x = 0.

    Attributes:
        name: in the trade's words.
        ends_mm: (2, 2) from where to where.
        how: where it is taken, a few words.
    """

    name: str
    ends_mm: Floats
    how: str


def span_across(ring_mm: Floats, name: str, height: float, how: str) -> Span:
    """Return the span straight across an upright ring at a height [mm]."""
    left, right = span_at_height(ring_mm, height)
    return Span(name, np.array([[left, height], [right, height]]), how)


@dataclass(frozen=True)
class Kind:
    """One kind of garment.

    Attributes:
        name: as a person says it, e.g. `t-shirt`.
        has_legs: read as a leg with rise, inseam and hem when it lies folded, open or as a panel.
        is_mirrored: its halves are mirror images, so half of it is cut on a fold.
        wide_end: where the wider end is when worn: `top`, `bottom`, or empty when that tells nothing.
        find_spans: lengths to take, from its ring standing upright on y = 0; None = overall size only.
        half_edges: edges of its right half, counter-clockwise from the middle of the hem to the middle of the top;
            empty = one edge, its outline.
        half_corners: `OUT` or `IN` for each corner between two of them.
    """

    name: str
    has_legs: bool = False
    is_mirrored: bool = False
    wide_end: str = ""
    find_spans: Callable[[Floats], tuple[Span, ...]] | None = None
    half_edges: tuple[EdgeName, ...] = ()
    half_corners: tuple[int, ...] = ()
