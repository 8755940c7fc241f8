"""Tracks and routes from files: recognise, order, number the parts, say what was left out."""

from __future__ import annotations

import itertools
import zoneinfo
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from towzone.errors import InputError, Problem
from towzone.files.completed import completed_tracks
from towzone.files.gpx import GpxContent, Run, looks_like_xml, parse_gpx
from towzone.files.inputs import load, name_stem
from towzone.files.times import NOT_A_TIME, TimeNote
from towzone.files.words import counted
from towzone.model.result import InputFile, Remark
from towzone.model.track import Dropped, Track, TrackKind

__all__ = ["TrackFile", "join_completed", "read_tracks"]

_KNOWN_VERSIONS = ("1.0", "1.1")


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackFile:
    """What one file gave: its tracks, what a person should know about them, and the input itself."""

    tracks: tuple[Track, ...]
    remarks: tuple[Remark, ...]
    input: InputFile


def read_tracks(path: str, *, track_tz: zoneinfo.ZoneInfo | None = None) -> TrackFile:
    """Return the completed track and the planned routes of a file.

    Parameters
    ----------
    path : str
        A local GPX 1.0 or 1.1 file, or ``-`` for standard input; recognised by content.
    track_tz : ZoneInfo or None
        Zone of times that state none; without it they are UTC, which GPX defines.

    Returns
    -------
    TrackFile
        All ``trk`` of the file as one completed track (several only where their parts overlap in time),
        then one planned track for each ``rte``.

    Raises
    ------
    InputError
        The file is not readable, not GPX, damaged anywhere, or holds neither track nor route points.
    """
    loaded = load(path)
    record = loaded.record
    if not looks_like_xml(loaded.data):
        message = "this is not GPX; this version reads tracks and routes from GPX 1.0 and 1.1 only"
        raise InputError(path, [Problem("", message)])
    content = parse_gpx(loaded.data, path, track_tz=track_tz)
    del loaded  # the text is several times larger than the columns and no longer needed
    if not content.points.line and not content.route_points.line:
        raise InputError(path, [Problem("", _nothing_to_judge(content))])
    remarks = _content_remarks(content, path, track_tz)
    tracks, order_remarks = completed_tracks(content, path)
    routes = _routes(content, path)
    return TrackFile(tracks=(*tracks, *routes), remarks=(*remarks, *order_remarks), input=record)


def join_completed(tracks: Sequence[Track]) -> tuple[tuple[Track, ...], tuple[Remark, ...]]:
    """Join the completed tracks of several files into the track of one vessel.

    Parameters
    ----------
    tracks : sequence of Track
        Of all files, in the order given; planned ones pass through.

    Returns
    -------
    tuple of Track
        The joined track in place of the first completed one, if all begin and end with a known time and
        no two overlap; otherwise all of them. ``track_id`` is unique in any case.
    tuple of Remark
        That they were joined, or why not.
    """
    completed = [track for track in tracks if track.kind is TrackKind.COMPLETED]
    if len(completed) < 2:
        return _with_unique_ids(tracks), ()
    names = ", ".join(dict.fromkeys(track.source for track in completed))
    why_not = _why_not_joined(completed)
    if why_not:
        message = (
            f"the {len(completed)} completed tracks are judged one by one and what lies between them is not,"
            f" because {why_not}"
        )
        return _with_unique_ids(tracks), (Remark(file=names, where="", message=message),)
    ordered = sorted(completed, key=lambda track: track.time_utc[0])
    joined = _joined(ordered)
    result = [joined if track is completed[0] else track for track in tracks]
    result = [track for track in result if track is joined or track.kind is TrackKind.PLANNED]
    message = f"{len(completed)} completed tracks are taken as one vessel's and joined in time order"
    return _with_unique_ids(result), (Remark(file=names, where="", message=message),)


def _why_not_joined(completed: Sequence[Track]) -> str:
    for track in completed:
        if np.isnat(track.time_utc[0]) or np.isnat(track.time_utc[-1]):
            return f"{track.source} does not begin and end with a known time"
    ordered = sorted(completed, key=lambda track: track.time_utc[0])
    for earlier, later in itertools.pairwise(ordered):
        if later.time_utc[0] < earlier.time_utc[-1]:
            return f"{earlier.track_id} and {later.track_id} overlap in time"
    return ""


def _joined(ordered: Sequence[Track]) -> Track:
    dropped: dict[str, int] = {}
    keep: list[slice] = []
    last: Track | None = None
    for track in ordered:
        for item in track.dropped:
            dropped[item.reason] = dropped.get(item.reason, 0) + item.count
        first = 0
        if last is not None and track.time_utc[0] == last.time_utc[-1]:
            # A log cut in two often repeats the fix at the cut.
            same = (track.lon_deg[0], track.lat_deg[0]) == (last.lon_deg[-1], last.lat_deg[-1])
            reason = "duplicate" if same else "conflicting_time"
            dropped[reason] = dropped.get(reason, 0) + 1
            first = 1
        keep.append(slice(first, None))
        last = track
    starts = np.cumsum([0, *(int(track.part[-1]) + 1 for track in ordered)])
    pairs = list(zip(ordered, keep, strict=True))
    return Track(
        track_id="+".join(track.track_id for track in ordered),
        source=", ".join(dict.fromkeys(track.source for track in ordered)),
        kind=TrackKind.COMPLETED,
        lon_deg=np.concatenate([track.lon_deg[part] for track, part in pairs]),
        lat_deg=np.concatenate([track.lat_deg[part] for track, part in pairs]),
        time_utc=np.concatenate([track.time_utc[part] for track, part in pairs]),
        part=np.concatenate(
            [track.part[part] + start for (track, part), start in zip(pairs, starts[:-1], strict=True)]
        ).astype(np.int32),
        fixes_read=sum(track.fixes_read for track in ordered),
        dropped=tuple(Dropped(reason=reason, count=count) for reason, count in sorted(dropped.items())),
    )


def _with_unique_ids(tracks: Sequence[Track]) -> tuple[Track, ...]:
    taken = {track.track_id for track in tracks}
    seen: set[str] = set()
    result = []
    for track in tracks:
        if track.track_id in seen:
            number = 2
            while f"{track.track_id} ({number})" in taken:
                number += 1
            track = _renamed(track, f"{track.track_id} ({number})")
            taken.add(track.track_id)
        seen.add(track.track_id)
        result.append(track)
    return tuple(result)


def _renamed(track: Track, track_id: str) -> Track:
    return Track(
        track_id=track_id,
        source=track.source,
        kind=track.kind,
        lon_deg=track.lon_deg,
        lat_deg=track.lat_deg,
        time_utc=track.time_utc,
        part=track.part,
        fixes_read=track.fixes_read,
        dropped=track.dropped,
    )


def _nothing_to_judge(content: GpxContent) -> str:
    zeros = sum(len(run.zero_lines) for run in content.segments)
    holds = [
        f"{counted(zeros, 'track point')} at 0, 0 (no position)" if zeros else "",
        counted(content.waypoints, "waypoint") if content.waypoints else "",
        counted(len(content.segments), "empty track segment") if content.segments and not zeros else "",
        counted(len(content.routes), "empty route") if content.routes else "",
    ]
    found = ", ".join(part for part in holds if part) or "nothing"
    return f"holds no track and no route points, only {found}; waypoints are not a track"


def _content_remarks(content: GpxContent, path: str, track_tz: zoneinfo.ZoneInfo | None) -> list[Remark]:
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
    return list(_with_unique_ids(tracks))


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
