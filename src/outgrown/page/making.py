"""Making: the library's steps for one garment on the desk, as the command line takes them."""

from dataclasses import replace
from typing import Any

from .. import steps
from ..garment.garment import Laid
from ..paper.words import choose_units
from ..pieces.piece import Pattern
from ..units import Units
from . import wire
from .desk import Desk, Work
from .form import Settings, read_settings


def make_pattern(desk: Desk, work: Work, settings: Settings) -> dict[str, Any]:
    """Make the pattern of a work with the settings, keep it on the desk, and return it for the page.

    Raises:
        OutgrownError: see `steps`.
    """
    if work.opened is not None:
        pattern = work.opened
        if settings.paper is not None:
            pattern = replace(pattern, choices={**pattern.choices, "paper": settings.paper})
        pattern = _grow(pattern, settings)
        hold(work, pattern)
        return {"seen": {}, "taken": "", "pattern": wire.describe_pattern(pattern, steps.draw_pattern_picture(pattern))}
    traced = steps.pull_outline(desk.traced(work, "front"), settings.pulls.get("front", ()))
    laid = Laid(settings.choices.laid) if settings.choices.laid else None
    behind = None
    if "back" in work.photos:
        taken = steps.take_two(settings.choices.kind, laid)
        garment = steps.read_traced_garment(traced, taken, settings.corners_px)
        second = steps.pull_outline(desk.traced(work, "back"), settings.pulls.get("back", ()))
        behind = second, steps.read_traced_garment(second, taken)
    else:
        taken = steps.take_traced(traced, settings.choices.kind, laid)
        corners = settings.corners_px if taken.laid is Laid.FOLDED else {}
        garment = steps.read_traced_garment(traced, taken, corners)
    seen = {
        "front": wire.describe_traced(
            traced, garment, moves_corners=taken.laid is Laid.FOLDED, units=settings.choices.units
        )
    }
    if behind is not None:
        seen["back"] = wire.describe_traced(*behind, units=settings.choices.units)
    choices = settings.choices
    if not settings.is_named:
        choices = replace(choices, title="garment" if taken.kind == "other" else taken.kind)
    drafted = steps.finish(steps.draft(traced, garment, choices, behind), settings.fabric, settings.has_steps)
    pattern = _grow(drafted, settings)
    hold(work, pattern)
    return {
        "seen": seen,
        "taken": taken.told(),
        "pattern": wire.describe_pattern(pattern, steps.draw_pattern_picture(pattern)),
    }


def _grow(pattern: Pattern, settings: Settings) -> Pattern:
    if not settings.growths:
        return pattern
    return steps.grow(pattern, settings.growths, made_on=settings.choices.date, is_nested=settings.is_nested)


def draw_check(desk: Desk, work: Work, role: str, title: str = "") -> bytes:
    """Return the check picture of a photo, with the line as it was mended for the pattern made last.

    Raises:
        OutgrownError: see `Desk.traced`.
    """
    pulls = read_settings(work.said).pulls.get(role, ()) if work.said else ()
    units = choose_units(work.pattern) if work.pattern is not None else Units.MM
    return steps.draw_check(steps.pull_outline(desk.traced(work, role), pulls), title, units)


def hold(work: Work, pattern: Pattern) -> None:
    """Keep a pattern on the desk; files drawn of an earlier one are forgotten."""
    work.pattern = pattern
    work.files.clear()
