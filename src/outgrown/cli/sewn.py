"""`outgrown sewn`: what was sewn, compared with its pattern."""

from pathlib import Path
from typing import Any

import click

from ..garment.kinds import KINDS
from .drawer_words import drawer_option
from .options import photo_argument, replace_option, vision_options
from .speaking import speak_in
from .tracing import trace_photo
from .types import LENGTH

NAME = "difference.pdf"


@click.command(short_help="Compare what was sewn with its pattern.")
@photo_argument
@click.argument("kept", metavar="PATTERN")
@click.option("--back", type=click.Path(path_type=Path), help="A second photo, of the same pair with the backs out.")
@click.option("--backs-out", is_flag=True, help="PHOTO shows the backs. Default: the fronts.")
@click.option("--out", "folder", type=click.Path(path_type=Path), help="Folder for the results. Default: ./PHOTO-NAME/")
@click.option("--waist-flat", "waist_flat_mm", type=LENGTH, help="Its waist pulled out flat, where elastic gathers it.")
@click.option("--washed", "is_washed", is_flag=True, help="It has been washed: the pattern's shrinkage is behind it.")
@click.option("--kind", type=click.Choice(list(KINDS)), default=None, help="Kind of garment. Default: as the pattern.")
@vision_options
@drawer_option
@replace_option
def sewn(
    photo: Path,
    kept: str,
    back: Path | None,
    backs_out: bool,
    folder: Path | None,
    waist_flat_mm: float | None,
    is_washed: bool,
    kind: str | None,
    drawer_folder: Path | None,
    may_replace: bool,
    **vision: Any,
) -> None:
    """Compare what was sewn, in PHOTO, with its PATTERN: where it differs and by how much.

    PATTERN is a pattern's folder, its pattern.json, or its name in the drawer.

    Photograph it like the first pair: folded lengthwise, flat, beside a bank card or a sheet of paper.
    """
    from .. import steps
    from ..drawer.folder import check_target, write_folder
    from ..drawer.opening import read_kept_pattern
    from ..drawer.place import find_drawer
    from ..errors import PieceError
    from ..paper.words import choose_units
    from . import wording
    from .bar import progress_bar
    from .photos import check_different

    if back is not None and backs_out:
        raise PieceError("Two photos are the fronts and the backs.", "Leave --backs-out away, or give one photo.")
    pattern = read_kept_pattern(kept, find_drawer(drawer_folder))
    speak_in(units := choose_units(pattern))
    kind = steps.choose_sewn_kind(pattern, kind or "")
    check_different(photo, back)
    folder = folder or Path(f"{photo.stem or 'photo'}-sewn")
    photos = [photo] if back is None else [photo, back]
    check_target(folder, (*steps.SEWN_FILES[: len(photos)], NAME), may_replace)
    parts = ("back", "") if backs_out else ("front", "back")
    checks = []
    with progress_bar() as progress:
        for path, part in zip(photos, parts, strict=False):
            traced = trace_photo(path, vision, progress, is_first=path == photo)
            check = steps.check_sewn_garment(
                pattern, traced, part=part, kind=kind, waist_flat_mm=waist_flat_mm, is_washed=is_washed
            )
            checks.append((traced, check))
        if back is not None:
            steps.check_two_photos(*(traced.photo for traced, _ in checks))
        files = steps.draw_sewn_files(checks, str(pattern.choices.get("paper", "a4")), units)
    write_folder(folder, files, may_replace)
    lines = []
    for traced, check in checks:
        lines += [*wording.write_found(traced, units), "", *wording.write_difference(check.difference, units), ""]
    findings = [finding for traced, check in checks for finding in (*traced.findings, *check.findings)]
    lines += [*wording.write_findings(findings, units), *wording.write_files(folder, files)]
    click.echo("\n".join(lines))
