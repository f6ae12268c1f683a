"""Click types: what a person types becomes millimetres and names at the door."""

from typing import Any

import click

from ..camera.targets import BAR_MM, PRINTED_BARS_MM
from ..garment.garment import EdgeName
from ..garment.half_leg import CornerName
from ..paper.choices import read_printed_bar_mm
from ..pieces.choices import EDGES_WITH_ALLOWANCE
from ..units import read_age_months, read_length_mm


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
        if not PRINTED_BARS_MM[0] <= length <= PRINTED_BARS_MM[1]:
            self.fail(
                f"the bar is {BAR_MM:.0f} mm long and cannot have become {length:.1f} mm; measure it from end to end",
                param,
                ctx,
            )
        return length


class PrintedBar(Length):
    """A printed scale bar from 0 to 10 cm, or typed in inches from 0 to 4 in; hands over what 10 cm became [mm]."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return millimetres."""
        if isinstance(value, float):
            return value
        try:
            return read_printed_bar_mm(str(value))
        except ValueError as error:
            self.fail(str(error), param, ctx)


class EdgeAllowance(click.ParamType):  # type: ignore[type-arg]
    """`edge=length`, e.g. `inseam=6mm`; hands over the edge and millimetres."""

    name = "edge=length"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[EdgeName, float]:
        """Return (edge, mm)."""
        if isinstance(value, tuple):
            return value
        edge, found, length = str(value).partition("=")
        edge = edge.strip().lower().replace("-", " ")
        if not found or edge not in EDGES_WITH_ALLOWANCE:
            names = ", ".join(EDGES_WITH_ALLOWANCE)
            self.fail(f"“{value}” is not an allowance; write it like inseam=6mm ({names})", param, ctx)
        try:
            return EdgeName(edge), read_length_mm(length)
        except ValueError as error:
            self.fail(str(error), param, ctx)


class Place(click.ParamType):  # type: ignore[type-arg]
    """A place in the upright photo, `1204,880`; hands over (x, y) in pixels."""

    name = "x,y"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:
        """Return (x, y) [px]."""
        if isinstance(value, tuple):
            return value
        try:
            x, y = (float(part) for part in str(value).split(","))
        except ValueError:
            self.fail(f"“{value}” is not a place; write it in pixels from the top left, like 1204,880", param, ctx)
        return x, y


class Grain(click.ParamType):  # type: ignore[type-arg]
    """Degrees, or two places in the upright photo; hands over degrees or [(x, y), (x, y)] in pixels."""

    name = "degrees|x,y x,y"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float | list[tuple[float, float]]:
        """Return degrees or two places [px]."""
        if isinstance(value, float | list):
            return value
        words = str(value).removesuffix("°").split()
        try:
            if len(words) == 1 and "," not in words[0]:
                return float(words[0])
            places = [(float(x), float(y)) for x, y in (word.split(",") for word in words)]
        except ValueError:
            places = []
        if len(places) != 2 or places[0] == places[1]:
            self.fail(
                f"“{value}” is no grain; write degrees like 15, or two places like “800,300 820,1500”", param, ctx
            )
        return places


class Count(click.ParamType):  # type: ignore[type-arg]
    """`name=number`, e.g. `skirt=2`; hands over both."""

    name = "name=number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[str, int]:
        """Return (name, number)."""
        if isinstance(value, tuple):
            return value
        name, found, number = str(value).partition("=")
        if not found or not number.strip().isdecimal() or int(number) > 20:
            self.fail(f"“{value}” is not a count; write it like skirt=2, up to 20", param, ctx)
        return name.strip(), int(number)


class Stroke(click.ParamType):  # type: ignore[type-arg]
    """A place in the upright photo, or several to draw a line through; hands over [(x, y), ...] in pixels."""

    name = "x,y"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> list[tuple[float, float]]:
        """Return [(x, y), ...] [px]."""
        if isinstance(value, list):
            return value
        places = str(value).split()
        if not places:
            self.fail("no place is given; write it in pixels from the top left, like 1204,880", param, ctx)
        return [PLACE.convert(place, param, ctx) for place in places]


class CornerPlace(click.ParamType):  # type: ignore[type-arg]
    """`corner=x,y`, e.g. `crotch=1204,880`; hands over the corner's name and (x, y) in pixels."""

    name = "corner=x,y"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, tuple[float, float]]:
        """Return (name, (x, y)) [px]."""
        if isinstance(value, tuple):
            return value
        corner, found, place = str(value).partition("=")
        corner = corner.strip().lower().replace(" ", "-")
        if not found or corner not in list(CornerName):
            self.fail(f"“{value}” is no corner; write it like crotch=1204,880 ({', '.join(CornerName)})", param, ctx)
        return corner, PLACE.convert(place, param, ctx)


class Percent(click.ParamType):  # type: ignore[type-arg]
    """A percentage, `40` or `40%`; hands over the share, 0.4."""

    name = "percent"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the share."""
        if isinstance(value, float):
            return value
        text = str(value).strip().removesuffix("%").strip().replace(",", ".")
        try:
            return float(text) / 100.0
        except ValueError:
            self.fail(f"“{value}” is not a percentage; write it like 40 or 40%", param, ctx)


class Age(click.ParamType):  # type: ignore[type-arg]
    """An age, `5`, `5.5`, `5y6m` or `66m`; hands over months."""

    name = "age"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return months."""
        if isinstance(value, float):
            return value
        try:
            return read_age_months(str(value))
        except ValueError as error:
            self.fail(str(error), param, ctx)


LENGTH = Length()
PERCENT = Percent()
PLACE = Place()
GRAIN = Grain()
COUNT = Count()
STROKE = Stroke()
CORNER = CornerPlace()
AGE = Age()
BAR = BarLength()
PRINTED_BAR = PrintedBar()
EDGE_ALLOWANCE = EdgeAllowance()
