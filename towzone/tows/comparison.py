"""Where a haul log and the track tell different things."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from towzone.errors import quoted
from towzone.model.result import Disagreement, DisagreementKind
from towzone.tows.cores import LEAST_TOW_S
from towzone.tows.detection import CANNOT_TELL, NOT_TOWING, Detection
from towzone.tows.logged import LoggedHaul
from towzone.units import format_duration, format_time

__all__ = ["APART_S", "Span", "compared", "matched", "unlogged_tows"]

APART_S = 900.0
"""Times of log and track that differ by less agree. Own choice: logs are kept to the quarter of an hour."""

_UNLIKE_SHARE = 0.5
"""Of a logged haul at speeds that are not towing, for it not to be in the track. Own choice."""


class Span(NamedTuple):
    """From shooting to hauling, seconds since 1970."""

    begin: float
    end: float


def matched(logged: Sequence[Span], seen: Sequence[Span]) -> dict[int, int]:
    """Return which seen tow belongs to which logged one: one to one, those that overlap longest first.

    Examples
    --------
    >>> matched([Span(0.0, 10.0), Span(20.0, 30.0)], [Span(9.0, 25.0), Span(26.0, 30.0), Span(31.0, 40.0)])
    {1: 0}
    """
    a, b = (np.array(spans, dtype=np.float64).reshape(-1, 2) for spans in (logged, seen))
    both_s = np.minimum(a[:, None, 1], b[None, :, 1]) - np.maximum(a[:, None, 0], b[None, :, 0])
    rows, columns = np.nonzero(both_s > 0.0)
    order = np.lexsort((columns, rows, -both_s[rows, columns]))
    found: dict[int, int] = {}
    taken: set[int] = set()
    for i, j in zip(rows[order].tolist(), columns[order].tolist(), strict=True):
        if i not in found and j not in taken:
            found[i] = j
            taken.add(j)
    return found


def unlogged_tows(
    detection: Detection, logged: Sequence[Span], extents: Sequence[tuple[int, int]]
) -> set[int]:
    """Return the detected tows that are not in the log.

    Such a tow belongs to no logged one, and lies outside the extents of all for as long as a tow lasts.

    Parameters
    ----------
    logged : sequence of Span
    extents : sequence of (int, int)
        First and last fix of each logged tow, its shooting and hauling included.
    """
    seen = _seen(detection)
    ends = [(_time_of(detection, first), _time_of(detection, last)) for first, last in extents]
    alone = set(range(len(seen))) - set(matched(logged, seen).values())
    return {at for at in alone if _outside_s(seen[at], ends) >= LEAST_TOW_S}


def compared(
    detection: Detection, hauls: Sequence[LoggedHaul], logged: Sequence[Span], missed: set[int]
) -> tuple[Disagreement, ...]:
    """Return every disagreement, in order of time.

    Parameters
    ----------
    hauls : sequence of LoggedHaul
    logged : sequence of Span
        Their times, in the same order.
    missed : set of int
        Numbers of the detected tows that are not in the log.
    """
    seen = _seen(detection)
    found = [_not_logged(seen[at]) for at in sorted(missed)]
    of_log = matched(logged, seen)
    for at, (haul, span) in enumerate(zip(hauls, logged, strict=True)):
        why = _why_not_in_track(detection, span, at in of_log)
        if why:
            found.append(_of_haul(DisagreementKind.NOT_IN_TRACK, haul, None, why))
        if at in of_log:
            others = set(of_log.values()) - {of_log[at]}
            found += _times_apart(detection, haul, span, _whole(seen, span, others))
    return tuple(sorted(found, key=_when))


def _when(item: Disagreement) -> tuple[int, str, str]:
    logged = not np.isnat(item.logged_shoot_utc)
    instant = item.logged_shoot_utc if logged else item.track_shoot_utc
    return int(instant.astype("datetime64[us]").astype(np.int64)), item.kind, item.haul_id


def _seen(detection: Detection) -> list[Span]:
    return [Span(*(_time_of(detection, fix) for fix in (tow.shoot, tow.haul))) for tow in detection.tows]


def _time_of(detection: Detection, fix: int) -> float:
    """Return the time of a fix that is a mark."""
    return float(detection.profile.time_s[np.searchsorted(detection.profile.fix, fix)])


def _outside_s(span: Span, others: Sequence[tuple[float, float]]) -> float:
    """Return how much of a span lies in none of other spans."""
    left, at = 0.0, span.begin
    for begin, end in sorted(others):
        left += max(0.0, min(begin, span.end) - at)
        at = max(at, end)
    return left + max(0.0, span.end - at)


def _whole(seen: Sequence[Span], logged: Span, others: set[int]) -> Span:
    """Return from when to when the track shows towing in a logged haul; a gap may have cut it in two."""
    parts = [
        span
        for at, span in enumerate(seen)
        if at not in others and min(span.end, logged.end) > max(span.begin, logged.begin)
    ]
    return Span(min(span.begin for span in parts), max(span.end for span in parts))


def _why_not_in_track(detection: Detection, span: Span, in_track: bool) -> str:
    """Return why a logged haul, or a part of it, is not in the track; empty when it is, or may be."""
    times_s = detection.profile.time_s
    if not len(times_s):
        return "the positions have no times"
    if span.end <= times_s[0]:
        return f"it lies before the first position ({format_time(_instant(times_s[0]))})"
    if span.begin >= times_s[-1]:
        return f"it lies after the last position ({format_time(_instant(times_s[-1]))})"
    if span.begin < times_s[0]:
        return f"it began before the first position ({format_time(_instant(times_s[0]))})"
    if span.end > times_s[-1]:
        return f"it ended after the last position ({format_time(_instant(times_s[-1]))})"
    if np.searchsorted(times_s, span.begin) == np.searchsorted(times_s, span.end, side="right"):
        return "the track has no position in that time"
    unlike_s = _spent_s(detection, span, (NOT_TOWING,))
    if not in_track and unlike_s > _UNLIKE_SHARE * (span.end - span.begin):
        none = unlike_s > 0.99 * (span.end - span.begin)
        how_long = (
            "at no time" if none else f"for {format_duration(span.end - span.begin - unlike_s)} at most"
        )
        return f"{how_long} in it did the vessel move as when towing"
    return ""


def _times_apart(detection: Detection, haul: LoggedHaul, logged: Span, seen: Span) -> Iterator[Disagreement]:
    """Return the disagreement on when a haul began or ended, if there is one.

    Time of which the track does not tell whether it was towing does not count.
    """
    said = []
    for word, by_log, by_track in zip(("shot", "hauled"), logged, seen, strict=True):
        between = Span(min(by_log, by_track), max(by_log, by_track))
        apart_s = between.end - between.begin - _spent_s(detection, between, (CANNOT_TELL,))
        if apart_s > APART_S:
            later = "later" if by_track > by_log else "earlier"
            apart = format_duration(between.end - between.begin)
            said.append(f"{word} {apart} {later}, at {format_time(_instant(by_track))}")
    if said:
        yield _of_haul(DisagreementKind.TIMES_APART, haul, seen, f"by the track it was {' and '.join(said)}")


def _spent_s(detection: Detection, span: Span, codes: tuple[int, ...]) -> float:
    """Return the seconds of a span for which the detected activity is one of some codes."""
    profile = detection.profile
    first = max(int(np.searchsorted(profile.time_s, span.begin, side="right")) - 1, 0)
    last = min(int(np.searchsorted(profile.time_s, span.end)), len(profile))
    ends_s = np.clip(profile.time_s[first : last + 1], span.begin, span.end)
    activity = detection.activity[profile.fix[first:last]]
    return float(np.diff(ends_s)[np.isin(activity, codes)].sum())


def _instant(seconds: float) -> np.datetime64:
    return np.datetime64(round(float(seconds) * 1e6), "us")


def _of_haul(kind: DisagreementKind, haul: LoggedHaul, seen: Span | None, why: str) -> Disagreement:
    nat = np.datetime64("NaT", "us")
    times = f"{format_time(haul.shoot_utc)} to {format_time(haul.haul_utc)}"
    return Disagreement(
        kind=kind,
        haul_id=haul.haul,
        logged_shoot_utc=haul.shoot_utc,
        logged_haul_utc=haul.haul_utc,
        track_shoot_utc=nat if seen is None else _instant(seen.begin),
        track_haul_utc=nat if seen is None else _instant(seen.end),
        explain=f"Haul {quoted(haul.haul)} of the log ({times}): {why}.",
    )


def _not_logged(seen: Span) -> Disagreement:
    nat = np.datetime64("NaT", "us")
    begin, end = _instant(seen.begin), _instant(seen.end)
    return Disagreement(
        kind=DisagreementKind.UNLOGGED,
        haul_id="",
        logged_shoot_utc=nat,
        logged_haul_utc=nat,
        track_shoot_utc=begin,
        track_haul_utc=end,
        explain=f"The track shows a tow from {format_time(begin)} to {format_time(end)}; the log does not.",
    )
