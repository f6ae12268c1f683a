"""`outgrown pattern`: from a photo to a pattern to cut by, or from many to one each."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from ..drawer.folder import check_target, write_folder
from ..drawer.place import Drawer, find_drawer
from ..pieces.choices import Hem, Waist
from .drawer_words import drawer_option, keep_folder, keep_option
from .made_from import describe_origin
from .making import make_files, names_of_files
from .options import choice_options, fabric_options, is_typed, replace_option, vision_options
from .photos import check_there, find_photos


@click.command(short_help="Make a sewing pattern from photos.")
@click.argument("photos", nargs=-1, required=True, metavar="PHOTO...")
@click.option(
    "--back",
    type=click.Path(path_type=Path),
    help="A second photo of the same pair, folded with the backs out: front and back get their own rise.",
)
@click.option(
    "--out",
    "folder",
    type=click.Path(path_type=Path),
    help="Folder for the results; with several photos it holds a folder for each. Default: ./PHOTO-NAME/",
)
@keep_option
@click.option(
    "--jobs",
    type=click.IntRange(min=1),
    help="With several photos: how many at once. Default: one a core, as memory allows.",
)
@choice_options
@fabric_options
@vision_options
@drawer_option
@replace_option
def pattern(
    photos: tuple[str, ...],
    folder: Path | None,
    is_kept: bool,
    jobs: int | None,
    drawer_folder: Path | None,
    may_replace: bool,
    **options: Any,
) -> None:
    """Make a sewing pattern from PHOTO: a pair that fits, flat, beside a bank card or a sheet of paper.

    Several PHOTOs are of several garments and make a pattern each; one that fails stops no other, and photos whose
    pattern is there already are passed over.
    """
    _check_companions(options)
    found = find_photos(photos)
    if not is_kept and is_typed("drawer_folder"):
        raise click.UsageError("--drawer is for --keep, which puts the pattern there.", click.get_current_context())
    if jobs is not None and len(found) == 1:
        raise click.UsageError("--jobs is for several photos; one is made by itself.", click.get_current_context())
    keep_in = find_drawer(drawer_folder) if is_kept else None
    if len(found) == 1:
        check_there(found[0])
        photo = found[0]
        make_pattern(
            photo, folder or Path(photo.stem or "pattern"), may_replace=may_replace, keep_in=keep_in, **options
        )
        return
    from .wardrobe import make_wardrobe

    make_wardrobe(found, folder, options, jobs=jobs, may_replace=may_replace, keep_in=keep_in)


def _check_companions(options: Mapping[str, Any]) -> None:
    """Refuse the height of a band that is not wished for: the person would look for it in vain."""
    for option, height, choice, finish, wanted in (
        ("--cuff-height", "cuff_height_mm", "--hem", "hem", Hem.RIBBED_CUFF),
        ("--band-height", "band_height_mm", "--waist-finish", "waist", Waist.FOLDED_BAND),
    ):
        if options[height] is not None and options[finish] != wanted:
            raise click.UsageError(
                f"{option} does not go with {choice} {options[finish]}. It goes with {choice} {wanted}.",
                click.get_current_context(),
            )


def make_pattern(
    photo: Path, folder: Path, *, may_replace: bool = False, keep_in: Drawer | None = None, **options: Any
) -> None:
    """Make a pattern from one photo, write the results and say what was found.

    Args:
        photo: of the garment.
        folder: for the results.
        may_replace: write over what is there.
        keep_in: put it into this drawer too, or None.
        options: of `make_files`.
    """
    from . import wording
    from .bar import progress_bar

    check_target(folder, names_of_files(options.get("back")), may_replace)
    with progress_bar() as progress:
        made = make_files(photo, progress, made_from=describe_origin(photo, options), **options)
    write_folder(folder, made.files, may_replace)
    click.echo("\n".join([*made.told, *wording.write_files(folder, made.files)]))
    if keep_in is not None:
        click.echo(keep_folder(folder, keep_in, is_known_by_content=True))
