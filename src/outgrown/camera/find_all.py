"""Everything of known size in a photo: cards and sheets by their shape, printed targets by their markers."""

from collections.abc import Collection, Sequence

import cv2
import numpy as np

from ..arrays import Floats
from ..errors import ScaleError
from ..photo import Photo
from .find import find_rectangle_at, find_rectangle_by, find_references
from .find_targets import find_targets
from .reference import Kind, Reference


def find_all_references(
    photo: Photo,
    *,
    kinds: Collection[Kind] | None = None,
    at_px: tuple[float, float] | None = None,
    corners_px: Sequence[tuple[float, float]] | None = None,
    none_at_px: Sequence[tuple[float, float]] = (),
    bar_mm: float | None = None,
) -> list[Reference]:
    """Return every card, sheet and printed target in `photo`, the surest first; see `settle_sides` for their sides.

    Args:
        photo: upright.
        kinds: look for these only; None for all.
        at_px: a place on a card or sheet that somebody points to; it is then found on weaker evidence.
        corners_px: about where the four corners of one are, as somebody sets them; it is drawn onto its edges, and what
            was taken for something else there is dropped.
        none_at_px: places on what was taken for one and is none, as somebody says; what is found there by itself is
            left out, with what else the same thing could be taken for.
        bar_mm: length of the targets' bar as measured after printing [mm], or None.

    Raises:
        ScaleError: a place pointed to lies outside the photo, or nothing of known size is seen there (nor was taken for
            one, at one of `none_at_px`).
    """
    wanted = set(Kind if kinds is None else kinds)
    targets = list(find_targets(photo, bar_mm=bar_mm)) if Kind.TARGET in wanted else []
    shapes = [kind for kind in Kind if kind in wanted and kind is not Kind.TARGET]
    found = find_references(photo, kinds=shapes) if shapes else []
    targets, found = _leave_out(photo, targets, found, none_at_px)
    if at_px is not None and not any(_lies_on(at_px, reference.corners_px) for reference in found):
        found.append(_find_pointed(photo, shapes, at_px))
    if corners_px is not None:
        framed = _find_framed(photo, shapes, corners_px)
        found = [framed, *(one for one in found if not _overlap(one.corners_px, framed.corners_px))]
    # A target's frame and its paper are rectangles too, and no card.
    others = [r for r in found if not any(_overlap(r.corners_px, target.outline_px) for target in targets)]
    return [*targets, *others]


def _leave_out(
    photo: Photo, targets: list[Reference], found: list[Reference], places_px: Sequence[tuple[float, float]]
) -> tuple[list[Reference], list[Reference]]:
    """Return both without what lies at the places; a target takes along what its frame and paper were taken for."""
    for x, y in places_px:
        _check_inside(photo, (x, y))
        if not any(_lies_on((x, y), reference.corners_px) for reference in (*targets, *found)):
            raise ScaleError(
                f"Nothing at {x:g},{y:g} was taken for a card or sheet.",
                "Point into the frame that the check picture draws round what is none, or leave the place out.",
            )

    def is_none(reference: Reference) -> bool:
        return any(_lies_on(place, reference.corners_px) for place in places_px)

    gone = [target for target in targets if is_none(target)]
    kept = [r for r in found if not is_none(r) and not any(_overlap(r.corners_px, t.outline_px) for t in gone)]
    return [target for target in targets if not is_none(target)], kept


def _find_pointed(photo: Photo, kinds: Collection[Kind], at_px: tuple[float, float]) -> Reference:
    _check_inside(photo, at_px)
    x, y = at_px
    seen = [find_rectangle_at(photo, kind, at_px) for kind in kinds]
    best = max((one for one in seen if one is not None), key=lambda one: one.score, default=None)
    if best is None:
        raise ScaleError(
            f"Nothing of known size is seen at {x:g},{y:g}.",
            "Point to the middle of the card or sheet, set its four corners (--reference-corners), or take the photo "
            "again with it on a plainer spot of the floor.",
        )
    return best


def _find_framed(photo: Photo, kinds: Collection[Kind], corners_px: Sequence[tuple[float, float]]) -> Reference:
    if len(corners_px) != 4:
        raise ScaleError(
            f"A card or sheet has four corners, and {len(corners_px)} were given.", "Give all four, in any order."
        )
    for corner in corners_px:
        _check_inside(photo, corner)
    found = find_rectangle_by(photo, kinds, np.array(corners_px, dtype=np.float64))
    if found is None:
        raise ScaleError(
            "No card or sheet has its edges where the four corners were set.",
            "Set them on the corners that the straight edges would have if they were not rounded, or take the photo "
            "again with the card on a plainer spot of the floor.",
        )
    return found


def _check_inside(photo: Photo, place_px: tuple[float, float]) -> None:
    x, y = place_px
    if not (0 <= x < photo.width_px and 0 <= y < photo.height_px):
        raise ScaleError(
            f"The place {x:g},{y:g} lies outside the photo, which is {photo.width_px} x {photo.height_px} pixels.",
            "Read the place off the upright photo, in pixels from its top left corner.",
        )


def _lies_on(at_px: tuple[float, float], corners_px: Floats) -> bool:
    return cv2.pointPolygonTest(corners_px.astype(np.float32), at_px, False) >= 0


def _overlap(first: Floats, second: Floats) -> bool:
    area, _ = cv2.intersectConvexConvex(first.astype(np.float32), second.astype(np.float32))
    return float(area) > 1.0
