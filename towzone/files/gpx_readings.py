"""What a track point of GPX tells beside position and time: speed, course, dilution of precision.

References
----------
GPX 1.0 schema, https://www.topografix.com/GPX/1/0/gpx.xsd: ``speed`` in metres per second, ``course`` in true
degrees. In GPX 1.1 both moved into extensions, where writers keep the names and the units.
"""

from __future__ import annotations

import itertools
import math
from array import array

from towzone.files.reading_limits import LIMITS
from towzone.units import KNOT_MPS

__all__ = ["INSIDE", "READINGS", "READINGS_INSIDE", "fill_up", "is_of_the_vessel", "possible"]

INSIDE = "inside"
"""Role of the extensions of a point and of what they hold, at any depth."""
READINGS_INSIDE = {"speed": "speed", "course": "course", "cog": "course", "hdop": "hdop"}
"""Readings in extensions by local name; ``cog`` is what some writers call the course (common practice, no
source)."""
READINGS = {"speed": ("sog_kn", 1.0 / KNOT_MPS), "course": ("cog_deg", 1.0), "hdop": ("hdop", 1.0)}
"""Column of each element that tells a reading, and what one of its units is there."""

_NOT_THE_VESSEL = frozenset(("wind", "apparentwind", "truewind", "water", "current", "tide", "waypoint"))
"""Own choice: elements of extensions whose speed and course are not looked at."""


def is_of_the_vessel(name: str) -> bool:
    """Return whether an element of the extensions may hold readings of the vessel."""
    return name.rpartition(":")[2].lower() not in _NOT_THE_VESSEL


def possible(reading: str, text: str, factor: float) -> float | None:
    """Return a reading in our unit, or ``None`` when the text is no possible one.

    Examples
    --------
    >>> round(possible("sog_kn", " 1.75 ", 3600 / 1852), 3), possible("cog_deg", "5_4", 1.0)
    (3.402, None)
    """
    if not text.isascii() or "_" in text:
        return None
    try:
        value = float(text) * factor
    except ValueError:
        return None
    low, high = LIMITS[reading]
    return value if low <= value < high else None  # NaN is in no range


def fill_up(column: array[float], length: int) -> None:
    """Say ``NaN`` for points without a reading up to a length: files without any pay nothing."""
    column.extend(itertools.repeat(math.nan, length - len(column)))
