"""Choices: everything the person decides about a pattern, with the trade's defaults."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from enum import StrEnum
from typing import Any

from ..errors import PieceError
from ..garment.garment import EdgeName
from ..practice import (
    CASING_ROOM_MM,
    CASING_SEWN_MM,
    ELASTIC_WIDTH_MM,
    MOCK_CUFF_HEM_MM,
    MOCK_CUFF_TURNED_MM,
    OVERLOCKED_SEAM_MM,
    PLAIN_HEM_MM,
    RAW_EDGE_MM,
    SEWING_MACHINE_SEAM_MM,
    SHARE_UP_TO_MM,
)
from ..standards import Sourced
from ..units import Units, write_cm, write_inch
from .piece import Finish

_MOST_MM = 3000.0
_MOST_ALLOWED_MM = 150.0
"""No allowance is wider, and no casing is turned over a wider elastic."""


class Machine(StrEnum):
    """What the seams are sewn with."""

    OVERLOCKER = "overlocker"
    SEWING_MACHINE = "sewing-machine"


class Hem(StrEnum):
    """How the hem is finished."""

    PLAIN = "plain"
    MOCK_CUFF = "mock-cuff"
    RIBBED_CUFF = "ribbed-cuff"
    RAW = "raw"
    FINISHED = "finished"


class Waist(StrEnum):
    """How the waist is finished."""

    CASING = "casing"
    ELASTIC_TURNED = "elastic-turned"
    FOLDED_BAND = "folded-band"


class EdgeIs(StrEnum):
    """What the edge of a piece taken apart is."""

    SEAM = "seam"
    CUT = "cut"


@dataclass(frozen=True)
class Choices:
    """What the person decided. Everything has a sensible default.

    Attributes:
        title: name of the garment.
        for_whom: for whom, or which size.
        date: ISO date written on the pieces.
        waist_mm: body waist [mm], or None when not given.
        waist_flat_mm: the garment's waist pulled out flat, side to side (half the girth), when it lay
            gathered [mm].
        elastic_width_mm: width of the elastic [mm].
        machine: decides the seam allowance.
        hem: how the hem is finished.
        waist: how the waist is finished.
        cuff_height_mm: finished height of a ribbed cuff [mm]; None = the garment's own, else the usual.
        band_height_mm: finished height of a folded waistband [mm]; None = the garment's own, else the usual.
        allowance_mm: allowances that override the defaults, by edge [mm].
        units: what lengths are written in.
        kind: kind of garment, see `garment/kinds`; empty when it was told from the outline.
        laid: how the person says it lay; empty when it was told from the outline.
        side_seam: front and back are kept apart, with a seam at the side.
        edge_is: what the edge of a piece taken apart is; None = not said, taken for the seam line.
        is_whole: keep the whole outline of a garment that could be cut as half on a fold.
        share_up_to_mm: joining seams that differ by less are made equal, the difference shared [mm].
        paper: paper of the home printer.
    """

    title: str = "leggings"
    for_whom: str = ""
    date: str = ""
    waist_mm: float | None = None
    waist_flat_mm: float | None = None
    elastic_width_mm: float = ELASTIC_WIDTH_MM.value
    machine: Machine = Machine.OVERLOCKER
    hem: Hem = Hem.PLAIN
    waist: Waist = Waist.CASING
    cuff_height_mm: float | None = None
    band_height_mm: float | None = None
    allowance_mm: Mapping[EdgeName, float] = field(default_factory=dict)
    units: Units = Units.MM
    kind: str = ""
    laid: str = ""
    side_seam: bool = False
    edge_is: EdgeIs | None = None
    is_whole: bool = False
    share_up_to_mm: float = SHARE_UP_TO_MM.value
    paper: str = "a4"

    def __post_init__(self) -> None:
        """Refuse lengths no garment has."""
        for name in ("waist_mm", "waist_flat_mm", "elastic_width_mm", "cuff_height_mm", "band_height_mm"):
            value = getattr(self, name)
            most = _MOST_ALLOWED_MM if name == "elastic_width_mm" else _MOST_MM
            if value is not None and not 0 < value < most:
                raise PieceError(
                    f"The {name.removesuffix('_mm').replace('_', ' ')} of {value:g} mm cannot be.",
                    "Give it with its unit, for example 52cm or 3/4in.",
                )
        if not 0 < self.share_up_to_mm <= 30:
            raise PieceError(
                f"Seams that differ by {self.share_up_to_mm:g} mm do not belong together.",
                "Share differences of up to 30 mm at most; 6 mm is usual.",
            )
        for edge, value in self.allowance_mm.items():
            if not 0 <= value <= _MOST_ALLOWED_MM:
                raise PieceError(
                    f"An allowance of {value:g} mm at the {edge} cannot be.",
                    f"Give one between 0 and {_MOST_ALLOWED_MM:g} mm.",
                )

    def as_json(self) -> dict[str, Any]:
        """Return the choices as plain JSON values."""
        plain = asdict(self)
        plain["allowance_mm"] = {str(edge): float(value) for edge, value in self.allowance_mm.items()}
        return {key: str(value) if isinstance(value, StrEnum) else value for key, value in plain.items()}

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> "Choices":
        """Return choices from `as_json` values; names not known here are left out."""
        kinds = {"machine": Machine, "hem": Hem, "waist": Waist, "units": Units, "edge_is": EdgeIs}
        known = {key: value for key, value in values.items() if key in cls.__dataclass_fields__}
        for key, kind in kinds.items():
            if known.get(key) is not None:
                known[key] = kind(known[key])
        known["allowance_mm"] = {EdgeName(k): float(v) for k, v in known.get("allowance_mm", {}).items()}
        return cls(**known)

    def length(self, length_mm: float) -> str:
        """Return a length as it is written on the pieces: `6 mm`, `54.3 cm` or `2 1/2 in`."""
        if self.units is Units.INCH:
            return write_inch(length_mm)
        return f"{length_mm:.0f} mm" if length_mm < 100 else write_cm(length_mm)


EDGES_WITH_ALLOWANCE = tuple(name for name in EdgeName if name not in (EdgeName.CENTRE, EdgeName.END))
"""Edges that a person may give an allowance of her own."""


@dataclass(frozen=True)
class Allowance:
    """How much cloth is left beyond one edge, in what form, and who says so.

    Attributes:
        edge: which edge.
        amount_mm: beyond the seam or fold line [mm].
        finish: its form.
        source: where the number comes from.
    """

    edge: EdgeName
    amount_mm: float
    finish: Finish
    source: str


YOURS = "your choice"


def choose_allowances(choices: Choices, *, is_half: bool = False) -> dict[EdgeName, Allowance]:
    """Return the allowance of each edge: the person's where given, else the trade's default.

    Args:
        choices: what the person decided.
        is_half: of half a garment cut on a fold in its middle; else of a leg.
    """
    seam = OVERLOCKED_SEAM_MM if choices.machine is Machine.OVERLOCKER else SEWING_MACHINE_SEAM_MM
    room = Sourced(choices.elastic_width_mm + CASING_ROOM_MM.value, "mm", CASING_ROOM_MM.source)
    turned = Sourced(choices.elastic_width_mm, "mm", "the elastic's width, turned once; common practice, no source")
    at_waist = {
        Waist.CASING: (room, Finish.CASING),
        Waist.ELASTIC_TURNED: (turned, Finish.CASING),
        Waist.FOLDED_BAND: (seam, Finish.SEAM),
    }[choices.waist]
    at_hem = {
        Hem.PLAIN: (PLAIN_HEM_MM, Finish.HEM),
        Hem.MOCK_CUFF: (MOCK_CUFF_HEM_MM, Finish.MOCK_CUFF),
        Hem.RIBBED_CUFF: (seam, Finish.SEAM),
        Hem.RAW: (RAW_EDGE_MM, Finish.RAW),
        Hem.FINISHED: (RAW_EDGE_MM, Finish.FINISHED),
    }[choices.hem]
    fold = Sourced(0.0, "mm", "a fold has no allowance")
    defaults = {
        EdgeName.OUTLINE: (seam, Finish.SEAM),
        EdgeName.SIDE: (seam, Finish.SEAM) if choices.side_seam else (fold, Finish.FOLD),
        EdgeName.HEM: at_hem,
        EdgeName.INSEAM: (seam, Finish.SEAM),
        EdgeName.RISE: (seam, Finish.SEAM),
        EdgeName.WAIST: at_waist,
    }
    if is_half:
        seams = (EdgeName.SIDE, EdgeName.UNDERARM, EdgeName.SHOULDER, EdgeName.NECK)
        defaults |= dict.fromkeys(seams, (seam, Finish.SEAM)) | {EdgeName.SLEEVE_HEM: at_hem}
        defaults[EdgeName.CENTRE] = (fold, Finish.FOLD)
    chosen = {}
    for edge, (default, finish) in defaults.items():
        own = choices.allowance_mm.get(edge)
        if own is not None and finish in (Finish.FOLD, Finish.FINISHED) and own > 0:
            raise PieceError(
                f"The {edge} is a {'fold' if finish is Finish.FOLD else 'finished edge'} and takes no allowance.",
                f"Leave the allowance at the {edge} out, or choose another finish.",
            )
        if own is not None and finish is Finish.MOCK_CUFF and own < 2.0 * MOCK_CUFF_TURNED_MM.value:
            raise PieceError(
                f"A mock cuff cannot be turned from {own:g} mm.",
                f"Give the hem at least {2.0 * MOCK_CUFF_TURNED_MM.value:g} mm, or choose another hem.",
            )
        if own is not None and finish is Finish.HEM and own == 0.0:
            raise PieceError(f"The {edge} cannot be turned from nothing.", "Give it some width, or choose a raw hem.")
        if own is not None and finish is Finish.CASING and own < _least_casing_mm(choices):
            raise PieceError(
                f"{choices.length(own)} turned down at the {edge} have no room for elastic of "
                f"{choices.length(choices.elastic_width_mm)}.",
                f"Give the {edge} at least {choices.length(_least_casing_mm(choices))}, or take a narrower elastic.",
            )
        amount, source = (default.value, default.source) if own is None else (float(own), YOURS)
        chosen[edge] = Allowance(edge, amount, finish, source)
    return chosen


def _least_casing_mm(choices: Choices) -> float:
    """Return the least that is turned down over the elastic; a casing is sewn beside its raw edge [mm]."""
    return choices.elastic_width_mm + (CASING_SEWN_MM.value if choices.waist is Waist.CASING else 0.0)
