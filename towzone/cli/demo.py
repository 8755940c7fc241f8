"""``towzone demo``: the main job on the invented samples, into a folder."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

import click
import numpy as np

from towzone.caution import CAUTION
from towzone.checks.settings import CheckSettings, GearProof
from towzone.cli.check_request import CheckRequest
from towzone.cli.plan_exports import exported
from towzone.cli.plan_requests import PlanRequest, plan_files
from towzone.cli.requests import check_files
from towzone.errors import OutputError
from towzone.files.outputs import write_all
from towzone.model.result import CheckResult
from towzone.record.page import render_record
from towzone.samples import sample_files
from towzone.tables.result_json import to_json
from towzone.tables.rows_csv import to_csv

__all__ = ["command"]

_RUNS = (
    ("greywether_plan_mended.gpx", "greywether_bank", "the same tow, mended"),
    (
        "greywether_trip.gpx",
        "greywether_bank",
        "a trip: one tow too close to a cable, one inside a closed area",
    ),
    ("greywether_trip_gap.gpx", "greywether_bank", "a trip with a gap: not everything can be proved"),
    (
        "greywether_corner.gpx",
        "greywether_bank",
        "a tow round the bend of a cable: the vessel keeps its margin, the gear cuts the corner",
    ),
    (
        "greywether_tip.gpx",
        "greywether_bank",
        "a tow round the tip of a closed area: the vessel stays outside, the gear does not",
    ),
    ("greywether_log.nmea", "greywether_bank", "the receiver's own log of the tow too close to the cable"),
    ("plover_track.gpx", "plover_rise", "a tow inside a closed area across 180 degrees"),
)
_PLAN = ("greywether_plan", "greywether_bank", "a planned tow that clips a closed area and a cable's margin")
_DEPART_UTC = np.datetime64("2026-05-11T06:00", "us")
"""The plan is planned, not only checked: with advice, and with a corrected line for the plotter beside it."""

_VESSELS = {"greywether_bank": "greywether_vessel.toml"}
"""Profiles of the vessels that sailed there; of the other one nothing is known."""


@click.command(name="demo", epilog=CAUTION)
@click.argument("folder", default="towzone-demo", metavar="[FOLDER]")
def command(folder: str) -> int:
    """Run the main job on the invented samples.

    Copies the samples into FOLDER (default towzone-demo), checks them and writes a record for each.
    May be run again: it replaces only files of its own names.

    \b
    Examples:
      towzone demo
    """
    base = Path(folder)
    _copy_samples(base)
    click.echo("Everything in these samples is invented.\n")
    _plan(base)
    for track, zones, story in _RUNS:
        request = CheckRequest(
            tracks=(str(base / "sample_tracks" / track),),
            zone_files=(str(base / "sample_zones" / f"{zones}.geojson"),),
            vessel_file=str(base / "sample_tracks" / _VESSELS[zones]) if zones in _VESSELS else None,
        )
        _write(check_files(request), base / Path(track).with_suffix(".html"), story)
    click.echo(f"\nOpen {base / 'greywether_trip.html'} in any browser. The same check by hand:")
    click.echo(
        f"  {_program()} check {base / 'sample_tracks' / 'greywether_trip.gpx'} "
        f"--zones {base / 'sample_zones' / 'greywether_bank.geojson'} "
        f"--vessel {base / 'sample_tracks' / _VESSELS['greywether_bank']}"
    )
    click.echo(f"\n{CAUTION}")
    return 0


def _plan(base: Path) -> None:
    """Plan the planned tow."""
    name, zones, story = _PLAN
    request = PlanRequest(
        routes=(str(base / "sample_tracks" / f"{name}.gpx"),),
        zone_files=(str(base / "sample_zones" / f"{zones}.geojson"),),
        vessel_file=str(base / "sample_tracks" / _VESSELS[zones]),
        settings=CheckSettings(gear_proof=GearProof.MODEL),
        depart_utc=_DEPART_UTC,
    )
    result = plan_files(request)
    _write(result, base / f"{name}.html", story)
    route = base / f"{name}_corrected.gpx"
    files, _ = exported(result, [route], None)
    write_all(files)
    click.echo(f"{'':<14} {route}: a line that is clear, for the plotter")


def _write(result: CheckResult, page: Path, story: str) -> None:
    text = to_json(result)
    write_all({page: render_record(result, text, to_csv(result)), page.with_suffix(".json"): text})
    click.echo(f"{result.outcome.value:<14} {page}\n{'':<14} {story}")


def _program() -> str:
    """Return what to type to run towzone: its name where that is found, else its path from here."""
    if shutil.which("towzone") is not None:
        return "towzone"
    beside = Path(sys.executable).parent / "towzone"
    return os.path.relpath(beside) if beside.exists() else f"{sys.executable} -m towzone"


def _copy_samples(base: Path) -> None:
    try:
        for name, sample in sample_files().items():
            target = base / name
            target.parent.mkdir(parents=True, exist_ok=True)
            write_all({target: sample.read_text(encoding="utf-8")})
    except OSError as error:
        message = f"{base}: the samples could not be copied there: {error}"
        raise OutputError(message) from error
