"""Times as the record tells them: UTC first, and beside it the time on board."""

from __future__ import annotations

import zoneinfo
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo

import numpy as np

from towzone.model.result import CheckResult
from towzone.record.catalogue import say
from towzone.record.text import escape
from towzone.units import format_time

__all__ = ["LocalClock", "local_clock"]

_ZONE_DEG = 15.0
"""Width of a nautical time zone; the zone of a longitude is the nearest whole multiple.

Published: Bowditch, American Practical Navigator (NGA Pub. 9), chapter on time, zone time.
"""

_DAY_S = 86_400
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class LocalClock:
    """The clock on board.

    Parameters
    ----------
    zone : tzinfo
        Its offset from UTC at every moment.
    name : str
        What it is, and what that rests on, for people.
    """

    zone: tzinfo
    name: str

    def text(self, instant: np.datetime64) -> str:
        """Return an instant for people, UTC and local; local with its date where that differs.

        Examples
        --------
        >>> clock = LocalClock(zone=timezone(timedelta(hours=-1)), name="")
        >>> clock.text(np.datetime64("2026-03-01T06:10:00.25", "us"))
        '2026-03-01 06:10:00 UTC (05:10:00 UTC-1)'
        >>> clock.text(np.datetime64("2026-03-01T00:10:00", "us"))
        '2026-03-01 00:10:00 UTC (2026-02-28 23:10:00 UTC-1)'
        >>> clock.text(np.datetime64("NaT"))
        'time not known'
        """
        if np.isnat(instant):
            return say("shared.clock.not_known")
        return f"{format_time(instant)} ({self.local(instant)})"

    def local(self, instant: np.datetime64) -> str:
        """Return a known instant as local time, with its date where that is not the UTC date."""
        utc = _EPOCH + timedelta(microseconds=int(instant.astype("datetime64[us]").astype(np.int64)))
        local = self.on_board(utc)
        form = "%H:%M:%S" if local.date() == utc.date() else "%Y-%m-%d %H:%M:%S"
        return f"{local.strftime(form)} UTC{_offset(local.utcoffset())}"

    def on_board(self, utc: datetime) -> datetime:
        """Return an instant in local time; in UTC, as its text then says, at either end of the calendar."""
        try:
            return utc.astimezone(self.zone)
        except OverflowError:  # local time would be before year 1 or after year 9999
            return utc

    def html(self, instant: np.datetime64) -> str:
        """Return an instant as HTML: UTC, and local time as a second text, each kept on one line."""
        if np.isnat(instant):
            return escape(say("shared.clock.not_known"))
        local = f'<span class="on-board nb">({escape(self.local(instant))})</span>'
        return f'<span class="nb">{escape(format_time(instant))}</span> {local}'

    def offsets(self, first_s: float, last_s: float) -> list[list[int]]:
        """Return ``[from, offset]`` for a span of time: seconds since 1970, seconds east of UTC."""
        return [[at, offset] for at, offset in self._changes(int(first_s), int(last_s))]

    def _changes(self, first_s: int, last_s: int) -> Iterator[tuple[int, int]]:
        yield first_s, self._offset_s(first_s)
        for begin in range(first_s, last_s, _DAY_S):
            low, high = begin, min(begin + _DAY_S, last_s)
            if self._offset_s(low) != self._offset_s(high):
                while high - low > 1:
                    middle = (low + high) // 2
                    same = self._offset_s(middle) == self._offset_s(begin)
                    low, high = (middle, high) if same else (low, middle)
                yield high, self._offset_s(high)

    def _offset_s(self, time_s: int) -> int:
        offset = self.on_board(_EPOCH + timedelta(seconds=time_s)).utcoffset()
        return int((offset or timedelta()).total_seconds())


def local_clock(result: CheckResult) -> LocalClock:
    """Return the clock of a result: as stated, else zone time at the first position.

    Raises
    ------
    zoneinfo.ZoneInfoNotFoundError
        ``settings["local_tz"]`` is no time zone; the command line refuses such a name before.
    """
    stated = result.settings.get("local_tz")
    if stated is not None:
        name = str(stated)
        return LocalClock(zone=zoneinfo.ZoneInfo(name), name=say("shared.clock.zone", name=name))
    longitude_deg = next((float(track.lon_deg[0]) for track in result.tracks if len(track)), 0.0)
    offset = timedelta(hours=round(longitude_deg / _ZONE_DEG))
    name = say("shared.clock.by_longitude", offset=_offset(offset))
    return LocalClock(zone=timezone(offset), name=name)


def _offset(offset: timedelta | None) -> str:
    """Return an offset from UTC.

    Examples
    --------
    >>> _offset(timedelta(hours=-1)), _offset(timedelta(hours=5, minutes=30)), _offset(timedelta())
    ('-1', '+5:30', '+0')
    """
    minutes = round((offset or timedelta()).total_seconds() / 60.0)
    hours, rest = divmod(abs(minutes), 60)
    return f"{'-' if minutes < 0 else '+'}{hours}" + (f":{rest:02d}" if rest else "")
