"""What the reader of GPX makes of one document: points in columns, runs of them, what had to be assumed."""

from __future__ import annotations

from array import array
from dataclasses import dataclass, field

from towzone.files.times import TimeNote

__all__ = ["Columns", "GpxContent", "Run"]


@dataclass(slots=True)
class Columns:
    """Points as growing columns: degrees, microseconds since 1970 UTC (or ``NOT_A_TIME``), line numbers.

    Readings (speed and course over the ground, dilution of precision) are as long as the others, ``NaN``
    where there is none, or empty when no point of the document has one.
    """

    lon_deg: array[float] = field(default_factory=lambda: array("d"))
    lat_deg: array[float] = field(default_factory=lambda: array("d"))
    time_us: array[int] = field(default_factory=lambda: array("q"))
    line: array[int] = field(default_factory=lambda: array("I"))
    sog_kn: array[float] = field(default_factory=lambda: array("f"))
    cog_deg: array[float] = field(default_factory=lambda: array("f"))
    hdop: array[float] = field(default_factory=lambda: array("f"))


@dataclass(slots=True)
class Run:
    """One ``trkseg`` or ``rte``: which points are its own.

    ``group`` is the number of the ``trk`` or ``rte`` in the file, from 1; points are ``first`` to before
    ``stop``; ``zero_lines`` are the lines of points left out because they stand at 0, 0.
    """

    group: int
    line: int
    first: int
    stop: int = 0
    name: str = ""
    zero_lines: array[int] = field(default_factory=lambda: array("I"))


@dataclass(slots=True)
class GpxContent:
    """Everything read from one document.

    ``route_names`` are the names of the route points, one for each, empty where it has none. ``unread`` is
    how many readings are no possible numbers and were passed over, ``first_unread`` line and words of the
    first.
    """

    points: Columns = field(default_factory=Columns)
    segments: list[Run] = field(default_factory=list)
    route_points: Columns = field(default_factory=Columns)
    route_names: list[str] = field(default_factory=list)
    routes: list[Run] = field(default_factory=list)
    waypoints: int = 0
    version: str = ""
    notes: dict[TimeNote, int] = field(default_factory=dict)
    first_note_line: dict[TimeNote, int] = field(default_factory=dict)
    unread: int = 0
    first_unread: tuple[int, str] = (0, "")
