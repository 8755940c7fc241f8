"""``towzone zones schema``: the form of a zone file, for editors and validators."""

from __future__ import annotations

import json

import click

from towzone.cli.shared_options import deliver, exit_codes, output_options
from towzone.files.zone_schema import zone_schema

__all__ = ["command"]


@click.command(name="schema", epilog=exit_codes("printed"))
@output_options
def command(output: str, *, force: bool) -> int:
    """Print the JSON Schema (draft 2020-12) of a zone file in GeoJSON.

    What the schema accepts may still be refused for its geometry; `towzone zones lint` tells all of it.

    \b
    Examples:
      towzone zones schema
    """
    deliver(lambda: json.dumps(zone_schema(), indent=1, ensure_ascii=False) + "\n", output, force=force)
    return 0
