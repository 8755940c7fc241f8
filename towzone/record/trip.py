"""What the record tells of a trip: its tracks, fixes left out, tows, shots and gaps."""

from __future__ import annotations

import numpy as np

from towzone.model.result import CheckResult, Gap, Tow
from towzone.model.track import REASONS, LeftOut
from towzone.record.plain_table import none, plain_table, unbroken
from towzone.record.text import SENTENCE, shown
from towzone.record.words import STATUS, TRACK, count_of
from towzone.units import format_duration, format_length, format_position, format_time

__all__ = ["gaps_table", "left_out_table", "moves_table", "tows_part", "tracks_table"]

_LISTED = 2000
"""Of the fixes left out; all are counted. Own choice, so that a bad log does not swell the record."""


def tracks_table(result: CheckResult) -> str:
    """Return the tracks and how many of their fixes were used, as HTML."""
    rows = []
    for track in result.tracks:
        dropped = "; ".join(f"{d.count} {shown(d.reason, 80)}" for d in track.dropped) or "none"
        known = track.time_utc[~np.isnat(track.time_utc)]
        times = f"{format_time(known[0])} to {format_time(known[-1])}" if len(known) else "no times"
        rows.append(
            (
                shown(track.track_id, 120),
                TRACK[track.kind],
                shown(track.source),
                f"{track.fixes_read} read, {len(track)} used; left out: {dropped}",
                times,
                unbroken(format_length(result.lengths_m[track.track_id])),
            )
        )
    return plain_table(
        "Tracks and routes checked.", ("Track", "Kind", "File", "Fixes", "Time", "Length"), rows
    )


def left_out_table(result: CheckResult) -> str:
    """Return every fix that was left out (the first thousands of them), as HTML."""
    some = [left_out for track in result.tracks for left_out in track.left_out]
    total = sum(len(one) for one in some)
    if not total:
        return none("None: every fix read was used.")
    runs = [(one, first, last) for one in some for first, last in one.runs()]
    rows = [_left_out(one, first, last) for one, first, last in runs[:_LISTED]]
    more = (
        f" The first {_LISTED} stretches are listed; towzone check -v lists all."
        if len(runs) > _LISTED
        else ""
    )
    caption = (
        f"{count_of(total, 'fix was', 'fixes were')} left out. Where one told of another place, the stretch"
        f" is left open.{more}"
    )
    return plain_table(caption, ("File", "Lines", "Fixes", "Time", "Position", "Why"), rows)


def _left_out(one: LeftOut, first: int, last: int) -> tuple[str, ...]:
    lon, lat = float(one.lon_deg[first]), float(one.lat_deg[first])
    known = bool(np.isfinite(lon) and np.isfinite(lat))
    lines = str(one.line[first]) if one.line[first] else "–"
    time = unbroken(format_time(one.time_utc[first]))
    if last > first:
        lines += f" to {one.line[last]}"
        time += f' <span class="second">to {unbroken(format_time(one.time_utc[last]))}</span>'
    return (
        shown(one.file),
        lines,
        str(last - first + 1),
        time,
        unbroken(format_position(lon, lat)) if known else "none",
        f"it {REASONS[one.reason]}",
    )


def tows_part(result: CheckResult) -> str:
    """Return the tows, what is open of them, and where the haul log tells otherwise, as HTML."""
    return _tows(result) + _doubts(result) + _log(result)


def _tows(result: CheckResult) -> str:
    if not result.tows:
        return none("No tows were told apart.")
    headings = ("Tow", "Shoot", "Haul", "Length", "Depth", "ICES rectangles", "Known from")
    return plain_table(
        "Tows, from shooting to hauling.", headings, [_tow(tow, result) for tow in result.tows]
    )


def _tow(tow: Tow, result: CheckResult) -> tuple[str, ...]:
    track = f' <span class="second">{shown(tow.track_id, 120)}</span>' if len(result.tracks) > 1 else ""
    duration = "duration not known" if tow.seconds is None else format_duration(tow.seconds)
    speed = "speed not known" if tow.mean_speed_kn is None else f"{tow.mean_speed_kn:.1f} kn"
    speed += f", {format_duration(tow.gap_seconds)} of it without positions" if tow.gap_seconds else ""
    return (
        f"{tow.number}{track}",
        _moment(tow.shoot_utc, tow.shoot_position, "or earlier" if tow.shoot_open else ""),
        _moment(tow.haul_utc, tow.haul_position, "or later" if tow.haul_open else ""),
        f'{unbroken(format_length(tow.length_m))} <span class="second">{duration}, {speed}</span>',
        "not known" if tow.depth_m is None else f"{tow.depth_m:.0f} m",
        " ".join(tow.rectangles) or "outside the ICES grid",
        _basis(tow),
    )


def _basis(tow: Tow) -> str:
    if tow.basis == "log":
        return f"haul {shown(tow.haul_id, 80)} of the log" + ("" if tow.in_track else "; not in the track")
    return {"detected": "its speeds", "all": "all counts as towing"}.get(tow.basis, shown(tow.basis, 80))


def _moment(instant: np.datetime64, position: tuple[float, float] | None, bound: str) -> str:
    where = unbroken(format_position(*position)) if position is not None else "position not known"
    time = f"{unbroken(format_time(instant))} {bound}".strip()
    return f'{time} <span class="second">{where}</span>'


def _doubts(result: CheckResult) -> str:
    rows = [
        (
            shown(doubt.track_id, 120),
            format_time(doubt.from_utc),
            format_time(doubt.to_utc),
            "not known" if doubt.seconds is None else format_duration(doubt.seconds),
        )
        for doubt in result.doubts
    ]
    if not rows:
        return ""
    return plain_table("Stretches of which towing cannot be told.", ("Track", "From", "To", "Duration"), rows)


def _log(result: CheckResult) -> str:
    rows = [
        (shown(track_id, 120), shown(item.explain, SENTENCE))
        for track_id, some in result.log_disagreements.items()
        for item in some
    ]
    return plain_table("The haul log and the track disagree.", ("Track", "What"), rows) if rows else ""


def moves_table(result: CheckResult) -> str:
    """Return the shots after the tow that the move-on rule names, as HTML."""
    rows = [
        (
            str(move.tow) if move.tow is not None else "–",
            STATUS[move.status],
            "not known" if move.distance_m is None else unbroken(format_length(move.distance_m)),
            unbroken(format_length(move.required_m)),
            shown(move.explain, SENTENCE),
        )
        for move in result.moves
    ]
    caption = f"Later shots and every position of tow {result.moves[0].from_tow}."
    return plain_table(caption, ("Tow", "Result", "Distance", "Required", "What"), rows)


def gaps_table(result: CheckResult) -> str:
    """Return the gaps and what each leaves open, as HTML."""
    rows = [
        (
            shown(track_id, 120),
            format_time(gap.from_utc),
            format_time(gap.to_utc),
            "not known" if gap.seconds is None else format_duration(gap.seconds),
            "not known" if gap.reach_m is None else unbroken(format_length(gap.reach_m)),
            _reached(gap),
        )
        for track_id, gaps in result.gaps.items()
        for gap in gaps
    ]
    if not rows:
        return none("None: the positions cover every track.")
    headings = ("Track", "From", "To", "Duration", "Longest possible way", "Zones within reach")
    return plain_table(
        "Stretches not covered by positions; nothing is interpolated over them.", headings, rows
    )


def _reached(gap: Gap) -> str:
    if gap.reach_m is None:
        return "any"
    items = [
        f"{shown(reach.zone_id, 80)}: at {reach.least_speed_kn:.1f} kn or more, for"
        f" {format_duration(reach.longest_inside_s)} at most, {'a' if reach.tow_fits else 'no'} tow possible"
        for reach in gap.could_reach
    ]
    return "<br>".join(items) or "none"
