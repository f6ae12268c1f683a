"""Sides: references as found, their sides drawn out of shadows, off the walls of cards and to the photo's own tone.

Which walls are seen depends on where the lens is, and that on the sides: a first camera from sides without walls is
near enough (a slant wrong by ten degrees moves a wall's foot by half a pixel).
"""

from collections.abc import Sequence

from ..photo import Photo
from .profile import LensProfile
from .reference import Kind, Reference
from .shade import settle_shaded
from .solve import guess_camera
from .tone import weigh_tones


def settle_sides(photo: Photo, found: Sequence[Reference], profile: LensProfile | None = None) -> list[Reference]:
    """Return the references with their sides where they are, and how far each may still be off.

    Args:
        photo: upright.
        found: by `find_all_references`.
        profile: of the very lens, or None.
    """
    shaped = [reference for reference in found if reference.kind is not Kind.TARGET]
    if not shaped:
        return list(found)
    settled = settle_shaded(photo.pixels, shaped)
    if any(reference.kind is Kind.CARD for reference in shaped):
        camera = guess_camera(photo, settled, profile)
        settled = settle_shaded(photo.pixels, shaped, camera)
    # Where each side was found its shadow and wall are the same in all numbers: only what they change is asked for.
    tones = weigh_tones(photo.pixels, shaped)
    settled = [tones.settle(reference, index) for index, reference in enumerate(settled)]
    return [*(reference for reference in found if reference.kind is Kind.TARGET), *settled]
