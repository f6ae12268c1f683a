"""Making: what the options typed make of one photo, or of two of the same pair. Nothing is written or printed."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import GarmentError
from ..garment.garment import EdgeName, Laid
from ..pieces.choices import Choices, EdgeIs, Hem, Machine, Waist
from ..progress import Progress
from ..units import Units
from .options import FABRIC_NAMES
from .photos import check_different
from .tracing import VISION_NAMES, trace_photo

if TYPE_CHECKING:
    from ..garment.garment import Garment
    from ..garment.taking import Taken
    from ..steps import Traced

FILES = ("pattern.pdf", "pattern.svg", "pattern.json", "check.png")
CHECK_BACK = "check-back.png"


@dataclass(frozen=True)
class Made:
    """What one photo gave.

    Attributes:
        files: name -> content, to be written into one folder.
        told: lines that say what was found, without where it was written.
        garment: kind it was taken for.
        error_mm: expected along 95 % of the outline [mm].
        warnings: sentences the person should read before cutting.
    """

    files: Mapping[str, bytes]
    told: tuple[str, ...]
    garment: str
    error_mm: float
    warnings: tuple[str, ...]


def names_of_files(back: Path | None) -> tuple[str, ...]:
    """Return the files that a pattern's folder holds."""
    return (*FILES, CHECK_BACK) if back else FILES


def make_files(
    photo: Path,
    progress: Progress,
    *,
    paper: str,
    laid: str | None = None,
    kind: str | None = None,
    back: Path | None = None,
    allowances: tuple[tuple[EdgeName, float], ...],
    corners_px: tuple[tuple[str, tuple[float, float]], ...] = (),
    made_from: Mapping[str, str] | None = None,
    **chosen: Any,
) -> Made:
    """Run the steps on `photo` and return everything that can be written of it; `progress` is told how far it is.

    The options are those of `outgrown pattern`, under their names there. `made_from` is kept in the pattern, to tell
    later what it was made from (see `made_from.py`).
    """
    from .. import steps
    from ..pieces.fabric import Fabric
    from . import wording

    vision = {name: chosen.pop(name) for name in VISION_NAMES if name in chosen}
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

    check_different(photo, back)
    traced = trace_photo(photo, vision, progress)
    said = Laid(laid) if laid else None
    if back is None:
        taken = steps.take_traced(traced, kind or "", said)
        garment, behind = steps.read_traced_garment(traced, taken, dict(corners_px)), None
    else:
        taken = steps.take_two(kind or "", said)
        garment = _read_named(photo, traced, taken, dict(corners_px))
        second = trace_photo(back, vision, progress, is_first=False)
        behind = second, _read_named(back, second, taken)
    if not is_named:
        choices = replace(choices, title="garment" if taken.kind == "other" else taken.kind)
    progress("drawing the pattern", 0.9)
    drafted = steps.finish(steps.draft(traced, garment, choices, behind), fabric, has_steps)
    if made_from:
        drafted = replace(drafted, provenance={**drafted.provenance, "made_from": dict(made_from)})
    files = steps.draw_outputs(traced, drafted, paper, behind[0] if behind else None)
    units = choices.units
    told = [
        *wording.write_found(traced, units),
        *(wording.write_found(behind[0], units) if behind else ()),
        taken.sentence(),
        "",
        "Measured, lying flat:",
        *wording.write_measurements(drafted.measurements, units),
        "",
        *wording.write_walked(drafted),
        *wording.write_fabric(drafted),
        "To cut:",
        *wording.write_cut_list(drafted),
        "",
        *(findings := wording.write_findings((*drafted.findings, *steps.find_lost_on_paper(drafted)), units)),
    ]
    warnings = tuple(line for line in findings if line.startswith("!"))
    return Made(dict(files), tuple(told), taken.kind, drafted.expected_error_mm[1], warnings)


def _read_named(
    photo: Path, traced: "Traced", taken: "Taken", corners_px: Mapping[str, tuple[float, float]] | None = None
) -> "Garment":
    """Return one of two photos read as a garment; an error names the photo."""
    from .. import steps

    try:
        return steps.read_traced_garment(traced, taken, corners_px)
    except GarmentError as error:
        raise GarmentError(f"In “{photo.name}”: {error.problem[0].lower()}{error.problem[1:]}", error.advice) from error
