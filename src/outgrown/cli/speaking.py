"""Speaking: the units that refusals of the running command are said in."""

import click

from ..pieces.choices import Units

Heard = dict[str, Units]
"""What a command has heard of the person's units; empty until then. `run` gives it to click as its `obj`."""


def speak_in(units: Units) -> None:
    """Say refusals of the running command in these units from now on."""
    heard = click.get_current_context().ensure_object(dict)
    heard["units"] = units


def said_as_heard(heard: Heard, words: str) -> str:
    """Return a sentence of the library in the units heard; millimetres where none were."""
    return heard.get("units", Units.MM).said(words)
