"""Groups of commands that are imported only when they are called, so that help and version answer at once."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from typing import Any

import click

__all__ = ["LazyGroup"]


class LazyGroup(click.Group):
    """A group whose commands are named beforehand.

    Parameters
    ----------
    modules : mapping of str to (str, str)
        Of each command by name: the module whose ``command`` it is, and its first line of help.
    """

    def __init__(self, *args: Any, modules: Mapping[str, tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._modules = modules

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names without importing anything."""
        del ctx
        return list(self._modules)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, importing its module."""
        del ctx
        if cmd_name not in self._modules:
            return None
        command = importlib.import_module(self._modules[cmd_name][0]).command
        return command if isinstance(command, click.Command) else None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands with the lines of help given beforehand."""
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in self._modules.items()])
