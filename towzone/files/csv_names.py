"""Names of columns: what they mean in any usual spelling, and in which unit; nothing is guessed.

A name is a word for what the column holds, then the unit, each in a list here; case, blanks and marks do not
matter. What begins like a known word and goes on otherwise is not read.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from towzone.files.csv_times import TimeWords
from towzone.tracks.options import DateOrder
from towzone.units import parse_length, parse_speed

__all__ = ["DEGREE_UNITS", "LENGTH_UNITS", "SPEED_UNITS", "plain", "time_words", "unit_after"]

SPEED_UNITS = {
    **dict.fromkeys(("kn", "kt", "kts", "knot", "knots"), parse_speed("1kn")),
    **dict.fromkeys(("ms", "mps", "ms1", "meterspersecond", "metrespersecond"), parse_speed("1m/s")),
    **dict.fromkeys(("kmh", "kph", "kmph", "kmh1"), parse_speed("1km/h")),
}
"""Knots in one."""
LENGTH_UNITS = {
    **dict.fromkeys(("m", "mtr", "meter", "meters", "metre", "metres"), parse_length("1m")),
    **dict.fromkeys(("ftm", "fathom", "fathoms"), parse_length("1ftm")),
}
"""Metres in one. Feet are no unit of this project, and ``fm`` is written for several."""
DEGREE_UNITS = dict.fromkeys(
    ("", "deg", "degree", "degrees", "true", "t", "degtrue", "degt", "degreestrue", "truedeg"), 1.0
)
"""Degrees in one; true ones, as a name that says that they are magnetic is not read."""
_OTHER_UNITS = frozenset(
    ("ft", "feet", "foot", "fm", "fa", "yd", "km", "cm", "dm", "nm", "mph", "fts", "rad", "mag", "magnetic")
)

_EPOCH_UNITS_US = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1_000_000),
    **dict.fromkeys(("ms", "msec", "millis", "millisecond", "milliseconds"), 1_000),
    **dict.fromkeys(("us", "usec", "micros", "microsecond", "microseconds"), 1),
}
_EITHER = ("time", "fixtime", "gpstime")
_STAMPS = ("timestamp", "datetime", "dateandtime", "datetimestamp", "basedatetime")
_SINCE_1970 = ("epoch", "epochtime", "unix", "unixtime", "unixtimestamp", "unixepoch", "posix", "posixtime")
_DATES = ("date", "gpsdate", "fixdate")
_CLOCKS = ("timeofday", "clock", "clocktime")
_OFFSET = re.compile(r"(?:utc|gmt)\s*[+\-\u2212]\s*\d{1,2}(?::?\d\d)?", re.IGNORECASE)
_UTC = re.compile(r"utc|gmt|zulu")
_LOCAL = re.compile(r"local|ships?(?=time|clock)|board(?=time|clock)|(?<=time)lt$")
_DAY_FIRST, _MONTH_FIRST = re.compile(r"ddmm{1,2}yyyy|dmy"), re.compile(r"mmddyyyy|mdy")
_FORM = re.compile(r"(?:yyyymmdd|ymd)?(?:t?hhmm(?:ss)?|hms|iso(?:8601)?)|yyyymmdd|ymd")


def plain(name: str) -> str:
    """Return the letters and figures of a name, all small.

    Examples
    --------
    >>> plain(" Speed (m/s)"), plain("BaseDateTime"), plain("Lat. [°N]")
    ('speedms', 'basedatetime', 'latn')
    """
    return "".join(re.findall(r"[a-z0-9]+", name.lower()))


def unit_after(word: str, names: tuple[str, ...], units: Mapping[str, float]) -> float | None:
    """Return what one is in our unit, by the unit that follows one of some names in a plain name.

    Returns
    -------
    float or None
        0 where the name says no unit, or one that is not read; ``None`` where it is another name.

    Examples
    --------
    >>> unit_after("depthftm", ("depth",), LENGTH_UNITS), unit_after("depth", ("depth",), LENGTH_UNITS)
    (1.8288, 0.0)
    >>> unit_after("depthcharge", ("depth",), LENGTH_UNITS) is None
    True
    """
    for name in names:
        if word.startswith(name):
            unit = word[len(name) :]
            if unit in units:
                return units[unit]
            if not unit or unit in _OTHER_UNITS:
                return 0.0
    return None


def time_words(name: str) -> tuple[str, TimeWords] | None:
    """Return what a column holds of a time, and what its name says of its times.

    Returns
    -------
    tuple of str and TimeWords, or None
        ``"stamp"`` for date and time of day, ``"date"``, ``"clock"`` for a time of day alone, ``"time"`` for
        either of the first and the last; ``None`` for another column.

    Examples
    --------
    >>> time_words("Date (dd/mm/yyyy)")[0], time_words("UTC")[0], time_words("time zone") is None
    ('date', 'time', True)
    """
    ahead = _OFFSET.search(name)
    local = ahead is not None and re.search("[1-9]", ahead[0]) is not None
    word = plain(name if ahead is None else name.replace(ahead[0], "" if local else "utc"))
    word, utc = _without(_UTC, word)
    word, elsewhere = _without(_LOCAL, word)
    word, day_first = _without(_DAY_FIRST, word)
    word, month_first = _without(_MONTH_FIRST, word)
    kind, unit_us = _kind("time" if utc and not word else word)
    if not kind:
        word, _ = _without(_FORM, word)
        kind, unit_us = _kind(word)
    if not kind:
        return None
    order = DateOrder.DAY_FIRST if day_first else DateOrder.MONTH_FIRST if month_first else None
    since_1970 = word.startswith(_SINCE_1970)
    words = TimeWords(
        utc=utc and not local, local=local or elsewhere, order=order, since_1970=since_1970, unit_us=unit_us
    )
    return kind, words


def _kind(word: str) -> tuple[str, int]:
    """Return what a bare word for a time means, and the unit that follows it; nothing for another word."""
    for kind, names in (("date", _DATES), ("clock", _CLOCKS), ("time", _EITHER)):
        if word in names:
            return kind, 0
    for name in sorted((*_SINCE_1970, *_STAMPS, *_EITHER), key=len, reverse=True):
        if word.startswith(name):
            unit = word[len(name) :]
            unit_us = _EPOCH_UNITS_US.get(unit, 0)
            return ("stamp", unit_us) if unit_us or not unit else ("", 0)
    return "", 0


def _without(part: re.Pattern[str], word: str) -> tuple[str, bool]:
    """Return a word without a part, and whether it was there."""
    rest = part.sub("", word, count=1)
    return rest, rest != word
