"""`outgrown drawer compare`: two patterns laid on one another."""

from pathlib import Path

import click

from ..drawer.place import find_drawer
from .drawer_words import drawer_option
from .speaking import speak_in, units_option

FILES = ("difference.pdf", "difference.svg")


@click.command(short_help="Compare two patterns: this year's and last year's.")
@click.argument("first", metavar="PATTERN")
@click.argument("second", metavar="OTHER")
@click.option(
    "--out", "folder", type=click.Path(path_type=Path), help="Draw them laid on one another, into this folder."
)
@units_option(help="Default: as PATTERN was made.")
@drawer_option
@click.option("--replace", "may_replace", is_flag=True, help="Write over what is there.")
def compare(
    first: str, second: str, folder: Path | None, units: str | None, drawer_folder: Path | None, may_replace: bool
) -> None:
    """Tell where OTHER differs from PATTERN, and by how much: this year's pair and last year's.

    Each is a name in the drawer, the folder of a pattern, or a pattern.json.
    """
    from .. import steps
    from ..drawer.folder import check_target, write_folder
    from ..drawer.opening import open_pattern
    from ..paper.words import choose_units
    from . import wording

    if folder is not None:
        check_target(folder, FILES, may_replace)
    opened = [open_pattern(place, find_drawer(drawer_folder)) for place in (first, second)]
    one, other = (", ".join(filter(None, (o.pattern.title, o.pattern.for_whom, o.pattern.made_on))) for o in opened)
    speak_in(chosen := choose_units(opened[0].pattern, units))
    found = steps.compare(opened[0].pattern, opened[1].pattern, (one, other))
    lines = wording.write_difference(found, chosen)
    if folder is not None:
        paper = str(opened[0].pattern.choices.get("paper", "a4"))
        files = steps.draw_compared(found, paper, chosen)
        write_folder(folder, files, may_replace)
        lines += ["", *wording.write_files(folder, files)]
    click.echo("\n".join(lines))
