"""Dates as chart cells write them, whole or in part, to days.

References
----------
IHO S-57 Edition 3.1, Appendix A, Chapter 2: attributes DATSTA, DATEND (``CCYYMMDD``, later parts may be
missing) and PERSTA, PEREND (``--MMDD`` or ``--MM`` for every year). Some cells fill missing parts with
``00`` or ``--``.
"""

from __future__ import annotations

import calendar
import re
from datetime import date

__all__ = ["fixed_day", "yearly_day"]

_FIXED = re.compile(r"(\d{4})(\d\d|--)?(\d\d|--)?", re.ASCII)
_YEARLY = re.compile(r"--(\d\d)(\d\d|--)?", re.ASCII)
_BLANKS = (None, "00", "--")


def fixed_day(text: str, *, end: bool) -> str:
    """Return a day of one year, ISO 8601, or empty text when it cannot be read.

    Parameters
    ----------
    text : str
    end : bool
        Of a date in part, take the last day, not the first.

    Examples
    --------
    >>> fixed_day("20260315", end=False), fixed_day("19890000", end=True), fixed_day("202402", end=True)
    ('2026-03-15', '1989-12-31', '2024-02-29')
    >>> fixed_day("--0401", end=False)
    ''
    """
    match = _FIXED.fullmatch(text.strip())
    if match is None:
        return ""
    year = int(match[1])
    if match[2] in _BLANKS:
        if match[3] not in _BLANKS or year < 1:
            return ""
        return f"{year:04d}-12-31" if end else f"{year:04d}-01-01"
    try:
        last = calendar.monthrange(year, int(match[2]))[1]
        day = (last if end else 1) if match[3] in _BLANKS else int(match[3])
        return date(year, int(match[2]), day).isoformat()
    except ValueError:
        return ""


def yearly_day(text: str, *, end: bool) -> str:
    """Return a day of every year as a season has it, or empty text when it cannot be read.

    Examples
    --------
    >>> yearly_day("--0401", end=False), yearly_day("--05", end=True), yearly_day("--02--", end=True)
    ('--04-01', '--05-31', '--02-END')
    >>> yearly_day("20260401", end=False)
    ''
    """
    match = _YEARLY.fullmatch(text.strip())
    if match is None or not 1 <= int(match[1]) <= 12:
        return ""
    month = int(match[1])
    last = calendar.monthrange(2024, month)[1]  # a leap year: 29 February may be meant
    if match[2] in _BLANKS:
        return f"--{month:02d}-{_last_of(month, last)}" if end else f"--{month:02d}-01"
    day = int(match[2])
    if day > last:
        return ""
    # The last day of February as an end goes on to 29 February only where the cell says 29.
    return f"--{month:02d}-{_last_of(month, day) if end else f'{day:02d}'}"


def _last_of(month: int, day: int) -> str:
    return "END" if (month, day) == (2, 29) else f"{day:02d}"
