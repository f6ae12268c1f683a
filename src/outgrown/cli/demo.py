"""`outgrown demo`: the main job on the photo that comes with the program."""

from pathlib import Path

import click

from ..sample import find_sample_photo
from .options import replace_option


@click.command(short_help="Make a pattern from the photo that comes along.")
@click.option(
    "--out",
    "folder",
    type=click.Path(path_type=Path),
    default=Path("outgrown-demo"),
    show_default=True,
    help="Folder for the results.",
)
@replace_option
def demo(folder: Path, may_replace: bool) -> None:
    """Make a pattern from the photo that comes with the program, and say where to look."""
    from .pattern import make_pattern

    photo = find_sample_photo()
    click.echo(f"The photo: {photo}")
    make_pattern(
        photo,
        folder,
        thickness_mm=2.0,
        lens="none",
        paper="a4",
        laid="folded",
        allowances=(),
        may_replace=may_replace,
        title="Fish leggings",
        for_whom="Mika, 110 cm",
        waist_mm=520.0,
        elastic_width_mm=20.0,
        machine="overlocker",
        hem="plain",
        waist="casing",
        units="mm",
    )
    click.echo("Now open check.png, then print pattern.pdf at 100 %.")
