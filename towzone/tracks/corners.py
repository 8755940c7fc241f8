"""Corners of planned lines, from whatever source: what is refused of them, and tracks thinned to corners."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.geodesy.ellipsoid import (
    ECCENTRICITY_SQUARED,
    LATITUDE_LIMIT_DEG,
    SEMI_MAJOR_M,
    FloatArray,
    isometric_latitude,
    to_geocentric,
    wrap_longitude,
)
from towzone.geodesy.lines import WGS84, LineKind, inverse
from towzone.tracks.raw import ZERO_TOLERANCE_DEG
from towzone.units import NAUTICAL_MILE_M, format_position

__all__ = ["MOST_CORNERS", "CornerFault", "corner_faults", "thinned_to_corners"]

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

MOST_CORNERS = 500
"""Own limit on the corners of one line: nobody steers more, and each of them costs a plan its time."""
_SHORTEST_LEG_M = 1.0
"""Own limit: over less than this the last digits of its ends decide the course of a leg."""
_LONGEST_LEG_M = 300.0 * NAUTICAL_MILE_M
"""Own limit: a hundred hours at 3 kn without altering course; a longer leg is a slip of the pen."""
_SHARPEST_TURN_DEG = 179.0
"""Own limit: from here on the vessel would tow back over its own gear; what is less sharp is left to the
check."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerFault:
    """What is wrong at one corner, by its number from 0; ``message`` counts them from 1, as people do."""

    corner: int
    message: str


def corner_faults(lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> list[CornerFault]:
    """Return what makes no planned line of some corners, in their order; nothing where it is one.

    Parameters
    ----------
    lon_deg, lat_deg : array_like of float, shape (n,)
        Degrees WGS 84, in range.
    """
    lon, lat = np.asarray(lon_deg, dtype=np.float64), np.asarray(lat_deg, dtype=np.float64)
    if len(lon) < 2:
        found = "no point" if not len(lon) else "one point"
        return [CornerFault(corner=0, message=f"the line has {found}; a planned line needs at least two")]
    if len(lon) > MOST_CORNERS:
        message = f"the line has {len(lon)} points; allowed are {MOST_CORNERS}. Plan it in parts"
        return [CornerFault(corner=MOST_CORNERS, message=message)]
    faults = _misplaced(lon, lat)
    if not faults:
        faults = _bad_legs(lon, lat)
    return sorted(faults, key=lambda fault: fault.corner)


def _misplaced(lon: FloatArray, lat: FloatArray) -> list[CornerFault]:
    faults = []
    for corner in np.flatnonzero(
        (np.abs(lon) <= ZERO_TOLERANCE_DEG) & (np.abs(lat) <= ZERO_TOLERANCE_DEG)
    ).tolist():
        message = "stands at 0, 0, which programs write when they have no position; give the true one"
        faults.append(_fault(corner, message))
    for corner in np.flatnonzero(~(np.abs(lat) <= LATITUDE_LIMIT_DEG)).tolist():
        message = f"is beyond {LATITUDE_LIMIT_DEG:g} degrees of latitude, where nothing is computed"
        faults.append(_fault(corner, message))
    return faults


def _bad_legs(lon: FloatArray, lat: FloatArray) -> list[CornerFault]:
    _, _, length = WGS84.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
    length_m = np.asarray(length)
    short, long = length_m < _SHORTEST_LEG_M, length_m > _LONGEST_LEG_M
    half_round = np.abs(lon[1:] - lon[:-1]) == 180.0
    faults = [_short(leg, length_m[leg]) for leg in np.flatnonzero(short).tolist()]
    swapped = _swapped(lon, lat, long)
    for corner in np.flatnonzero(swapped).tolist():
        message = (
            f"({format_position(lon[corner], lat[corner])}) lies far from the others, and near them if"
            " latitude and longitude change places; correct it"
        )
        faults.append(_fault(corner, message))
    for leg in np.flatnonzero(long & ~swapped[:-1] & ~swapped[1:]).tolist():
        message = (
            f"lies {length_m[leg] / NAUTICAL_MILE_M:.0f} nmi from point {leg + 1}; allowed are"
            f" {_LONGEST_LEG_M / NAUTICAL_MILE_M:.0f} nmi. Check both positions, or put points between them"
        )
        faults.append(_fault(leg + 1, message))
    for leg in np.flatnonzero(half_round & ~short & ~long).tolist():
        message = (
            f"lies 180 degrees of longitude from point {leg + 1}, so that there are two ways; put one between"
        )
        faults.append(_fault(leg + 1, message))
    return faults + _sharp_turns(lon, lat, ~(short | long | half_round))


def _short(leg: int, length_m: float) -> CornerFault:
    apart = "coincide" if length_m < 0.005 else f"are only {length_m:.2f} m apart"
    return CornerFault(
        corner=leg + 1,
        message=(
            f"points {leg + 1} and {leg + 2} {apart}, and a leg needs at least {_SHORTEST_LEG_M:g} m; leave"
            " one of them out"
        ),
    )


def _swapped(lon: FloatArray, lat: FloatArray, long: BoolArray) -> BoolArray:
    """Return which corners lie far from all neighbours as they are, and near them the other way round."""
    found = np.zeros(len(lon), dtype=np.bool_)
    for corner in np.flatnonzero(np.append(long, False) | np.insert(long, 0, False)).tolist():
        beside = [other for other in (corner - 1, corner + 1) if 0 <= other < len(lon)]
        # Of two corners alone, or at an end, either could be the one; the one inside is looked at first.
        if abs(lon[corner]) > LATITUDE_LIMIT_DEG or not all(long[min(corner, other)] for other in beside):
            continue
        if any(found[other] for other in beside):
            continue
        here = np.full(len(beside), lat[corner]), np.full(len(beside), lon[corner])
        _, _, length = WGS84.inv(*here, lon[beside], lat[beside])
        found[corner] = bool((np.asarray(length) <= _LONGEST_LEG_M).all())
    return found


def _sharp_turns(lon: FloatArray, lat: FloatArray, sound: BoolArray) -> list[CornerFault]:
    """Return the corners at which a line runs back over itself, by the courses of rhumb lines."""
    course = np.full(len(sound), np.nan)
    starts, ends = np.flatnonzero(sound), np.flatnonzero(sound) + 1
    _, course[starts] = inverse(LineKind.RHUMB, lon[starts], lat[starts], lon[ends], lat[ends])
    turn = np.abs((np.diff(course) + 180.0) % 360.0 - 180.0)
    faults = []
    for leg in np.flatnonzero(turn >= _SHARPEST_TURN_DEG).tolist():
        message = (
            f"turns by {turn[leg]:.1f} degrees, back over its own gear; allowed is less than"
            f" {_SHARPEST_TURN_DEG:g}. End the line there and plan the way back as a line of its own"
        )
        faults.append(_fault(leg + 1, message))
    return faults


def _fault(corner: int, message: str) -> CornerFault:
    return CornerFault(corner=corner, message=f"point {corner + 1} {message}")


def thinned_to_corners(
    lon_deg: FloatArray, lat_deg: FloatArray, kind: LineKind, *, tolerance_m: float, most: int = MOST_CORNERS
) -> IntArray | None:
    """Return which positions of a track to keep so that no other is farther off the line through them.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray of float64, shape (n,)
        Degrees WGS 84, n at least 2.
    kind : LineKind
        How the corners will be joined: rhumb lines or geodesics.
    tolerance_m : float
        Metres.
    most : int
        How many corners there may be.

    Returns
    -------
    ndarray of int64, shape (m,), or None
        Rising, the first and the last position among them; ``None`` where it would take more than ``most``.

    Notes
    -----
    The way of Douglas and Peucker (1973), The Canadian Cartographer 10, doi:10.3138/FM57-6770-U75U-7727.
    Distances are measured where lines of that kind are straight: for rhumb lines on a Mercator chart, in
    metres at the latitude of each position; for geodesics from the plane through both ends and the centre of
    the ellipsoid. Both are right to a small part of the tolerance for positions that close to the line.
    """
    off = _off_rhumb(lon_deg, lat_deg) if kind is LineKind.RHUMB else _off_geodesic(lon_deg, lat_deg)
    keep = np.zeros(len(lon_deg), dtype=np.bool_)
    keep[[0, -1]] = True
    kept, waiting = 2, [(0, len(lon_deg) - 1)]
    while waiting:
        first, last = waiting.pop()
        if last - first < 2:
            continue
        off_m = off(first, last)
        farthest = int(np.argmax(off_m))
        if off_m[farthest] <= tolerance_m:
            continue
        kept += 1
        if kept > most:
            return None
        at = first + 1 + farthest
        keep[at] = True
        waiting += [(at, last), (first, at)]
    return np.flatnonzero(keep)


_Off = Callable[[int, int], FloatArray]
"""How far the positions between two are from the line through these, metres."""


def _off_rhumb(lon_deg: FloatArray, lat_deg: FloatArray) -> _Off:
    east = np.radians(np.concatenate([[0.0], np.cumsum(wrap_longitude(np.diff(lon_deg)))]))
    north = isometric_latitude(lat_deg)
    sine = np.sin(np.radians(lat_deg))
    metres = SEMI_MAJOR_M * np.cos(np.radians(lat_deg)) / np.sqrt(1.0 - ECCENTRICITY_SQUARED * sine**2)
    chart = np.stack([east, north], axis=1)

    def off(first: int, last: int) -> FloatArray:
        return metres[first + 1 : last] * _from_segment(chart, first, last)

    return off


def _off_geodesic(lon_deg: FloatArray, lat_deg: FloatArray) -> _Off:
    places_m = to_geocentric(lon_deg, lat_deg)

    def off(first: int, last: int) -> FloatArray:
        here, start, end = places_m[first + 1 : last], places_m[first], places_m[last]
        beside = _from_segment(places_m, first, last)
        normal = np.cross(start, end)
        length = float(np.linalg.norm(normal))
        if length == 0.0:
            return beside
        # Beyond an end the straight distance to it counts, which the bulge of the earth hardly changes.
        along = (here - start) @ (end - start) / float((end - start) @ (end - start))
        from_plane = np.abs(here @ (normal / length))
        return np.where((along > 0.0) & (along < 1.0), from_plane, beside)

    return off


def _from_segment(places: FloatArray, first: int, last: int) -> FloatArray:
    """Return the distances of the places between two from the straight segment that joins these."""
    start, way = places[first], places[last] - places[first]
    beside = places[first + 1 : last] - start
    square = float(way @ way)
    along = np.clip(beside @ way / square, 0.0, 1.0) if square > 0.0 else np.zeros(len(beside))
    return np.asarray(np.linalg.norm(beside - along[:, None] * way, axis=1))
