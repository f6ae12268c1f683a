"""`outgrown lay`: where the pieces go on a cloth, how much to buy, whether a leftover is enough."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..lay.cloth import Bolt, Rules, Stretch
from ..practice import LAY_GAP_MM, SELVEDGE_MM, SOLD_BY_MM
from .options import replace_option
from .types import LENGTH

if TYPE_CHECKING:
    from ..lay.lay import Lay

FILES = ("lay.pdf", "lay.png", "lay.json")


@click.command()
@click.argument("kept", metavar="PATTERN...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--width", "width_mm", type=LENGTH, help="Width of cloth off the roll, e.g. 150cm or 60in.")
@click.option(
    "--folded", "is_folded", is_flag=True, help="The cloth lies folded lengthwise; fold edges go on its fold."
)
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
@click.option(
    "--out", "folder", type=click.Path(path_type=Path), help="Folder for the results. Default: ./PATTERN-lay/"
)
@replace_option
def lay(
    kept: tuple[Path, ...],
    width_mm: float | None,
    is_folded: bool,
    open_folds: bool,
    selvedge_mm: float,
    sold_by_mm: float,
    folder: Path | None,
    may_replace: bool,
    **ruled: Any,
) -> None:
    """Lay the pieces of each PATTERN on cloth: how much to buy, or whether a leftover is enough.

    PATTERN is the folder of a pattern made before, or its pattern.json. Say --width for cloth off the roll.
    """
    from .. import steps
    from ..drawer.folder import check_target, write_folder
    from ..drawer.opening import read_kept_pattern

    if width_mm is None:
        raise click.UsageError("Say the cloth's --width, or give its photo with --cloth.", click.get_current_context())
    rules = Rules(**{**ruled, "stretch": Stretch(ruled["stretch"])})
    patterns = [read_kept_pattern(path) for path in kept]
    named = (kept[0] if kept[0].is_dir() else kept[0].absolute().parent).resolve().name
    folder = folder or Path(f"{named or 'pattern'}-lay")
    check_target(folder, FILES, may_replace)
    bolt = Bolt(width_mm, is_folded, selvedge_mm)
    laid = steps.lay_on_bolt(patterns, bolt, rules, opens_folds=open_folds, sold_by_mm=sold_by_mm)
    files = steps.draw_lay(laid)
    write_folder(folder, files, may_replace)
    click.echo("\n".join([*write_lay(laid), *_write_files(folder)]))


def write_lay(laid: "Lay") -> list[str]:
    """Return what the terminal says of a lay."""
    from .. import steps
    from .wording import write_findings

    answer, about, rows = steps.describe_lay(laid)
    return [
        answer,
        *about,
        "",
        *(f"  {row}" for row in rows),
        *(f"- {offer.sentence()}" for offer in laid.offers),
        *write_findings(laid.findings),
        "",
    ]


def _write_files(folder: Path) -> list[str]:
    what = {
        "lay.pdf": "the plan, to scale",
        "lay.png": "look at this first: would you cut by it?",
        "lay.json": "every ring in mm",
    }
    return [f"In {folder}:"] + [f"  {name:<8}  {words}" for name, words in what.items()]
