"""Single points on the ellipsoid, compiled: what `ellipsoid` does with columns, one point at a time.

Points are tuples of geocentric metres, on the ellipsoid; points of a plane are tuples (east, north).
"""

from __future__ import annotations

import math

from towzone.geodesy.compiling import compiled
from towzone.geodesy.ellipsoid import ECCENTRICITY_SQUARED, SEMI_MAJOR_M, SEMI_MINOR_M, FloatArray

__all__ = [
    "FlatPoint",
    "Plane",
    "Point",
    "arc",
    "between",
    "chord",
    "geocentric",
    "lifted",
    "lon_lat",
    "off_chord",
    "plane_at",
    "row",
    "seen",
]

Point = tuple[float, float, float]
FlatPoint = tuple[float, float]
Plane = tuple[Point, FlatPoint, Point]
"""Origin, the unit vector east (its third part is 0) and the unit vector north."""

_ACROSS = SEMI_MAJOR_M**-2
_ALONG = SEMI_MINOR_M**-2
_STEEPER = (SEMI_MAJOR_M / SEMI_MINOR_M) ** 2


@compiled
def row(points_m: FloatArray, number: int) -> Point:
    """Return one row of points, shape ``(n, 3)``."""
    return points_m[number, 0], points_m[number, 1], points_m[number, 2]


@compiled
def geocentric(lon_deg: float, lat_deg: float) -> Point:
    """Return a position as a point; see `ellipsoid.to_geocentric`."""
    lon, lat = math.radians(lon_deg), math.radians(lat_deg)
    sin_lat, cos_lat = math.sin(lat), math.cos(lat)
    normal_m = SEMI_MAJOR_M / math.sqrt(1.0 - ECCENTRICITY_SQUARED * sin_lat**2)
    return (
        normal_m * cos_lat * math.cos(lon),
        normal_m * cos_lat * math.sin(lon),
        normal_m * (1.0 - ECCENTRICITY_SQUARED) * sin_lat,
    )


@compiled
def lon_lat(point: Point) -> tuple[float, float]:
    """Return longitude and latitude, degrees; see `ellipsoid.from_geocentric`."""
    x, y, z = point
    lat = math.atan2(z, (1.0 - ECCENTRICITY_SQUARED) * math.hypot(x, y))
    return math.degrees(math.atan2(y, x)), math.degrees(lat)


@compiled
def between(start: Point, end: Point, part: float) -> Point:
    """Return the point at a fraction of a chord; its ends exactly, so that neighbours tell the same."""
    if part >= 1.0:
        return end
    return (
        start[0] + part * (end[0] - start[0]),
        start[1] + part * (end[1] - start[1]),
        start[2] + part * (end[2] - start[2]),
    )


@compiled
def lifted(point: Point) -> Point:
    """Return a point of a chord moved out to the ellipsoid, away from the centre."""
    x, y, z = point
    shrink = math.sqrt(x**2 + y**2 + z**2 / (1.0 - ECCENTRICITY_SQUARED)) / SEMI_MAJOR_M
    return x / shrink, y / shrink, z / shrink


@compiled
def chord(a: Point, b: Point) -> float:
    """Return the straight distance, metres."""
    return math.sqrt((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2 + (b[2] - a[2]) ** 2)


@compiled
def off_chord(point: Point, start: Point, end: Point) -> float:
    """Return the straight distance of any place from a chord, metres."""
    x, y, z = point[0] - start[0], point[1] - start[1], point[2] - start[2]
    along_x, along_y, along_z = end[0] - start[0], end[1] - start[1], end[2] - start[2]
    square = along_x**2 + along_y**2 + along_z**2
    part = 0.0
    if square > 0.0:
        part = min(max((x * along_x + y * along_y + z * along_z) / square, 0.0), 1.0)
    x, y, z = x - part * along_x, y - part * along_y, z - part * along_z
    return math.sqrt(x**2 + y**2 + z**2)


@compiled
def arc(a: Point, b: Point) -> float:
    """Return the distance on the ellipsoid, metres; see `ellipsoid.arc_from_chord`."""
    x, y, z = b[0] - a[0], b[1] - a[1], b[2] - a[2]
    length_m = math.sqrt(x**2 + y**2 + z**2)
    across = ((a[0] + b[0]) / 2.0 * _ACROSS) ** 2 + ((a[1] + b[1]) / 2.0 * _ACROSS) ** 2
    steepness = math.sqrt(across + ((a[2] + b[2]) / 2.0 * _ALONG) ** 2)
    bend = (x**2 * _ACROSS + y**2 * _ACROSS + z**2 * _ALONG) / max(length_m, 1e-9) ** 2
    curvature = bend / steepness
    half = curvature * length_m / 2.0
    # Written so that what is no number is handed back.
    if not half > 1e-9:
        return length_m
    # Rounding may not make an arc shorter than its chord.
    return max(2.0 / max(curvature, 1e-12) * math.asin(min(half, 1.0)), length_m)


@compiled
def plane_at(origin: Point) -> Plane:
    """Return the plane that touches the ellipsoid at a point, for `seen`."""
    x, y, z = origin
    across = math.hypot(x, y)
    # At a pole every direction is south; one is taken for east.
    east_x, east_y = (-y / across, x / across) if across > 0.0 else (0.0, 1.0)
    # The outward normal of the ellipsoid, not the direction from the centre.
    up_z = z * _STEEPER
    length = math.sqrt(x**2 + y**2 + up_z**2)
    up_x, up_y, up_z = x / length, y / length, up_z / length
    return origin, (east_x, east_y), (-up_z * east_y, up_z * east_x, up_x * east_y - up_y * east_x)


@compiled
def seen(plane: Plane, target: Point) -> FlatPoint:
    """Return where a point lies in a plane, metres east and north; see `ellipsoid.arc_vectors`."""
    origin, east_unit, north_unit = plane
    x, y, z = target[0] - origin[0], target[1] - origin[1], target[2] - origin[2]
    east = x * east_unit[0] + y * east_unit[1]
    north = x * north_unit[0] + y * north_unit[1] + z * north_unit[2]
    flat_m = math.hypot(east, north)
    stretch = arc(origin, target) / max(flat_m, 1e-12) if flat_m > 0.0 else 1.0
    return east * stretch, north * stretch
