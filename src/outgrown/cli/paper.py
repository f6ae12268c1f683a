"""`outgrown paper`: a kept pattern on other paper, for a projector, or for another program."""

from pathlib import Path

import click

from ..paper.choices import BIG_PAPERS, ORIENTATIONS, OVERLAP_MM, Form, Grid
from .drawer_words import drawer_option
from .options import paper_option, replace_option
from .speaking import speak_in, units_option
from .types import LENGTH, PRINTED_BAR

_WRITTEN = {
    Form.TILES: "Print it at 100 %, and measure squares and bars on its first page before you cut.",
    Form.SHEET: "Print it at 100 %, and measure squares and bars beside the pieces before you cut.",
    Form.PROJECTOR: "Show it at 100 %, and set the projector until the frame measures what it says.",
    Form.SVG: "One unit of it is one millimetre.",
    Form.DXF: "One unit of it is one millimetre; docs/paper.md says what lies on which layer.",
}


@click.command(short_help="Draw a pattern again, on other paper.")
@click.argument("kept", metavar="PATTERN")
@click.option(
    "--as",
    "form",
    type=click.Choice([form.value for form in Form]),
    default=Form.TILES.value,
    show_default=True,
    help="Pages for the home printer, one large sheet, a page for a projector, or a file for other programs.",
)
@click.option("--out", "path", type=click.Path(path_type=Path), help="File to write. Default: ./NAME-FORM.pdf")
@paper_option(None, BIG_PAPERS, help="For tiles as the pattern was made, else a4; for a sheet a0, a1 or a2.")
@click.option("--orientation", type=click.Choice(ORIENTATIONS), help="Of the pages. Default: what needs fewer.")
@click.option("--overlap", "overlap_mm", type=LENGTH, help=f"Strip that tiles share. Default: {OVERLAP_MM:g}mm.")
@click.option("--untrimmed", "is_untrimmed", is_flag=True, help="Tiles to lay over one another without cutting any.")
@click.option("--roll", "roll_mm", type=LENGTH, help="Sheet: width of a roll, e.g. 914mm or 36in, as long as needed.")
@click.option("--dark", "is_dark", is_flag=True, help="Projector: white lines on black.")
@click.option("--grid", type=click.Choice([grid.value for grid in Grid]), help="Projector: lines every 10 cm or 4 in.")
@click.option(
    "--bar-across",
    "bars_across_mm",
    type=PRINTED_BAR,
    multiple=True,
    help="What the bar across measures on your print, from 0 to 10 cm (or in inches to 4 in): the next print is made "
    "right. Given again for a print already corrected.",
)
@click.option("--bar-down", "bars_down_mm", type=PRINTED_BAR, multiple=True, help="The same of the upright bar.")
@units_option(help="Default: as the pattern was made.")
@drawer_option
@replace_option
def paper(
    kept: str,
    form: str,
    path: Path | None,
    paper: str | None,
    orientation: str | None,
    overlap_mm: float | None,
    is_untrimmed: bool,
    roll_mm: float | None,
    is_dark: bool,
    grid: str | None,
    bars_across_mm: tuple[float, ...],
    bars_down_mm: tuple[float, ...],
    units: str | None,
    may_replace: bool,
    drawer_folder: Path | None,
) -> None:
    """Draw PATTERN again: a pattern's folder, its pattern.json, or its name in the drawer."""
    from .. import steps
    from ..drawer.folder import check_file, write_file
    from ..drawer.opening import open_pattern
    from ..drawer.place import find_drawer
    from ..paper.correction import make_correction
    from ..paper.forms import Drawing
    from ..paper.words import choose_units
    from ..units import Units
    from .wording import write_findings

    drawing = Drawing(
        Form(form),
        paper=paper,
        overlap_mm=overlap_mm,
        orientation=orientation or "",
        is_untrimmed=is_untrimmed,
        roll_mm=roll_mm,
        is_dark=is_dark,
        grid=Grid(grid) if grid else None,
        correction=make_correction(bars_across_mm, bars_down_mm),
        units=Units(units) if units else None,
    )
    opened = open_pattern(kept, find_drawer(drawer_folder))
    speak_in(said := choose_units(opened.pattern, units))
    path = path or Path(f"{opened.name}-{form}.{drawing.form.suffix}")
    check_file(path, may_replace)
    write_file(path, steps.draw_paper(opened.pattern, drawing), may_replace)
    click.echo(f"Written: {path}\n{_WRITTEN[drawing.form]}")
    for line in write_findings(steps.find_lost_on_paper(opened.pattern), said):
        click.echo(line)
    if drawing.correction.options():
        click.echo(
            f"If a bar is still off, keep “{drawing.correction.options()}” and add --bar-across or --bar-down once "
            "more with the new length."
        )
