"""``towzone zones``: look at, check, make and compare zone files."""

from __future__ import annotations

import click

from towzone.caution import CAUTION
from towzone.cli.lazy import LazyGroup

__all__ = ["command"]

_COMMANDS = {
    "list": ("towzone.cli.zones_list", "What is in zone files, and what is in force on a day."),
    "lint": ("towzone.cli.zones_lint", "What is wrong with zone files, or may be."),
    "compare": ("towzone.cli.zones_compare", "What changed between two editions of a zone file."),
    "convert": ("towzone.cli.zones_convert", "Make a zone file from notices and other files."),
    "schema": ("towzone.cli.zones_schema", "Print the JSON Schema of a zone file."),
}


@click.group(name="zones", cls=LazyGroup, modules=_COMMANDS, epilog=CAUTION)
def command() -> None:
    """Look at, check, make and compare zone files.

    \b
    Examples:
      towzone zones list sample_zones/greywether_bank.geojson --on 2026-05-12
      towzone zones lint sample_zones/greywether_bank.geojson
    """
