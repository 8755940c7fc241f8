"""``towzone plan``: a planned tow before it is towed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from towzone.caution import CAUTION
from towzone.checks.settings import CheckSettings, GearProof
from towzone.cli.main import EXIT_CODES
from towzone.cli.options import INSTANT, LENGTH, SPEED, TIME_ZONE
from towzone.cli.plan_exports import check_suffixes, exported
from towzone.cli.plan_requests import PlanRequest, plan_files
from towzone.cli.remarks import print_remarks
from towzone.cli.result_output import ResultOutput, result_options
from towzone.cli.shared_options import zone_options
from towzone.geodesy.lines import LineKind
from towzone.plan.run import PlanWishes

__all__ = ["command"]


@click.command(name="plan", epilog=f"{EXIT_CODES}\n\n{CAUTION}")
@click.argument("routes", nargs=-1, metavar="ROUTE...")
@click.option(
    "--line",
    "texts",
    multiple=True,
    metavar="TEXT",
    help='A line written out: "50°38.26N 9°34.97W; 50°35.88N 9°48.92W". May be given again.',
)
@zone_options
@click.option(
    "--vessel",
    "vessel_file",
    required=True,
    metavar="FILE.toml",
    help="Profile of the vessel with the figures of its gear (towzone vessel writes one).",
)
@click.option(
    "--depart",
    type=INSTANT,
    help="When towing begins, at the first point.  [default: the route's own time]",
)
@click.option(
    "--speed",
    type=SPEED,
    help="Towing speed over the ground.  [default: tow_speed of the vessel, else the route's own times]",
)
@click.option(
    "--hauling-way",
    type=SPEED,
    help="Speed of the vessel while hauling.  [default: the vessel's, else as while towing]",
)
@click.option(
    "--strongest",
    type=SPEED,
    help="The strongest current at the gear, from any direction; takes the place of a steady one.  "
    "[default: the vessel's]",
)
@click.option(
    "--steering",
    type=LENGTH,
    default="0m",
    show_default=True,
    help="How far off the line helmsman or autopilot may be.",
)
@click.option(
    "--position-error",
    type=LENGTH,
    help="How far positions may be from the truth.  [default: the vessel's, else 15m]",
)
@click.option(
    "--gear-proof",
    type=click.Choice([proof.value for proof in GearProof]),
    default=GearProof.MODEL.value,
    show_default=True,
    help="What proves the gear clear: the model of its path with three standard deviations, or the length "
    "of its rope alone. While shooting and hauling it is always the rope.",
)
@click.option(
    "--only", multiple=True, metavar="NAME", help="Line to plan from a file of several. May be given again."
)
@click.option("--reverse", is_flag=True, help="Plan every line the other way, too.")
@click.option("--no-advice", is_flag=True, help="Do not look for what would mend a line.")
@click.option("--no-correction", is_flag=True, help="Do not look for a line that is clear.")
@click.option("--local-tz", type=TIME_ZONE, help="Time zone in which times are told beside UTC.")
@click.option(
    "--export-line",
    "line_files",
    multiple=True,
    metavar="OUT.gpx|OUT.geojson",
    help="Write the lines to sail: the corrected ones, and those that are clear as they are.",
)
@click.option(
    "--export-margins",
    "margins_file",
    metavar="OUT.geojson",
    help="Write the outline of every zone with its margin.",
)
@result_options
@click.pass_context
def command(context: click.Context, /, **_: object) -> int:
    """Plan a tow: times, clearance of vessel and gear, what to alter, a line that is clear.

    ROUTE is a file, or - for standard input, with the line from where towing begins to where the haul is
    called: GPX (a rte, or a trk that is brought down to its corners) or CSV of points. Several lines are
    compared. Depth, bottom, land, traffic and weather are not known to it.

    \b
    Examples:
      towzone plan sample_tracks/greywether_plan.gpx --zones sample_zones/greywether_bank.geojson \\
        --vessel sample_tracks/greywether_vessel.toml --depart 2026-05-11T06:00Z
      towzone plan --line "50°38N 9°35W; 50°36N 9°49W" --zones sample_zones/greywether_bank.geojson \\
        --vessel sample_tracks/greywether_vessel.toml --depart 2026-05-11T06:00Z --steering 30m
    """
    given = context.params
    request = _request(given)
    line_files = tuple(map(Path, given["line_files"]))
    margins_file = Path(given["margins_file"]) if given["margins_file"] else None
    check_suffixes(line_files, margins_file)
    beside = (*line_files, *([margins_file] if margins_file is not None else []))
    output = ResultOutput.of(given, read=request.files, beside=beside)
    sign = output.prepare()
    result = plan_files(request)
    files, remarks = exported(result, line_files, margins_file)
    output.write(result, sign, files)
    if not output.quiet:
        print_remarks([*result.warnings, *remarks])
    return output.exit_code(result.outcome)


def _request(given: dict[str, Any]) -> PlanRequest:
    return PlanRequest(
        routes=given["routes"],
        texts=given["texts"],
        zone_files=given["zone_files"],
        vessel_file=given["vessel_file"],
        settings=CheckSettings(
            margin_m=given["margin"],
            steering_m=given["steering"],
            legs=LineKind(given["legs"]),
            reach_m=given["reach"],
            gear_proof=GearProof(given["gear_proof"]),
        ),
        position_error_m=given["position_error"],
        edges=LineKind(given["edges"]) if given["edges"] else None,
        depart_utc=given["depart"],
        speed_kn=given["speed"],
        hauling_way_kn=given["hauling_way"],
        strongest_kn=given["strongest"],
        only=given["only"],
        reverse=given["reverse"],
        wishes=PlanWishes(advise=not given["no_advice"], correct=not given["no_correction"]),
        local_tz=given["local_tz"].key if given["local_tz"] is not None else None,
    )
