"""``towzone check``: the main job."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import click

from towzone.caution import CAUTION
from towzone.checks.settings import CheckSettings, GearProof
from towzone.cli.check_request import CheckRequest
from towzone.cli.main import EXIT_CODES
from towzone.cli.options import DAY, INSTANT, SPEED, TIME_ZONE
from towzone.cli.remarks import print_remarks, print_trip
from towzone.cli.requests import check_files
from towzone.cli.result_output import ResultOutput, result_options
from towzone.cli.shared_options import gear_proof_option, zone_options
from towzone.cli.track_options import request_of, track_options
from towzone.errors import UsageError
from towzone.geodesy.lines import LineKind

__all__ = ["check_request", "command"]


@click.command(name="check", epilog=f"{EXIT_CODES}\n\n{CAUTION}")
@click.argument("tracks", nargs=-1, required=True, metavar="TRACK...")
@zone_options
@track_options
@gear_proof_option
@click.option("--on", type=DAY, help="The day on which whatever has no time happens.")
@click.option("--depart", type=INSTANT, help="When a planned route is begun; needs --speed.")
@click.option("--speed", type=SPEED, help="Speed over the ground on a planned route; needs --depart.")
@click.option("--local-tz", type=TIME_ZONE, help="Time zone in which the record tells times beside UTC.")
@result_options
@click.pass_context
def command(context: click.Context, /, **_: object) -> int:
    """Check planned routes and completed tracks against zones.

    TRACK is a file of positions, or - for standard input: GPX (a trk is a completed track, a rte a planned
    route), a log of NMEA 0183 or AIS sentences, or CSV; any of them may be compressed by gzip.
    Several files of one vessel are joined by time.

    \b
    Examples:
      towzone check sample_tracks/greywether_plan.gpx --zones sample_zones/greywether_bank.geojson
      towzone check sample_tracks/greywether_trip.gpx --zones sample_zones/greywether_bank.geojson -v
      towzone check sample_tracks/plover_track.gpx --zones sample_zones/plover_rise.geojson --format csv
    """
    request = check_request(context.params)
    output = ResultOutput.of(context.params, read=request.files)
    sign = output.prepare()
    result = check_files(request)
    output.write(result, sign)
    if not output.quiet:
        print_remarks(result.warnings)
        if output.form == "csv":
            print_trip(result)
    return output.exit_code(result.outcome)


def check_request(given: dict[str, Any]) -> CheckRequest:
    """Return what is to be checked, from the parameters of the command."""
    if (given["depart"] is None) != (given["speed"] is None):
        message = "--depart and --speed belong together: give both or neither"
        raise UsageError(message)
    if given["speed"] is not None and given["speed"] <= 0.0:
        message = "--speed must be more than 0"
        raise UsageError(message)
    settings = CheckSettings(
        margin_m=given["margin"],
        on=given["on"],
        legs=LineKind(given["legs"]),
        reach_m=given["reach"],
        gear_proof=GearProof(given["gear_proof"]),
    )
    return replace(
        request_of(given, settings),
        zone_files=given["zone_files"],
        edges=LineKind(given["edges"]) if given["edges"] else None,
        depart_utc=given["depart"],
        speed_kn=given["speed"],
    )
