"""Matching: front and back of one leg walked along each other and made to fit, with the numbers kept."""

from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from ..arrays import Floats
from ..errors import PieceError
from ..findings import Finding, Severity
from ..geometry.polylines import length_mm
from ..geometry.truing import corner_angle_deg
from ..units import write_cm
from .leg_seams import ANGLE_OVER_MM, SQUARE_UP_TO_DEG, LegSeams, true_corners

SURE_DIFFERENCE_MM = 3.0
"""Rises nearer than this may be either way round: as far as two photos err."""
LEAST_SHARED_MM = 0.05
"""Lesser differences are arithmetic, not cloth."""
NOTHING_SHARED = "nothing to share"


@dataclass(frozen=True)
class WalkedSeam:
    """Two edges that are sewn together, walked before and after truing.

    Attributes:
        seam: `inseam` or `side`.
        front_mm: length of the front's edge as read [mm].
        back_mm: the same of the back's [mm].
        front_after_mm: after the difference was shared [mm].
        back_after_mm: the same of the back's [mm].
        where: where the difference went, in words.
    """

    seam: str
    front_mm: float
    back_mm: float
    front_after_mm: float
    back_after_mm: float
    where: str

    def as_json(self) -> dict[str, Any]:
        """Return it as plain JSON values."""
        return asdict(self)


@dataclass(frozen=True)
class JoinedCorner:
    """A corner of the front and one of the back that lie side by side when sewn; 180 together is smooth.

    Attributes:
        place: `crotch point`, `side at the waist`, `side at the hem`, `waist at the centre`.
        front_before_deg: inside angle of the front as read [deg].
        back_before_deg: the same of the back [deg].
        front_deg: after truing [deg].
        back_deg: after truing [deg].
    """

    place: str
    front_before_deg: float
    back_before_deg: float
    front_deg: float
    back_deg: float

    def as_json(self) -> dict[str, Any]:
        """Return it as plain JSON values."""
        return asdict(self)


@dataclass(frozen=True, eq=False)
class MatchedLeg:
    """Front and back that fit each other.

    Attributes:
        front: seam lines of the front half, side on x = 0.
        back: the same of the back half.
        walked: seams before and after.
        corners: joined corners before and after.
        findings: what the person should know.
    """

    front: LegSeams
    back: LegSeams
    walked: tuple[WalkedSeam, ...]
    corners: tuple[JoinedCorner, ...]
    findings: tuple[Finding, ...]


def are_mixed_up(front: LegSeams, back: LegSeams) -> bool:
    """Tell whether the 'front' has the longer rise, so that it must be the back."""
    return length_mm(front.rise_mm) > length_mm(back.rise_mm) + SURE_DIFFERENCE_MM


def match_halves(
    front: LegSeams,
    back: LegSeams,
    share_up_to_mm: float,
    *,
    has_side: bool = True,
    side_shape_mm: Floats | None = None,
) -> MatchedLeg:
    """Return front and back with equal inseams and sides, corners trued so that joined edges run smooth.

    The inseams' difference is shared by stretching both below the crotch point, the sides' by tilting both waist
    edges, the centre ends kept; so both rises stay as they were.

    Args:
        front: seam lines of the front half.
        back: seam lines of the back half.
        share_up_to_mm: greater differences are refused [mm].
        has_side: the halves meet at a side; without, hem and waist run through there and are not trued.
        side_shape_mm: the side's own shape, see `LegSeams.shaped`; None for a straight side.

    Raises:
        PieceError: a pair of seams differs by more than `share_up_to_mm`.
    """
    given = (front, back)
    mean = 0.5 * (length_mm(front.inseam_mm) + length_mm(back.inseam_mm))
    _refuse_beyond("inseam", length_mm(front.inseam_mm), length_mm(back.inseam_mm), share_up_to_mm)
    front, back = (half.with_inseam(mean) for half in given)
    tops = [float(half.side_mm[0, 1] - half.side_mm[-1, 1]) for half in (front, back)]
    _refuse_beyond("side", tops[0], tops[1], share_up_to_mm)
    front, back = (_with_side(half, 0.5 * sum(tops)) for half in (front, back))
    if side_shape_mm is not None:
        front, back = (half.shaped(side_shape_mm) for half in (front, back))
        given = (given[0].shaped(side_shape_mm), given[1].shaped(side_shape_mm))
    walked = (
        _walked("inseam", given, (front, back), "below the crotch point"),
        _walked("side", given, (front, back), "at the waist, nothing at the centre"),
    )
    before = [_angles(half) for half in given]
    front, back, findings = true_joined(front, back, has_side)
    after = [_angles(half) for half in (front, back)]
    corners = tuple(JoinedCorner(k, before[0][k], before[1][k], after[0][k], after[1][k]) for k in before[0])
    shared = [_shared(seam) for seam in walked if seam.where != NOTHING_SHARED]
    return MatchedLeg(front, back, walked, corners, (*shared, *_rise_findings(front, back), *findings))


def true_joined(
    front: LegSeams, back: LegSeams, has_side: bool = True
) -> tuple[LegSeams, LegSeams, tuple[Finding, ...]]:
    """Return both halves with corners trued; where a crotch point is far from square, the two are made 180 together."""
    angles = [corner_angle_deg(half.inseam_mm, half.rise_mm, ANGLE_OVER_MM) for half in (front, back)]
    wanted = [90.0, 90.0]
    if max(abs(angle - 90.0) for angle in angles) > SQUARE_UP_TO_DEG:
        share = 0.5 * (180.0 - sum(angles))
        if abs(share) <= SQUARE_UP_TO_DEG:
            wanted = [angle + share for angle in angles]
    front, of_front = true_corners(front, wanted[0], has_side=has_side)
    back, of_back = true_corners(back, wanted[1], has_side=has_side)
    named = [
        *(replace(f, text=f"Front: {f.text[0].lower()}{f.text[1:]}") for f in of_front),
        *(replace(f, text=f"Back: {f.text[0].lower()}{f.text[1:]}") for f in of_back),
    ]
    return front, back, tuple(named)


def _refuse_beyond(seam: str, front_mm: float, back_mm: float, limit_mm: float) -> None:
    longer = front_mm - back_mm
    if abs(longer) >= limit_mm:
        which, other = ("front", "back") if longer > 0 else ("back", "front")
        raise PieceError(
            f"The {seam} of the {which} is {abs(longer):.1f} mm longer than that of the {other} "
            f"({write_cm(front_mm)} in front, {write_cm(back_mm)} behind); "
            f"up to {limit_mm:g} mm would have been shared.",
            "Smooth the pair flat and photograph both ways again, or share more with --share-up-to.",
        )


def _with_side(half: LegSeams, wanted_mm: float) -> LegSeams:
    """Return the half with its waist edge tilted so that the side is `wanted_mm` long; its centre end stays."""
    by = wanted_mm - float(half.side_mm[0, 1] - half.side_mm[-1, 1])
    out = np.clip(1.0 - half.waist_mm[:, 0] / float(half.waist_mm[0, 0]), 0.0, 1.0)
    waist = half.waist_mm + np.outer(by * out * out * (3.0 - 2.0 * out), [0.0, 1.0])
    return LegSeams(np.array([waist[-1], half.side_mm[-1]]), half.hem_mm, half.inseam_mm, half.rise_mm, waist)


def _walked(seam: str, before: tuple[LegSeams, LegSeams], after: tuple[LegSeams, LegSeams], where: str) -> WalkedSeam:
    def lengths(halves: tuple[LegSeams, LegSeams]) -> list[float]:
        return [length_mm(half.inseam_mm if seam == "inseam" else half.side_mm) for half in halves]

    (front, back), (front_after, back_after) = lengths(before), lengths(after)
    if max(abs(front - front_after), abs(back - back_after)) < LEAST_SHARED_MM:
        where = NOTHING_SHARED
    return WalkedSeam(seam, front, back, front_after, back_after, where)


def _shared(seam: WalkedSeam) -> Finding:
    return Finding(
        "difference-shared",
        f"The {seam.seam} was {seam.front_mm:.1f} mm in front and {seam.back_mm:.1f} mm behind; both became "
        f"{seam.front_after_mm:.1f} mm, {seam.where}.",
        severity=Severity.NOTE,
        place=seam.seam,
        amount_mm=abs(seam.front_mm - seam.back_mm),
    )


def _angles(half: LegSeams) -> dict[str, float]:
    """Return the inside angles of the half's corners that meet another half [deg]."""
    over = 1.0
    return {
        "crotch point": corner_angle_deg(half.inseam_mm, half.rise_mm, over),
        "waist at the centre": corner_angle_deg(half.rise_mm, half.waist_mm, over),
        "side at the waist": corner_angle_deg(half.waist_mm, half.side_mm, over),
        "side at the hem": corner_angle_deg(half.side_mm, half.hem_mm, over),
    }


def _rise_findings(front: LegSeams, back: LegSeams) -> list[Finding]:
    more = length_mm(back.rise_mm) - length_mm(front.rise_mm)
    if abs(more) > SURE_DIFFERENCE_MM:
        return []
    return [
        Finding(
            "rises-alike",
            f"Front and back rise differ by {abs(more):.1f} mm only, as little as two photos may err.",
            "If the garment's back is higher, pull its rise out flat and photograph the back again.",
            Severity.NOTE,
            "rise",
            abs(more),
        )
    ]
