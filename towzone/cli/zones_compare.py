"""``towzone zones compare``: what changed between two editions of a zone file."""

from __future__ import annotations

import click

from towzone.caution import CAUTION
from towzone.cli.shared_options import (
    deliver,
    edges_option,
    exit_codes,
    exit_zero_option,
    format_option,
    output_options,
)
from towzone.files.zones import read_zones
from towzone.geodesy.lines import LineKind
from towzone.surveys.compare import Changes, compare
from towzone.tables.zone_changes import changes_to_json, changes_to_text

__all__ = ["command"]

_CODES = exit_codes("both say the same", "they differ")


@click.command(name="compare", epilog=f"{_CODES}\n\n{CAUTION}")
@click.argument("old", metavar="OLD")
@click.argument("new", metavar="NEW")
@edges_option
@format_option("text", "json")
@output_options
@exit_zero_option
def command(
    old: str, new: str, edges: str | None, form: str, output: str, *, force: bool, exit_zero: bool
) -> int:
    """Tell what changed from the zone file OLD to its newer edition NEW.

    Zones belong together by zone_id; where an id is new, by a name that is there once in each file, which
    is said; else by the same corners. Corners are paired in order; where a ring starts and which way it
    runs does not matter. How far a corner moved is the geodesic on WGS 84.

    \b
    Examples:
      towzone zones compare sample_zones/greywether_bank.geojson sample_zones/greywether_bank.geojson
    """
    found: list[Changes] = []

    def make() -> str:
        kind = LineKind(edges) if edges else None
        first, second = read_zones(old, default_edges=kind), read_zones(new, default_edges=kind)
        changes = compare(first.zones, second.zones)
        found.append(changes)
        if form == "json":
            return changes_to_json(changes, first.input, second.input)
        return changes_to_text(changes, old, new)

    deliver(make, output, force=force, read=(old, new))
    return 0 if exit_zero or found[0].none else 1
