"""When to leave, or how fast to tow, where the trouble with a zone is the time: a season, dates of a rule."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np

from towzone.model.plan import Advice, AdviceKind, PlannedLine
from towzone.model.result import Row
from towzone.plan.advice.ends import Ends, ends_of
from towzone.plan.advice.told import cleared, still_open
from towzone.plan.judging import Judge, PlanSettings
from towzone.tows.bands import GearBand, band_of_gear
from towzone.units import format_duration, format_instant, format_time

__all__ = ["departure_advice"]

_AROUND = timedelta(days=7)
"""A departure is looked for so long before and after the one that was asked about. Own choice."""

_MINUTE_S = 60.0
_TICK_KN = 0.1
"""Speeds are told in these. Own choice."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

_Span = tuple[float, float]
"""Seconds since 1970, from and to."""


def departure_advice(line: PlannedLine, judge: Judge, rows: Sequence[Row]) -> tuple[Advice, ...]:
    """Return when to begin a tow for it to be past a zone before its rule begins, or not there until it ends.

    Parameters
    ----------
    rows : sequence of Row
        Of the line, as `Judge.rows` has them.

    Returns
    -------
    tuple of Advice
        For the first few zones whose rule does not hold all year: the latest departure before, the earliest
        after, and the least speed by which the planned departure would do; each where there is one, within
        a week, and the check agrees.
    """
    return tuple(
        advice
        for ends in ends_of(line, judge, rows, dated=True)
        for advice in (_latest(ends, rows), _earliest(ends, rows), _faster(ends, rows))
        if advice is not None
    )


def _latest(ends: Ends, rows: Sequence[Row]) -> Advice | None:
    near = ends.near_s
    if near is None:
        return None
    planned_s = _seconds(ends.judge.settings.depart_utc)
    fits = [
        _floor_minute(last_s - near[1])
        for first_s, last_s in _free(ends)
        if math.isfinite(last_s) and _floor_minute(last_s - near[1]) + near[0] >= first_s
    ]
    depart_s = max((at for at in fits if at < planned_s), default=None)
    if depart_s is None:
        return None
    begins_s = min(last for _, last in _free(ends) if last >= depart_s + near[1])
    return _departure(
        ends,
        rows,
        depart_s,
        {"latest_departure_utc": _text(depart_s), "rule_begins_utc": _text(begins_s)},
        f"Begin towing no later than {_time(depart_s)}, {format_duration(planned_s - depart_s)} sooner than "
        "planned: then vessel and gear are past the zone, hauling included, before its rule begins at "
        f"{_time(begins_s)}.",
    )


def _earliest(ends: Ends, rows: Sequence[Row]) -> Advice | None:
    near = ends.near_s
    if near is None:
        return None
    planned_s = _seconds(ends.judge.settings.depart_utc)
    fits = [
        _ceil_minute(first_s - near[0])
        for first_s, last_s in _free(ends)
        if math.isfinite(first_s) and _ceil_minute(first_s - near[0]) + near[1] < last_s
    ]
    depart_s = min((at for at in fits if at > planned_s), default=None)
    if depart_s is None:
        return None
    ended_s = max(first for first, _ in _free(ends) if first <= depart_s + near[0])
    return _departure(
        ends,
        rows,
        depart_s,
        {"earliest_departure_utc": _text(depart_s), "rule_ends_utc": _text(ended_s)},
        f"Begin towing no earlier than {_time(depart_s)}, {format_duration(depart_s - planned_s)} later than "
        "planned: then the rule of the zone has ended, at "
        f"{_time(ended_s)}, before vessel or gear can be near it, shooting included.",
    )


def _departure(
    ends: Ends, rows: Sequence[Row], depart_s: float, figures: dict[str, float | str], words: str
) -> Advice | None:
    """Return the advice to leave at another time, if the check agrees."""
    after = ends.checker.at(_instant(depart_s)).rows(ends.way.line)
    return _if_clear(ends, rows, after, figures, words)


def _faster(ends: Ends, rows: Sequence[Row]) -> Advice | None:
    """Return the least speed by which a tow that leaves as planned is past the zone in time."""
    settings = ends.judge.settings
    band = band_of_gear(settings.check.gear)
    near = ends.near_s
    if near is None or not isinstance(band, GearBand):
        return None
    planned_s = _seconds(settings.depart_utc)
    begins_s = next((last for first, last in _free(ends) if first <= planned_s + near[0] < last), None)
    if begins_s is None or not math.isfinite(begins_s):
        return None
    tenths = range(math.floor(settings.speed_kn / _TICK_KN) + 1, math.floor(band.high_kn / _TICK_KN) + 1)
    for speed_kn in (round(tenth * _TICK_KN, 1) for tenth in tenths):
        judge = ends.judge.with_settings(_at_speed(settings, speed_kn))
        sooner = replace(ends, judge=judge).near_s
        if sooner is not None and planned_s + sooner[1] < begins_s:
            words = (
                f"Tow at {speed_kn:.1f} kn or more ({settings.speed_kn:g} kn is planned): then the tow is "
                f"past the zone, hauling included, before its rule begins at {_time(begins_s)}."
            )
            figures: dict[str, float | str] = {
                "least_speed_kn": speed_kn,
                "rule_begins_utc": _text(begins_s),
            }
            return _if_clear(
                ends,
                rows,
                ends.checker.with_settings(_at_speed(ends.checker.settings, speed_kn)).rows(ends.way.line),
                figures,
                words,
            )
    return None


def _at_speed(settings: PlanSettings, speed_kn: float) -> PlanSettings:
    """Return the same plan at another speed; hauling goes with it unless its own is stated."""
    hauling_kn = settings.hauling_way_kn if settings.hauling_way_stated else speed_kn
    return replace(settings, speed_kn=speed_kn, hauling_way_kn=hauling_kn)


def _if_clear(
    ends: Ends, rows: Sequence[Row], after: Sequence[Row], figures: dict[str, float | str], words: str
) -> Advice | None:
    if ends.zone.zone_id in still_open(after):
        return None
    clears, whole = cleared(rows, after)
    return Advice(
        kind=AdviceKind.DEPARTURE,
        leg=None,
        zone_ids=(ends.zone.zone_id,),
        words=words,
        figures=figures,
        clears=clears,
        whole=whole,
    )


def _free(ends: Ends) -> list[_Span]:
    """Return when the rule does not hold, around the planned departure; ``inf`` where it goes on."""
    depart = _EPOCH + timedelta(seconds=_seconds(ends.judge.settings.depart_utc))
    low, high = depart - _AROUND, depart + _AROUND
    held = [
        (begin if begin > low else None, end if end < high else None)
        for begin, end in ends.zone.rules.spans(low, high)
    ]
    edges: list[float] = [-math.inf]
    for begin, end in held:
        edges += [-math.inf if begin is None else _since(begin), math.inf if end is None else _since(end)]
    edges.append(math.inf)
    return [(first, last) for first, last in list(pairwise(edges))[::2] if first < last]


def _since(instant: datetime) -> float:
    return (instant - _EPOCH).total_seconds()


def _seconds(instant: np.datetime64) -> float:
    return float(instant.astype("datetime64[us]").astype(np.int64)) / 1e6


def _instant(seconds: float) -> np.datetime64:
    return np.datetime64(round(seconds * 1e6), "us")


def _text(seconds: float) -> str:
    return format_instant(_instant(seconds)) or ""


def _time(seconds: float) -> str:
    return format_time(_instant(seconds))


def _floor_minute(seconds: float) -> float:
    # Not at the minute itself: a rule that begins at an instant holds at it.
    return (math.ceil(seconds / _MINUTE_S) - 1.0) * _MINUTE_S


def _ceil_minute(seconds: float) -> float:
    return math.ceil(seconds / _MINUTE_S) * _MINUTE_S
