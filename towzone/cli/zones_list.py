"""``towzone zones list``: what is in zone files."""

from __future__ import annotations

from datetime import date

import click

from towzone.caution import CAUTION
from towzone.cli.options import DAY
from towzone.cli.shared_options import deliver, edges_option, exit_codes, format_option, output_options
from towzone.files.zones import ZoneFile, read_zones
from towzone.geodesy.lines import LineKind
from towzone.surveys.listing import listing
from towzone.tables.cells import plain
from towzone.tables.zone_list import list_to_csv, list_to_json, list_to_text

__all__ = ["command"]


@click.command(name="list", epilog=f"{exit_codes('listed')}\n\n{CAUTION}")
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option("--on", type=DAY, help="Tell what is in force on that day, and the next change from then on.")
@edges_option
@format_option("text", "json", "csv")
@output_options
@click.option("-q", "--quiet", is_flag=True, help="No remarks on standard error.")
def command(
    files: tuple[str, ...],
    on: date | None,
    edges: str | None,
    form: str,
    output: str,
    *,
    force: bool,
    quiet: bool,
) -> int:
    """List what is in zone files: where, what, when, how large, who says so.

    The area is that inside the edges, by their own line type on WGS 84, without radius and margin.
    A day begins and ends in the time zone of each rule; without --on nothing is said about being in force.

    \b
    Examples:
      towzone zones list sample_zones/greywether_bank.geojson
      towzone zones list sample_zones/greywether_bank.geojson --on 2026-05-12 --format csv
    """

    def make() -> str:
        read = [read_zones(path, default_edges=LineKind(edges) if edges else None) for path in files]
        if not quiet:
            _say_remarks(read)
        listed = listing([zone for file in read for zone in file.zones], on=on)
        if form == "json":
            return list_to_json(listed, on, [file.input for file in read])
        return list_to_csv(listed) if form == "csv" else list_to_text(listed, on)

    deliver(make, output, force=force, read=files)
    return 0


def _say_remarks(read: list[ZoneFile]) -> None:
    for remark in (remark for file in read for remark in file.remarks):
        place = ": ".join(part for part in (remark.file, remark.where) if part)
        click.echo(plain(f"note: {place}: {remark.message}"), err=True)
