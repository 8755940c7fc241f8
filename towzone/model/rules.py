"""When and for whom a zone's prohibition holds: seasons, validity, gears, transit."""

from __future__ import annotations

import calendar
import itertools
import zoneinfo
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np

from towzone.model.gears import covered

__all__ = ["FEBRUARY_END", "Rules", "Window"]

FEBRUARY_END = 31
"""Day of February that stands for its last day, whichever that is."""

_EARLIEST, _LATEST = 2, 9998
"""Years between which seasons are laid out: what the calendar of Python holds, with a year to spare."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A stretch of days of every year, both ends included; it may run over the turn of the year.

    ``from_day`` and ``to_day`` may be `FEBRUARY_END` in February.
    """

    from_month: int
    from_day: int
    to_month: int
    to_day: int

    @property
    def wraps(self) -> bool:
        """Whether the window ends in the year after it began."""
        return (self.to_month, self.to_day) < (self.from_month, self.from_day)

    def days(self, year: int) -> tuple[date, date]:
        """Return the first day of the window that begins in a year, and the day after its last.

        A 29 February that a year does not have is read as its 28th at the end of a window, and as
        1 March at its beginning.
        """
        first = _day(year, self.from_month, self.from_day, begins=True)
        last = _day(year + self.wraps, self.to_month, self.to_day, begins=False)
        return first, last + timedelta(days=1)


def _day(year: int, month: int, day: int, *, begins: bool) -> date:
    length = calendar.monthrange(year, month)[1]
    if day <= length:
        return date(year, month, day)
    if day == FEBRUARY_END or not begins:
        return date(year, month, length)
    return date(year, month, length) + timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """Conditions of a zone's prohibition; the default is always, everyone, no transit condition.

    Parameters
    ----------
    season : tuple of Window
        Empty: all year.
    valid_from, valid_until : datetime or None
        UTC; the rule holds from the first and up to, not at, the second.
    time_zone : str
        IANA name in which seasons (and dates of validity) are meant.
    time_zone_stated : bool
        Whether the zone says so, or nothing in the rule depends on it.
    gears, except_gears : tuple of str
        Codes the rule covers (empty: all) and spares.
    transit_min_speed_kn : float or None
        What a crossing without fishing must keep.
    allowed_only_inside : bool
        The rule is the other way round: what is prohibited is prohibited outside.
    """

    season: tuple[Window, ...] = ()
    valid_from: datetime | None = None
    valid_until: datetime | None = None
    time_zone: str = "UTC"
    time_zone_stated: bool = True
    gears: tuple[str, ...] = ()
    except_gears: tuple[str, ...] = ()
    transit_min_speed_kn: float | None = None
    allowed_only_inside: bool = False

    @property
    def dated(self) -> bool:
        """Whether the rule holds only at some times."""
        return bool(self.season) or self.valid_from is not None or self.valid_until is not None

    def covers_gear(self, gear: str | None) -> bool | None:
        """Return whether the rule covers a gear; ``None`` when that cannot be said."""
        listed = covered(gear, self.gears) if self.gears else True
        spared = covered(gear, self.except_gears) if self.except_gears else False
        if listed is False or spared is True:
            return False
        return True if listed is True and spared is False else None

    def spans(self, first: datetime, last: datetime) -> list[tuple[datetime, datetime]]:
        """Return when the rule holds between two instants: disjoint, in order, ends excluded.

        Parameters
        ----------
        first, last : datetime
            UTC, ``first <= last``.
        """
        start = max(first, self.valid_from) if self.valid_from is not None else first
        end = min(last, self.valid_until) if self.valid_until is not None else last
        if start > end or (start == end and first != last):
            return []
        if not self.season:
            return [(start, end)]
        zone = zoneinfo.ZoneInfo(self.time_zone)
        years = range(max(start.year - 2, _EARLIEST), min(end.year + 2, _LATEST))
        windows = [
            (_midnight(begin, zone), _midnight(after, zone))
            for year, window in itertools.product(years, self.season)
            for begin, after in [window.days(year)]
        ]
        cut = [(max(a, start), min(b, end)) for a, b in windows if a <= end and b > start]
        return _union([(a, b) for a, b in cut if a < b or (a == b and first == last)])

    def in_force_at(self, instant: datetime | np.datetime64) -> bool:
        """Return whether the rule holds at an instant (UTC)."""
        at = _as_datetime(instant)
        if self.valid_until is not None and at >= self.valid_until:
            return False
        return bool(self.spans(at, at))

    def next_change(self, instant: datetime | np.datetime64) -> datetime | None:
        """Return the next instant (UTC) after one at which the rule begins or ceases to hold.

        ``None`` when it never changes again.
        """
        at = _as_datetime(instant)
        horizon = at + timedelta(days=3 * 366)
        if self.valid_from is not None and self.valid_from > at:
            horizon = max(horizon, self.valid_from + timedelta(days=3 * 366))
        ends = [end for span in self.spans(at, horizon) for end in span]
        if self.valid_until is not None:
            ends.append(self.valid_until)
        changes = (e for e in sorted(ends) if at < e < horizon or (e > at and e == self.valid_until))
        return next((e for e in changes if self.in_force_at(e) != self.in_force_at(e - _TICK)), None)

    def changes(self, first: datetime, last: datetime) -> list[datetime]:
        """Return the instants strictly between two at which the rule begins or ceases to hold."""
        ends = {end for span in self.spans(first, last) for end in span}
        return sorted(end for end in ends if first < end < last)


_TICK = timedelta(microseconds=1)
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def _as_datetime(instant: datetime | np.datetime64) -> datetime:
    if isinstance(instant, np.datetime64):
        return _EPOCH + timedelta(microseconds=int(instant.astype("datetime64[us]").astype(np.int64)))
    return instant


def _midnight(day: date, zone: zoneinfo.ZoneInfo) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=zone).astimezone(UTC)


def _union(spans: list[tuple[datetime, datetime]]) -> list[tuple[datetime, datetime]]:
    joined: list[tuple[datetime, datetime]] = []
    for begin, end in sorted(spans):
        if joined and begin <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((begin, end))
    return joined
