"""From the points of a GPX document to raw tracks and planned routes, and what to tell of the document."""

from __future__ import annotations

import zoneinfo

import numpy as np

from towzone.errors import InputError, Problem
from towzone.files.gpx import parse_gpx
from towzone.files.gpx_content import Columns, GpxContent, Run
from towzone.files.inputs import name_stem
from towzone.files.times import TimeNote
from towzone.model.result import Remark
from towzone.model.track import LeftOut, Track, TrackKind
from towzone.tracks.naming import with_unique_ids
from towzone.tracks.raw import NOT_A_TIME, RawTrack, SourceContent
from towzone.words import counted

__all__ = ["content_remarks", "nothing_usable", "read_gpx"]

_KNOWN_VERSIONS = ("1.0", "1.1")


def read_gpx(
    data: bytes, path: str, track_tz: zoneinfo.ZoneInfo | None
) -> tuple[SourceContent, tuple[Track, ...]]:
    """Return the completed track of a document, raw, and its planned routes.

    Raises
    ------
    InputError
        Not GPX, damaged anywhere, without track and route points, or with a route that is no route.
    """
    content = parse_gpx(data, path, track_tz=track_tz)
    if not content.points.line and not content.route_points.line:
        raise InputError(path, [Problem("", nothing_usable(content))])
    remarks = content_remarks(content, path, track_tz)
    raw = _raw(content, path)
    tally = {
        "track_points": len(content.points.line) + sum(len(run.zero_lines) for run in content.segments),
        "route_points": len(content.route_points.line),
        "waypoints": content.waypoints,
    }
    source = SourceContent(
        form=f"GPX {content.version}".strip(),
        raw=(raw,) if len(raw) else (),
        remarks=tuple(remarks),
        tally=tally,
    )
    return source, tuple(_routes(content, path))


def _raw(content: GpxContent, path: str) -> RawTrack:
    points = content.points
    zeros = [line for run in content.segments for line in run.zero_lines]
    return RawTrack(
        file=path,
        name=name_stem(path),
        lon_deg=np.frombuffer(points.lon_deg, dtype=np.float64),
        lat_deg=np.frombuffer(points.lat_deg, dtype=np.float64),
        time_us=np.frombuffer(points.time_us, dtype=np.int64),
        line=np.frombuffer(points.line, dtype=np.uint32),
        bounds=tuple((run.first, run.stop) for run in content.segments if run.stop > run.first),
        readings=_readings(points),
        left_out=(_zero_positions(zeros, path),) if zeros else (),
    )


def _readings(points: Columns) -> dict[str, np.ndarray[tuple[int], np.dtype[np.float32]]]:
    """Return the readings that some point of the document has."""
    columns = {"sog_kn": points.sog_kn, "cog_deg": points.cog_deg, "hdop": points.hdop}
    return {name: np.frombuffer(column, dtype=np.float32) for name, column in columns.items() if len(column)}


def _zero_positions(lines: list[int], path: str) -> LeftOut:
    return LeftOut(
        reason="zero_position",
        file=path,
        line=np.array(lines, dtype=np.uint32),
        time_utc=np.full(len(lines), np.datetime64("NaT"), dtype="datetime64[us]"),
        lon_deg=np.zeros(len(lines)),
        lat_deg=np.zeros(len(lines)),
    )


def nothing_usable(content: GpxContent) -> str:
    """Say what a document holds that has neither track nor route points."""
    zeros = sum(len(run.zero_lines) for run in content.segments)
    holds = [
        f"{counted(zeros, 'track point')} at 0, 0 (no position)" if zeros else "",
        counted(content.waypoints, "waypoint") if content.waypoints else "",
        counted(len(content.segments), "empty track segment") if content.segments and not zeros else "",
        counted(len(content.routes), "empty route") if content.routes else "",
    ]
    found = ", ".join(part for part in holds if part) or "nothing"
    advice = "waypoints are not a track: join them to a route (rte) or track (trk) and export that"
    return f"holds no track and no route points, only {found}; {advice}"


def content_remarks(content: GpxContent, path: str, track_tz: zoneinfo.ZoneInfo | None) -> list[Remark]:
    """Return what a person should know of how a document was read."""
    remarks = []

    def remark(line: int, message: str) -> None:
        remarks.append(Remark(file=path, where=f"line {line}" if line else "", message=message))

    if content.version not in _KNOWN_VERSIONS:
        remark(0, "the file does not say that it is GPX 1.0 or 1.1; it was read as GPX 1.1")
    if count := content.notes.get(TimeNote.NO_ZONE, 0):
        how = f"in {track_tz.key}, as asked" if track_tz else "as UTC, which GPX defines"
        remark(
            content.first_note_line[TimeNote.NO_ZONE], f"{counted(count, 'time')} without a zone, read {how}"
        )
    if count := content.notes.get(TimeNote.LEAP_SECOND, 0):
        remark(
            content.first_note_line[TimeNote.LEAP_SECOND],
            f"{counted(count, 'time')} with second 60, read as the next second",
        )
    if content.unread:
        line, words = content.first_unread
        remark(line, f"{counted(content.unread, 'reading')} passed over, first {words}")
    for runs, what in ((content.segments, "track segment"), (content.routes, "route")):
        empty = [run for run in runs if run.first == run.stop and not run.zero_lines]
        if empty:
            remark(empty[0].line, f"{counted(len(empty), f'empty {what}')} ignored")
    return remarks


def _routes(content: GpxContent, path: str) -> list[Track]:
    tracks = []
    problems = []
    columns = content.route_points
    stem = name_stem(path)
    times = np.array(columns.time_us, dtype=np.int64)
    for run in content.routes:
        size = run.stop - run.first
        if size == 0:
            continue
        where = f"line {run.line}"
        if size == 1:
            problems.append(Problem(where, "the route has one point; a planned route needs at least two"))
            continue
        known = np.flatnonzero(times[run.first : run.stop] != NOT_A_TIME) + run.first
        back = np.flatnonzero(np.diff(times[known]) < 0)
        if len(back):
            line = columns.line[int(known[back[0] + 1])]
            problems.append(
                Problem(f"line {line}", "the time of this route point is before that of an earlier one")
            )
            continue
        tracks.append(_route(content, run, path, f"{stem}/{run.name or f'route {run.group}'}"))
    if problems:
        raise InputError(path, problems)
    return list(with_unique_ids(tracks))


def _route(content: GpxContent, run: Run, path: str, track_id: str) -> Track:
    columns, own = content.route_points, slice(run.first, run.stop)
    size = run.stop - run.first
    return Track(
        track_id=track_id,
        source=path,
        kind=TrackKind.PLANNED,
        lon_deg=np.array(columns.lon_deg[own]),
        lat_deg=np.array(columns.lat_deg[own]),
        time_utc=np.array(columns.time_us[own], dtype=np.int64).view("datetime64[us]"),
        part=np.zeros(size, dtype=np.int32),
        fixes_read=size,
    )
