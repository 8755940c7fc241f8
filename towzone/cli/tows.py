"""``towzone tows``: the tows in a trip, ready for the logbook."""

from __future__ import annotations

import zoneinfo
from dataclasses import replace
from pathlib import Path

import click

from towzone.caution import CAUTION
from towzone.checks.settings import CheckSettings
from towzone.cli.options import TIME_ZONE
from towzone.cli.remarks import print_remarks, print_trip
from towzone.cli.requests import check_files
from towzone.cli.shared_options import STREAM, exit_codes, format_option, output_options
from towzone.cli.track_options import request_of, track_options
from towzone.files.outputs import check_writable, write_all
from towzone.model.result import CheckResult, MoveOn, Status
from towzone.tables.tows import to_tow_csv, to_tow_json, to_tow_text

__all__ = ["command"]

_EXIT_CODES = exit_codes(
    "the tows are told",
    "a later shot was nearer than --move-on asks for",
    "whether a later shot was far enough cannot be told",
)


@click.command(name="tows", epilog=f"{_EXIT_CODES}\n\n{CAUTION}")
@click.argument("tracks", nargs=-1, required=True, metavar="TRACK...")
@click.option(
    "--zones",
    "zone_files",
    multiple=True,
    metavar="FILE",
    help="Zone file, to name the nearest zone of each tow.",
)
@track_options
@click.option("--local-tz", type=TIME_ZONE, help="Time zone in which times are told beside UTC.")
@format_option("text", "csv", "json")
@output_options
@click.option("-q", "--quiet", is_flag=True, help="No remarks on standard error.")
@click.option("-v", "--verbose", is_flag=True, help="List every fix left out and every gap, too.")
@click.pass_context
def command(context: click.Context, /, **_: object) -> int:
    """List the tows in a trip: when and where shot and hauled, length, speed, rectangles.

    TRACK is as for towzone check. Tows come from the speeds of the track (--towing detect) or from a haul
    log (--towing FILE.csv), which is compared with the track. With --move-on and --from-tow every later
    shot is compared with the positions of that tow.

    \b
    Examples:
      towzone tows sample_tracks/greywether_trip.gpx --local-tz Europe/Dublin
      towzone tows sample_tracks/greywether_trip.gpx --zones sample_zones/greywether_bank.geojson --format csv
      towzone tows sample_tracks/greywether_trip.gpx --move-on 5nmi --from-tow 1
    """
    given = context.params
    request = replace(request_of(given, CheckSettings()), zone_files=given["zone_files"])
    target = None if given["output"] == STREAM else Path(given["output"])
    if target is not None:
        check_writable(target, force=given["force"], read=[path for path in request.files if path != STREAM])
    result = check_files(request)
    text = _rendered(result, given["form"], given["local_tz"], verbose=given["verbose"])
    if target is None:
        click.echo(text, nl=False)
    else:
        write_all({target: text})
    if not given["quiet"]:
        print_remarks(result.warnings)
        if given["form"] == "csv":
            print_trip(result)
    return _exit_code(result.moves)


def _rendered(result: CheckResult, form: str, local: zoneinfo.ZoneInfo | None, *, verbose: bool) -> str:
    if form == "csv":
        return to_tow_csv(result, local)
    if form == "json":
        return to_tow_json(result, local)
    return to_tow_text(result, local, verbose=verbose)


def _exit_code(moves: tuple[MoveOn, ...]) -> int:
    statuses = {move.status for move in moves}
    if Status.TOO_CLOSE in statuses:
        return 1
    return 4 if Status.UNDETERMINED in statuses else 0
