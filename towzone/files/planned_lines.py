"""Planned lines from files: routes and tracks of GPX, waypoints of CSV; recognised by content."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace

import numpy as np

from towzone.errors import InputError, Problem, quoted
from towzone.files.csv_head import listed
from towzone.files.csv_tracks import is_table_of_fixes
from towzone.files.csv_waypoints import read_waypoints
from towzone.files.geojson import looks_like_json
from towzone.files.gpx import looks_like_xml, parse_gpx
from towzone.files.gpx_content import Columns, GpxContent, Run
from towzone.files.gpx_tracks import content_remarks, nothing_usable
from towzone.files.inputs import Opened, name_stem, open_input, whole
from towzone.geodesy.ellipsoid import LATITUDE_LIMIT_DEG, FloatArray
from towzone.geodesy.lines import LineKind
from towzone.geodesy.pieces import leg_lengths
from towzone.logs.scan import looks_like_sentences
from towzone.model.plan import PlannedLine
from towzone.model.result import InputFile, Remark
from towzone.tracks.corners import MOST_CORNERS, corner_faults, thinned_to_corners
from towzone.tracks.raw import NOT_A_TIME
from towzone.units import Instants
from towzone.words import counted

__all__ = ["TRACK_TOLERANCE_M", "LineFile", "read_lines"]

TRACK_TOLERANCE_M = 10.0
"""Own choice: a track taken for a plan is thinned to corners so that no fix is farther off; that is about
what a receiver errs by."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFile:
    """What one file gave: planned lines, what a person should know about them, and the input itself.

    ``times`` has an entry for each line: when its corners are passed, as the file says, or ``None`` where
    it does not say for all of them, or not in rising order.
    """

    lines: tuple[PlannedLine, ...]
    times: tuple[Instants | None, ...]
    remarks: tuple[Remark, ...]
    input: InputFile


@dataclass(frozen=True, slots=True, kw_only=True)
class _Draft:
    """The corners of one line, and the line of the file in which each stands."""

    name: str
    lon_deg: FloatArray
    lat_deg: FloatArray
    where: tuple[int, ...]
    names: tuple[str, ...] = ()
    times: Instants | None = None


@dataclass(slots=True)
class _Found:
    """What the reader of one format made of a file."""

    form: str
    tally: dict[str, int]
    drafts: list[_Draft]
    remarks: list[Remark]


def read_lines(
    path: str, *, legs: LineKind = LineKind.RHUMB, only: Collection[str] = (), at: str | None = None
) -> LineFile:
    """Return the planned lines of a file.

    Parameters
    ----------
    path : str
        A local file, or ``-`` for standard input: GPX 1.0 or 1.1, or CSV, compressed by gzip or not.
    legs : LineKind
        How corners will be joined; by it tracks are thinned.
    only : collection of str
        Names of the lines that are wanted, as the file has them; all of them where it is empty.
    at : str or None
        Where the file lies, if not there (`towzone.files.inputs.open_input`).

    Returns
    -------
    LineFile
        Each ``rte`` of a GPX file; without any, each segment of its tracks, thinned to corners that leave no
        fix more than `TRACK_TOLERANCE_M` aside; each line of a table. Their names begin with that of the
        file and are unique.

    Raises
    ------
    InputError
        The file cannot be read, is none of these, is damaged, or holds no line or one that cannot be towed;
        every problem is told.
    """
    opened = open_input(path, at=at)
    found = _read(opened, path, legs)
    if only:
        found.drafts = _chosen(found.drafts, frozenset(only), path)
    problems = [problem for draft in found.drafts for problem in _problems(draft)]
    if problems:
        raise InputError(path, problems)
    names = _unique([draft.name for draft in found.drafts], name_stem(path))
    lines = tuple(
        PlannedLine(
            name=name, lon_deg=draft.lon_deg, lat_deg=draft.lat_deg, point_names=draft.names, source=path
        )
        for name, draft in zip(names, found.drafts, strict=True)
    )
    return LineFile(
        lines=lines,
        times=tuple(draft.times for draft in found.drafts),
        remarks=tuple(found.remarks),
        input=replace(opened.record, form=found.form, tally=found.tally),
    )


def _read(opened: Opened, path: str, legs: LineKind) -> _Found:
    head = opened.head
    if looks_like_xml(head):
        return _from_gpx(parse_gpx(whole(opened, path), path), path, legs)
    if looks_like_sentences(head) and not is_table_of_fixes(head):
        message = (
            "this is a log of sentences, and no plan; plans are routes or tracks of GPX, or a table (CSV) of"
            " waypoints with columns name,lat,lon"
        )
        raise InputError(path, [Problem("", message)])
    if looks_like_json(head):
        message = (
            "this looks like GeoJSON, from which zones are read (--zones); plans are routes or tracks of GPX,"
            " or a table (CSV) of waypoints with columns name,lat,lon"
        )
        raise InputError(path, [Problem("", message)])
    waypoints, said = read_waypoints(opened.chunks(), path)
    drafts = [
        _Draft(
            name=points.line,
            lon_deg=points.lon_deg,
            lat_deg=points.lat_deg,
            where=points.lines,
            names=points.names,
        )
        for points in waypoints
    ]
    remarks = [Remark(file=path, where="", message=message) for message in said]
    return _Found("CSV", {"rows": sum(len(draft.where) for draft in drafts)}, drafts, remarks)


def _problems(draft: _Draft) -> Iterator[Problem]:
    of = f" of line {quoted(draft.name)}" if draft.name else ""
    for fault in corner_faults(draft.lon_deg, draft.lat_deg):
        line = draft.where[min(fault.corner, len(draft.where) - 1)] if draft.where else 0
        yield Problem(f"line {line}{of}" if line else of.strip(), fault.message)


def _chosen(drafts: list[_Draft], wanted: frozenset[str], path: str) -> list[_Draft]:
    known = [draft.name for draft in drafts]
    unknown = sorted(wanted - set(known))
    if unknown:
        message = f"there is no line {listed(unknown)}; those in the file are {listed(known)}"
        raise InputError(path, [Problem("", message)])
    return [draft for draft in drafts if draft.name in wanted]


def _unique(names: list[str], stem: str) -> list[str]:
    """Return names under that of the file, later ones that are taken with a number behind."""
    whole_names = [f"{stem}/{name}" if name else stem for name in names]
    taken, seen, result = set(whole_names), set(), []
    for name in whole_names:
        number, own = 1, name
        while own in seen or (number > 1 and own in taken):
            number += 1
            own = f"{name} ({number})"
        seen.add(own)
        result.append(own)
    return result


# GPX.


def _from_gpx(content: GpxContent, path: str, legs: LineKind) -> _Found:
    remarks = content_remarks(content, path, None)
    fixes, points = len(content.points.line), len(content.route_points.line)
    tally = {"track_points": fixes, "route_points": points, "waypoints": content.waypoints}
    found = _Found(f"GPX {content.version}".strip(), tally, [], remarks)
    if points:
        found.drafts = [
            _of_route(content, run, found, path) for run in content.routes if run.stop > run.first
        ]
        if fixes:
            message = (
                f"the routes of the file are the plan; its {counted(fixes, 'track point')} left aside. To"
                " plan along a track, give a file without routes"
            )
            remarks.append(Remark(file=path, where="", message=message))
        return found
    if not fixes:
        raise InputError(path, [Problem("", nothing_usable(content))])
    found.drafts = list(_of_tracks(content, legs, remarks, path))
    if not found.drafts:
        message = f"no track in it goes more than {TRACK_TOLERANCE_M:g} m; a planned line needs two points"
        raise InputError(path, [Problem("", message)])
    return found


def _of_route(content: GpxContent, run: Run, found: _Found, path: str) -> _Draft:
    columns, own = content.route_points, slice(run.first, run.stop)
    lon, lat = _positions(columns, own)
    times = np.array(columns.time_us[own], dtype=np.int64)
    known = times != NOT_A_TIME
    rising = bool(known.all() and (np.diff(times) > 0).all())
    name = run.name or f"route {run.group}"
    if known.any() and not rising:
        why = "do not rise from point to point" if known.all() else "are not there for all of its points"
        message = f"the times of route {quoted(name)} {why}, and are not used"
        found.remarks.append(Remark(file=path, where=f"line {run.line}", message=message))
    return _Draft(
        name=name,
        lon_deg=lon,
        lat_deg=lat,
        where=tuple(columns.line[own]),
        names=tuple(content.route_names[own]),
        times=times.view("datetime64[us]") if rising else None,
    )


def _of_tracks(content: GpxContent, legs: LineKind, remarks: list[Remark], path: str) -> Iterator[_Draft]:
    """Yield each segment of a track that goes anywhere as a line."""
    of_group: dict[int, list[Run]] = {}
    for run in content.segments:
        of_group.setdefault(run.group, []).append(run)
    for group, runs in of_group.items():
        name = next((run.name for run in runs if run.name), "") or f"track {group}"
        if len(runs) > 1:
            message = (
                f"track {quoted(name)} has {len(runs)} segments; each is a line of its own, as nothing says"
                " how they are joined"
            )
            remarks.append(Remark(file=path, where=f"line {runs[0].line}", message=message))
        for number, run in enumerate(runs, start=1):
            own = f"{name} segment {number}" if len(runs) > 1 else name
            draft = _of_segment(content, run, own, legs, remarks, path)
            if draft is not None:
                yield draft


def _of_segment(
    content: GpxContent, run: Run, name: str, legs: LineKind, remarks: list[Remark], path: str
) -> _Draft | None:
    def remark(message: str) -> None:
        remarks.append(Remark(file=path, where=f"line {run.line}", message=f"{quoted(name)}: {message}"))

    columns, own = content.points, slice(run.first, run.stop)
    if run.zero_lines:
        remark(f"{counted(len(run.zero_lines), 'track point')} at 0, 0 (no position) left out")
    lon, lat = _positions(columns, own)
    far = np.flatnonzero(np.abs(lat) > LATITUDE_LIMIT_DEG)
    if len(far):
        message = f"is beyond {LATITUDE_LIMIT_DEG:g} degrees of latitude, where nothing is computed"
        raise InputError(path, [Problem(f"line {columns.line[run.first + int(far[0])]}", message)])
    kept = None
    if len(lon) > 1:
        kept = thinned_to_corners(lon, lat, legs, tolerance_m=TRACK_TOLERANCE_M)
        if kept is None:
            message = (
                f"track {quoted(name)} has more than {MOST_CORNERS} corners, as it stays within"
                f" {TRACK_TOLERANCE_M:g} m of no simpler line; give the part of it that is to be towed"
            )
            raise InputError(path, [Problem(f"line {run.line}", message)])
    if kept is None or not _goes_anywhere(lon[kept], lat[kept]):
        remark(f"left aside, as it does not go more than {TRACK_TOLERANCE_M:g} m")
        return None
    remark(
        f"a track of {counted(len(lon), 'fix', 'fixes')} taken for a plan, thinned to"
        f" {counted(len(kept), 'corner')}; no fix is more than {TRACK_TOLERANCE_M:g} m off the line. Its"
        " times are not used"
    )
    return _Draft(
        name=name,
        lon_deg=lon[kept],
        lat_deg=lat[kept],
        where=tuple(columns.line[run.first + int(at)] for at in kept),
    )


def _goes_anywhere(lon_deg: FloatArray, lat_deg: FloatArray) -> bool:
    """Return whether the corners of a thinned track are more than one place."""
    return len(lon_deg) > 2 or bool(leg_lengths(lon_deg, lat_deg)[0] > TRACK_TOLERANCE_M)


def _positions(columns: Columns, own: slice) -> tuple[FloatArray, FloatArray]:
    return np.array(columns.lon_deg[own], dtype=np.float64), np.array(columns.lat_deg[own], dtype=np.float64)
