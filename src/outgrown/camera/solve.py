"""The camera of a photo: from its references and what its file says of the lens."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ..errors import ScaleError
from ..findings import Finding, Severity
from ..photo import Photo, focal_px_from_35mm
from .adjust import Adjustment, adjust
from .agreement import Agreement, find_agreement
from .camera import Camera
from .lens import Lens
from .lens_prior import LensPrior
from .line_bow import FloorLine, find_families, find_right_angles, fit_k1
from .prints import give_shared_doubt, take_shared_doubt
from .problem import K1
from .profile import LensProfile
from .reference import Kind, Reference
from .straight import Straight, gather_straight

STEEPEST_DEG = 45.0
"""Beyond this the far end of a garment has half the pixels of the near one, and its height hides the floor."""
_FEWEST_LINES = 3
_LINES_QUARREL = 2.5
"""Lines that make the references fit this badly are not what they seem."""
_NOT_FLAT = 6.0
"""A reference whose edges miss by six times what is expected is bent, raised or covered."""
_OUT_OF_SHAPE = 200.0
"""Weighted squares of one reference: up to 178 for 86 of them in good photos. Where the picture was squeezed by a tenth
in height, sheets come to 650 and cards to 105 to 340: a card alone tells that badly from a slant."""
_STIFF_TURN_PX = 0.1
"""For that check sides are held straight: a side that may turn follows a squeeze into a slant."""
_STRONG_K1 = 0.0125
"""Moves a corner of a phone's picture by 1 %; left alone, that costs one or two millimetres over a garment."""
_USUAL_35_MM = 26.0
_USUAL_DOUBT = 0.12
"""Main cameras of phones are 23 to 29 mm equivalent (from memory); a person may have used another lens."""


@dataclass(frozen=True, eq=False)
class Solved:
    """The camera, the references it rests on, and what the person should know.

    Attributes:
        camera: with its covariance.
        references: those used.
        left_out: those that disagree with the others.
        findings: what the person should know.
        lines: straight lines of the floor it rests on too.
        prior: what was known of the lens beforehand.
        has_profile: the lens was known from its own photos.
    """

    camera: Camera
    references: tuple[Reference, ...]
    left_out: tuple[Reference, ...] = ()
    findings: tuple[Finding, ...] = ()
    lines: tuple[Straight, ...] = ()
    prior: LensPrior | None = None
    has_profile: bool = False


def guess_camera(photo: Photo, references: Sequence[Reference], profile: LensProfile | None = None) -> Camera:
    """Return the camera that explains all `references` best, whether they agree or not; for a first look.

    Raises:
        ValueError: no reference.
    """
    prior, lens = _know_lens(photo, profile)
    return adjust(references, lens, prior).camera


def solve_camera(
    photo: Photo,
    references: Sequence[Reference],
    lines: Sequence[FloorLine] = (),
    profile: LensProfile | None = None,
) -> Solved:
    """Return the camera of `photo` from all `references` and the straight `lines` of the floor together.

    With the focal length known from the file the floor's pose alone is solved for; without it a phone's usual
    focal length enters as a weak guess, and the doubt grows. A `profile` of the very lens, fitted to the photo (see
    `fit_profile`), takes the place of both and gives centre and distortion.

    Raises:
        ScaleError: no reference, or the floor is seen too slantingly.
    """
    if not references:
        raise ScaleError(
            "I found nothing of known size in this photo.",
            "Lay a bank card, a sheet of A4 or Letter paper or printed targets flat on the floor, a hand's width from "
            "the garment, all corners in sight, and take the photo again from straight above, so near that the garment "
            "fills most of it. Is one in it? Say where with --reference-at.",
        )
    findings: list[Finding] = []
    references, shared_doubt = take_shared_doubt(references)
    prior, lens = _know_lens(photo, profile)
    is_told_as_cropped = any(finding.code == "photo-cropped" for finding in photo.findings)
    if profile is None and photo.focal_px is None and not is_told_as_cropped:
        findings.append(
            Finding(
                "no-focal-length",
                f"The file does not say {_name_missing(photo)}, so the slant of the photo is less sure.",
                "Use the original file from the phone, or lay a second card at the far end of the garment.",
            )
        )
    agreement = find_agreement(references, lambda some: adjust(some, lens, prior))
    camera, straight = _with_lines(agreement, lens, prior, lines)
    camera = give_shared_doubt(camera, shared_doubt)
    if camera.tilt_deg > STEEPEST_DEG:
        raise ScaleError(
            f"The floor is seen from {camera.tilt_deg:.0f} degrees aslant, too much to be measured.",
            "Hold the phone straight above the garment and take the photo again.",
        )
    if camera.other is not None and camera.other_weight > 0.05:
        apart = math.degrees(math.hypot(camera.lean[0] - camera.other.lean[0], camera.lean[1] - camera.other.lean[1]))
        findings.append(
            Finding(
                "two-slants",
                f"Two slants of the camera, {apart:.0f} degrees apart, fit this photo almost equally well.",
                "A second card at the far end of the garment decides it.",
                Severity.NOTE,
            )
        )
    if profile is None:
        findings += _tell_strong_lens(camera, photo, len(straight))
    is_lens_known = profile is not None or photo.focal_px is not None
    findings += _disagreements(agreement, is_lens_known)
    _check_shape(adjust(agreement.used, lens, prior, most_turn_px=_STIFF_TURN_PX), agreement.used)
    left_out = tuple(reference for reference, _ in agreement.left_out)
    return Solved(camera, agreement.used, left_out, tuple(findings), straight, prior, profile is not None)


def _name_missing(photo: Photo) -> str:
    """Return what the file leaves open: millimetres alone tell nothing without the sensor's size."""
    if photo.focal_mm is None or photo.focal_35_mm is not None:
        return "the lens's focal length"
    return f"how wide the lens sees (its {photo.focal_mm:g} mm alone do not tell)"


def _know_lens(photo: Photo, profile: LensProfile | None) -> tuple[LensPrior, Lens]:
    """Return what is known beforehand: from the lens's own photos, or the file, or what phones usually have."""
    if profile is not None:
        return LensPrior(*profile.focal_prior(), *profile.k1_prior(), strong_share=0.0), profile.lens
    if photo.focal_px is not None and photo.focal_doubt is not None:
        prior = LensPrior(photo.focal_px, photo.focal_doubt)
    else:
        prior = LensPrior(focal_px_from_35mm(_USUAL_35_MM, photo.width_px, photo.height_px), _USUAL_DOUBT)
    return prior, Lens(prior.focal_px, ((photo.width_px - 1) / 2, (photo.height_px - 1) / 2))


def _with_lines(
    agreement: Agreement, lens: Lens, prior: LensPrior, lines: Sequence[FloorLine]
) -> tuple[Camera, tuple[Straight, ...]]:
    """Return the camera adjusted once more with the floor's lines, or as it was where they only quarrel with it."""
    before = agreement.adjustment
    if len(lines) < _FEWEST_LINES:
        wary = _with_doubted_lens(lens, prior, lines)
        return (before if wary is prior else adjust(agreement.used, lens, wary)).camera, ()
    families = find_families(lines, prior.focal_px, lens.centre_px)
    family_of = {index: number for number, family in enumerate(families) for index in family}
    squares = find_right_angles(lines, families, prior.focal_px, lens.centre_px)
    # One pair of crossing families is enough, and a third cannot be square to both.
    crossing = squares[0] if squares else (-1, -1)
    straight = [
        gather_straight(
            line.points_px,
            line.normals_px,
            line.sigma_px,
            family_of.get(index, -1),
            square_to=crossing[0] if family_of.get(index, -1) == crossing[1] else -1,
        )
        for index, line in enumerate(lines)
    ]
    after = adjust(agreement.used, lens, prior, straight)
    if max(after.misfit) > max(2.0 * max(before.misfit), _LINES_QUARREL):
        return before.camera, ()
    return after.camera, tuple(straight)


def _tell_strong_lens(camera: Camera, photo: Photo, lines: int) -> list[Finding]:
    """Return a finding where the lens bends the picture more than most phones leave it bent, or probably does."""
    k1, doubt = camera.lens.distortion[0], float(camera.covariance[K1, K1]) ** 0.5
    corner = math.hypot(photo.width_px, photo.height_px) / 2 / camera.lens.focal_px
    if abs(k1) - 2 * doubt > _STRONG_K1:
        undone = " by the straight lines of the floor" if lines else ""
        seen = f"The lens moves the picture's corners by {100 * abs(k1) * corner**2:.1f} %; that was undone{undone}."
    elif doubt > 2 * _STRONG_K1:
        seen = "A long line of the floor is bowed: the lens may distort, and the stated error has grown by that."
    else:
        return []
    return [Finding("strong-lens", seen, "Let the program learn the lens (outgrown lens).", severity=Severity.NOTE)]


def _with_doubted_lens(lens: Lens, prior: LensPrior, lines: Sequence[FloorLine]) -> LensPrior:
    """Return what is known of the lens, doubted more where a line or two are bowed.

    So few may be bowed in life: they tell nothing of k1 itself, only that the lens may be one that distorts strongly.
    """
    if not lines or prior.strong_share == 0:
        return prior
    k1, doubt = fit_k1(lines, lens.centre_px, prior.focal_px)
    share = prior.strong_share_after(k1, doubt)
    if share <= prior.strong_share or abs(k1 - prior.k1) > 3 * prior.strong_doubt:
        return prior
    return replace(prior, strong_share=share)


_WORDS = {Kind.CARD: "card", Kind.A4: "A4 sheet", Kind.LETTER: "Letter sheet"}


def _name_worst(used: Sequence[Reference], misfit: tuple[float, ...]) -> str:
    """Return what the reference is called whose edges miss by most."""
    return _WORDS.get(used[misfit.index(max(misfit))].kind, "target")


def _check_shape(stiff: Adjustment, used: Sequence[Reference]) -> None:
    """Refuse references that fit no slant.

    Raises:
        ScaleError: they do not, for sides that are hardly turned.
    """
    if stiff.chi2 > _OUT_OF_SHAPE * len(used):
        worst = _name_worst(used, stiff.misfit)
        raise ScaleError(
            f"The {worst} is not seen in its own shape: it is bent or another thing, a side of it has the floor's "
            "colour, the phone was moved, or the picture was squeezed.",
            "Lay it flat where the floor has another colour, hold the phone still, and use the original file from it.",
        )


def _disagreements(agreement: Agreement, is_lens_known: bool) -> list[Finding]:
    """Return a finding for each reference left out.

    Raises:
        ScaleError: two are left and they disagree, or the only one does not lie flat.
    """
    if agreement.quarrel is not None:
        first, second = (_WORDS.get(reference.kind, "target") for reference in agreement.used)
        percent = 100 * (agreement.quarrel - 1)
        raise ScaleError(
            f"The two things of known size disagree: by the {first}, the {second} is "
            f"{abs(percent):.1f} % too {'large' if percent > 0 else 'small'}.",
            "Make sure that both lie flat on the floor and are what they seem, or take one away."
            if is_lens_known
            else "Use the original file from the phone, which says what lens took it; this one does not. Make sure "
            "that both lie flat on the floor and are what they seem.",
        )
    misfit = agreement.adjustment.misfit
    if max(misfit) > _NOT_FLAT:
        worst = _name_worst(agreement.used, misfit)
        raise ScaleError(
            f"The {worst} does not lie flat on the floor, or part of it is covered.",
            "Lay it flat, a hand's width from the garment, and take the photo again.",
        )
    return [
        Finding(
            "reference-left-out",
            f"A {_WORDS.get(reference.kind, 'target')} was left out: measured by the others it is "
            f"{100 * abs(share - 1):.1f} % too {'large' if share > 1 else 'small'}.",
            "It may lie crooked, or not be what it seems.",
            place=f"at {reference.corners_px.mean(axis=0).round().astype(int).tolist()} px",
        )
        for reference, share in agreement.left_out
    ]
