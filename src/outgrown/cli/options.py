"""Options defined once and shared by commands."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from ..camera.reference import Kind
from ..garment.garment import Laid
from ..pieces.choices import Hem, Machine, Units, Waist
from ..practice import ELASTIC_WIDTH_MM, GARMENT_THICKNESS_MM
from .types import BAR, EDGE_ALLOWANCE, LENGTH

if TYPE_CHECKING:
    from ..camera.profile import LensProfile
    from ..photo import Photo

F = TypeVar("F", bound=Callable[..., Any])

photo_argument = click.argument("photo", type=click.Path(path_type=Path))
replace_option = click.option("--replace", "may_replace", is_flag=True, help="Write over what is there.")


def choose_lens(photo: "Photo", lens: str | None) -> "LensProfile | None":
    """Return the lens profile that `--lens` asks for: a file's, none, or the one kept for the photo's lens."""
    from .. import steps

    if lens is not None and lens.strip().lower() == "none":
        return None
    return steps.choose_profile(photo, None if lens is None else Path(lens))


def vision_options(command: F) -> F:
    """Add the options of the measuring part."""
    for option in reversed(
        [
            click.option(
                "--reference",
                "kinds",
                multiple=True,
                type=click.Choice([kind.value for kind in Kind]),
                help="Look only for this thing of known size; may be repeated. Default: all of them.",
            ),
            click.option(
                "--thickness",
                "thickness_mm",
                type=LENGTH,
                default=f"{GARMENT_THICKNESS_MM.value:g}mm",
                show_default=True,
                help="Thickness of the garment as it lies.",
            ),
            click.option(
                "--lens",
                "lens",
                metavar="FILE|none",
                help="Lens profile of the phone; none uses no profile. Default: the one “outgrown lens” kept for it.",
            ),
            click.option(
                "--bar",
                "bar_mm",
                type=BAR,
                help="Length of the 150 mm bar on your printed targets as you measured it, e.g. 148.6mm.",
            ),
        ]
    ):
        command = option(command)
    return command


def choice_options(command: F) -> F:
    """Add the options that decide the pattern."""
    for option in reversed(
        [
            click.option("--name", "title", default="leggings", show_default=True, help="Name of the garment."),
            click.option("--for", "for_whom", default="", metavar="WHO", help="For whom, or which size."),
            click.option(
                "--waist", "waist_mm", type=LENGTH, help="Body waist, e.g. 52cm: gives elastic and waistband."
            ),
            click.option(
                "--elastic",
                "elastic_width_mm",
                type=LENGTH,
                default=f"{ELASTIC_WIDTH_MM.value:g}mm",
                show_default=True,
                help="Width of the elastic.",
            ),
            click.option(
                "--machine",
                type=click.Choice([machine.value for machine in Machine]),
                default=Machine.OVERLOCKER.value,
                show_default=True,
                help="What the seams are sewn with; decides their allowance.",
            ),
            click.option(
                "--hem",
                type=click.Choice([hem.value for hem in Hem]),
                default=Hem.PLAIN.value,
                show_default=True,
                help="How the hem is finished.",
            ),
            click.option(
                "--waist-finish",
                "waist",
                type=click.Choice([waist.value for waist in Waist]),
                default=Waist.CASING.value,
                show_default=True,
                help="How the waist is finished.",
            ),
            click.option(
                "--allowance",
                "allowances",
                type=EDGE_ALLOWANCE,
                multiple=True,
                help="Allowance of one edge, e.g. inseam=6mm or hem=1in; may be repeated.",
            ),
            click.option(
                "--laid",
                type=click.Choice([laid.value for laid in Laid]),
                default=Laid.FOLDED.value,
                show_default=True,
                help="How the garment lies in the photo.",
            ),
            click.option(
                "--paper",
                type=click.Choice(["a4", "letter"]),
                default="a4",
                show_default=True,
                help="Paper of the home printer.",
            ),
            click.option(
                "--units",
                type=click.Choice([unit.value for unit in Units]),
                default=Units.MM.value,
                show_default=True,
                help="Units written on the pattern.",
            ),
        ]
    ):
        command = option(command)
    return command
