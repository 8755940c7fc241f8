"""From the files and options of a plan to its result: read, named, planned."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from towzone import __version__
from towzone.checks.plausible import refuse_swapped
from towzone.checks.settings import CheckSettings
from towzone.checks.stated import stated_edges, stated_settings
from towzone.errors import UsageError
from towzone.files.inputs import name_stem
from towzone.files.vessels import read_vessel
from towzone.files.zone_sets import read_zone_files
from towzone.gear.defaults import DRIFT_SIGMA_KN
from towzone.geodesy.lines import LineKind
from towzone.model.plan import PlannedLine
from towzone.model.result import ROLE_TRACK, ROLE_VESSEL, CheckResult, InputFile, Remark
from towzone.model.track import Track, TrackKind
from towzone.model.vessel import GearFigures, Vessel
from towzone.plan.judging import PlanSettings
from towzone.plan.lines import legs_of, reversed_line
from towzone.plan.run import PlanWishes, run_plan
from towzone.tows.bands import GearBand, band_of_gear
from towzone.units import KNOT_MPS, format_duration, format_instant

if TYPE_CHECKING:
    from towzone.files.planned_lines import LineFile

__all__ = ["PlanRequest", "plan_files"]

_UNKNOWN_SIGMAS = 3.0
"""Of a current nobody states, so many standard deviations are the strongest reckoned with. Own choice."""

_LONG_TOW_S = 18.0 * 3600.0
"""A line that takes longer is asked about: it may be a whole trip. Own choice, far beyond usual tows."""

_ON_THE_LINE = (
    "ASSUMED: the vessel keeps to the line exactly; how far off it may be is not stated (--steering)."
)


_ALIKE_KN = 0.1
"""Speeds of routes by their own times that differ by so little are one: times are rounded. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRequest:
    """What is to be planned: files, lines and settings; what is stated here comes before the profile.

    ``texts`` are lines written out; ``only`` names the lines of files that are wanted, all if it is empty.
    ``places`` tells of files that are read under one name where they lie under another.
    """

    routes: tuple[str, ...] = ()
    texts: tuple[str, ...] = ()
    zone_files: tuple[str, ...] = ()
    vessel_file: str
    settings: CheckSettings = field(default_factory=CheckSettings)
    position_error_m: float | None = None
    edges: LineKind | None = None
    depart_utc: np.datetime64 | None = None
    speed_kn: float | None = None
    hauling_way_kn: float | None = None
    strongest_kn: float | None = None
    only: tuple[str, ...] = ()
    reverse: bool = False
    wishes: PlanWishes = field(default_factory=PlanWishes)
    local_tz: str | None = None
    places: Mapping[str, str] = field(default_factory=dict)

    @property
    def files(self) -> tuple[str, ...]:
        """Every file that will be read, as the user wrote it."""
        return (*self.routes, *self.zone_files, self.vessel_file)


@dataclass(slots=True, kw_only=True)
class _Lines:
    """The lines that were read, what their files say of times, and what there is to say of the files."""

    lines: list[PlannedLine] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    inputs: list[InputFile] = field(default_factory=list)
    departs: list[np.datetime64] = field(default_factory=list)
    speeds_kn: list[float] = field(default_factory=list)


def plan_files(request: PlanRequest) -> CheckResult:
    """Read the files of a request and plan its lines.

    Raises
    ------
    InputError
        A file was refused.
    GeometryError
        A leg or edge is too long or ambiguous.
    UsageError
        Something that a plan needs is stated nowhere.
    """
    profile = read_vessel(request.vessel_file, at=request.places.get(request.vessel_file))
    lines = _read_lines(request)
    zones = read_zone_files(request.zone_files, request.edges, request.places)
    refuse_swapped(zones.zones, [_as_route(line) for line in lines.lines])
    settings = _settings(request, profile.vessel, lines)
    result = run_plan(
        lines.lines,
        zones.zones,
        settings,
        request.wishes,
        remarks=[*lines.remarks, *zones.remarks, *profile.remarks, *_doubts(settings, lines)],
        inputs=[*lines.inputs, *zones.inputs, replace(profile.input, role=ROLE_VESSEL)],
        version=__version__,
    )
    told = {**result.settings, **_as_data(request, settings)}
    steered = (_ON_THE_LINE,) if settings.check.steering_m <= 0.0 else ()
    assumed = (*result.assumptions, *steered, *stated_edges(request.edges))
    return replace(result, settings=told, assumptions=assumed)


def _read_lines(request: PlanRequest) -> _Lines:
    found = _Lines()
    for path in request.routes:
        from towzone.files.planned_lines import read_lines  # with all formats of routes, loaded where needed

        file = read_lines(path, legs=request.settings.legs, only=request.only, at=request.places.get(path))
        found.inputs.append(replace(file.input, role=ROLE_TRACK))
        found.remarks += file.remarks
        alone = len(file.lines) == 1
        # Of a file with one line the name of the file is enough, and short enough for tables.
        found.lines += [replace(line, name=name_stem(path)) if alone else line for line in file.lines]
        _note_times(file, request.settings.legs, found)
    for number, text in enumerate(request.texts, start=1):
        name = "line" if len(request.texts) == 1 else f"line {number}"
        from towzone.notices.line_text import line_of_text

        found.lines.append(line_of_text(text, name))
    if not found.lines:
        message = "there is nothing to plan: name a file of a route, or write a line with --line"
        raise UsageError(message)
    found.lines = _uniquely_named(found.lines)
    if request.reverse:
        names = {line.name for line in found.lines}
        found.lines += [
            reversed_line(line, _free(f"{line.name} reversed", names)) for line in list(found.lines)
        ]
    return found


def _as_route(line: PlannedLine) -> Track:
    return Track(
        track_id=line.name,
        source=line.source,
        kind=TrackKind.PLANNED,
        lon_deg=line.lon_deg,
        lat_deg=line.lat_deg,
        time_utc=np.full(len(line), "NaT", dtype="datetime64[us]"),
        part=np.zeros(len(line), dtype=np.int32),
        fixes_read=len(line),
    )


def _note_times(file: LineFile, legs: LineKind, found: _Lines) -> None:
    """Note departure and mean speed of the lines that have times of their own."""
    for line, times in zip(file.lines, file.times, strict=True):
        if times is not None:
            seconds = float((times[-1] - times[0]) / np.timedelta64(1, "us")) / 1e6
            found.departs.append(times[0])
            found.speeds_kn.append(float(legs_of(line, legs).length_m.sum()) / seconds / KNOT_MPS)


def _uniquely_named(lines: Sequence[PlannedLine]) -> list[PlannedLine]:
    names: set[str] = set()
    return [replace(line, name=_free(line.name, names)) for line in lines]


def _free(name: str, taken: set[str]) -> str:
    """Return a name that is not taken, and take it."""
    free, number = name, 1
    while free in taken:
        number += 1
        free = f"{name} ({number})"
    taken.add(free)
    return free


def _settings(request: PlanRequest, vessel: Vessel, lines: _Lines) -> PlanSettings:
    """Return the settings: what the command line states, else the files, else the profile; else refuse."""
    if vessel.figures is None:
        message = (
            f"{request.vessel_file} has no table [gear]: without the figures of the gear no tow can be "
            "planned (`towzone vessel` writes a profile to fill in)"
        )
        raise UsageError(message)
    speed_kn = _speed_kn(request, vessel, lines)
    strongest_kn = request.strongest_kn if request.strongest_kn is not None else vessel.plan.strongest_kn
    hauling_kn = request.hauling_way_kn if request.hauling_way_kn is not None else vessel.plan.hauling_way_kn
    figures = replace(vessel.figures, tow_speed_kn=speed_kn)
    _refuse_currents(figures, strongest_kn, speed_kn)
    if strongest_kn is not None:
        # A current from any direction takes the place of the steady one, which is one of them.
        figures = replace(figures, current=None, strongest_kn=strongest_kn)
    unknown_kn = _UNKNOWN_SIGMAS * DRIFT_SIGMA_KN[figures.current is not None]
    check = stated_settings(
        request.settings,
        replace(vessel, figures=figures),
        position_error_m=request.position_error_m,
        max_speed_kn=None,
        with_zones=bool(request.zone_files),
    )
    for option, known_kn in (("--speed", speed_kn), ("--hauling-way", hauling_kn)):
        if known_kn is not None and known_kn > check.max_speed_kn:
            message = (
                f"{known_kn:g} kn ({option}, or what the profile or the times of the route say) is more than "
                f"the vessel can go, {check.max_speed_kn:g} kn (max_speed of the profile, else 12kn)"
            )
            raise UsageError(message)
    return PlanSettings(
        check=check,
        depart_utc=_depart_utc(request, lines),
        speed_kn=speed_kn,
        hauling_way_kn=hauling_kn if hauling_kn is not None else speed_kn,
        hauling_way_stated=hauling_kn is not None,
        strongest_kn=strongest_kn if strongest_kn is not None else unknown_kn,
        strongest_stated=strongest_kn is not None,
        fuel_l_per_h=vessel.plan.tow_fuel_l_per_h,
    )


def _refuse_currents(figures: GearFigures, strongest_kn: float | None, speed_kn: float) -> None:
    """Refuse currents that contradict each other or the speed, wherever each of them is stated."""
    steady_kn = figures.current.drift_kn if figures.current is not None else 0.0
    if strongest_kn is not None and strongest_kn < steady_kn:
        message = (
            f"the strongest current of {strongest_kn:g} kn (--strongest) is less than the steady one of the "
            f"vessel profile, {steady_kn:g} kn (drift); correct one of both, or leave set_deg and drift out"
        )
        raise UsageError(message)
    fastest_kn = max(steady_kn, strongest_kn or 0.0)
    if fastest_kn >= speed_kn:
        message = (
            f"the current of {fastest_kn:g} kn (--strongest, or the vessel profile) is no less than the "
            f"towing speed, {speed_kn:g} kn: gear that is carried along faster than it is towed is not "
            "computed; state the current near the bottom, or another speed"
        )
        raise UsageError(message)


def _speed_kn(request: PlanRequest, vessel: Vessel, lines: _Lines) -> float:
    stated = (request.speed_kn, vessel.figures.tow_speed_kn if vessel.figures is not None else None)
    known = [speed for speed in (*stated, *lines.speeds_kn[:1]) if speed is not None]
    if not known:
        message = (
            "how fast you tow is stated nowhere: write it with --speed, such as --speed 3.2kn, or as "
            "tow_speed in the table [handling] of the vessel profile"
        )
        raise UsageError(message)
    if known[0] <= 0.0:
        message = "--speed must be more than 0"
        raise UsageError(message)
    if not any(stated) and max(lines.speeds_kn) - min(lines.speeds_kn) > _ALIKE_KN:
        slowest_kn, fastest_kn = min(lines.speeds_kn), max(lines.speeds_kn)
        message = (
            f"by their times the routes are towed at {slowest_kn:.1f} to {fastest_kn:.1f} kn, and lines are "
            "compared at one speed: state it with --speed"
        )
        raise UsageError(message)
    return known[0]


def _doubts(settings: PlanSettings, lines: _Lines) -> Iterator[Remark]:
    """Yield what may be a slip: a speed at which nobody tows that gear, a line as long as a trip."""
    band = band_of_gear(settings.check.gear)
    if isinstance(band, GearBand) and not band.low_kn <= settings.speed_kn <= band.high_kn:
        message = (
            f"towing at {settings.speed_kn:g} kn is planned; vessels tow such gear at {band.low_kn:g} to "
            f"{band.high_kn:g} kn over the ground ({band.source})"
        )
        yield Remark(file="", where="", message=message)
    for line in lines.lines:
        seconds = float(legs_of(line, settings.check.legs).length_m.sum()) / (settings.speed_kn * KNOT_MPS)
        if seconds > _LONG_TOW_S:
            message = (
                f"takes {format_duration(seconds)}, and all of it counts as towing: leave out the way to the "
                "ground and home"
            )
            yield Remark(file=line.source, where=f"line '{line.name}'", message=message)


def _depart_utc(request: PlanRequest, lines: _Lines) -> np.datetime64:
    if request.depart_utc is not None:
        return request.depart_utc
    if not lines.departs:
        message = (
            "when towing begins is stated nowhere, and which rules are in force depends on it: write it with "
            "--depart, such as --depart 2026-05-12T06:30Z"
        )
        raise UsageError(message)
    if len(set(lines.departs)) > 1:
        message = (
            "the routes begin at different times, and lines are compared for one departure: state it with "
            "--depart"
        )
        raise UsageError(message)
    return lines.departs[0]


def _as_data(request: PlanRequest, settings: PlanSettings) -> dict[str, object]:
    """Return how the plan was asked for, for the settings of its result: from these it is made again."""
    return {
        "edges": request.edges.value if request.edges is not None else None,
        "local_tz": request.local_tz,
        "plan": {
            "advise": request.wishes.advise,
            "correct": request.wishes.correct,
            "depart_utc": format_instant(settings.depart_utc),
            "hauling_way_kn": settings.hauling_way_kn,
            "hauling_way_stated": settings.hauling_way_stated,
            "lines": list(request.texts),
            "only": list(request.only),
            "reverse": request.reverse,
            "speed_kn": settings.speed_kn,
            "strongest_kn": settings.strongest_kn,
            "strongest_stated": settings.strongest_stated,
        },
    }
