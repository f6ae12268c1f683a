"""`outgrown lay`: where the pieces go on a cloth, how much to buy, whether a leftover is enough."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..lay.cloth import Bolt, Rules, Stretch
from ..practice import LAY_GAP_MM, LEFTOVER_MARGIN_MM, SELVEDGE_MM, SOLD_BY_MM
from ..progress import Progress
from .bar import progress_bar
from .drawer_words import drawer_option
from .options import is_typed, replace_option, vision_options
from .speaking import speak_in
from .tracing import VISION_NAMES, trace_photo
from .types import COUNT, GRAIN, LENGTH

if TYPE_CHECKING:
    from ..lay.lay import Lay
    from ..lay_steps import LaidOnPhoto
    from ..pieces.piece import Pattern
    from ..units import Units

FILES = ("lay.pdf", "lay.png", "lay.json")


@click.command(short_help="Lay pieces on cloth: how much to buy, or do they fit.")
@click.argument("kept", metavar="PATTERN...", nargs=-1, required=True)
@click.option("--width", "width_mm", type=LENGTH, help="Width of cloth off the roll, e.g. 150cm or 60in.")
@click.option("--folded", "is_folded", is_flag=True, help="The cloth lies folded lengthwise; fold edges on its fold.")
@click.option(
    "--open-folds", is_flag=True, help="With --folded: open halves along their fold and cut them through both layers."
)
@click.option(
    "--selvedge",
    "selvedge_mm",
    type=LENGTH,
    default=f"{SELVEDGE_MM.value:g}mm",
    show_default=True,
    help="Left free along each selvedge.",
)
@click.option(
    "--sold-by",
    "sold_by_mm",
    type=LENGTH,
    default=f"{SOLD_BY_MM.value / 10:g}cm",
    show_default=True,
    help="The shop cuts to whole multiples of this.",
)
@click.option(
    "--cloth",
    "photo",
    type=click.Path(path_type=Path),
    help="Photo of a leftover or a shirt, flat, beside a bank card or a sheet of paper.",
)
@click.option(
    "--grain-at",
    "grain",
    type=GRAIN,
    default=0.0,
    help="Grain of the cloth in its photo: degrees off upright, counter-clockwise, or two places along it, in quotes. "
    "Default: upright.",
)
@click.option(
    "--on-hem", is_flag=True, help="The photo shows a shirt, its hem at the bottom: it becomes the legs' hem."
)
@click.option("--shirt-width", "shirt_width_mm", type=LENGTH, help="Or a shirt without a photo: side to side.")
@click.option("--shirt-length", "shirt_length_mm", type=LENGTH, help="The same shirt from hem to underarm.")
@click.option(
    "--margin",
    "margin_mm",
    type=LENGTH,
    default=f"{LEFTOVER_MARGIN_MM.value:g}mm",
    show_default=True,
    help="Kept free along the edge of a leftover, besides what its photo may be wrong.",
)
@click.option(
    "--count", "counts", type=COUNT, multiple=True, help="How often a piece is wanted, e.g. skirt=2; may be repeated."
)
@click.option("--split", "splits", multiple=True, metavar="NAME", help="Sew this piece from two; may be repeated.")
@click.option(
    "--gap", "gap_mm", type=LENGTH, default=f"{LAY_GAP_MM.value:g}mm", show_default=True, help="Between two pieces."
)
@click.option(
    "--grain-tolerance",
    "grain_tolerance_deg",
    type=float,
    default=0.0,
    show_default=True,
    help="How many degrees a grainline may be off the cloth's grain.",
)
@click.option("--one-way", "is_one_way", is_flag=True, help="All tops point one way: nap, or a print that has an up.")
@click.option(
    "--stretch",
    type=click.Choice([way.value for way in Stretch]),
    default=Stretch.ACROSS.value,
    show_default=True,
    help="Which way the cloth stretches most; along turns pieces by a quarter.",
)
@click.option("--seconds", type=float, default=5.0, show_default=True, help="How long to search, about.")
@click.option("--search", "seed", type=int, default=1, show_default=True, help="Another number tries another search.")
@click.option("--out", "folder", type=click.Path(path_type=Path), help="Folder for results. Default: ./PATTERN-lay/")
@vision_options
@drawer_option
@replace_option
def lay(
    kept: tuple[str, ...], folder: Path | None, may_replace: bool, drawer_folder: Path | None, **options: Any
) -> None:
    """Lay the pieces of each PATTERN on cloth: how much to buy, or whether a leftover is enough.

    PATTERN is a pattern's folder, its pattern.json, or its name in the drawer. Say --width for cloth off the roll,
    --cloth for the photo of a leftover, or --shirt-width and --shirt-length.
    """
    from ..drawer.folder import check_target, write_folder
    from ..drawer.opening import open_pattern
    from ..drawer.place import find_drawer
    from ..paper.words import choose_units

    _check_which(options)
    names = ("gap_mm", "grain_tolerance_deg", "is_one_way", "seconds", "seed")
    rules = Rules(**{name: options[name] for name in names}, stretch=Stretch(options["stretch"]))
    opened = [open_pattern(place, find_drawer(drawer_folder)) for place in kept]
    patterns = [one.pattern for one in opened]
    speak_in(units := choose_units(patterns[0]))
    folder = folder or Path(f"{opened[0].name}-lay")
    check_target(folder, FILES, may_replace)
    with progress_bar() as progress:
        progress("laying the pieces", 0.3)
        laid, files, seen = _lay(patterns, rules, options, progress, units)
    write_folder(folder, files, may_replace)
    click.echo("\n".join([*seen, *write_lay(laid, units), *_write_files(folder, bool(seen))]))


def _check_which(options: Mapping[str, Any]) -> None:
    """Refuse options that leave open which cloth is meant, or that speak of another."""
    context = click.get_current_context()
    has_shirt = options["shirt_width_mm"] is not None or options["shirt_length_mm"] is not None
    said = [options["width_mm"] is not None, options["photo"] is not None, has_shirt]
    if sum(said) != 1:
        which = "Say the cloth's" if not any(said) else "Say only one:"
        raise click.UsageError(
            f"{which} --width, its photo with --cloth, or --shirt-width and --shirt-length.", context
        )
    if has_shirt and (options["shirt_width_mm"] is None or options["shirt_length_mm"] is None):
        raise click.UsageError("A shirt needs both --shirt-width and --shirt-length.", context)
    if options["is_folded"] and options["width_mm"] is None:
        raise click.UsageError("--folded is for cloth off the roll, with --width.", context)
    if options["open_folds"] and not options["is_folded"]:
        raise click.UsageError("--open-folds is for --folded cloth; a single layer has no fold.", context)
    if options["on_hem"] and options["photo"] is None:
        raise click.UsageError("--on-hem is for the photo of a shirt, with --cloth.", context)
    for names, is_there, where in (
        (("selvedge_mm", "sold_by_mm"), options["width_mm"] is not None, "cloth off the roll, with --width"),
        (("margin_mm",), options["width_mm"] is None, "a leftover or a shirt, not for cloth off the roll"),
        (("grain", *VISION_NAMES), options["photo"] is not None, "the photo of a cloth, with --cloth"),
    ):
        for parameter in context.command.params:
            if parameter.name in names and not is_there and is_typed(parameter.name):
                raise click.UsageError(f"{parameter.opts[0]} is for {where}.", context)


def _lay(
    patterns: "list[Pattern]", rules: Rules, options: Mapping[str, Any], progress: Progress, units: "Units"
) -> "tuple[Lay, Mapping[str, bytes], list[str]]":
    """Return the lay, its files, and what was seen in the photo where there is one."""
    from .. import lay_steps

    asked = {"splits": options["splits"], "counts": dict(options["counts"])}
    if options["width_mm"] is not None:
        bolt = Bolt(options["width_mm"], options["is_folded"], options["selvedge_mm"])
        chosen = {"opens_folds": options["open_folds"], "sold_by_mm": options["sold_by_mm"]}
        laid = lay_steps.lay_on_bolt(patterns, bolt, rules, **asked, **chosen)
        return laid, lay_steps.draw_lay(laid), []
    if options["photo"] is None:
        sizes = options["shirt_width_mm"], options["shirt_length_mm"]
        laid = lay_steps.lay_on_shirt(patterns, *sizes, rules, margin_mm=options["margin_mm"], **asked)
        return laid, lay_steps.draw_lay(laid), []
    from .wording import write_found

    on_photo = _lay_on_photo(patterns, rules, options, progress)
    return on_photo.lay, lay_steps.draw_lay_on_photo(on_photo), write_found(on_photo.traced, units)


def _lay_on_photo(
    patterns: "list[Pattern]", rules: Rules, options: Mapping[str, Any], progress: Progress
) -> "LaidOnPhoto":
    from .. import lay_steps

    traced = trace_photo(options["photo"], options, progress)
    progress("laying the pieces", 0.9)
    return lay_steps.lay_on_photo(
        patterns,
        traced,
        rules,
        margin_mm=options["margin_mm"],
        thickness_mm=options["thickness_mm"],
        grain=options["grain"],
        on_hem=options["on_hem"],
        splits=options["splits"],
        counts=dict(options["counts"]),
    )


def write_lay(laid: "Lay", units: "Units") -> list[str]:
    """Return what the terminal says of a lay; lengths stand both ways where they are the plan's, else in `units`."""
    from .. import lay_steps
    from .wording import write_findings

    answer, about, rows = lay_steps.describe_lay(laid)
    return [
        answer,
        *about,
        "",
        *(f"  {row}" for row in rows),
        "",
        *(f"- {offer.sentence()}" for offer in laid.offers),
        *(line for line in write_findings(laid.findings, units) if not any(units.said(row) in line for row in rows)),
    ]


def _write_files(folder: Path, has_photo: bool) -> list[str]:
    what = {
        "lay.pdf": "the plan, to scale" + (", with distances to place the pieces by" if has_photo else ""),
        "lay.png": "look at this first: would you cut by it?",
        "lay.json": "every ring in mm",
    }
    return [f"In {folder}:"] + [f"  {name:<8}  {words}" for name, words in what.items()]
