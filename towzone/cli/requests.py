"""From the files and options of a command to a result: read, cleaned, merged, checked."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from towzone import __version__
from towzone.checks.plausible import refuse_swapped
from towzone.checks.run import run_check
from towzone.checks.schedule import scheduled
from towzone.checks.settings import CheckSettings, Towing
from towzone.checks.stated import refuse_unproved_model, stated_edges, stated_settings
from towzone.cli.check_request import CheckRequest
from towzone.errors import UsageError
from towzone.files.haul_logs import read_haul_log
from towzone.files.tracks import read_tracks
from towzone.files.vessels import read_vessel
from towzone.files.zone_sets import read_zone_files
from towzone.model.result import (
    ROLE_HAUL_LOG,
    ROLE_TRACK,
    ROLE_VESSEL,
    CheckResult,
    InputFile,
    Remark,
)
from towzone.model.track import Track, TrackKind
from towzone.model.vessel import Vessel
from towzone.tracks.readying import cleaned, readied
from towzone.units import format_instant

__all__ = ["Read", "check_files"]


@dataclass(slots=True, kw_only=True)
class Read:
    """What reading has gathered so far."""

    remarks: list[Remark] = field(default_factory=list)
    inputs: list[InputFile] = field(default_factory=list)


def check_files(request: CheckRequest) -> CheckResult:
    """Read the files of a request and check them.

    Raises
    ------
    InputError
        A file was refused.
    GeometryError
        A leg or edge is too long or ambiguous.
    """
    read = Read()
    late = Read()
    profile = None
    if request.vessel_file is not None:
        profile = read_vessel(request.vessel_file, at=request.places.get(request.vessel_file))
    settings = stated_settings(
        request.settings,
        profile.vessel if profile is not None else Vessel(),
        position_error_m=request.position_error_m,
        max_speed_kn=request.max_speed_kn,
        with_zones=bool(request.zone_files),
    )
    tracks = _read_tracks(request, settings, read)
    zones = read_zone_files(request.zone_files, request.edges, request.places)
    refuse_swapped(zones.zones, tracks)
    refuse_unproved_model(settings)
    settings = _with_haul_log(request, settings, late, tracks)
    late.remarks += _idle_options(request, tracks)
    if profile is not None:
        late.remarks += profile.remarks
        late.inputs.append(replace(profile.input, role=ROLE_VESSEL))
    result = run_check(
        tracks,
        zones.zones,
        settings,
        remarks=[*read.remarks, *zones.remarks, *late.remarks],
        inputs=[*read.inputs, *zones.inputs, *late.inputs],
        version=__version__,
    )
    told = {**result.settings, **_request_as_data(request)}
    return replace(result, settings=told, assumptions=(*result.assumptions, *stated_edges(request.edges)))


def _request_as_data(request: CheckRequest) -> dict[str, object]:
    """Return how the files were read, and what else shaped the result, for its settings.

    Together with the settings of the check, every field of a request must be found in the result: from
    nothing else `towzone.cli.replay` runs the check again.
    """
    reading, move_on = request.reading, request.settings.move_on
    return {
        "date": reading.day.isoformat() if reading.day is not None else None,
        "date_order": reading.date_order.value if reading.date_order is not None else None,
        "depart_utc": format_instant(request.depart_utc) if request.depart_utc is not None else None,
        "edges": request.edges.value if request.edges is not None else None,
        "haul_log": request.haul_log,
        "local_tz": request.local_tz,
        "move_on": None
        if move_on is None
        else {"distance_m": move_on.distance_m, "from_tow": move_on.from_tow},
        "only": list(reading.only),
        "receiver": reading.receiver,
        "speed_kn": request.speed_kn,
        "track_tz": reading.track_tz.key if reading.track_tz is not None else None,
        "year": reading.year,
    }


def _read_tracks(request: CheckRequest, settings: CheckSettings, read: Read) -> list[Track]:
    """Return the tracks of all files, cleaned and joined, planned ones with their times."""
    limits = {
        "max_speed_kn": settings.max_speed_kn,
        "position_error_m": settings.position_error_m,
        "gap_s": settings.gap_s,
    }
    found: list[Track] = []
    for path in request.tracks:
        file = read_tracks(path, request.reading, at=request.places.get(path))
        read.inputs.append(replace(file.input, role=ROLE_TRACK))
        own, remarks = cleaned(file.tracks, **limits)
        read.remarks += [*file.remarks, *remarks]
        found += own
    tracks, remarks = readied(found, **limits)
    read.remarks += remarks
    if request.depart_utc is None or request.speed_kn is None:
        return tracks
    depart, speed = request.depart_utc, request.speed_kn
    return [
        scheduled(track, depart, speed, settings.legs) if track.kind is TrackKind.PLANNED else track
        for track in tracks
    ]


def _idle_options(request: CheckRequest, tracks: list[Track]) -> list[Remark]:
    """Return remarks on options that nothing was there for."""
    kinds = {track.kind for track in tracks}
    idle = []
    if request.depart_utc is not None and TrackKind.PLANNED not in kinds:
        idle.append("--depart and --speed are for planned routes (GPX rte), and none was read")
    if request.haul_log is not None and TrackKind.COMPLETED not in kinds:
        idle.append("--towing is for completed tracks, and none was read; a planned route is one tow")
    return [Remark(file="", where="", message=message) for message in idle]


def _with_haul_log(
    request: CheckRequest, settings: CheckSettings, read: Read, tracks: list[Track]
) -> CheckSettings:
    if request.haul_log is None:
        return settings
    completed = [track for track in tracks if track.kind is TrackKind.COMPLETED]
    if len(completed) > 1:
        message = (
            f"--towing {request.haul_log}: a haul log is one vessel's, and {len(completed)} completed tracks"
            " were read; give the files of that vessel, or its name with --only"
        )
        raise UsageError(message)
    reading = request.reading
    log = read_haul_log(
        request.haul_log,
        track_tz=reading.track_tz,
        date_order=reading.date_order,
        at=request.places.get(request.haul_log),
    )
    read.inputs.append(replace(log.input, role=ROLE_HAUL_LOG))
    read.remarks += log.remarks
    return replace(settings, towing=Towing.LOG, hauls=log.hauls)
