"""`outgrown pattern`: from a photo to a pattern to cut by."""

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..errors import GarmentError
from ..garment.garment import EdgeName, Laid
from ..pieces.choices import Choices, EdgeIs, Hem, Machine, Units, Waist
from .options import (
    FABRIC_NAMES,
    choice_options,
    choose_lens,
    fabric_options,
    photo_argument,
    replace_option,
    vision_options,
)

if TYPE_CHECKING:
    from ..garment.garment import Garment
    from ..garment.taking import Taken
    from ..steps import Traced

FILES = ("pattern.pdf", "pattern.svg", "pattern.json", "check.png")
CHECK_BACK = "check-back.png"


@click.command()
@photo_argument
@click.argument("back", required=False, type=click.Path(path_type=Path))
@click.option("--out", "folder", type=click.Path(path_type=Path), help="Folder for the results. Default: ./PHOTO-NAME/")
@choice_options
@fabric_options
@vision_options
@replace_option
def pattern(photo: Path, folder: Path | None, **options: Any) -> None:
    """Make a sewing pattern from PHOTO: a pair that fits, flat, beside a bank card or a sheet of paper.

    With a second photo, BACK, of the same pair folded with the backs out, front and back each get their own rise.
    """
    make_pattern(photo, folder or Path(photo.stem or "pattern"), **options)


def make_pattern(
    photo: Path,
    folder: Path,
    *,
    kinds: tuple[str, ...] = (),
    reference_at_px: tuple[float, float] | None = None,
    garment_at_px: tuple[list[tuple[float, float]], ...] = (),
    floor_at_px: tuple[list[tuple[float, float]], ...] = (),
    floor_photo: Path | None = None,
    thickness_mm: float,
    bar_mm: float | None = None,
    lens: str | None = None,
    paper: str,
    laid: str | None = None,
    kind: str | None = None,
    back: Path | None = None,
    allowances: tuple[tuple[EdgeName, float], ...],
    may_replace: bool,
    **chosen: Any,
) -> None:
    """Run the steps, write the results and say what was found."""
    from .. import steps
    from ..camera.reference import Kind
    from ..drawer.folder import check_target, write_folder
    from ..outline.hints import make_hints
    from ..photo import read_photo
    from ..pieces.fabric import Fabric
    from . import wording
    from .bar import progress_bar

    has_steps = chosen.pop("has_steps", True)
    cloth = {name: chosen.pop(name) for name in FABRIC_NAMES if name in chosen}
    fabric = Fabric(**cloth, waist_mm=chosen["waist_mm"])
    is_named = chosen.get("title") is not None
    choices = Choices(
        **{name: value for name, value in chosen.items() if value is not None}
        | {
            "machine": Machine(chosen["machine"]),
            "hem": Hem(chosen["hem"]),
            "waist": Waist(chosen["waist"]),
            "units": Units(chosen["units"]),
            "allowance_mm": dict(allowances),
            "date": date.today().isoformat(),
            "laid": laid or "",
            "kind": kind or "",
            "paper": paper,
            "edge_is": EdgeIs(chosen["edge_is"]) if chosen.get("edge_is") else None,
        }
    )
    check_target(folder, FILES + ((CHECK_BACK,) if back else ()), may_replace)
    with progress_bar() as progress:

        def trace(path: Path) -> steps.Traced:
            seen = read_photo(path)
            return steps.trace_outline(
                seen,
                kinds=[Kind(k) for k in kinds] or None,
                reference_at_px=reference_at_px if path == photo else None,
                hints=make_hints(garment_at_px, floor_at_px) if path == photo else None,
                floor=read_photo(floor_photo) if floor_photo and path == photo else None,
                thickness_mm=thickness_mm,
                bar_mm=bar_mm,
                profile=choose_lens(seen, lens),
                progress=progress,
            )

        traced = trace(photo)
        said = Laid(laid) if laid else None
        if back is None:
            taken = steps.take_traced(traced, kind or "", said)
            garment, behind = steps.read_traced_garment(traced, taken), None
        else:
            taken = steps.take_two(kind or "", said)
            garment = _read_named(photo, traced, taken)
            second = trace(back)
            behind = second, _read_named(back, second, taken)
        if not is_named:
            choices = replace(choices, title="garment" if taken.kind == "other" else taken.kind)
        progress("drawing the pattern", 0.9)
        drafted = steps.finish(steps.draft(traced, garment, choices, behind), fabric, has_steps)
        files = steps.draw_outputs(traced, drafted, paper, behind[0] if behind else None)
    write_folder(folder, files, may_replace)
    lines = [
        *wording.write_found(traced),
        *(wording.write_found(behind[0]) if behind else ()),
        taken.sentence(),
        "",
        "Measured, lying flat:",
        *wording.write_measurements(drafted.measurements),
        "",
        *wording.write_walked(drafted),
        *wording.write_fabric(drafted),
        "To cut:",
        *wording.write_cut_list(drafted.cut_list),
        "",
        *wording.write_findings(drafted.findings),
        *wording.write_files(folder, files),
    ]
    click.echo("\n".join(lines))


def _read_named(photo: Path, traced: "Traced", taken: "Taken") -> "Garment":
    """Return one of two photos read as a garment; an error names the photo."""
    from .. import steps

    try:
        return steps.read_traced_garment(traced, taken)
    except GarmentError as error:
        raise GarmentError(f"In {photo.name}: {error.problem[0].lower()}{error.problem[1:]}", error.advice) from error
