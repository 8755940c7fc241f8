"""What stands below the sentence of a row: how sure the gear's answer is, its stays and close stretches."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from towzone.model.result import CheckResult, CloseStretch, InsideStretch, Row
from towzone.record.catalogue import markup, say, say_count
from towzone.record.clock import LocalClock
from towzone.record.sections.plain_table import unbroken
from towzone.record.text import SENTENCE, escape, shown
from towzone.record.words import TIER
from towzone.units import format_duration, format_length, format_position, format_time

__all__ = ["FlagWords", "details", "words_of_flags"]

_MOST_STAYS = 12
"""Stays, and close stretches, that a row lists; the result as JSON has all. Own choice."""

_NO_LENGTH_M = 0.05
"""Stays below this read as 0.0 m. From the one decimal that lengths are written with."""

FlagWords = Mapping[tuple[str, int | None], Mapping[str, str]]
"""What the flags of a tow's gear say: by track and tow, then by kind; untrusted text."""


def words_of_flags(result: CheckResult) -> FlagWords:
    """Return what the flags of every tow say; of several of a kind the first."""
    tows = result.gear.tows if result.gear is not None else ()
    return {(tow.track_id, tow.tow): {flag.kind: flag.words for flag in reversed(tow.flags)} for tow in tows}


def details(row: Row, flags: FlagWords, clock: LocalClock) -> Iterator[str]:
    """Return each further line of a row, as HTML."""
    yield from _gear(row, flags.get((row.track_id, row.tow), {}))
    yield from _stays(row.inside, clock)
    yield from _closes(row.close, clock)


def _stays(stays: Sequence[InsideStretch], clock: LocalClock) -> Iterator[str]:
    """Yield a line for each stay; those of no length, of single positions or touches, share one."""
    points = [stay for stay in stays if stay.length_m < _NO_LENGTH_M]
    some = list(stays) if len(points) < 2 else [stay for stay in stays if stay.length_m >= _NO_LENGTH_M]
    yield from (_stay(stay, clock) for stay in some[:_MOST_STAYS])
    if len(some) > _MOST_STAYS:
        yield escape(say_count("table.stay.more", len(some) - _MOST_STAYS))
    if len(points) > 1:
        yield markup(
            "table.stay.points",
            count=str(len(points)),
            first=_entered(points[0], clock),
            last=_entered(points[-1], clock),
        )


def _entered(stay: InsideStretch, clock: LocalClock) -> str:
    place = unbroken(format_position(stay.enter_lon_deg, stay.enter_lat_deg))
    return place if np.isnat(stay.enter_utc) else f"{place}, {_time(stay.enter_utc, clock)}"


def _closes(stretches: Sequence[CloseStretch], clock: LocalClock) -> Iterator[str]:
    """Yield a line for each stretch; those of which nothing is known but that they were share one."""
    bare = [one for one in stretches if one.seconds is None and _untimed(one)]
    some = [one for one in stretches if one.seconds is not None or not _untimed(one)]
    yield from (_close(stretch, clock) for stretch in some[:_MOST_STAYS])
    if len(some) > _MOST_STAYS:
        yield escape(say_count("table.close.more", len(some) - _MOST_STAYS))
    if bare:
        yield escape(say_count("table.close.untimed", len(bare)))


def _untimed(stretch: CloseStretch) -> bool:
    return bool(np.isnat(stretch.from_utc) and np.isnat(stretch.to_utc))


def _gear(row: Row, said: Mapping[str, str]) -> Iterator[str]:
    if row.gear is None:
        return
    likely_m = row.gear.likely_clearance_m
    told = {
        "tier": escape(TIER[row.gear.tier]),
        "sigmas": f"{row.gear.sigmas:g}",
        "rope": _length(row.gear.rope_clearance_m),
    }
    if likely_m is not None and likely_m <= 0.0:
        yield markup("table.gear.tier_reached", **told)
    else:
        yield markup("table.gear.tier", **told, likely=_length(likely_m))
    for kind in row.gear.flags:
        words = said.get(kind, kind.replace("_", " "))
        yield markup("table.gear.flag", words=shown(words, SENTENCE))


def _length(length_m: float | None) -> str:
    if length_m is None:
        return escape(say("table.gear.not_computed"))
    return unbroken(format_length(length_m))


def _stay(stay: InsideStretch, clock: LocalClock) -> str:
    facts = [
        unbroken(format_length(stay.length_m)),
        *([] if stay.seconds is None else [unbroken(format_duration(stay.seconds))]),
        *_speed("mean_speed", stay.mean_speed_kn),
        *_speed("least_speed", stay.min_speed_kn),
    ]
    ends = {
        "enter": unbroken(format_position(stay.enter_lon_deg, stay.enter_lat_deg)),
        "leave": unbroken(format_position(stay.leave_lon_deg, stay.leave_lat_deg)),
        "facts": ", ".join(facts),
    }
    if np.isnat(stay.enter_utc) and np.isnat(stay.leave_utc):
        return markup("table.stay.untimed", **ends)
    times = {"enter_time": _time(stay.enter_utc, clock), "leave_time": _time(stay.leave_utc, clock)}
    return markup("table.stay.from_to", **times, **ends)


def _speed(entry: str, speed_kn: float | None) -> list[str]:
    return [] if speed_kn is None else [markup(f"table.stay.{entry}", speed=f"{speed_kn:.1f}")]


def _close(stretch: CloseStretch, clock: LocalClock) -> str:
    lasting = "" if stretch.seconds is None else "_lasting"
    duration = "" if stretch.seconds is None else unbroken(format_duration(stretch.seconds))
    if _untimed(stretch):
        return markup("table.close.untimed_lasting", duration=duration)
    begin, end = _time(stretch.from_utc, clock), _time(stretch.to_utc, clock)
    return markup(f"table.close.from_to{lasting}", begin=begin, end=end, duration=duration)


def _time(instant: np.datetime64, clock: LocalClock) -> str:
    """Return an instant as `LocalClock.text` has it, each of the two times kept on one line."""
    if np.isnat(instant):
        return escape(clock.text(instant))
    return f"{unbroken(format_time(instant))} ({unbroken(clock.local(instant))})"
