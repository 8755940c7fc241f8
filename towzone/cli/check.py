"""``towzone check``: the main job."""

from __future__ import annotations

import zoneinfo
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click
import numpy as np

from towzone import __version__
from towzone.caution import CAUTION
from towzone.checks.plausible import swapped_looking
from towzone.checks.run import run_check
from towzone.checks.schedule import scheduled
from towzone.checks.settings import CheckSettings, Towing
from towzone.cli.main import EXIT_CODES
from towzone.cli.options import DAY, DURATION, INSTANT, LENGTH, SPEED, TIME_ZONE
from towzone.errors import InputError, OutputError, Problem, UsageError, quoted
from towzone.files.outputs import check_writable, write_all
from towzone.files.tracks import join_completed, read_tracks
from towzone.files.vessels import read_vessel
from towzone.files.zones import ZoneFile, read_zones
from towzone.geodesy.lines import LineKind
from towzone.model.result import CheckResult, InputFile, Outcome, Remark
from towzone.model.track import Track, TrackKind
from towzone.model.vessel import Vessel
from towzone.model.zone import Zone
from towzone.tables.result_json import to_json
from towzone.tables.screen import plain, to_text
from towzone.units import format_instant

__all__ = ["command"]

_EXIT_CODE = {Outcome.CLEAR: 0, Outcome.FINDING: 1, Outcome.UNDETERMINED: 4}
_STREAM = "-"


@click.command(name="check", epilog=f"{EXIT_CODES}\n\n{CAUTION}")
@click.argument("tracks", nargs=-1, required=True, metavar="TRACK...")
@click.option(
    "--zones",
    "zone_files",
    multiple=True,
    required=True,
    metavar="FILE",
    help="Zone file: GeoJSON, GeoPackage, Shapefile or FlatGeobuf. May be given again.",
)
@click.option("--vessel", "vessel_file", metavar="FILE.toml", help="Vessel profile: gear, speed, margins.")
@click.option("--margin", type=LENGTH, help="Required clearance; overrides every zone's own.")
@click.option(
    "--position-error",
    type=LENGTH,
    help="How far positions may be from the truth.  [default: the vessel's, else 15m]",
)
@click.option(
    "--gap",
    type=DURATION,
    default="15min",
    show_default=True,
    help="Longest time between fixes that counts as sailed straight.",
)
@click.option(
    "--max-speed",
    type=SPEED,
    help="Fastest the vessel can go; bounds where it was in a gap.  [default: the vessel's, else 12kn]",
)
@click.option(
    "--towing",
    type=click.Choice([t.value for t in Towing]),
    default="all",
    show_default=True,
    help="What counts as towing on a completed track: all that moves, or none of it.",
)
@click.option(
    "--edges",
    type=click.Choice([k.value for k in LineKind]),
    help="How corners are joined, for zones that do not say.",
)
@click.option(
    "--legs",
    type=click.Choice(["rhumb", "geodesic"]),
    default="rhumb",
    show_default=True,
    help="How the corners of a planned route are joined.",
)
@click.option(
    "--reach",
    type=LENGTH,
    default="5nmi",
    show_default=True,
    help="Zones proved clear beyond this are counted, not listed.",
)
@click.option("--on", type=DAY, help="The day on which whatever has no time happens.")
@click.option("--depart", type=INSTANT, help="When a planned route is begun; needs --speed.")
@click.option("--speed", type=SPEED, help="Speed over the ground on a planned route; needs --depart.")
@click.option("--track-tz", type=TIME_ZONE, help="Time zone of track times that state none (else UTC).")
@click.option("--record", "record_file", metavar="OUT.html", help="Write the record: one HTML file.")
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json", "csv", "geojson"]),
    default="text",
    show_default=True,
    help="Form of the result on standard output.",
)
@click.option(
    "-o",
    "--output",
    "output_file",
    metavar="FILE",
    default=_STREAM,
    help="Write the result to a file instead of standard output (-).",
)
@click.option("--force", is_flag=True, help="Replace files that exist.")
@click.option("--exit-zero", is_flag=True, help="Exit with 0 whatever was found; errors keep their codes.")
@click.option("-q", "--quiet", is_flag=True, help="No remarks on standard error.")
@click.option("-v", "--verbose", is_flag=True, help="List clear rows, dropped fixes and gaps too.")
@click.pass_context
def command(context: click.Context, /, **_: object) -> int:
    """Check planned routes and completed tracks against zones.

    TRACK is a GPX file (a trk is a completed track, a rte a planned route), or - for standard input.
    Several files with completed tracks are taken as one vessel's and joined by time.

    \b
    Examples:
      towzone check sample_tracks/greywether_plan.gpx --zones sample_zones/greywether_bank.geojson
      towzone check sample_tracks/greywether_trip.gpx --zones sample_zones/greywether_bank.geojson -v
      towzone check sample_tracks/plover_track.gpx --zones sample_zones/plover_rise.geojson --format csv
    """
    request = _Request.of(context.params)
    for path in request.written():
        check_writable(path, force=request.force, read=request.read())
    result = check_files(request.check)
    _write(request, result)
    if not request.quiet:
        for remark in result.warnings:
            place = ": ".join(part for part in (remark.file, remark.where) if part)
            click.echo(plain(f"note: {place}: {remark.message}"), err=True)
    return 0 if request.exit_zero else _EXIT_CODE[result.outcome]


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRequest:
    """What is to be checked: files and settings; what is stated here comes before the vessel's profile."""

    tracks: tuple[str, ...]
    zone_files: tuple[str, ...]
    settings: CheckSettings
    vessel_file: str | None = None
    position_error_m: float | None = None
    max_speed_kn: float | None = None
    edges: LineKind | None = None
    depart_utc: np.datetime64 | None = None
    speed_kn: float | None = None
    track_tz: zoneinfo.ZoneInfo | None = None


def check_files(request: CheckRequest) -> CheckResult:
    """Read the files of a request and check them.

    Raises
    ------
    InputError
        A file was refused.
    GeometryError
        A leg or edge is too long or ambiguous.
    """
    profile = read_vessel(request.vessel_file) if request.vessel_file is not None else None
    tracks, track_remarks, track_inputs = _read_tracks(request)
    zones, zone_remarks, zone_inputs = _read_zones(request)
    suspects = swapped_looking(zones, tracks)
    if suspects:
        zone, sentence = suspects[0]
        where = f"feature {zone.feature} (zone {quoted(zone.name)})"
        message = f"coordinates look swapped: {sentence}; GeoJSON writes longitude first"
        raise InputError(zone.file, [Problem(where, message)])
    result = run_check(
        tracks,
        zones,
        _settings(request, profile.vessel if profile is not None else Vessel()),
        remarks=[*track_remarks, *zone_remarks, *(profile.remarks if profile is not None else ())],
        inputs=[*track_inputs, *zone_inputs, *([profile.input] if profile is not None else [])],
        version=__version__,
    )
    read_as = _stated_edges(request)
    settings = {**result.settings, **_reading(request)}
    return replace(result, settings=settings, assumptions=(*result.assumptions, *read_as))


def _stated_edges(request: CheckRequest) -> list[str]:
    if request.edges is None:
        return []
    words = {LineKind.RHUMB: "rhumb lines", LineKind.GEODESIC: "geodesics", LineKind.LONLAT: "lon/lat lines"}
    return [f"The edges of zones that do not state theirs are {words[request.edges]}, by --edges."]


def _reading(request: CheckRequest) -> dict[str, object]:
    """Return how the files were read, for the result's settings."""
    return {
        "depart_utc": format_instant(request.depart_utc) if request.depart_utc is not None else None,
        "edges": request.edges.value if request.edges is not None else None,
        "speed_kn": request.speed_kn,
        "track_tz": request.track_tz.key if request.track_tz is not None else None,
    }


def _settings(request: CheckRequest, vessel: Vessel) -> CheckSettings:
    """Return the settings: what the command line states, else the vessel's profile, else the default."""
    settings = request.settings
    errors = (request.position_error_m, vessel.position_error_m, settings.position_error_m)
    speeds = (request.max_speed_kn, vessel.max_speed_kn, settings.max_speed_kn)
    return replace(
        settings,
        position_error_m=next(error for error in errors if error is not None),
        max_speed_kn=next(speed for speed in speeds if speed is not None),
        gear=vessel.gear,
        kind_margins_m=dict(vessel.margins_m),
    )


def _read_tracks(request: CheckRequest) -> tuple[list[Track], list[Remark], list[InputFile]]:
    files = [read_tracks(path, track_tz=request.track_tz) for path in request.tracks]
    tracks, join_remarks = join_completed([track for file in files for track in file.tracks])
    if request.depart_utc is not None and request.speed_kn is not None:
        depart, speed, legs = request.depart_utc, request.speed_kn, request.settings.legs
        tracks = tuple(
            scheduled(track, depart, speed, legs) if track.kind is TrackKind.PLANNED else track
            for track in tracks
        )
    remarks = [remark for file in files for remark in file.remarks]
    return list(tracks), [*remarks, *join_remarks], [file.input for file in files]


def _read_zones(request: CheckRequest) -> tuple[list[Zone], list[Remark], list[InputFile]]:
    files = [read_zones(path, default_edges=request.edges) for path in request.zone_files]
    _refuse_twins(files)
    remarks = [remark for file in files for remark in file.remarks]
    inputs = [read for file in files for read in (file.input, *file.companions)]
    return [zone for file in files for zone in file.zones], remarks, inputs


def _refuse_twins(files: list[ZoneFile]) -> None:
    seen: dict[str, str] = {}
    for zone in (zone for file in files for zone in file.zones):
        if zone.zone_id in seen:
            message = f"zone_id {quoted(zone.zone_id)} is also in {seen[zone.zone_id]}; ids must be unique"
            raise InputError(zone.file, [Problem(f"feature {zone.feature}", message)])
        seen[zone.zone_id] = zone.file


@dataclass(frozen=True, slots=True, kw_only=True)
class _Request:
    """The command line, sorted out."""

    check: CheckRequest
    record_file: Path | None
    output_file: Path | None
    form: str
    force: bool
    exit_zero: bool
    quiet: bool
    verbose: bool

    @classmethod
    def of(cls, given: dict[str, Any]) -> _Request:
        if (given["depart"] is None) != (given["speed"] is None):
            message = "--depart and --speed belong together: give both or neither"
            raise UsageError(message)
        if given["speed"] is not None and given["speed"] <= 0.0:
            message = "--speed must be more than 0"
            raise UsageError(message)
        settings = CheckSettings(
            margin_m=given["margin"],
            gap_s=given["gap"],
            on=given["on"],
            towing=Towing(given["towing"]),
            legs=LineKind(given["legs"]),
            reach_m=given["reach"],
        )
        check = CheckRequest(
            tracks=given["tracks"],
            zone_files=given["zone_files"],
            settings=settings,
            vessel_file=given["vessel_file"],
            position_error_m=given["position_error"],
            max_speed_kn=given["max_speed"],
            edges=LineKind(given["edges"]) if given["edges"] else None,
            depart_utc=given["depart"],
            speed_kn=given["speed"],
            track_tz=given["track_tz"],
        )
        return cls(
            check=check,
            record_file=Path(given["record_file"]) if given["record_file"] else None,
            output_file=None if given["output_file"] == _STREAM else Path(given["output_file"]),
            form=given["form"],
            force=given["force"],
            exit_zero=given["exit_zero"],
            quiet=given["quiet"],
            verbose=given["verbose"],
        )

    def written(self) -> list[Path]:
        """Return the files that will be written."""
        paths = [path for path in (self.record_file, self.output_file) if path is not None]
        if len({path.resolve() for path in paths}) < len(paths):
            message = f"{paths[0]}: the record and the result cannot be one file"
            raise OutputError(message)
        return paths

    def read(self) -> list[str]:
        """Return the files that will be read."""
        profile = [self.check.vessel_file] if self.check.vessel_file is not None else []
        return [path for path in (*self.check.tracks, *self.check.zone_files, *profile) if path != _STREAM]


def _write(request: _Request, result: CheckResult) -> None:
    """Write everything that was asked for; nothing is written unless all of it could be made."""
    text = _rendered(result, request.form, verbose=request.verbose)
    files = {}
    if request.record_file is not None:
        from towzone.record.page import render_record

        files[request.record_file] = render_record(result, to_json(result))
    if request.output_file is not None:
        files[request.output_file] = text
    write_all(files)
    if request.output_file is None:
        click.echo(text, nl=False)


def _rendered(result: CheckResult, form: str, *, verbose: bool) -> str:
    if form == "json":
        return to_json(result)
    if form == "csv":
        from towzone.tables.rows_csv import to_csv

        return to_csv(result)
    if form == "geojson":
        from towzone.tables.features import to_geojson

        return to_geojson(result)
    return to_text(result, verbose=verbose)
