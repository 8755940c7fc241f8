"""What the record tells of a trip: its tracks, fixes left out, tows, shots and gaps."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from towzone.model.result import CheckResult, Gap, Tow
from towzone.model.track import REASONS, LeftOut, Track
from towzone.record.catalogue import markup, say, say_count
from towzone.record.clock import LocalClock
from towzone.record.sections.plain_table import none, plain_table, unbroken
from towzone.record.sections.track_words import track_word
from towzone.record.text import SENTENCE, escape, shown
from towzone.record.words import STATUS
from towzone.units import format_duration, format_length, format_position

__all__ = ["gaps_table", "left_out_table", "moves_table", "tows_part", "tracks_table"]

_LISTED = 2000
"""Of the fixes left out; all are counted. Own choice, so that a bad log does not swell the record."""


def _table(name: str, caption: str, heads: tuple[str, ...], rows: Sequence[Sequence[str]]) -> str:
    return plain_table(caption, [say(f"evidence.{name}.{head}") for head in heads], rows)


def tracks_table(result: CheckResult, clock: LocalClock) -> str:
    """Return the tracks and how many of their fixes were used, as HTML."""
    rows = [
        (
            shown(track.track_id, 120),
            escape(track_word(track, result)),
            shown(track.source),
            _fixes(track),
            _span(track, clock),
            unbroken(format_length(result.lengths_m[track.track_id])),
        )
        for track in result.tracks
    ]
    note = escape(say("evidence.tracks.clock", name=clock.name))
    heads = ("track", "kind", "file", "fixes", "time", "length")
    return f"<p>{note}</p>{_table('tracks', say('evidence.tracks.caption'), heads, rows)}"


def _fixes(track: Track) -> str:
    dropped = [
        markup("evidence.tracks.dropped", count=str(d.count), reason=shown(d.reason, 80))
        for d in track.dropped
    ]
    return markup(
        "evidence.tracks.used",
        read=str(track.fixes_read),
        used=str(len(track)),
        dropped="; ".join(dropped) or escape(say("evidence.tracks.none")),
    )


def _span(track: Track, clock: LocalClock) -> str:
    known = track.time_utc[~np.isnat(track.time_utc)]
    if not len(known):
        return escape(say("evidence.tracks.no_times"))
    return markup("evidence.span", begin=clock.html(known[0]), end=clock.html(known[-1]))


def left_out_table(result: CheckResult, clock: LocalClock) -> str:
    """Return every fix that was left out (the first thousands of them), as HTML."""
    some = [left_out for track in result.tracks for left_out in track.left_out]
    total = sum(len(one) for one in some)
    if not total:
        return none(escape(say("evidence.left_out.none")))
    runs = [(one, first, last) for one in some for first, last in one.runs()]
    rows = [_left_out(one, first, last, clock) for one, first, last in runs[:_LISTED]]
    more = say("evidence.left_out.more", count=_LISTED) if len(runs) > _LISTED else ""
    caption = say_count("evidence.left_out.caption", total) + more
    return _table("left_out", caption, ("file", "lines", "fixes", "time", "position", "why"), rows)


def _left_out(one: LeftOut, first: int, last: int, clock: LocalClock) -> tuple[str, ...]:
    lon, lat = float(one.lon_deg[first]), float(one.lat_deg[first])
    known = bool(np.isfinite(lon) and np.isfinite(lat))
    lines = str(one.line[first]) if one.line[first] else "–"
    time = clock.html(one.time_utc[first])
    if last > first:
        lines += f" {markup('evidence.left_out.to', end=str(one.line[last]))}"
        until = markup("evidence.left_out.to", end=clock.html(one.time_utc[last]))
        time += f' <span class="second">{until}</span>'
    return (
        shown(one.file),
        lines,
        str(last - first + 1),
        time,
        unbroken(format_position(lon, lat)) if known else escape(say("evidence.left_out.no_position")),
        escape(say("evidence.left_out.it", reason=REASONS[one.reason])),
    )


def tows_part(result: CheckResult, clock: LocalClock) -> str:
    """Return the tows, what is open of them, and where the haul log tells otherwise, as HTML."""
    return _tows(result, clock) + _doubts(result, clock) + _log(result)


def _tows(result: CheckResult, clock: LocalClock) -> str:
    if not result.tows:
        return none(escape(say("evidence.tows.none")))
    heads = ("tow", "shoot", "haul", "length", "depth", "rectangles", "basis")
    rows = [_tow(tow, result, clock) for tow in result.tows]
    return _table("tows", say("evidence.tows.caption"), heads, rows)


def _tow(tow: Tow, result: CheckResult, clock: LocalClock) -> tuple[str, ...]:
    track = f' <span class="second">{shown(tow.track_id, 120)}</span>' if len(result.tracks) > 1 else ""
    time = say("evidence.tows.no_duration") if tow.seconds is None else format_duration(tow.seconds)
    speed = say("evidence.tows.no_speed") if tow.mean_speed_kn is None else f"{tow.mean_speed_kn:.1f} kn"
    if tow.gap_seconds:
        speed = say("evidence.tows.in_gaps", speed=speed, duration=format_duration(tow.gap_seconds))
    length = unbroken(format_length(tow.length_m))
    return (
        f"{tow.number}{track}",
        _moment(tow.shoot_utc, tow.shoot_position, "or_earlier" if tow.shoot_open else "", clock),
        _moment(tow.haul_utc, tow.haul_position, "or_later" if tow.haul_open else "", clock),
        f'{length} <span class="second">{escape(time)}, {escape(speed)}</span>',
        _not_known() if tow.depth_m is None else unbroken(f"{tow.depth_m:.0f} m"),
        " ".join(escape(name) for name in tow.rectangles) or escape(say("evidence.tows.outside_grid")),
        _basis(tow),
    )


def _not_known() -> str:
    return escape(say("shared.not_known"))


def _basis(tow: Tow) -> str:
    if tow.basis == "log":
        key = "logged" if tow.in_track else "logged_only"
        return markup(f"evidence.tows.{key}", haul=shown(tow.haul_id, 80))
    if tow.basis in ("detected", "all"):
        return escape(say(f"evidence.tows.{tow.basis}"))
    return shown(tow.basis, 80)


def _moment(
    instant: np.datetime64, position: tuple[float, float] | None, bound: str, clock: LocalClock
) -> str:
    where = escape(say("evidence.tows.no_position"))
    if position is not None:
        where = unbroken(format_position(*position))
    unsure = f" {escape(say(f'evidence.tows.{bound}'))}" if bound else ""
    return f'{clock.html(instant)}{unsure} <span class="second">{where}</span>'


def _doubts(result: CheckResult, clock: LocalClock) -> str:
    rows = [
        (
            shown(doubt.track_id, 120),
            clock.html(doubt.from_utc),
            clock.html(doubt.to_utc),
            _duration(doubt.seconds),
        )
        for doubt in result.doubts
    ]
    if not rows:
        return ""
    return _table("tows", say("evidence.tows.doubts"), ("track", "from", "to", "duration"), rows)


def _duration(seconds: float | None) -> str:
    return _not_known() if seconds is None else unbroken(format_duration(seconds))


def _log(result: CheckResult) -> str:
    rows = [
        (shown(track_id, 120), shown(item.explain, SENTENCE))
        for track_id, some in result.log_disagreements.items()
        for item in some
    ]
    return _table("tows", say("evidence.tows.disagree"), ("track", "what"), rows) if rows else ""


def moves_table(result: CheckResult) -> str:
    """Return the shots after the tow that the move-on rule names, as HTML."""
    rows = [
        (
            str(move.tow) if move.tow is not None else "–",
            escape(STATUS[move.status]),
            _not_known() if move.distance_m is None else unbroken(format_length(move.distance_m)),
            unbroken(format_length(move.required_m)),
            shown(move.explain, SENTENCE),
        )
        for move in result.moves
    ]
    caption = say("evidence.moves.caption", tow=result.moves[0].from_tow)
    return _table("moves", caption, ("tow", "result", "distance", "required", "what"), rows)


def gaps_table(result: CheckResult, clock: LocalClock) -> str:
    """Return the gaps and what each leaves open, as HTML."""
    rows = [
        (
            shown(track_id, 120),
            clock.html(gap.from_utc),
            clock.html(gap.to_utc),
            _duration(gap.seconds),
            _not_known() if gap.reach_m is None else unbroken(format_length(gap.reach_m)),
            _reached(gap),
        )
        for track_id, gaps in result.gaps.items()
        for gap in gaps
    ]
    if not rows:
        return none(escape(say("evidence.gaps.none")))
    heads = ("track", "from", "to", "duration", "reach", "zones")
    return _table("gaps", say("evidence.gaps.caption"), heads, rows)


def _reached(gap: Gap) -> str:
    if gap.reach_m is None:
        return escape(say("evidence.any"))
    items = [
        markup(
            f"evidence.gaps.{'reached' if reach.tow_fits else 'reached_no_tow'}",
            zone=shown(reach.zone_id, 80),
            speed=unbroken(f"{reach.least_speed_kn:.1f} kn"),
            duration=unbroken(format_duration(reach.longest_inside_s)),
        )
        for reach in gap.could_reach
    ]
    return "<br>".join(items) or escape(say("evidence.tracks.none"))
