"""Options defined once and shared by commands."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click
from click.core import ParameterSource

from ..camera.reference import Kind
from ..garment.garment import Laid
from ..garment.kinds import KINDS
from ..paper.choices import HOME_PAPERS
from ..pieces.choices import EdgeIs, Hem, Machine, Waist
from ..practice import ELASTIC_WIDTH_MM, GARMENT_THICKNESS_MM, SHARE_UP_TO_MM
from ..units import Units
from .name_type import NAME
from .speaking import units_option
from .types import BAR, CORNER, EDGE_ALLOWANCE, LENGTH, PERCENT, PLACE, STROKE

if TYPE_CHECKING:
    from ..camera.profile import LensProfile
    from ..photo import Photo

F = TypeVar("F", bound=Callable[..., Any])

photo_argument = click.argument("photo", type=click.Path(path_type=Path))
replace_option = click.option("--replace", "may_replace", is_flag=True, help="Write over what is there.")


def is_typed(name: str) -> bool:
    """Tell whether the person typed this parameter of the running command, be it its default."""
    return click.get_current_context().get_parameter_source(name) is ParameterSource.COMMANDLINE


def paper_option(default: str | None, more: tuple[str, ...] = (), **words: Any) -> Callable[[F], F]:
    """Return the option that names the printer's paper, `more` papers besides those of home printers."""
    return click.option("--paper", type=click.Choice([*HOME_PAPERS, *more]), default=default, **words)


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
                "--reference-at",
                "reference_at_px",
                type=PLACE,
                help="A place on the card or sheet in the upright photo, in pixels, where it is not found by itself.",
            ),
            click.option(
                "--reference-corners",
                "reference_corners_px",
                type=STROKE,
                metavar="X,Y X,Y X,Y X,Y",
                help="About where its four corners are, in quotes, where pointing at it does not help.",
            ),
            click.option(
                "--no-reference",
                "no_references_px",
                type=PLACE,
                multiple=True,
                help="A place on something that was taken for a card or sheet and is none. May be repeated.",
            ),
            click.option(
                "--garment",
                "garment_at_px",
                type=STROKE,
                multiple=True,
                help="A place on the garment in the upright photo, in pixels, that was taken for floor; several in "
                "quotes draw a line. May be repeated.",
            ),
            click.option(
                "--floor-at",
                "floor_at_px",
                type=STROKE,
                multiple=True,
                help="A place on the floor that was taken for garment; like --garment.",
            ),
            click.option(
                "--floor",
                "floor_photo",
                type=click.Path(path_type=Path),
                help="A second photo, of the same floor without the garment: for rugs, and floors like the cloth.",
            ),
            click.option(
                "--pull",
                "pulls_px",
                type=STROKE,
                multiple=True,
                metavar="X,Y X,Y",
                help="Two places in quotes: the outline is drawn from the first to the second. May be repeated.",
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
            click.option("--name", "title", type=NAME, default=None, help="Name of the garment. Default: its kind."),
            click.option("--for", "for_whom", type=NAME, default="", metavar="WHO", help="For whom, or which size."),
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
                "--waist-flat",
                "waist_flat_mm",
                type=LENGTH,
                help="The garment's waist pulled out flat, side to side, when its elastic gathers it.",
            ),
            click.option("--band-height", "band_height_mm", type=LENGTH, help="Finished height of a folded waistband."),
            click.option("--cuff-height", "cuff_height_mm", type=LENGTH, help="Finished height of a ribbed cuff."),
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
                default=None,
                help="How the garment lies in the photo. Default: told from its outline.",
            ),
            click.option(
                "--kind",
                type=click.Choice(list(KINDS)),
                default=None,
                help="What kind of garment it is. Default: told from its outline.",
            ),
            click.option(
                "--side-seam/--no-side-seam",
                "side_seam",
                default=False,
                help="Keep front and back apart, with a seam at the side. Default: one piece.",
            ),
            click.option(
                "--share-up-to",
                "share_up_to_mm",
                type=LENGTH,
                default=f"{SHARE_UP_TO_MM.value:g}mm",
                show_default=True,
                help="Make seams of front and back equal when they differ by less.",
            ),
            click.option(
                "--edge-is",
                type=click.Choice([edge.value for edge in EdgeIs]),
                default=None,
                help="What the edge of a piece taken apart is: its seam line, or the line it was cut along.",
            ),
            click.option(
                "--corner",
                "corners_px",
                type=CORNER,
                multiple=True,
                help="Where a corner of a folded leg is in the upright photo, e.g. crotch=1204,880. May be repeated.",
            ),
            click.option("--whole", "is_whole", is_flag=True, help="Keep a whole outline that could be cut as half."),
            paper_option("a4", show_default=True, help="Paper of the home printer."),
            units_option(
                Units.MM.value, show_default=True, help="Units written on the pattern, and that you are told in."
            ),
        ]
    ):
        command = option(command)
    return command


FABRIC_NAMES = ("stretch_old", "stretch_new", "shrink_long", "shrink_wide", "hip_mm", "thigh_mm", "knee_mm", "hem_mm")
"""Names of the options that `fabric_options` adds."""


def fabric_options(command: F) -> F:
    """Add the options that say what the cloths do, and the body's girths."""
    girths = (("hip", "hip_mm"), ("thigh", "thigh_mm"), ("knee", "knee_mm"), ("ankle", "hem_mm"))
    for option in reversed(
        [
            click.option(
                "--stretch-old",
                type=PERCENT,
                help="How far 10 cm of the garment's cloth stretch across: to 15 cm is 50 (percent).",
            ),
            click.option("--stretch-new", type=PERCENT, help="The same of the new cloth, in percent."),
            click.option(
                "--shrink-long",
                type=PERCENT,
                default=0.0,
                help="How much the new cloth will shrink along the grain, in percent. Washing it first is better.",
            ),
            click.option(
                "--shrink-wide", type=PERCENT, default=0.0, help="How much it will shrink across, in percent."
            ),
            *(
                click.option(f"--{word}", name, type=LENGTH, help=f"The body's girth at the {word}.")
                for word, name in girths
            ),
            click.option(
                "--steps/--no-steps", "has_steps", default=True, help="Sewing steps at the end of pattern.pdf."
            ),
        ]
    ):
        command = option(command)
    return command
