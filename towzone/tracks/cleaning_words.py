"""What is said to a person of fixes left out of a track, and of steps that became breaks."""

from __future__ import annotations

import numpy as np

from towzone.errors import quoted
from towzone.model.result import Remark
from towzone.model.track import LeftOut, Track
from towzone.tracks.leaving_out import Change
from towzone.tracks.possible import IntArray
from towzone.units import format_duration, format_time
from towzone.words import counted

__all__ = ["broken_remark", "end_remarks", "left_out_remark", "mixed_remark", "silent_ends_remark"]

_NOTEWORTHY = 0.01
"""Own choice: when more than one fix in a hundred is left out, it is said as such."""

_WITHOUT_POSITION = ("void", "estimated", "bad_position")
"""Reasons of readers for leaving out a fix at a time when the log went on."""


def left_out_remark(track: Track, some: LeftOut, *, speed_kn: float, largest_hdop: float) -> Remark:
    """Return the remark on fixes left out of a track for one reason.

    Parameters
    ----------
    track : Track
        As it was before.
    some : LeftOut
    speed_kn, largest_hdop : float
        What was still taken for possible.
    """
    words = {
        "large_hdop": f"with an HDOP above {largest_hdop:g}, a position not to be trusted,",
        "frozen": "repeating the same position while the vessel was under way",
        "spike": f"standing aside of others that agree with each other, out of reach at {speed_kn:g} kn,",
        "impossible_jump": f"that could not be reached and left again at {speed_kn:g} kn",
    }[some.reason]
    line = int(some.line[0])
    message = (
        f"{counted(len(some), 'fix', 'fixes')} {words} left out, the first"
        f" {_at(line, some.time_utc[0])}; what lies there counts as a gap"
    )
    if len(some) > _NOTEWORTHY * len(track):
        message += f"; that is {100.0 * len(some) / len(track):.1f} % of all fixes"
    return Remark(file=track.source, where=_where(track, line), message=message)


def broken_remark(track: Track, steps: IntArray, *, speed_kn: float) -> Remark:
    """Return the remark on impossible steps of a track that became breaks."""
    to = int(steps[0]) + 1
    line = 0 if track.line is None else int(track.line[to])
    message = (
        f"{counted(len(steps), 'step')} between fixes cannot have been made at {speed_kn:g} kn, the first"
        f" to the fix {_at(line, track.time_utc[to])}; either the vessel is faster than stated, or fixes are"
        " wrong and it cannot be told which: none of them is left out, and these steps count as gaps"
    )
    return Remark(file=track.source, where=_where(track, line), message=message)


def mixed_remark(track: Track, change: Change, *, speed_kn: float) -> Remark:
    """Return the remark on fixes that stand aside of the others but agree with each other."""
    to = int(change.mixed[0])
    line = 0 if track.line is None else int(track.line[to])
    message = (
        f"{counted(len(change.mixed), 'fix', 'fixes')} standing aside of the others, out of reach at"
        f" {speed_kn:g} kn, agree with each other, the first {_at(line, track.time_utc[to])}: two vessels or"
        " receivers are probably mixed in this track; none of these fixes is left out, and"
        f" {counted(len(change.broken), 'impossible step')} between fixes count as gaps"
    )
    return Remark(file=track.source, where=_where(track, line), message=message)


def silent_ends_remark(track: Track, gap_s: float) -> Remark | None:
    """Return the remark on a log that goes on without valid positions beyond the ends of its track.

    Parameters
    ----------
    track : Track
        As it is judged.
    gap_s : float
        So much time at an end is not worth a word.
    """
    told = track.time_utc[~np.isnat(track.time_utc)]
    logged = [some.time_utc for some in track.left_out if some.reason in _WITHOUT_POSITION]
    silent = np.concatenate([some[~np.isnat(some)] for some in logged]) if logged else told[:0]
    if not len(told) or not len(silent):
        return None
    begin, end = told[0], told[-1]
    beyond_s = {
        "before": (begin - silent.min()) / np.timedelta64(1, "s"),
        "after": (silent.max() - end) / np.timedelta64(1, "s"),
    }
    long = [f"{format_duration(time_s)} {word}" for word, time_s in beyond_s.items() if time_s > gap_s]
    if not long:
        return None
    message = (
        f"judged from {format_time(begin)} to {format_time(end)} only; the log goes on for"
        f" {' and '.join(long)} without valid positions, and what could be reached in that time is open"
    )
    return Remark(file=track.source, where=_where(track, 0), message=message)


def end_remarks(track: Track, cleaned: Track) -> list[Remark]:
    """Return remarks on time at the ends of a track that is no longer judged."""
    remarks = []
    for end, word, told, kept in (
        ("beginning", "from", track.time_utc[0], cleaned.time_utc[0]),
        ("end", "up to", track.time_utc[-1], cleaned.time_utc[-1]),
    ):
        if not np.isnat(told) and not np.isnat(kept) and told != kept:
            message = (
                f"fixes at the {end} of the track are left out: it is judged {word} {format_time(kept)},"
                f" not {word} {format_time(told)}"
            )
            remarks.append(Remark(file=track.source, where=_where(track, 0), message=message))
    return remarks


def _where(track: Track, line: int) -> str:
    return f"line {line}" if line else f"track {quoted(track.track_id)}"


def _at(line: int, instant: np.datetime64) -> str:
    time = "without time" if np.isnat(instant) else f"at {format_time(instant)}"
    return f"in line {line} {time}" if line else time
