"""From the files and options of a command to a result: read, cleaned, merged, checked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from towzone import __version__
from towzone.checks.plausible import swapped_looking
from towzone.checks.run import run_check
from towzone.checks.schedule import scheduled
from towzone.checks.settings import CheckSettings, GearProof, Towing
from towzone.errors import InputError, Problem, UsageError, quoted
from towzone.files.haul_logs import read_haul_log
from towzone.files.tracks import read_tracks
from towzone.files.vessels import read_vessel
from towzone.files.zones import ZoneFile, read_zones
from towzone.geodesy.lines import LineKind
from towzone.model.result import CheckResult, InputFile, Remark
from towzone.model.track import Track, TrackKind
from towzone.model.vessel import Vessel
from towzone.model.zone import Zone
from towzone.tracks.cleaning import clean
from towzone.tracks.merging import merge
from towzone.tracks.options import ReadingOptions
from towzone.units import format_instant

__all__ = [
    "ROLE_HAUL_LOG",
    "ROLE_TRACK",
    "ROLE_VESSEL",
    "ROLE_ZONES",
    "CheckRequest",
    "Read",
    "check_files",
    "check_settings",
    "read_zone_files",
    "refuse_swapped",
    "stated_edges",
]

ROLE_TRACK, ROLE_ZONES, ROLE_VESSEL, ROLE_HAUL_LOG = "track", "zones", "vessel", "haul_log"
"""What an input was read as."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRequest:
    """What is to be checked: files and settings; what is stated here comes before the vessel's profile.

    ``local_tz`` names the time zone in which people are told times beside UTC. ``places`` tells of files
    that are read under one name where they lie under another.
    """

    tracks: tuple[str, ...]
    zone_files: tuple[str, ...] = ()
    settings: CheckSettings = field(default_factory=CheckSettings)
    vessel_file: str | None = None
    haul_log: str | None = None
    position_error_m: float | None = None
    max_speed_kn: float | None = None
    edges: LineKind | None = None
    depart_utc: np.datetime64 | None = None
    speed_kn: float | None = None
    reading: ReadingOptions = field(default_factory=ReadingOptions)
    local_tz: str | None = None
    places: Mapping[str, str] = field(default_factory=dict)

    @property
    def files(self) -> tuple[str, ...]:
        """Every file that will be read, as the user wrote it."""
        beside = [path for path in (self.vessel_file, self.haul_log) if path is not None]
        return (*self.tracks, *self.zone_files, *beside)


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
    zones_read = Read()
    profile = None
    if request.vessel_file is not None:
        profile = read_vessel(request.vessel_file, at=request.places.get(request.vessel_file))
    settings = check_settings(request, profile.vessel if profile is not None else Vessel())
    tracks = _read_tracks(request, settings, read)
    zones = read_zone_files(request.zone_files, request.edges, request.places, zones_read)
    refuse_swapped(zones, tracks)
    if settings.gear_proof is GearProof.MODEL and settings.figures is None:
        message = (
            "--gear-proof model takes the model of the gear's path for proof, and no figures of the gear are "
            "given: name a vessel profile with a table [gear] (--vessel; `towzone vessel` writes one)"
        )
        raise UsageError(message)
    settings = _with_haul_log(request, settings, zones_read, tracks)
    zones_read.remarks += _idle_options(request, tracks)
    beside = [profile] if profile is not None else []
    result = run_check(
        tracks,
        zones,
        settings,
        remarks=[*read.remarks, *zones_read.remarks, *(r for one in beside for r in one.remarks)],
        inputs=[*read.inputs, *zones_read.inputs, *(replace(one.input, role=ROLE_VESSEL) for one in beside)],
        version=__version__,
    )
    told = {**result.settings, **_request_as_data(request)}
    return replace(result, settings=told, assumptions=(*result.assumptions, *stated_edges(request.edges)))


def stated_edges(edges: LineKind | None) -> list[str]:
    """Return what to say of edges that ``--edges`` states."""
    if edges is None:
        return []
    words = {LineKind.RHUMB: "rhumb lines", LineKind.GEODESIC: "geodesics", LineKind.LONLAT: "lon/lat lines"}
    return [f"The edges of zones that do not state theirs are {words[edges]}, by --edges."]


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


def check_settings(request: CheckRequest, vessel: Vessel) -> CheckSettings:
    """Return the settings: what the command line states, else the vessel's profile, else the default."""
    settings = request.settings
    errors = (request.position_error_m, vessel.position_error_m, settings.position_error_m)
    speeds = (request.max_speed_kn, vessel.max_speed_kn, settings.max_speed_kn)
    max_speed_kn = next(speed for speed in speeds if speed is not None)
    if max_speed_kn <= 0.0:
        # At no speed at all every gap would be sailed straight, and so be clear.
        message = "the top speed (--max-speed, or that of the vessel profile) must be more than 0"
        raise UsageError(message)
    return replace(
        settings,
        position_error_m=next(error for error in errors if error is not None),
        max_speed_kn=max_speed_kn,
        gear=vessel.gear,
        # Without zones there is nothing the gear could be near to.
        figures=vessel.figures if request.zone_files else None,
        kind_margins_m=dict(vessel.margins_m),
    )


def _read_tracks(request: CheckRequest, settings: CheckSettings, read: Read) -> list[Track]:
    """Return the tracks of all files, cleaned and joined, planned ones with their times."""
    found: list[Track] = []
    for path in request.tracks:
        file = read_tracks(path, request.reading, at=request.places.get(path))
        read.inputs.append(replace(file.input, role=ROLE_TRACK))
        read.remarks += file.remarks
        for track in file.tracks:
            found.append(_cleaned(track, settings, read))
    merged, remarks = merge(found, gap_s=settings.gap_s, position_error_m=settings.position_error_m)
    read.remarks += remarks
    # Where two sources meet, a step may be impossible that neither holds.
    tracks = [t if any(t is one for one in found) else _cleaned(t, settings, read) for t in merged]
    if request.depart_utc is None or request.speed_kn is None:
        return tracks
    depart, speed = request.depart_utc, request.speed_kn
    return [
        scheduled(track, depart, speed, settings.legs) if track.kind is TrackKind.PLANNED else track
        for track in tracks
    ]


def _cleaned(track: Track, settings: CheckSettings, read: Read) -> Track:
    if track.kind is not TrackKind.COMPLETED:
        return track
    track, remarks = clean(
        track,
        max_speed_kn=settings.max_speed_kn,
        position_error_m=settings.position_error_m,
        gap_s=settings.gap_s,
    )
    read.remarks += remarks
    return track


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


def read_zone_files(
    zone_files: Sequence[str], edges: LineKind | None, places: Mapping[str, str], read: Read
) -> list[Zone]:
    """Return the zones of all files, whose ids must differ.

    Raises
    ------
    InputError
        A file was refused, or two zones have one id.
    """
    files = [read_zones(path, default_edges=edges, at=places.get(path)) for path in zone_files]
    _refuse_twins(files)
    read.remarks += [remark for file in files for remark in file.remarks]
    inputs = [some for file in files for some in (file.input, *file.companions)]
    read.inputs += [replace(one, role=ROLE_ZONES) for one in inputs]
    return [zone for file in files for zone in file.zones]


def _refuse_twins(files: list[ZoneFile]) -> None:
    seen: dict[str, str] = {}
    for zone in (zone for file in files for zone in file.zones):
        if zone.zone_id in seen:
            message = f"zone_id {quoted(zone.zone_id)} is also in {seen[zone.zone_id]}; ids must be unique"
            raise InputError(zone.file, [Problem(f"feature {zone.feature}", message)])
        seen[zone.zone_id] = zone.file


def refuse_swapped(zones: Sequence[Zone], tracks: Sequence[Track]) -> None:
    """Refuse zones whose longitude and latitude seem to have changed places, as seen from the tracks."""
    suspects = swapped_looking(zones, tracks)
    if suspects:
        zone, sentence = suspects[0]
        where = f"feature {zone.feature} (zone {quoted(zone.name)})"
        message = f"coordinates look swapped: {sentence}; GeoJSON writes longitude first"
        if len(suspects) == len(zones):
            message += ". If the zones are right, latitude and longitude changed places in the tracks"
        raise InputError(zone.file, [Problem(where, message)])
