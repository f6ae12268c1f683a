"""The order of everything: photo -> camera -> outline -> garment -> pieces -> paper. Steps know nothing of it."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from . import __version__
from .arrays import Floats, frozen
from .camera.calibrate import calibrate_lens
from .camera.camera import Camera
from .camera.doubt import Doubt, measure_doubt
from .camera.find_all import find_all_references
from .camera.floor_lines import find_floor_lines
from .camera.profile import LensProfile, fit_profile
from .camera.reference import Kind, Reference
from .camera.sides import settle_sides
from .camera.solve import solve_camera
from .drawer.archive import read_pattern_json, write_pattern_json
from .drawer.lens_json import write_lens_json
from .drawer.lens_shelf import find_lens, read_lens, write_lens
from .drawer.outline_json import write_outline_json
from .errors import GarmentError, OutlineError, PhotoError
from .findings import Finding
from .garment.garment import Garment, Laid, Measurement
from .garment.kinds import KINDS
from .garment.reading import read_garment
from .garment.taking import Taken, take_for
from .outline.card_ends import find_card_ends
from .outline.confidence import UNSURE_CODE, count_as_said, find_unsure
from .outline.fitness import (
    COARSE_TOLD_MM,
    check_distance,
    check_light,
    check_measurable,
    check_reference_beside,
    check_sharpness,
    check_size,
)
from .outline.hints import Hints, describe_hints
from .outline.outline import Outline
from .outline.pulling import Pull, describe_pulls, pull_ring
from .outline.tracer import find_contour
from .paper.check_picture import draw_check_picture
from .paper.draw_difference import draw_difference_pdf, draw_difference_svg
from .paper.forms import Drawing, draw_form
from .paper.pages import draw_pages_svg, draw_svg, draw_tiles_pdf
from .paper.target_sheet import draw_lens_sheet_pdf, draw_targets_pdf
from .paper.words import choose_units, find_unprintable
from .photo import Photo, is_same_picture
from .pieces.choices import Choices
from .pieces.difference import Difference, compare_patterns
from .pieces.drafting import draft_pattern
from .pieces.fabric import Fabric, apply_fabric
from .pieces.growing import grow_pattern, name_sizes
from .pieces.growth import Growth
from .pieces.nesting import nest_patterns, take_largest
from .pieces.piece import Pattern
from .pieces.sewn import SewnCheck, check_sewn
from .pieces.unused import say_unused
from .practice import GARMENT_THICKNESS_MM, RIM_SHARE
from .progress import Progress, silent
from .trace_findings import say_of_lens, say_of_print, say_what_is_faint, say_what_would_help
from .units import Units, write_cm


@dataclass(frozen=True, eq=False)
class Traced:
    """What the photo gave: the outline in millimetres and everything it rests on.

    Attributes:
        photo: as read.
        references: found and used.
        camera: solved from them.
        outline: the garment's edge.
        doubt: how wrong it may be.
        expected_error_mm: (median, p95) of the outline [mm].
        findings: what the person should know.
        rim_mm: height above the floor at which the outline was measured [mm].
    """

    photo: Photo
    references: tuple[Reference, ...]
    camera: Camera
    outline: Outline
    doubt: Doubt
    expected_error_mm: tuple[float, float]
    findings: tuple[Finding, ...]
    rim_mm: float


_THICKEST_MM = 30.0
"""A folded quilted jacket is thinner; more was typed in another unit, and would be taken off the garment's size."""


def trace_outline(
    photo: Photo,
    *,
    kinds: Collection[Kind] | None = None,
    reference_at_px: tuple[float, float] | None = None,
    reference_corners_px: Sequence[tuple[float, float]] | None = None,
    no_references_px: Sequence[tuple[float, float]] = (),
    hints: Hints | None = None,
    floor: Photo | None = None,
    thickness_mm: float = GARMENT_THICKNESS_MM.value,
    bar_mm: float | None = None,
    profile: LensProfile | None = None,
    progress: Progress = silent,
) -> Traced:
    """Return the outline of the garment in `photo`.

    Args:
        photo: see `read_photo`.
        kinds: look for these references only; None for all.
        reference_at_px: a place on one that is not found by itself, or None.
        reference_corners_px: about where its four corners are, in any order, or None.
        no_references_px: places on what is taken for one and is none.
        hints: places said to be garment or floor.
        floor: a second photo, of the same floor without the garment, or None.
        thickness_mm: of the garment lying flat [mm]; its visible rim lies `RIM_SHARE` of it above the floor.
        bar_mm: length of the printed targets' bar as measured after printing [mm]; None where nobody measured it.
        profile: of the lens that took the photo (see `choose_profile`), or None where it is not known.
        progress: told how far the work has come.

    Raises:
        ScaleError: no reference, or one that cannot be trusted.
        OutlineError: no garment, or its edge cannot be trusted.
        LensError: the profile is for photos of another shape.
    """
    hints = hints or Hints()
    _check_asked(photo, hints, floor, thickness_mm)
    progress("looking for the card or sheet", 0.05)
    if profile is not None:
        profile = fit_profile(profile, photo)
        focal_px, focal_doubt = profile.focal_prior()
        photo = replace(photo, focal_px=focal_px, focal_doubt=focal_doubt)
    found = find_all_references(
        photo,
        kinds=kinds,
        at_px=reference_at_px,
        corners_px=reference_corners_px,
        none_at_px=no_references_px,
        bar_mm=bar_mm,
    )
    if not found:
        solve_camera(photo, found, profile=profile)  # says so before time is spent on the rest
    references = settle_sides(photo, found, profile)
    check_distance(references)
    check_sharpness(photo.pixels, references)
    progress("telling the garment from the floor", 0.25)
    reference_rings = [r.outline_px if len(r.outline_px) else r.corners_px for r in references]
    try:
        contour = find_contour(
            photo.pixels,
            reference_rings_px=reference_rings,
            hints=hints,
            floor_pixels=None if floor is None else floor.pixels,
        )
    except OutlineError:
        check_distance(references, COARSE_TOLD_MM)  # a garment that is too small to be seen has a better advice
        raise
    check_reference_beside(references, contour.ring_px)
    progress("looking for straight lines of the floor", 0.8)
    lines = find_floor_lines(photo.pixels, keep_out_px=[*reference_rings, contour.ring_px])
    progress("measuring", 0.85)
    solved = solve_camera(photo, references, lines, profile)
    camera = solved.camera
    rim_mm = RIM_SHARE.value * thickness_mm
    ring_mm = camera.to_mm(contour.ring_px, rim_mm)
    size = check_size(ring_mm)
    doubt = measure_doubt(camera, contour.ring_px, contour.sigma_px, rim_mm)
    outline = Outline(
        ring_mm=frozen(ring_mm),
        ring_px=contour.ring_px,
        holes_mm=tuple(frozen(camera.to_mm(hole, rim_mm)) for hole in contour.holes_px),
        error_mm=frozen(doubt.sigma_mm()),
        confidence=contour.confidence,
        hints=hints,
    )
    expected_error = doubt.expected_error_mm()
    fitness = check_measurable(photo.pixels, solved.references, camera, contour.ring_px, expected_error[1])
    findings = (
        *photo.findings,
        *solved.findings,
        *say_of_lens(photo, profile),
        *say_what_is_faint(solved.references, reference_at_px),
        *say_of_print(solved.references, bar_mm),
        *contour.findings,
        *find_card_ends(ring_mm, contour.ring_px),
        *size,
        *fitness,
        *say_what_would_help(solved, outline, contour.sigma_px, rim_mm, expected_error[1]),
    )
    return Traced(photo, solved.references, camera, outline, doubt, expected_error, findings, rim_mm)


def _check_asked(photo: Photo, hints: Hints, floor: Photo | None, thickness_mm: float) -> None:
    """Refuse what cannot be so, before time is spent on the photo."""
    if not 0.0 <= thickness_mm <= _THICKEST_MM:
        raise OutlineError(
            f"A garment {thickness_mm:g} mm thick does not lie flat.",
            f"Give its thickness as it lies pressed flat, {GARMENT_THICKNESS_MM.value:g} mm is usual.",
        )
    if floor is not None and is_same_picture(photo, floor):
        raise PhotoError(
            f"“{floor.name}” is the garment's own photo, not one of the empty floor.",
            "Take the garment away, leave the card where it lies, and photograph the floor from the same spot.",
        )
    check_light(photo.pixels)
    hints.check(photo.width_px, photo.height_px)


def choose_profile(photo: Photo, lens_file: Path | None = None) -> LensProfile | None:
    """Return the lens profile in `lens_file`, or else the one kept for the lens that took `photo`, or None.

    Raises:
        LensError: the file is not a lens profile.
    """
    return read_lens(lens_file) if lens_file is not None else find_lens(photo)


def learn_lens(photos: Sequence[Photo]) -> LensProfile:
    """Return the lens that took `photos` of the lens sheet.

    Raises:
        LensError: they do not determine it.
    """
    return calibrate_lens(photos)


def describe_lens(profile: LensProfile) -> str:
    """Return the profile as JSON text, schema `outgrown-lens/1`."""
    return write_lens_json(profile)


def keep_lens(profile: LensProfile) -> Path:
    """Keep the profile for later photos of the same lens, and return its file.

    Raises:
        LensError: it does not say which camera it belongs to.
    """
    return write_lens(profile)


def draw_target_sheet(paper: str = "a4", lens_sheet_only: bool = False) -> bytes:
    """Return the printed targets, or the lens sheet alone, as PDF.

    Raises:
        PieceError: the paper is not known.
    """
    return draw_lens_sheet_pdf(paper) if lens_sheet_only else draw_targets_pdf(paper)


def pull_outline(traced: Traced, pulls: Sequence[Pull]) -> Traced:
    """Return the traced outline drawn to where the person says the cloth's edge is.

    Raises:
        OutlineError: a pull begins far from the outline, or makes it cross itself.
    """
    if not pulls:
        return traced
    ring_px = pull_ring(traced.outline.ring_px, pulls)
    ring_mm = frozen(traced.camera.to_mm(ring_px, traced.rim_mm))
    check_size(ring_mm)
    confidence = count_as_said(traced.outline.ring_px, ring_px, traced.outline.confidence)
    outline = replace(
        traced.outline, ring_px=ring_px, ring_mm=ring_mm, confidence=frozen(confidence), pulls=tuple(pulls)
    )
    kept = tuple(finding for finding in traced.findings if finding.code != UNSURE_CODE)
    return replace(traced, outline=outline, findings=(*kept, *find_unsure(ring_px, confidence)))


def describe_outline(traced: Traced) -> str:
    """Return the outline as JSON text, schema `outgrown-outline/1`."""
    return write_outline_json(
        outline=traced.outline,
        references=traced.references,
        camera=traced.camera,
        focal_px=traced.photo.focal_px,
        expected_error_mm=traced.expected_error_mm,
        measurements=measure_traced(traced),
        findings=traced.findings,
    )


def measure_traced(traced: Traced) -> tuple[Measurement, ...]:
    """Return what can be measured on the outline: a half leg's lengths where it is one, else its width and height."""
    try:
        return read_traced_garment(traced, take_for(traced.outline)).measurements
    except GarmentError:
        return read_traced_garment(traced, Taken("other", Laid.OTHER, False, False)).measurements


def take_traced(traced: Traced, kind: str = "", laid: Laid | None = None) -> Taken:
    """Return which garment the outline is taken for and how it lies; what the person says outranks the outline."""
    return take_for(traced.outline, kind, laid)


def take_two(kind: str = "", laid: Laid | None = None) -> Taken:
    """Return what two photos are taken for: a pair folded lengthwise, once with the fronts and once with the backs out.

    Raises:
        GarmentError: the person says something else.
    """
    if laid not in (None, Laid.FOLDED) or (kind and not KINDS[kind].has_legs):
        raise GarmentError(
            "Two photos make a pattern together only of legs folded lengthwise, fronts out and backs out.",
            "Give one photo, or leave --laid and --kind out.",
        )
    return Taken(kind or "leggings", Laid.FOLDED, True, True)


def check_two_photos(front: Photo, back: Photo) -> None:
    """Refuse one picture given as both: nothing of the back would be known.

    Raises:
        PhotoError: they are the same picture.
    """
    if is_same_picture(front, back):
        raise PhotoError(
            f"“{front.name}” and “{back.name}” are the same picture, given as fronts and backs."
            if front.name != back.name
            else f"“{front.name}” was given as fronts and as backs.",
            "Fold the pair with its backs out and photograph it again, or leave the second photo out.",
        )


def read_traced_garment(
    traced: Traced, taken: Taken, corners_px: Mapping[str, tuple[float, float]] | None = None
) -> Garment:
    """Return the traced outline read as what it is taken for.

    Args:
        traced: the photo.
        taken: see `take_traced`.
        corners_px: name of a corner -> (x, y) in the upright photo where the person says it is.

    Raises:
        GarmentError: the outline is not like it, or a corner cannot be there.
    """
    corners_mm = {
        name: traced.camera.to_mm(np.array([place], dtype=np.float64), traced.rim_mm)[0]
        for name, place in (corners_px or {}).items()
    }
    return read_garment(
        traced.outline, kind=taken.kind, laid=taken.laid, scale_doubt=LengthDoubt(traced), corners_mm=corners_mm
    )


def draft(
    traced: Traced,
    garment: Garment,
    choices: Choices,
    back: tuple[Traced, Garment] | None = None,
) -> Pattern:
    """Return the pattern for `garment` with the person's `choices`; `back` is the pair folded with the backs out."""
    if back is not None:
        check_two_photos(traced.photo, back[0].photo)
    provenance = _provenance(traced)
    if any(corner.is_moved for corner in garment.corners):
        provenance["corners_moved"] = [str(corner.name) for corner in garment.corners if corner.is_moved]
    findings = traced.findings
    if back is not None:
        provenance["back"] = _provenance(back[0]) | {"outline_mm": back[0].outline.ring_mm.tolist()}
        findings = (*findings, *(f for f in back[0].findings if f not in findings))
    return draft_pattern(
        garment,
        choices,
        back=None if back is None else back[1],
        outline_mm=traced.outline.ring_mm,
        expected_error_mm=_worse(traced, back[0] if back else None),
        provenance=provenance,
        findings=findings,
    )


def _worse(one: Traced, other: Traced | None) -> tuple[float, float]:
    if other is None:
        return one.expected_error_mm
    (a, b), (c, d) = one.expected_error_mm, other.expected_error_mm
    return max(a, c), max(b, d)


def finish(pattern: Pattern, fabric: Fabric, has_steps: bool = True) -> Pattern:
    """Return the pattern for the cloth it will be made of; `has_steps` is kept for the sewing steps' pages."""
    done = apply_fabric(pattern, fabric)
    return replace(done, choices={**done.choices, "has_steps": has_steps})


def grow(
    pattern: Pattern,
    growths: Sequence[Growth],
    *,
    for_whom: str | None = None,
    made_on: str = "",
    is_nested: bool = False,
) -> Pattern:
    """Return the next size of a kept pattern, or several sizes nested in one; of sizes nested in it, the largest grows.

    Raises:
        PieceError: too little is known, or the change is too great for the shape.
    """
    pattern = take_largest(pattern)
    grown = [grow_pattern(pattern, growth, for_whom=for_whom, made_on=made_on) for growth in growths]
    if not is_nested:
        return grown[-1]
    return nest_patterns([pattern, *grown], name_sizes(pattern, grown))


def compare(first: Pattern, second: Pattern, names: tuple[str, str]) -> Difference:
    """Return where and by how much the second pattern differs from the first.

    Raises:
        PieceError: they have nothing in common.
    """
    return compare_patterns(first, second, names)


SEWN_FILES = ("sewn.png", "sewn-back.png")
"""Pictures of the first photo and of the second."""


def check_sewn_garment(
    kept: Pattern,
    traced: Traced,
    *,
    part: str = "front",
    kind: str = "",
    waist_flat_mm: float | None = None,
    is_washed: bool = False,
) -> SewnCheck:
    """Return where and by how much the garment in a photo differs from the pattern it was sewn from.

    Args:
        kept: the pattern.
        traced: the photo; legs folded lengthwise.
        part: which half of a leg lies on top, `front` or `back`.
        kind: of garment; empty for the pattern's own.
        waist_flat_mm: its waist pulled out flat, side to side [mm].
        is_washed: it has shrunk as far as the pattern allows for.

    Raises:
        GarmentError: the outline is not like the pattern's garment.
        PieceError: the pattern is of something else.
    """
    taken = kept.provenance.get("taken") or {}
    said, kind = kind, choose_sewn_kind(kept, kind)
    laid = Laid.FOLDED if KINDS.get(kind, KINDS["other"]).has_legs else Laid(taken.get("laid") or Laid.OTHER)
    garment = read_garment(traced.outline, kind=kind, laid=laid, scale_doubt=LengthDoubt(traced))
    check = check_sewn(
        kept, garment, traced.outline.ring_mm, part=part, waist_flat_mm=waist_flat_mm, is_washed=is_washed
    )
    own = str(taken.get("kind") or kind)
    idle = bool(said) and said != own and KINDS[said].has_legs
    unused = say_unused([(idle, f"That it is {said} (--kind)", f"they are compared as {own} are")])
    return replace(check, findings=(*check.findings, *unused))


def choose_sewn_kind(kept: Pattern, kind: str = "") -> str:
    """Return the kind that what was sewn from a pattern is read as: the pattern's own, or the one said.

    Args:
        kept: the pattern.
        kind: as the person says, or empty.

    Raises:
        GarmentError: nothing of that kind is sewn from this pattern.
    """
    own = str((kept.provenance.get("taken") or {}).get("kind") or "")
    if not kind or not own or own not in KINDS or kind == own:
        return kind or own or "leggings"
    has_legs = KINDS[own].has_legs, KINDS[kind].has_legs
    if has_legs == (True, True) or (has_legs == (False, False) and "other" in (own, kind)):
        return kind
    raise GarmentError(
        f"The pattern “{kept.title}” is of {_called(own)}, and {_called(kind)} cannot be compared with it.",
        "Give the pattern that this garment was sewn from, or leave --kind out.",
    )


def _called(kind: str) -> str:
    if KINDS[kind].has_legs:
        return kind
    return "a garment of another kind" if kind == "other" else f"a {kind}"


def draw_sewn_files(
    checks: Sequence[tuple[Traced, SewnCheck]], paper: str = "a4", units: Units | str | None = None
) -> Mapping[str, bytes]:
    """Return the files that show how sewn garments differ from their pattern: name -> content."""
    files: dict[str, bytes] = {}
    for number, (traced, check) in enumerate(checks):
        rings = [traced.camera.to_px(ring, traced.rim_mm) for ring in check.wanted_mm]
        files[SEWN_FILES[number]] = draw_check_picture(
            traced.photo.pixels,
            traced.outline.ring_px,
            traced.references,
            confidence=traced.outline.confidence,
            wanted_px=rings,
            title=f"{check.difference.second_name} on {check.difference.first_name}",
            findings=check.findings,
            units=Units(units) if units else Units.MM,
        )
    differences = [check.difference for _, check in checks]
    findings = [finding for _, check in checks for finding in check.findings]
    files["difference.pdf"] = draw_difference_pdf(differences, findings, paper, units)
    return files


def draw_difference_picture(difference: Difference, units: Units | str | None = None) -> str:
    """Return two patterns laid on one another as SVG, to look at."""
    return draw_difference_svg(difference, units, is_small=True)


def draw_compared(difference: Difference, paper: str = "a4", units: Units | str | None = None) -> Mapping[str, bytes]:
    """Return the drawing and table of two patterns laid on one another: name -> content."""
    return {
        "difference.pdf": draw_difference_pdf([difference], (), paper, units),
        "difference.svg": draw_difference_svg(difference, units).encode("utf-8"),
    }


def draw_outputs(
    traced: Traced, pattern: Pattern, paper: str | None = None, back: Traced | None = None
) -> Mapping[str, bytes]:
    """Return the files of a pattern: name -> content."""
    files = dict(draw_pattern_files(pattern, paper))
    units = choose_units(pattern)
    files["check.png"] = draw_check(traced, pattern.title, units)
    if back is not None:
        files["check-back.png"] = draw_check(back, f"{pattern.title}, second photo", units)
    return files


def draw_pattern_files(pattern: Pattern, paper: str | None = None) -> Mapping[str, bytes]:
    """Return every file that follows from the pattern alone: name -> content.

    They are drawn from the pattern as `pattern.json` keeps it, so a pattern read back gives the same bytes.

    Args:
        pattern: new, or read back.
        paper: of the home printer, kept in the pattern; None = as kept.
    """
    if paper is not None:
        pattern = replace(pattern, choices={**pattern.choices, "paper": paper})
    text = write_pattern_json(pattern)
    kept = read_pattern_json(text)
    return {
        "pattern.pdf": draw_tiles_pdf(kept, str(kept.choices.get("paper", "a4"))),
        "pattern.svg": draw_svg(kept).encode("utf-8"),
        "pattern.json": text.encode("utf-8"),
    }


def draw_pattern_picture(pattern: Pattern) -> str:
    """Return the whole pattern at 1:1 as SVG, to look at."""
    return draw_svg(pattern)


def draw_pattern_pages(pattern: Pattern) -> list[str]:
    """Return the printed pages of `pattern.pdf` as SVG documents, to look at."""
    return draw_pages_svg(pattern, str(pattern.choices.get("paper", "a4")))


def draw_paper(pattern: Pattern, drawing: Drawing) -> bytes:
    """Return a kept pattern drawn again as tiles, a large sheet, a projector page, SVG or DXF.

    Raises:
        PieceError: there is no piece, or a piece does not fit on the paper.
    """
    return draw_form(pattern, drawing)


def find_lost_on_paper(pattern: Pattern) -> tuple[Finding, ...]:
    """Return what of the pattern's words cannot be printed; said where they are typed, as paper cannot show it."""
    return find_unprintable(pattern)


def draw_check(traced: Traced, title: str = "", units: Units = Units.MM) -> bytes:
    """Return the check picture as PNG: the photo with references and outline drawn on it, lengths in `units`."""
    median, p95 = traced.expected_error_mm
    return draw_check_picture(
        traced.photo.pixels,
        traced.outline.ring_px,
        traced.references,
        confidence=traced.outline.confidence,
        holes_px=[traced.camera.to_px(hole, traced.rim_mm) for hole in traced.outline.holes_mm],
        findings=traced.findings,
        title=title,
        details=[f"Expected error of the outline: {median:.1f} mm, at most {p95:.1f} mm along 95 % of it."],
        units=units,
    )


class LengthDoubt:
    """Standard deviation of the length between two points of the outline [mm], from the drawn doubts."""

    def __init__(self, traced: Traced) -> None:
        self._ring = traced.outline.ring_mm
        self._shifts = traced.doubt.shifts_mm

    def __call__(self, first_mm: Floats, second_mm: Floats) -> float:
        """Return it for two points given in the outline's millimetres."""
        first, second = (int(np.argmin(((self._ring - p) ** 2).sum(axis=1))) for p in (first_mm, second_mm))
        way = self._ring[second] - self._ring[first]
        length = float(np.hypot(*way))
        if length == 0:
            return 0.0
        change = (self._shifts[:, second] - self._shifts[:, first]) @ (way / length)
        return float(np.sqrt(np.mean(change**2)))


def _provenance(traced: Traced) -> dict[str, Any]:
    camera = traced.camera
    return {
        "program": f"outgrown {__version__}",
        "photo": traced.photo.name,
        "photo_px": [traced.photo.width_px, traced.photo.height_px],
        "references": [
            {"kind": str(r.kind), "corners_px": np.round(r.corners_px, 2).tolist()} for r in traced.references
        ],
        "focal_px": round(camera.lens.focal_px, 1),
        "tilt_deg": round(camera.tilt_deg, 2),
        "height": write_cm(camera.height_above_floor_mm()),
        "hints": describe_hints(traced.outline.hints),
        "pulled": describe_pulls(traced.outline.pulls),
    }
