"""Whether a zone's rule holds for what a share of a path did: dates, gear, and what is prohibited."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence, Set
from datetime import UTC, date, datetime, timedelta
from enum import Enum
from functools import cached_property
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from towzone.checks.legs import seconds_since_epoch
from towzone.checks.paths import Path
from towzone.checks.settings import CheckSettings, Towing
from towzone.checks.shares import Group
from towzone.geodesy.edges import IntArray
from towzone.model.gears import works_on_bottom
from towzone.model.result import Activity, Remark, Tow
from towzone.model.rules import Rules
from towzone.model.track import Track
from towzone.model.zone import Prohibition, Zone
from towzone.units import format_time

__all__ = [
    "ACTIVITY_UNKNOWN",
    "Force",
    "GapStandings",
    "Standing",
    "Standings",
    "applies",
    "change_instants",
    "edge_remarks",
    "harmless",
    "may_hold",
    "span_standing",
    "standing",
]

ACTIVITY_UNKNOWN = "activity_unknown"
"""The reason where a rule is about towing, and whether the vessel was towing cannot be told."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_NEAR_EDGE = timedelta(days=1)
_TICK = timedelta(microseconds=1)


class Force(Enum):
    """Whether a rule holds."""

    HOLDS = "holds"
    IDLE = "idle"
    UNKNOWN = "unknown"


class Standing(NamedTuple):
    """Whether a rule holds, and the fixed word for why not or why that is not known."""

    force: Force
    why: str = ""


def applies(zone: Zone, activity: Activity) -> bool:
    """Return whether what a vessel does can be against what a zone prohibits.

    Entry is prohibited to all (unless the rule lets those pass who keep a speed); fishing and bottom
    contact only to who may be towing.
    """
    passing = activity is Activity.NOT_TOWING
    if passing and zone.rules.transit_min_speed_kn is not None:
        return False
    return Prohibition.ENTRY in zone.prohibits or not passing


def harmless(zone: Zone, settings: CheckSettings) -> bool:
    """Return whether nothing prohibited can have happened unseen, because no towing is stated."""
    about_passage = Prohibition.ENTRY in zone.prohibits or zone.rules.transit_min_speed_kn is not None
    return settings.towing is Towing.NONE and not about_passage


def standing(zone: Zone, group: Group, settings: CheckSettings) -> Standing:
    """Return whether a zone's rule holds for a group, which lies between changes of all rules."""
    known = _with_gear(zone, _dated(zone.rules, group, settings), _gears(zone, group.tow, settings))
    if known.force is Force.HOLDS and group.activity is Activity.UNKNOWN and _about_towing(zone):
        return Standing(Force.UNKNOWN, ACTIVITY_UNKNOWN)
    return known


def _dated(rules: Rules, group: Group, settings: CheckSettings) -> Force:
    """Return whether a rule holds at the time of a group, whatever the gear."""
    if not rules.dated:
        return Force.HOLDS
    middle_s = (group.first_s + group.last_s) / 2.0
    if math.isnan(middle_s):
        return _force_on_a_day(rules, settings)
    return Force.HOLDS if rules.in_force_at(_EPOCH + timedelta(seconds=middle_s)) else Force.IDLE


class Standings:
    """Whether rules hold for the groups of a path, worked out once for all that is the same."""

    def __init__(self, zones: Sequence[Zone], rule: IntArray, settings: CheckSettings) -> None:
        self._zones, self._rule, self._settings = zones, rule.tolist(), settings
        self._known: dict[tuple[int, object], Standing] = {}

    def of(self, z: int, group: Group) -> Standing:
        """Return whether the rule of a zone, by its number, holds for a group; see `standing`."""
        key = self._rule[z], group if self._zones[z].rules.dated else self._undated(group)
        if key not in self._known:
            self._known[key] = standing(self._zones[z], group, self._settings)
        return self._known[key]

    def _undated(self, group: Group) -> object:
        """Return what rules without dates ask of a group: its activity, and of a logged tow its gear."""
        return group.activity, group.unit if self._settings.towing is Towing.LOG else None


def _about_towing(zone: Zone) -> bool:
    """Return whether a zone's rule asks more of who tows than of who does not."""
    return applies(zone, Activity.TOWING) and not applies(zone, Activity.NOT_TOWING)


class GapStandings:
    """Whether rules hold at any time of gaps of a path, worked out once for zones under the same rules."""

    def __init__(self, zones: Sequence[Zone], rule: IntArray, path: Path, settings: CheckSettings) -> None:
        self._zones, self._rule, self._settings = zones, rule.tolist(), settings
        self._path = path
        self._known: dict[tuple[int, int], Standing] = {}

    def of(self, z: int, gap: int) -> Standing:
        """Return whether the rule of a zone holds at any time of a gap, both by their numbers."""
        zone = self._zones[z]
        key = self._rule[z], gap if zone.rules.dated else -1
        if key not in self._known:
            around = self._around[gap] if zone.rules.dated else []
            self._known[key] = _gap_standing(zone, around, self._settings)
        return self._known[key]

    @cached_property
    def _around(self) -> list[list[datetime]]:
        """The times of the nearest fixes before and after each gap that have one."""
        stated_s = seconds_since_epoch(self._path.track.time_utc)
        timed = np.flatnonzero(~np.isnan(stated_s))
        after = np.searchsorted(timed, [gap.fix for gap in self._path.gaps], side="right")
        return [
            [_EPOCH + timedelta(seconds=known) for known in stated_s[timed[max(at - 1, 0) : at + 1]].tolist()]
            for at in after.tolist()
        ]


def _gap_standing(zone: Zone, known: Sequence[datetime], settings: CheckSettings) -> Standing:
    """Return whether a zone's rule holds at any time of a gap.

    What is known of its time is that it lies between the nearest fixes with times. Where there is one on
    one side only, the gap may last from there to the end (or since the beginning) of the stated day.
    """
    if len(known) == 2:
        dated = _force_between(zone.rules, *known)
    elif known and zone.rules.dated and settings.on is not None:
        ends = sorted([*known, *_day(zone.rules, settings.on)])
        dated = _force_between(zone.rules, ends[0], ends[-1])
    else:
        dated = _force_on_a_day(zone.rules, settings)
    return _with_gear(zone, dated, _gears(zone, None, settings))


def span_standing(zone: Zone, first_s: float, last_s: float, settings: CheckSettings) -> Standing:
    """Return whether a zone's rule holds at any time between two instants, seconds since 1970."""
    first, last = (_EPOCH + timedelta(seconds=at) for at in (first_s, last_s))
    return _with_gear(zone, _force_between(zone.rules, first, last), _gears(zone, None, settings))


def _force_between(rules: Rules, first: datetime, last: datetime) -> Force:
    return Force.HOLDS if rules.spans(first, last) else Force.IDLE


def _day(rules: Rules, day: date) -> tuple[datetime, datetime]:
    """Return when a day of a rule's own time zone begins and ends, UTC."""
    zone, after = ZoneInfo(rules.time_zone), day + timedelta(days=1)
    first = datetime(day.year, day.month, day.day, tzinfo=zone).astimezone(UTC)
    return first, datetime(after.year, after.month, after.day, tzinfo=zone).astimezone(UTC)


def may_hold(zones: Sequence[Zone], rule: IntArray, path: Path, settings: CheckSettings) -> list[bool]:
    """Return whether the rule of each zone holds, or may hold, at any time of a path.

    Parameters
    ----------
    rule : ndarray of int, shape (zones,)
        Equal for zones under the same rules.
    """
    numbers, first = np.unique(rule, return_index=True)
    opened = GapStandings(zones, rule, path, settings)
    held = {
        number: _may_hold(zones[z], z, path, opened, settings)
        for number, z in zip(numbers.tolist(), first.tolist(), strict=True)
    }
    return [held[number] for number in rule.tolist()]


def _may_hold(zone: Zone, z: int, path: Path, opened: GapStandings, settings: CheckSettings) -> bool:
    if zone.rules.dated and _idle_throughout(zone.rules, path):
        return False
    shares = (standing(zone, group, settings) for group in path.groups)
    # Without dates all gaps are alike.
    gaps = (opened.of(z, gap) for gap in range(len(path.gaps) if zone.rules.dated else len(path.gaps[:1])))
    return any(s.force is not Force.IDLE for s in itertools.chain(shares, gaps))


def _idle_throughout(rules: Rules, path: Path) -> bool:
    """Return whether a rule is known not to hold at any time of a path all of whose times are known.

    A tick more at both ends, for a rule that begins with the last fix holds for it.
    """
    if np.isnan(path.time_s).any():
        return False
    first, last = (_EPOCH + timedelta(seconds=float(at)) for at in path.time_s[[0, -1]])
    return not rules.spans(first - _TICK, last + _TICK)


def _force_on_a_day(rules: Rules, settings: CheckSettings) -> Force:
    """Return whether a rule holds at an unknown time (of a stated day, if there is one)."""
    if not rules.dated:
        return Force.HOLDS
    if settings.on is None:
        return Force.UNKNOWN
    first, last = _day(rules, settings.on)
    spans = rules.spans(first, last)
    if not spans:
        return Force.IDLE
    return Force.HOLDS if spans == [(first, last)] else Force.UNKNOWN


def _gears(zone: Zone, tow: Tow | None, settings: CheckSettings) -> tuple[str | None, ...]:
    """Return the codes of the gears that may have been used: of a logged tow the log's, if it says one.

    Where no tow is known, in gaps for one, it may have been any gear of the vessel or of the log.
    """
    told = (zone.rules.gears, zone.rules.except_gears) != ((), ()) or _only_bottom(zone)
    if not told or settings.towing is not Towing.LOG:
        return (settings.gear,)
    if tow is not None:
        named = (haul.gear for haul in settings.hauls if tow.basis == "log" and haul.haul == tow.haul_id)
        return (next(named, None) or settings.gear,)
    return (settings.gear, *sorted({haul.gear for haul in settings.hauls if haul.gear is not None}))


def _only_bottom(zone: Zone) -> bool:
    return zone.prohibits == (Prohibition.BOTTOM_CONTACT,)


def _covers(zone: Zone, gear: str | None) -> bool | None:
    """Return whether a rule covers a gear; ``None`` when that cannot be said."""
    if _only_bottom(zone) and works_on_bottom(gear) is False:
        return False
    return zone.rules.covers_gear(gear)


def _with_gear(zone: Zone, dated: Force, gears: Sequence[str | None]) -> Standing:
    if dated is Force.IDLE:
        return Standing(Force.IDLE, "season")
    covered = {_covers(zone, gear) for gear in gears}
    if covered == {False}:
        return Standing(Force.IDLE, "gear")
    if dated is Force.UNKNOWN:
        return Standing(Force.UNKNOWN, "date_unknown")
    return Standing(Force.HOLDS) if covered == {True} else Standing(Force.UNKNOWN, "gear_unknown")


def change_instants(track: Track, zones: Sequence[Zone]) -> list[float]:
    """Return the instants within a track at which any zone's rule begins or ceases to hold, seconds.

    The last instant counts: a rule that begins with the last fix holds for it.
    """
    timed = seconds_since_epoch(track.time_utc[~np.isnat(track.time_utc)])
    if len(timed) < 2:
        return []
    first, last = (_EPOCH + timedelta(seconds=float(end)) for end in (timed[0], timed[-1]))
    dated = {zone.rules for zone in zones if zone.rules.dated}
    changes = {change for rules in dated for change in rules.changes(first, last + _TICK)}
    return sorted((change - _EPOCH).total_seconds() for change in changes)


def edge_remarks(path: Path, zones: Sequence[Zone], near: Set[tuple[int, int]]) -> list[Remark]:
    """Return remarks on tows within a day of a change of a rule that does not state its time zone.

    Parameters
    ----------
    near : set of (unit, zone)
        What came within reach.
    """
    doubtful = {z for _, z in near if zones[z].rules.dated and not zones[z].rules.time_zone_stated}
    if not doubtful:
        return []
    spans = _unit_spans(path)
    remarks = []
    for number in sorted(doubtful):
        zone = zones[number]
        units = [unit for unit, z in sorted(near) if z == number and unit in spans]
        hits = {unit: zone.rules.changes(*_a_day_around(spans[unit])) for unit in units}
        changes = sorted({change for some in hits.values() for change in some})
        if changes:
            who = ", ".join(_unit_name(path, unit) for unit, some in hits.items() if some)
            when = format_time(np.datetime64(changes[0].replace(tzinfo=None), "us"))
            message = (
                f"the rule changes at {when}, within a day of {who}; no time zone is stated, UTC is taken"
            )
            remarks.append(Remark(file=zone.file, where=f"zone '{zone.name}'", message=message))
    return remarks


def _unit_spans(path: Path) -> dict[int, tuple[datetime, datetime]]:
    """Return when each unit began and ended, for those with times."""
    ends: dict[int, list[float]] = {}
    for group in path.groups:
        ends.setdefault(group.unit, []).extend([group.first_s, group.last_s])
    return {
        unit: (_EPOCH + timedelta(seconds=min(some)), _EPOCH + timedelta(seconds=max(some)))
        for unit, some in ends.items()
        if not np.isnan(some).any()
    }


def _a_day_around(span: tuple[datetime, datetime]) -> tuple[datetime, datetime]:
    return span[0] - _NEAR_EDGE, span[1] + _NEAR_EDGE


def _unit_name(path: Path, unit: int) -> str:
    tows = (f"tow {g.tow.number}" for g in path.groups if g.unit == unit and g.tow)
    return next(tows, "what was not towing")
