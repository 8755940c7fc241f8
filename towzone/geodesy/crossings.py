"""Compiled: on which side of boundaries points lie, by counting the edges that are crossed on the way north.

`towzone.geodesy.region` prepares the columns and explains the answers.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.geodesy.compiling import compiled
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import ECCENTRICITY_SQUARED, SEMI_MAJOR_M, FloatArray

__all__ = [
    "GEODESIC",
    "GROUP",
    "INSIDE",
    "LONLAT",
    "OUTSIDE",
    "RHUMB",
    "UNSURE",
    "Rings",
    "framed",
    "side",
    "sides",
    "sides_of_point",
]

OUTSIDE, INSIDE, UNSURE = 0, 1, 2
"""The answers; `UNSURE` is so near a geodesic edge that it takes exact geodesics to tell."""

RHUMB, GEODESIC, LONLAT = 0, 1, 2

GROUP = 32
"""Own choice: edges that share a range of longitudes, by which all of them are passed over."""

_E = math.sqrt(ECCENTRICITY_SQUARED)


class Rings(NamedTuple):
    """Polygons of many owners as columns.

    Longitudes of edges are told east of their polygon's reference and run on from corner to corner, so
    that they may leave [-180, 180) and no edge has a seam.

    Parameters
    ----------
    polygon_first : ndarray of int, shape (owners + 1,)
    kind : ndarray of int, shape (owners,)
        `RHUMB`, `GEODESIC` or `LONLAT`.
    edge_first, group_first : ndarray of int, shape (polygons + 1,)
    reference_deg : ndarray, shape (polygons,)
    low_deg, high_deg : ndarray, shape (polygons,)
        Latitudes that hold all of the polygon.
    west_deg, east_deg : ndarray, shape (polygons,)
        The same of longitudes, east of the reference.
    group_west_deg, group_east_deg : ndarray, shape (groups,)
        The same of each `GROUP` edges of a polygon.
    lon0_deg, lon1_deg : ndarray, shape (edges,)
    lat0_deg, lat1_deg : ndarray, shape (edges,)
    band_low_deg, band_high_deg : ndarray, shape (edges,)
        Latitudes that hold all of the edge.
    rise0, rise1 : ndarray, shape (edges,)
        Isometric latitudes, radians; 0 but for rhumb lines.
    normal : ndarray, shape (edges, 3)
        Of the plane through the ends of a geodesic and the middle of the earth, to the north; 0 for others.
    doubt_m : ndarray, shape (edges,)
        A geodesic strays no more than this from that plane; infinite where that is not proved.
    """

    polygon_first: IntArray
    kind: IntArray
    edge_first: IntArray
    group_first: IntArray
    reference_deg: FloatArray
    low_deg: FloatArray
    high_deg: FloatArray
    west_deg: FloatArray
    east_deg: FloatArray
    group_west_deg: FloatArray
    group_east_deg: FloatArray
    lon0_deg: FloatArray
    lon1_deg: FloatArray
    lat0_deg: FloatArray
    lat1_deg: FloatArray
    band_low_deg: FloatArray
    band_high_deg: FloatArray
    rise0: FloatArray
    rise1: FloatArray
    normal: FloatArray
    doubt_m: FloatArray


@compiled
def framed(
    rings: Rings, lon_deg: FloatArray, lat_deg: FloatArray, owner_out: IntArray, point_out: IntArray
) -> int:
    """Write the pairs of owner and point where a frame holds the point; return how many there are.

    Points are in [-180, 180). What does not fit into the columns is only counted.
    """
    found = 0
    if len(lon_deg) == 0:
        return found
    frame = _frame_of(lon_deg, lat_deg)
    for owner in range(len(rings.kind)):
        first, last = rings.polygon_first[owner], rings.polygon_first[owner + 1]
        meets = False
        for polygon in range(first, last):
            meets = meets or _frames_meet(rings, polygon, frame)
        if not meets:
            continue
        for point in range(len(lon_deg)):
            for polygon in range(first, last):
                if _in_frame(rings, polygon, lon_deg[point], lat_deg[point]):
                    if found < len(owner_out):
                        owner_out[found] = owner
                        point_out[found] = point
                    found += 1
                    break
    return found


@compiled
def _frame_of(lon_deg: FloatArray, lat_deg: FloatArray) -> tuple[float, float, float, float, float]:
    """Return the longitude of the first of some points, how far west and east of it all are; latitudes."""
    west, east, low, high = 0.0, 0.0, lat_deg[0], lat_deg[0]
    for point in range(len(lon_deg)):
        off = _east(lon_deg[0], lon_deg[point])
        west, east = min(west, off), max(east, off)
        low, high = min(low, lat_deg[point]), max(high, lat_deg[point])
    return lon_deg[0], west, east, low, high


@compiled
def _frames_meet(rings: Rings, polygon: int, frame: tuple[float, float, float, float, float]) -> bool:
    """Return whether the frame of a polygon may hold any of some points."""
    reference_deg, west, east, low, high = frame
    if rings.high_deg[polygon] < low or rings.low_deg[polygon] > high:
        return False
    off = _east(reference_deg, rings.reference_deg[polygon])
    width = rings.east_deg[polygon] - rings.west_deg[polygon]
    # The easternmost longitude of the polygon, turned until it is not west of the points (but for rounding).
    last = _first_turn(west - 1e-9, off + rings.east_deg[polygon])
    return bool(last - width <= east + 1e-9)


@compiled
def sides(
    rings: Rings,
    owner: IntArray,
    lon_deg: FloatArray,
    lat_deg: FloatArray,
    answer: npt.NDArray[np.int8],
) -> None:
    """Write for each point whether it is inside the owner beside it; points are in [-180, 180)."""
    for row in range(len(owner)):
        answer[row] = side(rings, owner[row], lon_deg[row], lat_deg[row])


@compiled
def sides_of_point(
    rings: Rings, owner: IntArray, lon_deg: float, lat_deg: float, answer: npt.NDArray[np.int8]
) -> None:
    """Write for each owner whether one point in [-180, 180) is inside it.

    Most frames do not hold the point, which is seen here: to call `side` for each costs more than that.
    """
    for number in range(len(owner)):
        answer[number] = OUTSIDE
        for polygon in range(rings.polygon_first[owner[number]], rings.polygon_first[owner[number] + 1]):
            if _in_frame(rings, polygon, lon_deg, lat_deg):
                answer[number] = side(rings, owner[number], lon_deg, lat_deg)
                break


@compiled
def side(rings: Rings, owner: int, lon_deg: float, lat_deg: float) -> int:
    """Return `OUTSIDE`, `INSIDE` or `UNSURE` for one point in [-180, 180)."""
    answer = OUTSIDE
    for polygon in range(rings.polygon_first[owner], rings.polygon_first[owner + 1]):
        if _in_frame(rings, polygon, lon_deg, lat_deg):
            one = _side_of_polygon(rings, rings.kind[owner], polygon, lon_deg, lat_deg)
            if one == INSIDE:
                return INSIDE
            answer = max(answer, one)
    return answer


@compiled
def _east(reference_deg: float, lon_deg: float) -> float:
    """Return how far east of a reference a longitude lies, in [-180, 180)."""
    east = lon_deg - reference_deg
    if east >= 180.0:
        return east - 360.0
    if east < -180.0:
        return east + 360.0
    return east


@compiled
def _in_frame(rings: Rings, polygon: int, lon_deg: float, lat_deg: float) -> bool:
    if lat_deg < rings.low_deg[polygon] or lat_deg > rings.high_deg[polygon]:
        return False
    east = _east(rings.reference_deg[polygon], lon_deg)
    return bool(_first_turn(rings.west_deg[polygon], east) <= rings.east_deg[polygon])


@compiled
def _first_turn(west_deg: float, east_deg: float) -> float:
    """Return a longitude with as many whole turns added as bring it just east of a limit."""
    if east_deg >= west_deg and east_deg - 360.0 < west_deg:
        return east_deg
    return east_deg + 360.0 * math.ceil((west_deg - east_deg) / 360.0)


@compiled
def _side_of_polygon(rings: Rings, kind: int, polygon: int, lon_deg: float, lat_deg: float) -> int:
    odd = False
    rise = np.nan
    east = _first_turn(rings.west_deg[polygon], _east(rings.reference_deg[polygon], lon_deg))
    # An area wider than half the world may be met again a turn farther east.
    while east <= rings.east_deg[polygon]:
        first = rings.edge_first[polygon]
        for group in range(rings.group_first[polygon], rings.group_first[polygon + 1]):
            last = min(first + GROUP, rings.edge_first[polygon + 1])
            if rings.group_west_deg[group] <= east <= rings.group_east_deg[group]:
                for edge in range(first, last):
                    # A meridian through a corner counts as east of it, for both edges that meet there:
                    # edges that go on in one direction are then crossed once, and a turning point twice
                    # or not at all.
                    if (east >= rings.lon0_deg[edge]) == (east >= rings.lon1_deg[edge]):
                        continue
                    if lat_deg < rings.band_low_deg[edge]:
                        odd = not odd
                    elif lat_deg <= rings.band_high_deg[edge]:
                        if kind == RHUMB and math.isnan(rise):
                            rise = _isometric(lat_deg)
                        above = _above(rings, kind, edge, east, lon_deg, lat_deg, rise)
                        if above == UNSURE:
                            return UNSURE
                        odd = odd != (above == INSIDE)
            first = last
        east += 360.0
    return INSIDE if odd else OUTSIDE


@compiled
def _above(
    rings: Rings, kind: int, edge: int, east_deg: float, lon_deg: float, lat_deg: float, rise: float
) -> int:
    """Return `INSIDE` where an edge that crosses a point's meridian does so north of the point."""
    if kind == GEODESIC:
        return _geodesic_above(rings, edge, lon_deg, lat_deg)
    lon0, lon1 = rings.lon0_deg[edge], rings.lon1_deg[edge]
    part = (east_deg - lon0) / (lon1 - lon0)
    if kind == RHUMB:
        start, end, here = rings.rise0[edge], rings.rise1[edge], rise
    else:
        start, end, here = rings.lat0_deg[edge], rings.lat1_deg[edge], lat_deg
    return INSIDE if here < start + part * (end - start) else OUTSIDE


@compiled
def _geodesic_above(rings: Rings, edge: int, lon_deg: float, lat_deg: float) -> int:
    """Compare a point with the plane through the ends of a geodesic.

    Along a meridian the offset from the plane is a sine of the reduced latitude, which changes sign once;
    where the geodesic crosses, the offset is at most ``doubt_m``. So a point with a greater one lies on that
    side of the crossing, too.
    """
    lon, lat = math.radians(lon_deg), math.radians(lat_deg)
    sin_lat, cos_lat = math.sin(lat), math.cos(lat)
    normal_m = SEMI_MAJOR_M / math.sqrt(1.0 - ECCENTRICITY_SQUARED * sin_lat * sin_lat)
    offset_m = normal_m * (
        cos_lat * (math.cos(lon) * rings.normal[edge, 0] + math.sin(lon) * rings.normal[edge, 1])
        + (1.0 - ECCENTRICITY_SQUARED) * sin_lat * rings.normal[edge, 2]
    )
    # Written so that an offset that is no number is in doubt.
    if offset_m > rings.doubt_m[edge]:
        return OUTSIDE
    if offset_m < -rings.doubt_m[edge]:
        return INSIDE
    return UNSURE


@compiled
def _isometric(lat_deg: float) -> float:
    """Return what `towzone.geodesy.ellipsoid.isometric_latitude` does, for one latitude."""
    lat = math.radians(lat_deg)
    return math.asinh(math.tan(lat)) - _E * math.atanh(_E * math.sin(lat))
