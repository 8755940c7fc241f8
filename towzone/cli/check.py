"""``towzone check``: the main job."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from towzone.caution import CAUTION
from towzone.checks.settings import CheckSettings, GearProof
from towzone.cli.main import EXIT_CODES
from towzone.cli.options import DAY, INSTANT, LENGTH, SPEED, TIME_ZONE
from towzone.cli.remarks import print_remarks, print_trip
from towzone.cli.requests import CheckRequest, check_files
from towzone.cli.track_options import request_of, track_options
from towzone.errors import OutputError, UsageError
from towzone.files.inputs import load
from towzone.files.outputs import check_writable, write_all
from towzone.geodesy.lines import LineKind
from towzone.model.result import CheckResult, Outcome
from towzone.record.proof.signature import OPENSSL
from towzone.tables.result_json import to_json
from towzone.tables.screen import to_text

__all__ = ["command"]

_EXIT_CODE = {Outcome.CLEAR: 0, Outcome.FINDING: 1, Outcome.UNDETERMINED: 4}
_STREAM = "-"
_PAGE_SUFFIXES = (".html", ".htm")


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
@click.option("--margin", type=LENGTH, help="Required clearance; overrides every zone's own.")
@track_options
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
    "--gear-proof",
    type=click.Choice([proof.value for proof in GearProof]),
    default=GearProof.ROPE.value,
    show_default=True,
    help="What proves the gear clear: the length of its rope alone, or the model of its path.",
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
@click.option("--local-tz", type=TIME_ZONE, help="Time zone in which the record tells times beside UTC.")
@click.option("--record", "record_file", metavar="OUT.html", help="Write the record: one HTML file.")
@click.option(
    "--sign-key",
    "key_file",
    metavar="KEY.pem",
    help="Sign the record with this Ed25519 key, into OUT.html.sig. Anyone can check that without towzone: "
    f"{OPENSSL.format(record='OUT.html', signature='OUT.html.sig')}",
)
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

    TRACK is a file of positions, or - for standard input: GPX (a trk is a completed track, a rte a planned
    route), a log of NMEA 0183 or AIS sentences, or CSV; any of them may be compressed by gzip.
    Several files of one vessel are joined by time.

    \b
    Examples:
      towzone check sample_tracks/greywether_plan.gpx --zones sample_zones/greywether_bank.geojson
      towzone check sample_tracks/greywether_trip.gpx --zones sample_zones/greywether_bank.geojson -v
      towzone check sample_tracks/plover_track.gpx --zones sample_zones/plover_rise.geojson --format csv
    """
    request = _Request.of(context.params)
    for path in request.written():
        check_writable(path, force=request.force, read=request.read())
    sign = _signer(request.key_file) if request.key_file is not None else None
    result = check_files(request.check)
    _write(request, result, sign)
    if not request.quiet:
        print_remarks(result.warnings)
        if request.form == "csv":
            print_trip(result)
    return 0 if request.exit_zero else _EXIT_CODE[result.outcome]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Request:
    """The command line, sorted out."""

    check: CheckRequest
    record_file: Path | None
    key_file: str | None
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
        _check_record(given["record_file"], given["key_file"])
        settings = CheckSettings(
            margin_m=given["margin"],
            on=given["on"],
            legs=LineKind(given["legs"]),
            reach_m=given["reach"],
            gear_proof=GearProof(given["gear_proof"]),
        )
        check = replace(
            request_of(given, settings),
            zone_files=given["zone_files"],
            edges=LineKind(given["edges"]) if given["edges"] else None,
            depart_utc=given["depart"],
            speed_kn=given["speed"],
        )
        return cls(
            check=check,
            record_file=Path(given["record_file"]) if given["record_file"] else None,
            key_file=given["key_file"],
            output_file=None if given["output_file"] == _STREAM else Path(given["output_file"]),
            form=given["form"],
            force=given["force"],
            exit_zero=given["exit_zero"],
            quiet=given["quiet"],
            verbose=given["verbose"],
        )

    def written(self) -> list[Path]:
        """Return the files that will be written."""
        wanted = (self.record_file, self.signature_file, self.output_file)
        paths = [path for path in wanted if path is not None]
        if len({path.resolve() for path in paths}) < len(paths):
            message = f"{self.output_file}: the result cannot be one file with the record or its signature"
            raise OutputError(message)
        return paths

    @property
    def signature_file(self) -> Path | None:
        """Where the signature of the record goes."""
        if self.record_file is None or self.key_file is None:
            return None
        return self.record_file.with_name(f"{self.record_file.name}.sig")

    def read(self) -> list[str]:
        """Return the files that will be read."""
        files = (*self.check.files, *([self.key_file] if self.key_file is not None else []))
        return [path for path in files if path != _STREAM]


def _check_record(record_file: str | None, key_file: str | None) -> None:
    """Refuse what cannot be a record, or be signed, before any work is done."""
    if key_file is not None and not record_file:
        message = "--sign-key signs the record; name it with --record"
        raise UsageError(message)
    if not record_file or Path(record_file).is_dir():
        return  # of a folder it is said that it is one
    if Path(record_file).suffix.lower() not in _PAGE_SUFFIXES:
        message = (
            f"--record {record_file}: the record is an HTML file; name it .html. For a PDF open it in any "
            "browser, print it (Ctrl+P) and choose the PDF printer: pages, still chart and tables are made "
            "for that"
        )
        raise UsageError(message)


def _signer(file: str) -> Callable[[bytes], bytes]:
    from towzone.record.proof.signature import load_signer

    return load_signer(load(file).data, file)


def _write(request: _Request, result: CheckResult, sign: Callable[[bytes], bytes] | None) -> None:
    """Write everything that was asked for; nothing is written unless all of it could be made."""
    text = _rendered(result, request.form, verbose=request.verbose)
    files: dict[Path, str | bytes] = {}
    if request.record_file is not None:
        from towzone.cli.page_again import record_of

        record = record_of(result)
        files[request.record_file] = record
        if request.signature_file is not None and sign is not None:
            files[request.signature_file] = sign(record)
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
