"""Meridians and parallels in round degrees and minutes, and the words at their ends."""

from __future__ import annotations

import math

__all__ = ["grid_values", "latitude_label", "longitude_label", "round_miles"]

_STEPS_MIN = (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800)


def grid_values(low_deg: float, high_deg: float, most: int) -> list[float]:
    """Return round degrees between two limits, at most ``most`` of them where a round step allows.

    Examples
    --------
    >>> grid_values(57.9, 58.6, 3)
    [58.0, 58.25, 58.5]
    """
    span_min = (high_deg - low_deg) * 60.0
    step_min = next((step for step in _STEPS_MIN if span_min / step <= most), _STEPS_MIN[-1])
    first = math.ceil(low_deg * 60.0 / step_min - 1e-9)
    last = math.floor(high_deg * 60.0 / step_min + 1e-9)
    return [i * step_min / 60.0 for i in range(first, last + 1)]


def _label(angle_deg: float, sides: str) -> str:
    hundredths = round(abs(angle_deg) * 6000)
    degrees, rest = divmod(hundredths, 6000)
    side = "" if angle_deg == 0.0 else sides[0 if angle_deg > 0 else 1]
    if rest == 0:
        return f"{degrees}°{side}"
    minutes = f"{rest // 100:02d}" if rest % 100 == 0 else f"{rest / 100:05.2f}".rstrip("0")
    return f"{degrees}°{minutes}'{side}"


def latitude_label(lat_deg: float) -> str:
    """Return a parallel's name.

    Examples
    --------
    >>> latitude_label(58.1), latitude_label(-3.0)
    ("58°06'N", '3°S')
    """
    return _label(lat_deg, "NS")


def longitude_label(lon_deg: float) -> str:
    """Return a meridian's name; 180 degrees is neither east nor west.

    Examples
    --------
    >>> longitude_label(180.5), longitude_label(180.0), longitude_label(7.25)
    ("179°30'W", '180°', "7°15'E")
    """
    lon_deg = (lon_deg + 180.0) % 360.0 - 180.0
    return "180°" if abs(lon_deg) >= 180.0 - 1e-9 else _label(lon_deg, "EW")


def round_miles(most_nmi: float) -> float:
    """Return the largest of 1, 2, 5 times a power of ten that is not more than a length.

    Examples
    --------
    >>> round_miles(7.3), round_miles(0.42)
    (5.0, 0.2)
    """
    power = 10.0 ** math.floor(math.log10(most_nmi))
    return next(round(f * power, 6) for f in (5.0, 2.0, 1.0) if f * power <= most_nmi * (1 + 1e-9))
