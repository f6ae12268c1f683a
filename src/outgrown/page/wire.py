"""Wire: results as plain JSON values for the page."""

import re
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from ..arrays import Floats
from ..findings import Finding
from ..garment.garment import Garment, Measurement
from ..garment.half_leg import CornerName
from ..geometry.polylines import thin_line
from ..paper.check_picture import DOUBTFUL, split_runs
from ..paper.draw_difference import write_more
from ..paper.words import choose_units, find_unprintable
from ..pieces.choices import Choices
from ..pieces.difference import Difference, LengthRow
from ..pieces.nesting import list_growths
from ..pieces.piece import CutListRow, Pattern
from ..steps import Traced
from ..units import Units, write_cm, write_inch
from .desk import Work
from .workshop import ENDED, Ticket

_THIN_PX = 0.3
_CORNER_WORDS = {
    CornerName.WAIST_SIDE: "waist at the side",
    CornerName.HEM_OUTER: "hem at the side",
    CornerName.HEM_INNER: "hem at the inseam",
    CornerName.CROTCH: "crotch point",
    CornerName.WAIST_CENTRE: "waist at the centre",
}
_ON_PAGE = {
    "--garment": "the brush “garment”",
    "--floor-at": "the brush “floor”",
    "--floor": "“Photo of the empty floor”",
    "--reference-at": "“Point at the card”",
    "--reference-corners": "“Card's corners”",
    "--no-reference": "“Not a card”",
    "--back": "“Backs out”",
    "--bar": "“Bar on your printed targets”",
    "--laid": "“How it lies in the photo”",
    "--kind": "“What it is”",
    "--side-seam": "“Seam at the side”",
    "--waist-flat": "“Waist pulled out flat”",
    "--edge-is": "“The edge of a piece taken apart is”",
    "--waist": "“Body waist”",
    "--allowance": "“Allowances of your own”",
    "--share-up-to": "“Make joining seams equal up to”",
    "--stretch-old": "“Stretch of the garment's cloth”",
    "--stretch-new": "“Stretch of the new cloth”",
    "--height-then": "“Height when it fitted”",
    "--height-now": "“Height now”",
    "--age-then": "“Or age when it fitted”",
    "--age": "“Age now”",
    "--sex": "“Growth chart”",
    "--waist-then": "“Body waist then”",
    "--hip-then": "“Body hip then”",
    "--longer": "“Or simply longer by”",
    "--elastic": "“Width of the elastic”",
    "--hem": "“Hem”",
    "--waist-finish": "“Waist”",
    "--open-folds": "“Halves opened, cut through both layers”",
    "--folded": "“Folded lengthwise”",
    "--on-hem": "“It is a T-shirt”",
    "--one-way": "“One-way print or nap”",
    "--as sheet": "“One large sheet”",
    "--as tiles": "“Print the pattern”",
    "--roll": "“Width of the roll”",
    "--bar-across": "“The bar across measures”",
    "--bar-down": "“The upright bar measures”",
}
"""Options of the command line that sentences name, and what they are called on the page."""
_IN_TERMINAL = {
    "--whole": "“outgrown pattern” with --whole",
    "--split": "“outgrown lay” with --split",
    "--grain-tolerance": "“outgrown lay” with --grain-tolerance",
    "--count": "“outgrown lay” with --count",
    "--drawer": "the variable OUTGROWN_DRAWER",
}
"""Options that the page does not have, and where they are."""
_OF_CLOTH = {
    "--garment": "the brush “cloth”",
}
"""Options of a cloth's photo that the page calls otherwise than a garment's."""
_OPTION = re.compile(r"--as \w+|--[a-z]+(?:-[a-z]+)*")


def say(sentence: str, *, is_cloth: bool = False, units: Units = Units.MM) -> str:
    """Return a sentence of the library with the page's words for what can be typed, and lengths in the person's units.

    Args:
        sentence: as the library writes it.
        is_cloth: it is of a cloth's photo.
        units: for its lengths.
    """
    words = _ON_PAGE | _IN_TERMINAL | (_OF_CLOTH if is_cloth else {})
    return _OPTION.sub(lambda match: words.get(match[0], match[0]), units.said(sentence))


def describe_traced(
    traced: Traced, garment: Garment | None = None, *, moves_corners: bool = False, units: Units = Units.MM
) -> dict[str, Any]:
    """Return what was found in a photo, and whether its corners can be moved: those of the first, folded, alone."""
    ring = traced.outline.ring_px
    median, p95 = traced.expected_error_mm
    _, doubtful = split_runs(ring, traced.outline.confidence < DOUBTFUL)
    return {
        "width": traced.photo.width_px,
        "height": traced.photo.height_px,
        "error": [units.said(f"{error:.1f} mm") for error in (median, p95)],
        "references": [
            {"name": reference.kind.words, "corners": _places(reference.corners_px)} for reference in traced.references
        ],
        "outline": _places(thin_line(np.vstack([ring, ring[:1]]), _THIN_PX)),
        "doubtful": [_places(run) for run in doubtful],
        "holes": [_places(traced.camera.to_px(hole, traced.rim_mm)) for hole in traced.outline.holes_mm],
        "corners": [] if garment is None else _corners(traced, garment),
        "moves_corners": moves_corners,
        "camera": units.said(
            f"{write_cm(traced.camera.height_above_floor_mm())} above the floor, "
            f"{traced.camera.tilt_deg:.0f}° off straight down"
        ),
    }


def describe_said(work: Work) -> dict[str, Any]:
    """Return what a garment's pattern was made with, as the page keeps it: answers, and what was mended by hand."""
    pulls = work.said.get("pulls") or {}
    edits: dict[str, Any] = {
        "pulls": {},
        "corners": work.said.get("corners") or {},
        "hints": {},
        "card": {},
        "frame": {},
        "none": {},
        "bars": {},
    }
    for role in ("front", "back", "cloth"):
        told = work.photos[role].said if role in work.photos else {}
        edits["pulls"][role] = pulls.get(role) or []
        edits["hints"][role] = told.get("hints") or []
        edits["card"][role] = told.get("reference_at_px")
        edits["frame"][role] = told.get("reference_corners_px") or []
        edits["none"][role] = told.get("no_references_px") or []
        bar = told.get("bar_mm")
        edits["bars"][role] = "" if bar is None else f"{bar:g} mm"
    edits["pulls"]["cloth"] = [{"from": pull.from_px, "to": pull.to_px} for pull in work.cloth_pulls]
    told = {"answers": work.said.get("answers") or {}, "is_made": bool(work.said), "edits": edits}
    return told | {"stamp": work.stamp(), "photos_stamp": work.photos_stamp()}


def _corners(traced: Traced, garment: Garment) -> list[dict[str, Any]]:
    return [
        {
            "name": str(corner.name),
            "label": _CORNER_WORDS.get(CornerName(corner.name), str(corner.name)),
            "at": _places(traced.camera.to_px(np.array([corner.seen_mm]), traced.rim_mm))[0],
            "moved": corner.is_moved,
        }
        for corner in garment.corners
        if corner.name in list(CornerName)
    ]


def _places(points: Floats) -> list[list[float]]:
    return [[round(float(x), 1), round(float(y), 1)] for x, y in np.asarray(points)]


def describe_ticket(ticket: Ticket, *, is_cloth: bool = False, units: Units = Units.MM) -> dict[str, Any]:
    """Return how far a task has come, and why it was refused where it was; see `say`."""
    return {
        "state": str(ticket.state),
        "doing": ticket.doing,
        "share": round(ticket.share, 3),
        "problem": say(ticket.problem, is_cloth=is_cloth, units=units),
        "advice": say(ticket.advice, is_cloth=is_cloth, units=units),
        "ended": ticket.state in ENDED,
    }


def describe_findings(findings: Iterable[Finding], units: Units = Units.MM) -> list[dict[str, str]]:
    """Return findings, warnings first, lengths in `units`."""
    rows = [{"severity": str(f.severity), "code": f.code, "text": say(f.sentence(), units=units)} for f in findings]
    return sorted(rows, key=lambda row: row["severity"] != "warning")


def describe_measurements(measurements: Sequence[Measurement], units: Units = Units.MM) -> list[dict[str, str]]:
    """Return lengths in both units, what is said of them in `units`."""
    return [
        {
            "name": m.name,
            "cm": write_cm(m.value_mm),
            "inch": write_inch(m.value_mm),
            "doubt": "" if m.doubt_mm is None else units.said(f"± {m.doubt_mm:.1f} mm"),
            "how": units.said(m.how),
        }
        for m in measurements
    ]


def describe_cut_list(rows: Sequence[CutListRow], units: Units) -> list[dict[str, str]]:
    """Return the cut list in the person's unit."""
    write = write_inch if units is Units.INCH else write_cm
    return [
        {
            "quantity": str(row.quantity),
            "name": row.name,
            "size": ""
            if row.length_mm is None
            else f"{write(row.length_mm)} × {write(row.width_mm)}"
            if row.width_mm
            else write(row.length_mm),
            "material": row.material,
            "note": units.said(row.note),
        }
        for row in rows
    ]


def describe_pattern(pattern: Pattern, svg: str) -> dict[str, Any]:
    """Return a pattern for the page."""
    units = choose_units(pattern)
    write = write_inch if units is Units.INCH else write_cm
    return {
        "title": pattern.title,
        "for_whom": pattern.for_whom,
        "made_on": pattern.made_on,
        "paper": pattern.choices.get("paper") or Choices().paper,
        "svg": svg,
        "measurements": describe_measurements(pattern.measurements, units),
        "cut_list": describe_cut_list(pattern.cut_list, units),
        "findings": describe_findings((*pattern.findings, *find_unprintable(pattern)), units),
        "sizes": [
            {
                "size": name,
                "what": row["what"],
                "before": write(row["before_mm"]),
                "after": write(row["after_mm"]),
                "why": row["why"],
            }
            for name, grown in list_growths(pattern)
            for row in grown.get("sizes") or ()
        ],
    }


def describe_difference(difference: Difference, svg: str, units: Units) -> dict[str, Any]:
    """Return two patterns compared."""
    many = len(difference.shapes) > 1
    write = write_inch if units is Units.INCH else write_cm

    def named(row: LengthRow) -> str:
        return f"{row.what}, {row.shape}" if many or row in difference.strips else row.what

    return {
        "first": difference.first_name,
        "second": difference.second_name,
        "svg": svg,
        "lengths": [
            {
                "what": named(row),
                "first": write(row.first_mm),
                "second": write(row.second_mm),
                "more": write_more(row.more_mm, units),
                "sure": not row.is_doubtful,
            }
            for row in (*difference.lengths, *difference.strips)
        ],
        "missing": list(difference.missing),
    }
