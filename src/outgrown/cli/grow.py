"""`outgrown grow`: the next size of a kept pattern."""

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import click

from ..pieces.body import Sex
from .drawer_words import drawer_option, keep_folder, keep_option
from .name_type import NAME
from .options import paper_option, replace_option
from .speaking import speak_in
from .types import AGE, LENGTH

FILES = ("pattern.pdf", "pattern.svg", "pattern.json")


@click.command(short_help="Make the next size from a pattern.")
@click.argument("kept", metavar="PATTERN")
@click.option("--out", "folder", type=click.Path(path_type=Path), help="Folder for the results. Default: ./NAME-next/")
@click.option("--height-then", "height_then_mm", type=LENGTH, help="Height when the pair fitted, e.g. 104cm.")
@click.option("--height-now", "heights_now_mm", type=LENGTH, multiple=True, help="Height now; several with --nested.")
@click.option("--age-then", "age_then_months", type=AGE, help="Age when the pair fitted, e.g. 4y6m.")
@click.option("--age", "age_now_months", type=AGE, help="Age the next pair is for, e.g. 5y6m.")
@click.option("--sex", type=click.Choice([sex.value for sex in Sex]), help="Whose growth chart.")
@click.option("--waist", "waist_now_mm", type=LENGTH, help="Body waist now.")
@click.option("--waist-then", "waist_then_mm", type=LENGTH, help="Body waist then. Default: the pattern's.")
@click.option("--hip", "hip_now_mm", type=LENGTH, help="Hip girth now.")
@click.option("--hip-then", "hip_then_mm", type=LENGTH, help="Hip girth then.")
@click.option("--inseam", "inseam_mm", type=LENGTH, help="Inseam wanted: crotch to where the hem shall end.")
@click.option("--longer", "longer_mm", type=LENGTH, help="Or simply a little longer, e.g. 20mm.")
@click.option("--for", "for_whom", type=NAME, default=None, metavar="WHO", help="For whom, or which size.")
@click.option("--nested", "is_nested", is_flag=True, help="Old and new sizes nested in one print.")
@paper_option(None, help="Paper of the home printer. Default: as the pattern was made, else a4.")
@keep_option
@drawer_option
@replace_option
def grow(
    kept: str,
    folder: Path | None,
    heights_now_mm: tuple[float, ...],
    sex: str | None,
    for_whom: str | None,
    is_nested: bool,
    paper: str | None,
    may_replace: bool,
    is_kept: bool,
    drawer_folder: Path | None,
    **known: Any,
) -> None:
    """Make the next size from PATTERN: a pattern's folder, its pattern.json, or its name in the drawer.

    Say how the child has grown: heights then and now, or ages and --sex, or what you measured, or --longer.
    """
    from .. import steps
    from ..drawer.folder import check_target, write_folder
    from ..drawer.opening import open_pattern
    from ..drawer.place import find_drawer
    from ..errors import PieceError
    from ..paper.words import choose_units
    from ..pieces.growth import Growth
    from . import wording

    if len(heights_now_mm) > 1 and not is_nested:
        raise PieceError("Several heights make several sizes.", "Say --nested to have them in one print, or give one.")
    opened = open_pattern(kept, find_drawer(drawer_folder))
    pattern = opened.pattern
    speak_in(units := choose_units(pattern))
    folder = folder or Path(f"{opened.name}-next")
    check_target(folder, FILES, may_replace)
    first = Growth(**known, sex=Sex(sex) if sex else None)
    growths = [replace(first, height_now_mm=height) for height in heights_now_mm] or [first]
    grown = steps.grow(pattern, growths, for_whom=for_whom, made_on=date.today().isoformat(), is_nested=is_nested)
    files = steps.draw_pattern_files(grown, paper or pattern.choices.get("paper") or "a4")
    write_folder(folder, files, may_replace)
    lines = [
        f"From “{pattern.title}”{f', {pattern.for_whom}' if pattern.for_whom else ''}, {pattern.made_on}.",
        "",
        *wording.write_growth(grown),
        "To cut:",
        *wording.write_cut_list(grown),
        "",
        *wording.write_findings((*grown.findings, *steps.find_lost_on_paper(grown)), units),
        *wording.write_files(folder, files),
    ]
    if is_kept:
        lines.append(keep_folder(folder, find_drawer(drawer_folder), is_known_by_content=True))
    click.echo("\n".join(lines))
