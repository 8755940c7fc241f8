"""``towzone fleet``: many vessels against the same zones."""

from __future__ import annotations

import contextlib
import json
import os
import re
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import click

from towzone.caution import CAUTION
from towzone.checks.settings import CheckSettings, GearProof, Towing
from towzone.cli.shared_options import (
    area_options,
    exit_codes,
    exit_zero_option,
    format_option,
    gear_proof_option,
)
from towzone.cli.track_options import many_tracks_options
from towzone.errors import UsageError
from towzone.geodesy.lines import LineKind
from towzone.model.fleet import in_one_line
from towzone.tracks.options import DateOrder, ReadingOptions

__all__ = ["command"]

_UNITS = {"MiB": 2**20, "GiB": 2**30, "TiB": 2**40, "MB": 10**6, "GB": 10**9, "TB": 10**12}
_MEMORY = re.compile(r"(\d+(?:\.\d+)?)\s*(MiB|GiB|TiB|MB|GB|TB)")
_LEAST_MEMORY = 512 << 20
"""Own choice: a worker takes 200 MiB before it has read anything."""
_TOLD = 20
"""Own choice: so many inputs that could not be read are told on the terminal."""

_CODES = exit_codes(
    "all vessels checked completely, all clear",
    "at least one finding",
    "no finding, but something is undetermined, could not be read or was not checked",
)


def _memory(context: click.Context, parameter: click.Parameter, value: str | None) -> int | None:
    del context, parameter
    if value is None:
        return None
    match = _MEMORY.fullmatch(value.strip())
    if match is None:
        message = f"'{value}' is not an amount of memory; write for example 2GiB or 800MiB"
        raise click.BadParameter(message)
    size = int(float(match[1]) * _UNITS[match[2]])
    if size < _LEAST_MEMORY:
        message = f"{value} is too little for a worker; allowed are 512MiB and more"
        raise click.BadParameter(message)
    return size


_PROFILES = (
    click.option("--vessel", "vessel_file", metavar="FILE.toml", help="Profile of all vessels without one."),
    click.option("--profiles", metavar="FOLDER", help="Profiles of vessels, each called VESSEL.toml."),
)

_WORK = (
    click.option(
        "--records",
        type=click.IntRange(min=0),
        metavar="N",
        default=0,
        show_default=True,
        help="Make the records of so many of the worst vessels.",
    ),
    click.option(
        "--workers",
        type=click.IntRange(min=1),
        metavar="N",
        help="Processes on this machine.  [default: all cores]",
    ),
    click.option(
        "--memory",
        callback=_memory,
        metavar="SIZE",
        help="Memory of each worker, such as 2GiB.  [default: half of the machine's, shared by the workers]",
    ),
    click.option(
        "--scheduler",
        metavar="ADDRESS",
        help="Use the workers of a Dask scheduler that runs already, such as tcp://host:8786; the files must "
        "lie there under the same paths.",
    ),
    format_option("text", "json"),
    click.option("--force", is_flag=True, help="Begin anew where a result, or work on one, lies."),
    exit_zero_option,
    click.option("-q", "--quiet", is_flag=True, help="Say nothing of progress."),
)


def _with(*options: Callable[..., Any]) -> Callable[..., Any]:
    def add(command: Callable[..., Any]) -> Callable[..., Any]:
        for option in reversed(options):
            command = option(command)
        return command

    return add


@click.command(name="fleet", epilog=f"{_CODES}\n\n{CAUTION}")
@click.argument("positions", nargs=-1, required=True, metavar="POSITIONS...")
@click.option("-o", "--output", "out", required=True, metavar="FOLDER", help="Folder of the result.")
@area_options
@_with(*_PROFILES)
@many_tracks_options
@click.option(
    "--towing",
    type=click.Choice([Towing.DETECT.value, Towing.ALL.value, Towing.NONE.value]),
    default=Towing.DETECT.value,
    show_default=True,
    help="What counts as towing: what the speeds show, all that moves, or none of it.",
)
@gear_proof_option
@_with(*_WORK)
@click.pass_context
def command(context: click.Context, /, **_: object) -> int:
    """Audit many vessels: years of positions against zones, on all cores or a Dask cluster.

    POSITIONS are files or folders: tables of Parquet (plain columns, or GeoParquet points), CSV, or tracks of
    any form that `towzone check` reads. A column such as vessel or mmsi says whose a row is, or a folder
    called vessel=NAME, or else the name of the file. Inputs may be larger than memory. What cannot be read is
    told, with whose it is if that is known, and leaves no such vessel clear, nor the audit as a whole.

    An audit that was stopped goes on where it was by the same command. The rows are those of `towzone check`.
    It needs dask, distributed and pyarrow: pip install 'towzone[fleet]'.

    \b
    Examples:
      towzone fleet sample_tracks/plover_track.gpx --zones sample_zones/plover_rise.geojson -o audit
    """
    given = context.params
    try:
        return _audit(given)
    except KeyboardInterrupt:
        click.echo("interrupted; the same command goes on from here", err=True)
        return 130


def _audit(given: Mapping[str, Any]) -> int:
    from towzone.fleet.light_arrow import spare_pandas
    from towzone.fleet.manifest import DASK
    from towzone.fleet.preparing import FleetRequest, prepare
    from towzone.fleet.run import run_fleet
    from towzone.fleet.workers import default_memory, local_workers, remote_workers, require_dask

    require_dask()
    spare_pandas()
    count = given["workers"] or len(os.sched_getaffinity(0))
    if given["scheduler"] and given["workers"]:
        message = "--workers is for this machine; the workers of --scheduler run already"
        raise UsageError(message)
    memory_bytes = given["memory"] or default_memory(count)
    request = FleetRequest(
        positions=given["positions"],
        zone_files=given["zone_files"],
        out=Path(given["out"]),
        settings=CheckSettings(
            margin_m=given["margin"],
            gap_s=given["gap"],
            towing=Towing(given["towing"]),
            reach_m=given["reach"],
            gear_proof=GearProof(given["gear_proof"]),
        ),
        edges=LineKind(given["edges"]) if given["edges"] else None,
        position_error_m=given["position_error"],
        max_speed_kn=given["max_speed"],
        reading=ReadingOptions(
            track_tz=given["track_tz"],
            date_order=DateOrder(given["date_order"]) if given["date_order"] else None,
            only=given["only"],
        ),
        vessel_file=given["vessel_file"],
        profiles=given["profiles"],
        memory_bytes=memory_bytes,
        force=given["force"],
        records=given["records"],
        check_words=_check_words(given),
    )
    prepared = prepare(request, _settings_told(given))
    if prepared.complete is not None:
        click.echo(f"{request.out}: is complete already; nothing was done", err=True)
        prepared.folder.clear_work()
        _print(given, prepared.complete)
        return _exit_code(given, prepared.complete)
    if given["scheduler"]:
        seen = prepared.seen_elsewhere()
        where = remote_workers(given["scheduler"], seen)
    else:
        prepared.folder.mark()  # a folder that cannot be written is told before anything is started
        if not given["quiet"]:
            gib = memory_bytes / 2**30
            click.echo(f"{count} worker{'s' * (count > 1)}, {gib:.1f} GiB of memory each", err=True)
        where = local_workers(count, memory_bytes, prepared.folder.work / DASK)
    with _reporting(quiet=given["quiet"]) as progress, where as workers:
        run_fleet(prepared, workers, progress, partial(_finish, given["records"], workers, progress))
    data = json.loads((request.out / "totals.json").read_bytes())
    _print(given, data)
    return _exit_code(given, data)


def _settings_told(given: Mapping[str, Any]) -> dict[str, Any]:
    """Return everything that shapes the result as JSON-ready values, units in the keys."""
    return {
        "margin_m": given["margin"],
        "edges": given["edges"],
        "reach_m": given["reach"],
        "position_error_m": given["position_error"],
        "gap_s": given["gap"],
        "max_speed_kn": given["max_speed"],
        "towing": given["towing"],
        "gear_proof": given["gear_proof"],
        "track_tz": given["track_tz"].key if given["track_tz"] is not None else None,
        "date_order": given["date_order"],
        "only": list(given["only"]),
        "vessel": given["vessel_file"],
        "profiles": given["profiles"],
        "records": given["records"],
    }


def _check_words(given: Mapping[str, Any]) -> tuple[str, ...]:
    """Return what follows the files of a vessel in ``towzone check`` to check it the same way."""
    words = [word for file in given["zone_files"] for word in ("--zones", file)]
    for option, name, unit in (
        ("--margin", "margin", "m"),
        ("--reach", "reach", "m"),
        ("--position-error", "position_error", "m"),
        ("--gap", "gap", "s"),
        ("--max-speed", "max_speed", "kn"),
    ):
        if given[name] is not None:
            words += [option, f"{given[name]!r}{unit}"]
    for option, name in (
        ("--edges", "edges"),
        ("--towing", "towing"),
        ("--gear-proof", "gear_proof"),
        ("--date-order", "date_order"),
    ):
        if given[name] is not None:
            words += [option, given[name]]
    if given["track_tz"] is not None:
        words += ["--track-tz", given["track_tz"].key]
    return tuple(words)


def _finish(
    number: int, workers: Any, progress: Any, totals: Any, lines: Sequence[Any], folder: Path
) -> None:
    """Add records and the overview to what was gathered."""
    from towzone.cli.fleet_records import write_pages

    for fault in write_pages(totals, lines, folder, number, workers, progress):
        click.echo(f"record {fault}", err=True)


def _print(given: Mapping[str, Any], data: Mapping[str, Any]) -> None:
    if given["form"] == "json":
        click.echo(json.dumps(data, sort_keys=True, indent=1, ensure_ascii=False, allow_nan=False))
        return
    for sentence in (*data["said"], *data["notes"]):
        click.echo(sentence)
    for one in data["unread"][:_TOLD]:
        click.echo(f"not read: {in_one_line(one['reason'], one['file'])}")
    if len(data["unread"]) > _TOLD:
        click.echo(f"and {len(data['unread']) - _TOLD} more that could not be read, all in totals.json")
    click.echo(f"result: {given['out']} (index.html, rows, tows, gaps, vessels.parquet, totals.json)")
    click.echo(CAUTION)


def _exit_code(given: Mapping[str, Any], data: Mapping[str, Any]) -> int:
    if data["vessels"]["fault"] or any(one["fault"] for one in data["unread"]):
        return 70
    codes = {"finding": 1, "not_checked": 4, "undetermined": 4, "clear": 0}
    return 0 if given["exit_zero"] else codes[data["outcome"]]


class _Lines:
    """Progress in plain lines, for files and other programs: what begins, and every tenth of it."""

    def __init__(self) -> None:
        self._name, self._total, self._done, self._told = "", 0, 0, 0

    def stage(self, name: str, total: int) -> None:
        """Tell that something begins."""
        self._name, self._total, self._done, self._told = name, total, 0, 0
        click.echo(f"{name}: {total}", err=True)

    def step(self, count: int = 1) -> None:
        """Tell every tenth."""
        self._done += count
        tenth = 10 * self._done // self._total if self._total else 10
        if tenth > self._told and tenth < 10:
            self._told = tenth
            click.echo(f"{self._name}: {self._done} of {self._total}", err=True)

    def close(self) -> None:
        """Nothing is left open."""


class _Bar:
    """Progress as a bar on a terminal."""

    def __init__(self) -> None:
        self._bar: Any = None

    def stage(self, name: str, total: int) -> None:
        """Begin another bar."""
        self.close()
        self._bar = click.progressbar(length=total, label=f"{name:<34}", file=sys.stderr)
        self._bar.__enter__()
        self._bar.render_progress()

    def step(self, count: int = 1) -> None:
        """Draw it on."""
        if self._bar is not None and count:
            self._bar.update(count)

    def close(self) -> None:
        """End the line of the bar."""
        if self._bar is not None:
            self._bar.__exit__(None, None, None)
            self._bar = None


class _Silent:
    """No progress at all."""

    def stage(self, name: str, total: int) -> None:
        """Say nothing."""

    def step(self, count: int = 1) -> None:
        """Say nothing."""

    def close(self) -> None:
        """Nothing is left open."""


@contextlib.contextmanager
def _reporting(*, quiet: bool) -> Iterator[_Lines | _Bar | _Silent]:
    progress = _Silent() if quiet else _Bar() if sys.stderr.isatty() else _Lines()
    try:
        yield progress
    finally:
        progress.close()
