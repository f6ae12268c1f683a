"""A group that loads a command's module when it is asked for: `outgrown drawer list` needs no vision library."""

from collections.abc import Mapping
from importlib import import_module
from typing import Any

import click


class LazyGroup(click.Group):
    """A group whose commands live in modules of the same name, each loaded when it is used or listed."""

    def __init__(self, *args: Any, modules: Mapping[str, str], **kwargs: Any) -> None:
        """Take `modules`: name of the command -> its module, relative to this package."""
        super().__init__(*args, **kwargs)
        self._modules = modules

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the commands' names in the order a person needs them."""
        return list(self._modules)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the command, or None."""
        if cmd_name not in self._modules:
            return None
        module = import_module(self._modules[cmd_name], __package__)
        command: click.Command = getattr(module, cmd_name)
        return command
