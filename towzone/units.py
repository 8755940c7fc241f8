"""Exact conversions, and the only place that parses or prints a quantity.

Sources of the constants stand beside them.
Lengths are metres, speeds knots or metres per second, durations seconds, angles degrees.
"""

from __future__ import annotations

import math
import re
from datetime import datetime

import numpy as np

from towzone.errors import UsageError, quoted

__all__ = [
    "FATHOM_M",
    "KNOT_MPS",
    "METRE_DIGITS",
    "NAUTICAL_MILE_M",
    "Instants",
    "format_duration",
    "format_instant",
    "format_length",
    "format_position",
    "format_time",
    "parse_duration",
    "parse_fuel_rate",
    "parse_length",
    "parse_speed",
]

METRE_DIGITS = 2
"""Distances are true to 1 cm; further digits would pretend."""

NAUTICAL_MILE_M = 1852.0
"""International nautical mile: exactly 1852 m.

Published: BIPM, The International System of Units (SI Brochure), 8th ed. (2006), Table 8.
"""

FATHOM_M = 1.8288
"""Six international feet of 0.3048 m. Published: NIST Special Publication 811 (2008), Appendix B.8
(the international foot); the fathom of six feet is common practice."""

KNOT_MPS = NAUTICAL_MILE_M / 3600.0
"""One nautical mile an hour, 0.514444... m/s; follows from the mile."""

Instants = np.ndarray[tuple[int, ...], np.dtype[np.datetime64]]
"""Arrays of UTC instants, ``datetime64[us]``; ``NaT`` where the time is unknown."""

_LENGTHS_M = {"m": 1.0, "km": 1000.0, "nmi": NAUTICAL_MILE_M, "NM": NAUTICAL_MILE_M, "ftm": FATHOM_M}
_SPEEDS_KN = {"kn": 1.0, "m/s": 1.0 / KNOT_MPS, "km/h": 1000.0 / NAUTICAL_MILE_M}
_DURATIONS_S = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}
_FUEL_RATES_L_PER_H = {"l/h": 1.0}
_LONGEST_M, _FASTEST_KN, _LONGEST_S, _MOST_L_PER_H = 20_100_000.0, 1_000.0, 1e9, 20_000.0
"""Own limits: half way round the earth, no ship, thirty years, no engine; beyond lies a slip of the pen."""

_QUANTITY = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([^\s\d]*)\s*", re.ASCII)
_LOOKALIKES = {
    "M": "'M' may mean mile or metre; write nmi for nautical miles or m for metres",
    "nm": "'nm' is the nanometre; write nmi for nautical miles",
    "kt": "write kn for knots",
    "kts": "write kn for knots",
    "knots": "write kn for knots",
    "mi": "'mi' is the statute mile; write nmi for nautical miles",
    "fm": "write ftm for fathoms",
    "L/h": "write l/h for litres an hour",
    "l": "write l/h for litres an hour",
    "lph": "write l/h for litres an hour",
    "l/hr": "write l/h for litres an hour",
    "gph": "gallons differ; write litres an hour, l/h",
    "gal/h": "gallons differ; write litres an hour, l/h",
    "kg/h": "litres are needed; divide by the density of the fuel and write l/h",
}


def parse_length(text: str) -> float:
    """Return a length in metres from text that states its unit.

    Parameters
    ----------
    text : str
        A number and one of ``m``, ``km``, ``nmi``, ``NM`` (nautical mile), ``ftm`` (fathom); not negative.

    Raises
    ------
    UsageError
        No number, no unit, an unknown or ambiguous unit (``M``, ``nm``), negative or not finite.

    Examples
    --------
    >>> parse_length("0.25nmi")
    463.0
    >>> parse_length("12 ftm")
    21.9456
    """
    return _parse(text, _LENGTHS_M, "length", "500m, 0.25nmi, 1.5km or 12ftm", _LONGEST_M)


def parse_speed(text: str) -> float:
    """Return a speed in knots from text that states its unit (``kn``, ``m/s`` or ``km/h``).

    Raises
    ------
    UsageError
        As `parse_length`.

    Examples
    --------
    >>> parse_speed("3.4kn")
    3.4
    >>> round(parse_speed("1.2m/s"), 6)
    2.332613
    """
    return _parse(text, _SPEEDS_KN, "speed", "3.4kn or 1.2m/s", _FASTEST_KN)


def parse_duration(text: str) -> float:
    """Return a duration in seconds from text that states its unit (``s``, ``min``, ``h`` or ``d``).

    Raises
    ------
    UsageError
        As `parse_length`.

    Examples
    --------
    >>> parse_duration("15min")
    900.0
    """
    return _parse(text, _DURATIONS_S, "duration", "90s, 15min or 2h", _LONGEST_S)


def parse_fuel_rate(text: str) -> float:
    """Return how much fuel is burnt, in litres an hour, from text that states its unit (``l/h``).

    Raises
    ------
    UsageError
        As `parse_length`.

    Examples
    --------
    >>> parse_fuel_rate("180l/h")
    180.0
    """
    return _parse(text, _FUEL_RATES_L_PER_H, "rate of fuel", "180l/h", _MOST_L_PER_H)


def _parse(text: str, units: dict[str, float], what: str, examples: str, largest: float) -> float:
    match = _QUANTITY.fullmatch(text)
    if match is None:
        message = f"{quoted(text)} is not a {what}; write for example {examples}"
        raise UsageError(message)
    number, unit = float(match[1]), match[2]
    if unit not in units:
        if not unit:
            hint = f"it has no unit; write for example {examples}"
        elif unit in _LOOKALIKES:
            hint = _LOOKALIKES[unit]
        else:
            hint = f"the unit is not one of {', '.join(units)}; write for example {examples}"
        message = f"{quoted(text)} is not a {what}: {hint}"
        raise UsageError(message)
    quantity = number * units[unit]
    if not math.isfinite(quantity) or math.copysign(1.0, number) < 0:
        message = f"{quoted(text)} is not a {what}: it must be a finite number, zero or more"
        raise UsageError(message)
    if quantity > largest:
        message = f"{quoted(text)} is more than makes sense for a {what} at sea"
        raise UsageError(message)
    return quantity


def format_length(length_m: float) -> str:
    """Return a length for people, in metres and nautical miles.

    Examples
    --------
    >>> format_length(463.0)
    '463.0 m (0.250 nmi)'
    >>> format_length(-12.34)
    '-12.3 m (-0.007 nmi)'
    """
    return f"{length_m + 0.0:.1f} m ({length_m / NAUTICAL_MILE_M + 0.0:.3f} nmi)"


def format_position(lon_deg: float, lat_deg: float) -> str:
    """Return a position as mariners read it: latitude first, degrees and decimal minutes.

    Parameters
    ----------
    lon_deg, lat_deg : float
        Degrees, east and north positive; any finite longitude.

    Examples
    --------
    >>> format_position(-8.175, 54.50333333)
    "54°30.200'N 008°10.500'W"
    >>> format_position(180.0, -59.9999999)
    "60°00.000'S 180°00.000'E"
    """
    lon_deg = (lon_deg + 180.0) % 360.0 - 180.0 if abs(lon_deg) > 180.0 else lon_deg
    north = "N" if lat_deg >= 0 else "S"
    east = "E" if lon_deg >= 0 else "W"
    return f"{_minutes(lat_deg, 2)}{north} {_minutes(lon_deg, 3)}{east}"


def _minutes(angle_deg: float, width: int) -> str:
    # Round once, in thousandths of a minute, so that 59.9996' becomes the next whole degree.
    thousandths = round(abs(angle_deg) * 60_000)
    degrees, rest = divmod(thousandths, 60_000)
    return f"{degrees:0{width}d}°{rest // 1000:02d}.{rest % 1000:03d}'"


def format_instant(instant: np.datetime64) -> str | None:
    """Return an instant as RFC 3339 UTC text, or ``None`` for an unknown time.

    Whole seconds are printed without a fraction, others to the millisecond (rounded down).

    Examples
    --------
    >>> format_instant(np.datetime64("2026-03-01T06:10:00", "us"))
    '2026-03-01T06:10:00Z'
    >>> format_instant(np.datetime64("2026-03-01T06:10:00.25", "us"))
    '2026-03-01T06:10:00.250Z'
    >>> format_instant(np.datetime64("NaT")) is None
    True
    """
    value = instant.item()
    if isinstance(value, datetime):  # many instants are written; this way is the quicker
        return f"{value.isoformat(timespec='milliseconds' if value.microsecond >= 1000 else 'seconds')}Z"
    if np.isnat(instant):
        return None
    milliseconds = instant.astype("datetime64[ms]")
    whole = milliseconds == milliseconds.astype("datetime64[s]")
    return f"{np.datetime_as_string(milliseconds, unit='s' if whole else 'ms')}Z"


def format_time(instant: np.datetime64) -> str:
    """Return an instant for people: UTC, to the second (rounded down).

    Examples
    --------
    >>> format_time(np.datetime64("2026-03-01T06:10:00.25", "us"))
    '2026-03-01 06:10:00 UTC'
    >>> format_time(np.datetime64("NaT"))
    'time not known'
    """
    text = format_instant(instant)
    return "time not known" if text is None else f"{text[:19].replace('T', ' ')} UTC"


def format_duration(seconds: float) -> str:
    """Return a duration for people.

    Examples
    --------
    >>> format_duration(42.4)
    '42 s'
    >>> format_duration(6900)
    '1 h 55 min'
    >>> format_duration(725)
    '12 min 05 s'
    >>> format_duration(900)
    '15 min'
    """
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    minutes, secs = divmod(rest, 60)
    if hours:
        return f"{hours} h {minutes:02d} min"
    if minutes:
        return f"{minutes} min {secs:02d} s" if secs else f"{minutes} min"
    return f"{whole} s"
