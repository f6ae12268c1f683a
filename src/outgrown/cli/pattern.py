"""`outgrown pattern`: from a photo to a pattern to cut by."""

from datetime import date
from pathlib import Path
from typing import Any

import click

from ..garment.garment import EdgeName, Laid
from ..pieces.choices import Choices, Hem, Machine, Units, Waist
from .options import choice_options, choose_lens, photo_argument, replace_option, vision_options

FILES = ("pattern.pdf", "pattern.svg", "pattern.json", "check.png")


@click.command()
@photo_argument
@click.option("--out", "folder", type=click.Path(path_type=Path), help="Folder for the results. Default: ./PHOTO-NAME/")
@choice_options
@vision_options
@replace_option
def pattern(photo: Path, folder: Path | None, **options: Any) -> None:
    """Make a sewing pattern from PHOTO: a pair that fits, flat, beside a bank card or a sheet of paper."""
    make_pattern(photo, folder or Path(photo.stem or "pattern"), **options)


def make_pattern(
    photo: Path,
    folder: Path,
    *,
    kinds: tuple[str, ...] = (),
    thickness_mm: float,
    bar_mm: float | None = None,
    lens: str | None = None,
    paper: str,
    laid: str,
    allowances: tuple[tuple[EdgeName, float], ...],
    may_replace: bool,
    **chosen: Any,
) -> None:
    """Run the steps, write the results and say what was found."""
    from .. import steps
    from ..camera.reference import Kind
    from ..drawer.folder import check_target, write_folder
    from ..photo import read_photo
    from . import wording
    from .bar import progress_bar

    choices = Choices(
        **chosen
        | {
            "machine": Machine(chosen["machine"]),
            "hem": Hem(chosen["hem"]),
            "waist": Waist(chosen["waist"]),
            "units": Units(chosen["units"]),
            "allowance_mm": dict(allowances),
            "date": date.today().isoformat(),
        }
    )
    check_target(folder, FILES, may_replace)
    with progress_bar() as progress:
        seen = read_photo(photo)
        traced = steps.trace_outline(
            seen,
            kinds=[Kind(k) for k in kinds] or None,
            thickness_mm=thickness_mm,
            bar_mm=bar_mm,
            profile=choose_lens(seen, lens),
            progress=progress,
        )
        progress("drawing the pattern", 0.9)
        garment = steps.read_traced_garment(traced, laid=Laid(laid))
        drafted = steps.draft(traced, garment, choices)
        files = steps.draw_outputs(traced, drafted, paper)
    write_folder(folder, files, may_replace)
    lines = [
        *wording.write_found(traced),
        "",
        "Measured, lying flat:",
        *wording.write_measurements(drafted.measurements),
        "",
        "To cut:",
        *wording.write_cut_list(drafted.cut_list),
        "",
        *wording.write_findings(drafted.findings),
        *wording.write_files(folder, files),
    ]
    click.echo("\n".join(lines))
