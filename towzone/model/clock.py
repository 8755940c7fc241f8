"""The clock on board: local time beside UTC, by a time zone that was stated or by the longitude."""

from __future__ import annotations

import zoneinfo
from datetime import UTC, datetime, timedelta, timezone, tzinfo

import numpy as np

from towzone.model.result import CheckResult

__all__ = ["board_zone", "local_text", "offset_text", "on_board"]

_ZONE_DEG = 15.0
"""Width of a nautical time zone; the zone of a longitude is the nearest whole multiple.

Published: Bowditch, American Practical Navigator (NGA Pub. 9), chapter on time, zone time.
"""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def board_zone(result: CheckResult) -> tzinfo:
    """Return the time zone in which people are told local times: as stated, else zone time.

    Zone time is that of the first position. A stated zone is a `zoneinfo.ZoneInfo`, zone time is not.

    Raises
    ------
    zoneinfo.ZoneInfoNotFoundError
        ``settings["local_tz"]`` is no time zone; the command line refuses such a name before.
    """
    stated = result.settings.get("local_tz")
    if stated is not None:
        return zoneinfo.ZoneInfo(str(stated))
    longitude_deg = next((float(track.lon_deg[0]) for track in result.tracks if len(track)), 0.0)
    return timezone(timedelta(hours=round(longitude_deg / _ZONE_DEG)))


def on_board(utc: datetime, zone: tzinfo) -> datetime:
    """Return an instant in local time; in UTC, as its text then says, at either end of the calendar."""
    try:
        return utc.astimezone(zone)
    except OverflowError:  # local time would be before year 1 or after year 9999
        return utc


def local_text(instant: np.datetime64, zone: tzinfo) -> str:
    """Return a known instant as local time, with its date where that is not the UTC date.

    Examples
    --------
    >>> west = timezone(timedelta(hours=-1))
    >>> local_text(np.datetime64("2026-03-01T06:10:00.25", "us"), west)
    '05:10:00 UTC-1'
    >>> local_text(np.datetime64("2026-03-01T00:10:00", "us"), west)
    '2026-02-28 23:10:00 UTC-1'
    """
    utc = _EPOCH + timedelta(microseconds=int(instant.astype("datetime64[us]").astype(np.int64)))
    local = on_board(utc, zone)
    form = "%H:%M:%S" if local.date() == utc.date() else "%Y-%m-%d %H:%M:%S"
    return f"{local.strftime(form)} UTC{offset_text(local.utcoffset())}"


def offset_text(offset: timedelta | None) -> str:
    """Return an offset from UTC.

    Examples
    --------
    >>> [offset_text(timedelta(hours=hours)) for hours in (-1, 5.5, 0)]
    ['-1', '+5:30', '+0']
    """
    minutes = round((offset or timedelta()).total_seconds() / 60.0)
    hours, rest = divmod(abs(minutes), 60)
    return f"{'-' if minutes < 0 else '+'}{hours}" + (f":{rest:02d}" if rest else "")
