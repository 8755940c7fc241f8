"""Planned lines as geometry: legs, turns, the other way round; lines that cannot be towed."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from towzone.errors import UsageError, quoted
from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import LineKind, inverse
from towzone.model.plan import PlannedLine
from towzone.tracks.corners import corner_faults

__all__ = ["Legs", "legs_of", "line_of", "refuse_untowable", "reversed_line", "turns_deg"]


class Legs(NamedTuple):
    """The legs of a line: lengths, true courses at their beginnings and ends; arrays of shape (n - 1,)."""

    length_m: FloatArray
    course0_deg: FloatArray
    course1_deg: FloatArray


def line_of(
    name: str,
    lon_deg: FloatArray,
    lat_deg: FloatArray,
    *,
    point_names: tuple[str, ...] = (),
    source: str = "",
) -> PlannedLine:
    """Return a line through positions, longitudes brought to [-180, 180]."""
    return PlannedLine(
        name=name, lon_deg=wrap_longitude(lon_deg), lat_deg=lat_deg, point_names=point_names, source=source
    )


def reversed_line(line: PlannedLine, name: str) -> PlannedLine:
    """Return a line towed the other way, under a name of its own."""
    return PlannedLine(
        name=name,
        lon_deg=line.lon_deg[::-1],
        lat_deg=line.lat_deg[::-1],
        point_names=line.point_names[::-1],
        source=line.source,
    )


def legs_of(line: PlannedLine, kind: LineKind) -> Legs:
    """Return the legs of a line.

    Raises
    ------
    GeometryError
        A leg is too long or ambiguous.
    """
    lon, lat = line.lon_deg, line.lat_deg
    length_m, course_deg = inverse(kind, lon[:-1], lat[:-1], lon[1:], lat[1:])
    if kind is not LineKind.GEODESIC:
        return Legs(length_m, course_deg, course_deg)
    _, back_deg = inverse(kind, lon[1:], lat[1:], lon[:-1], lat[:-1])
    return Legs(length_m, course_deg, (back_deg + 180.0) % 360.0)


def turns_deg(line: PlannedLine, kind: LineKind) -> FloatArray:
    """Return the change of course at each inner corner, shape (n - 2,), positive to starboard."""
    legs = legs_of(line, kind)
    return np.asarray(wrap_longitude(legs.course0_deg[1:] - legs.course1_deg[:-1]))


def refuse_untowable(line: PlannedLine) -> None:
    """Refuse a line with legs of no length, or that goes back over its own gear, wherever it comes from.

    Raises
    ------
    UsageError
        Names the first point at fault, counted from 1.
    """
    for fault in corner_faults(line.lon_deg, line.lat_deg):
        message = f"line {quoted(line.name)}: {fault.message}"
        raise UsageError(message)
