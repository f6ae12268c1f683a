"""Own colour: parts of a garment that look like no other part of it, a cuff, a waistband or a yoke.

What a picture teaches of its cloth and its floor knows them for neither, and they fall to the floor. A region that was
proposed at first may hold them still. They lie at the garment, and nothing that is left beyond it looks like them.
"""

from functools import reduce

import numpy as np

from ..arrays import Flags
from .holding import Compared, Holding
from .masks import dilate, erode, find_pieces, open_mask, resize_mask

LOST_PX, LEAST, MOST_PARTS = 3, 0.005, 4
"""Lost parts are not thinner than twice this, none smaller as a share of the garment, and so many."""
LARGE, LARGE_ADJOINING, PLAINLY = 0.3, 0.15, 0.4
"""From this share on, alone or together, they are half a garment of two colours, which adjoins with less of its border,
or all of a floor's boards of one kind, which look like nothing else beyond, either. With the first the garment holds
so plainly (30 of 31 scenes: at 0.42 and more), with the second it does not (one scene: at 0.2)."""
LARGE_STRANGE = (3.5, 3.5)
"""Large ones must be as strange as this: boards in the sun, as large as the garment, came to 4.8 in this light and 2.5
in any, half a garment to 6.9 and 5.7."""
ADJOINING, STRANGE, NO_WORSE = 0.22, (2.0, 1.0), 0.95
"""A lost part is cloth in a colour of its own where so much of its border lies at the garment, its looks are so much
likelier within than beyond it (log: in this light, in any), and the garment holds no worse with it. In 758 scenes (300
composites of photos' garments and other photographed floors, 150 made to mislead, 308 drawn and rendered) 712 of 1098
parts that were cloth met all this, and 81 the rule before, which asked about each by itself and of one region only; of
3398 that were floor 16 did, in eight scenes: things that nearly touch, specks, boards that are too many together."""
MIXED = 0.25
"""Less of a lost part must look like the floor: one strange on the whole may be a telephone on a towel, with the
towel between. In 442 scenes 76 cloth parts and 18 of floor met the rest of the rule; 74 and 10 meet this as well, of 23
cloth parts larger than a twentieth of the garment all."""
JOINT_PX = 6
"""What of a lost part lies so near the garment must be as strange: a thing that lies near is joined to the garment by
the floor between them, which is not."""


def find_lost(holding: Holding, mask: Flags, region: Flags) -> Flags:
    """Return (h, w) True on parts of a `region` that are cloth in colours of their own, though a `mask` lacks them.

    A waistband and cuffs of one colour are asked about together: each would seem to have its like on the floor, the
    others. What has its like there all the same is taken for floor, and the rest asked about again.

    Args:
        holding: of the picture; its own may be smaller.
        mask: (h, w) True on the garment so far.
        region: (h, w) what may be the garment.
    """
    parts, size = _find_adjoining(mask, region & ~mask), mask.sum()
    if parts:
        least = NO_WORSE * holding.measure(resize_mask(mask, holding.shape))
        parts = [part for part in parts if holding.measure(resize_mask(mask | part, holding.shape)) > least]
    at_joint = dilate(mask, JOINT_PX) if parts else mask
    while parts:
        lost = reduce(np.logical_or, parts)
        whole = resize_mask(mask | lost, holding.shape)
        asked = [resize_mask(one, holding.shape) for one in (*parts, *(part & at_joint for part in parts))]
        compared = holding.compare_parts(whole, asked)
        joints = compared[len(parts) :]
        limits = [LARGE_STRANGE if part.sum() > LARGE * size else STRANGE for part in parts]
        kept = [
            part
            for part, looks, limit, joint in zip(parts, compared, limits, joints, strict=False)
            if _exceeds(looks, limit) and _exceeds(joint, STRANGE) and looks.floor_share < MIXED
        ]
        if len(kept) == len(parts):
            is_large = lost.sum() > LARGE * size
            return np.zeros_like(mask) if is_large and holding.measure(whole) < PLAINLY else lost
        parts = kept
    return np.zeros_like(mask)


def _find_adjoining(mask: Flags, left: Flags) -> list[Flags]:
    """Return the large enough parts of what is `left` beside a mask that lie at it with enough of their border."""
    size = mask.sum()
    pieces = find_pieces(open_mask(left, LOST_PX), MOST_PARTS) if left.sum() >= LEAST * size else []
    pieces = [piece for piece in pieces if piece.sum() >= LEAST * size]
    if not pieces:
        return []
    near = dilate(mask, LOST_PX)
    parts = []
    for piece in pieces:
        border = piece & ~erode(piece, 1)
        adjoining = LARGE_ADJOINING if piece.sum() > LARGE * size else ADJOINING
        if (border & near).sum() >= adjoining * border.sum():
            parts.append(dilate(piece, LOST_PX + 1) & left)
    return parts


def _exceeds(compared: Compared, limit: tuple[float, float]) -> bool:
    return compared.here > limit[0] and compared.in_any_light > limit[1]
