"""Click types: what a person types becomes millimetres and names at the door."""

from typing import Any

import click

from ..camera.targets import BAR_MM
from ..garment.garment import EdgeName
from ..units import read_length_mm


class Length(click.ParamType):  # type: ignore[type-arg]
    """A length with its unit; hands over millimetres."""

    name = "length"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return millimetres."""
        if isinstance(value, float):
            return value
        try:
            return read_length_mm(str(value))
        except ValueError as error:
            self.fail(str(error), param, ctx)


class BarLength(Length):
    """The length of the targets' bar; hands over millimetres, and refuses what no printer makes of it."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return millimetres."""
        length = super().convert(value, param, ctx)
        if not 0.85 * BAR_MM <= length <= 1.15 * BAR_MM:
            self.fail(
                f"the bar is {BAR_MM:.0f} mm long and cannot have become {length:.1f} mm; measure it from end to end",
                param,
                ctx,
            )
        return length


class EdgeAllowance(click.ParamType):  # type: ignore[type-arg]
    """`edge=length`, e.g. `inseam=6mm`; hands over the edge and millimetres."""

    name = "edge=length"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[EdgeName, float]:
        """Return (edge, mm)."""
        if isinstance(value, tuple):
            return value
        edge, found, length = str(value).partition("=")
        names = [name for name in EdgeName if name is not EdgeName.OUTLINE]
        if not found or edge.strip().lower() not in names:
            self.fail(f"“{value}” is not an allowance; write it like inseam=6mm ({', '.join(names)})", param, ctx)
        try:
            return EdgeName(edge.strip().lower()), read_length_mm(length)
        except ValueError as error:
            self.fail(str(error), param, ctx)


LENGTH = Length()
BAR = BarLength()
EDGE_ALLOWANCE = EdgeAllowance()
