"""The click type of names; apart from the others, as it needs nothing and listing a drawer shall load little."""

from typing import Any

import click

from ..names import LONGEST_NAME


class Name(click.ParamType):  # type: ignore[type-arg]
    """A name, or whom something is for; refuses one that the drawer would have to cut short."""

    name = "text"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Return it as typed."""
        words = str(value)
        if len(words) > LONGEST_NAME:
            self.fail(f"it has {len(words)} characters; use at most {LONGEST_NAME}", param, ctx)
        return words


NAME = Name()
