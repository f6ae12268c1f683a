"""What a traced photo's references, lens and error give to be told: findings that need more than one room."""

from collections.abc import Collection

from .arrays import Floats
from .camera.advice import find_best_advice
from .camera.profile import LensProfile
from .camera.reference import Kind, Reference
from .camera.solve import Solved
from .camera.targets import BAR_MM
from .findings import Finding, Severity
from .outline.outline import Outline
from .photo import Photo
from .pieces.unused import say_unused

_WORTH_ADVICE_MM = 1.0
"""An outline better than this is better than the cloth lies; nothing is advised then."""


def say_what_would_help(
    solved: Solved, outline: Outline, sigma_px: Floats, rim_mm: float, p95_mm: float
) -> list[Finding]:
    """Return the one change that would make the outline most certain, and by how much; nothing where little would."""
    if p95_mm < _WORTH_ADVICE_MM or solved.prior is None:
        return []
    best = find_best_advice(
        solved.camera,
        solved.references,
        solved.lines,
        solved.prior,
        outline.ring_px,
        sigma_px,
        rim_mm,
        has_profile=solved.has_profile,
    )
    if best.p95_mm > 0.8 * p95_mm:
        return []
    return [
        Finding(
            "would-help-most",
            f"{best.change}: that would bring the expected error from {p95_mm:.1f} to about {best.p95_mm:.1f} mm.",
            severity=Severity.NOTE,
            amount_mm=best.p95_mm,
        )
    ]


def say_what_is_faint(references: Collection[Reference], pointed_px: tuple[float, float] | None) -> list[Finding]:
    """Return what was taken for a card or sheet though it is badly seen, unless somebody pointed to it."""
    if pointed_px is not None:
        return []
    return [
        Finding(
            "faint-reference",
            f"What is taken for a {reference.kind.words} is seen badly: its edges are ragged or faint.",
            "See in the check picture that its frame lies on it (if it is none: --no-reference), and lay it "
            "on a smooth, plain spot next time.",
            place=f"at {reference.corners_px.mean(axis=0).round().astype(int).tolist()} px",
        )
        for reference in references
        if reference.is_faint
    ]


def say_of_print(references: Collection[Reference], bar_mm: float | None) -> list[Finding]:
    """Return what is to be known of the printed targets' size."""
    has_targets = any(reference.kind is Kind.TARGET for reference in references)
    if bar_mm is not None and not has_targets:
        return say_unused([(True, "The length of the bar on printed targets (--bar)", "none were used in this photo")])
    if bar_mm is not None or not has_targets:
        return []
    alone = all(reference.kind is Kind.TARGET for reference in references)
    return [
        Finding(
            "bar-not-measured",
            "The printed targets are taken as printed at 100 %, good to 1 % only.",
            f"Measure their bar of {BAR_MM:.0f} mm and give the length you find (--bar).",
            Severity.WARNING if alone else Severity.NOTE,
        )
    ]


def say_of_lens(photo: Photo, profile: LensProfile | None) -> list[Finding]:
    """Return what is known of the lens, or that the profile is another camera's."""
    if profile is None:
        return []
    if photo.model and profile.model and (photo.make, photo.model) != (profile.make, profile.model):
        return [
            Finding(
                "lens-of-another-camera",
                f"The lens profile is of {profile.make} {profile.model}, and the photo was taken with {photo.make} "
                f"{photo.model}.",
                "Use none (--lens none), or the profile of the camera that took the photo (--lens FILE).",
            )
        ]
    return [Finding("lens-known", "The lens is known from photos of the lens sheet.", severity=Severity.NOTE)]
