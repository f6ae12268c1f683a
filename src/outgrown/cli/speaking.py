"""Speaking: the units that refusals of the running command are said in."""

from collections.abc import Callable
from typing import Any, TypeVar

import click

from ..units import Units

F = TypeVar("F", bound=Callable[..., Any])

Heard = dict[str, Units]
"""What a command has heard of the person's units; empty until then. `run` gives it to click as its `obj`."""


def speak_in(units: Units) -> None:
    """Say refusals of the running command in these units from now on."""
    heard = click.get_current_context().ensure_object(dict)
    heard["units"] = units


def said_as_heard(heard: Heard, words: str) -> str:
    """Return a sentence of the library in the units heard; millimetres where none were."""
    return heard.get("units", Units.MM).said(words)


def _hear_units(context: click.Context, parameter: click.Parameter, value: str | None) -> str | None:
    if value is not None:
        with context:
            speak_in(Units(value))
    return value


def units_option(default: str | None = None, **words: Any) -> Callable[[F], F]:
    """Return the option that names the person's units; what is refused afterwards is said in them, too."""
    return click.option(
        "--units",
        type=click.Choice([unit.value for unit in Units]),
        default=default,
        is_eager=True,  # other options may be refused
        callback=_hear_units,
        **words,
    )
