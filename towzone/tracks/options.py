"""What the user states about the sources of tracks, where they leave it open."""

from __future__ import annotations

import zoneinfo
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

__all__ = ["DateOrder", "ReadingOptions"]


class DateOrder(StrEnum):
    """In which order dates such as 03/04/2026 are written."""

    DAY_FIRST = "dmy"
    MONTH_FIRST = "mdy"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingOptions:
    """How tracks are to be read; ``None`` (or empty) leaves it to the file, or to a refusal.

    Parameters
    ----------
    track_tz : ZoneInfo or None
        Zone of times that state none.
    date_order : DateOrder or None
        Of dates in figures that can be read both ways.
    day : date or None
        Day (UTC) of the first position of a log that has times of day but no dates.
    year : int or None
        Year in which a log begins, where its own dates are wrong or have no year that can be trusted.
    receiver : str or None
        Which receiver of a log to use, by its talker (``GP``) or as the remark on several names it.
    only : tuple of str
        Vessels to read from files of many, by MMSI or by the name in the file, in any case and spacing
        (`towzone.tracks.identity.Chosen`); empty reads all.
    """

    track_tz: zoneinfo.ZoneInfo | None = None
    date_order: DateOrder | None = None
    day: date | None = None
    year: int | None = None
    receiver: str | None = None
    only: tuple[str, ...] = ()
