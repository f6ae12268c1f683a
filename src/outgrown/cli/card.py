"""`outgrown card`: targets to print and lay round the garment, and the lens sheet."""

from pathlib import Path

import click

from .options import replace_option


@click.command(short_help="Make targets to print: better than a bank card.")
@click.option(
    "--out",
    "path",
    type=click.Path(path_type=Path),
    default=Path("outgrown-card.pdf"),
    show_default=True,
    help="The PDF to write.",
)
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="Paper of the home printer.",
)
@click.option(
    "--lens-sheet", "lens_sheet_only", is_flag=True, help="Only the lens sheet, to print or to show on a screen."
)
@replace_option
def card(path: Path, paper: str, lens_sheet_only: bool, may_replace: bool) -> None:
    """Make targets to print, cut out and lay round the garment: they measure better than a bank card.

    The last page is the lens sheet, from which `outgrown lens` learns your phone's lens.
    """
    from .. import steps
    from ..drawer.folder import write_file

    write_file(path, steps.draw_target_sheet(paper, lens_sheet_only), may_replace)
    click.echo(f"Written: {path}")
    if not lens_sheet_only:
        click.echo("Print it at 100 %, measure the black bar, and say --bar with its length when you measure a photo.")
