"""Times as the record tells them: UTC first, and beside it the time on board."""

from __future__ import annotations

import zoneinfo
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

import numpy as np

from towzone.model.clock import board_zone, local_text, offset_text, on_board
from towzone.model.result import CheckResult
from towzone.record.catalogue import say
from towzone.record.text import escape
from towzone.units import format_time

__all__ = ["LocalClock", "local_clock"]

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
        >>> from datetime import timezone
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
        return local_text(instant, self.zone)

    def on_board(self, utc: datetime) -> datetime:
        """Return an instant in local time; in UTC, as its text then says, at either end of the calendar."""
        return on_board(utc, self.zone)

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
        offset = on_board(_EPOCH + timedelta(seconds=time_s), self.zone).utcoffset()
        return int((offset or timedelta()).total_seconds())


def local_clock(result: CheckResult) -> LocalClock:
    """Return the clock of a result: as stated, else zone time at the first position.

    Raises
    ------
    zoneinfo.ZoneInfoNotFoundError
        ``settings["local_tz"]`` is no time zone; the command line refuses such a name before.
    """
    zone = board_zone(result)
    if isinstance(zone, zoneinfo.ZoneInfo):
        return LocalClock(zone=zone, name=say("shared.clock.zone", name=zone.key))
    name = say("shared.clock.by_longitude", offset=offset_text(zone.utcoffset(None)))
    return LocalClock(zone=zone, name=name)
