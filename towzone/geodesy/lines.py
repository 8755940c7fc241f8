"""The three kinds of line that join two corners: rhumb lines, geodesics and lon/lat lines.

All functions take and return degrees and metres, longitude before latitude, and broadcast arrays.
Of two ways round the earth the shorter in longitude is meant; exactly half way round is refused.
"""

from __future__ import annotations

from enum import StrEnum

import numpy as np
import numpy.typing as npt
from pyproj import Geod

from towzone.errors import GeometryError
from towzone.geodesy.ellipsoid import (
    ECCENTRICITY_SQUARED,
    FLATTENING,
    LATITUDE_LIMIT_DEG,
    SEMI_MAJOR_M,
    FloatArray,
    isometric_difference,
    wrap_longitude,
)

__all__ = [
    "FLAT_RAD",
    "FROM_RECTIFYING",
    "LONGEST_EDGE_M",
    "RECTIFYING_RADIUS_M",
    "TO_RECTIFYING",
    "WGS84",
    "LineKind",
    "check_positions",
    "direct",
    "inverse",
    "points_along",
]

WGS84 = Geod(a=SEMI_MAJOR_M, rf=1.0 / FLATTENING)
"""Geodesics by Karney (2013), Algorithms for geodesics, J. Geodesy 87, doi:10.1007/s00190-012-0578-z."""

LONGEST_EDGE_M = 10_000_000.0
"""Own limit: a longer edge is a slip of the pen, and near-antipodal geodesics are not unique."""

_N = FLATTENING / (2.0 - FLATTENING)
RECTIFYING_RADIUS_M = SEMI_MAJOR_M / (1.0 + _N) * (1.0 + _N**2 / 4 + _N**4 / 64 + _N**6 / 256)
# Rectifying from geodetic latitude and back, sixth order in the third flattening.
# Published: Karney (2024), On auxiliary latitudes, Survey Review 56, eqs. A5 and A6,
# doi:10.1080/00396265.2023.2217604 (the classical series of Bessel and Helmert).
TO_RECTIFYING = (
    -3 / 2 * _N + 9 / 16 * _N**3 - 3 / 32 * _N**5,
    15 / 16 * _N**2 - 15 / 32 * _N**4 + 135 / 2048 * _N**6,
    -35 / 48 * _N**3 + 105 / 256 * _N**5,
    315 / 512 * _N**4 - 189 / 512 * _N**6,
    -693 / 1280 * _N**5,
    1001 / 2048 * _N**6,
)
FROM_RECTIFYING = (
    3 / 2 * _N - 27 / 32 * _N**3 + 269 / 512 * _N**5,
    21 / 16 * _N**2 - 55 / 32 * _N**4 + 6759 / 4096 * _N**6,
    151 / 96 * _N**3 - 417 / 128 * _N**5,
    1097 / 512 * _N**4 - 15543 / 2560 * _N**6,
    8011 / 2560 * _N**5,
    293393 / 61440 * _N**6,
)
FLAT_RAD = 1e-5
"""Below this change of latitude (64 m) a fraction of length is turned into one of longitude by series."""

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(32)


class LineKind(StrEnum):
    """How two corners are joined.

    ``rhumb``: the line of constant course, straight on a Mercator chart.
    ``geodesic``: the shortest line on the ellipsoid.
    ``lonlat``: straight in longitude and latitude, as RFC 7946 section 3.1.1 defines GeoJSON edges.
    """

    RHUMB = "rhumb"
    GEODESIC = "geodesic"
    LONLAT = "lonlat"


def inverse(
    kind: LineKind,
    lon0_deg: npt.ArrayLike,
    lat0_deg: npt.ArrayLike,
    lon1_deg: npt.ArrayLike,
    lat1_deg: npt.ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    """Return the length of the line between two points and its course at the first.

    Returns
    -------
    length_m : ndarray
        Length along this kind of line, metres.
    azimuth_deg : ndarray
        True course at the first point, [0, 360); 0 or 180 for a line of no length.

    Raises
    ------
    GeometryError
        A coordinate is not finite, a latitude is beyond `LATITUDE_LIMIT_DEG`, the longitudes are
        exactly 180 degrees apart, or the line is longer than `LONGEST_EDGE_M`.

    Notes
    -----
    Accuracy: better than 1 mm for all three kinds (tests/reference, tests/properties).
    """
    lon0, lat0, lon1, lat1 = _checked(lon0_deg, lat0_deg, lon1_deg, lat1_deg)
    _check_latitude(lat1)
    dlon = _shorter_way(lon0, lon1)
    if kind is LineKind.GEODESIC:
        azimuth, _, length = WGS84.inv(lon0, lat0, lon1, lat1)
        length, azimuth = np.asarray(length), np.asarray(azimuth)
    elif kind is LineKind.RHUMB:
        dlon_rad = np.radians(dlon)
        ordinate = isometric_difference(lat0, lat1)
        length = np.hypot(dlon_rad, ordinate) * _metres_per_ordinate(lat0, lat1)
        azimuth = np.degrees(np.arctan2(dlon_rad, ordinate))
    else:
        dlat_rad, dlon_rad = np.radians(lat1 - lat0), np.radians(dlon)
        length = _lonlat_length(lat0, dlat_rad, dlon_rad)
        meridional, transverse = _radii(lat0)
        azimuth = np.degrees(np.arctan2(transverse * dlon_rad, meridional * dlat_rad))
    _check_length(length)
    return length, azimuth % 360.0


def direct(
    kind: LineKind,
    lon_deg: npt.ArrayLike,
    lat_deg: npt.ArrayLike,
    azimuth_deg: npt.ArrayLike,
    length_m: npt.ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    """Return the end of a line that starts on a course and runs for a length.

    Returns
    -------
    lon_deg, lat_deg : ndarray
        Longitude in [-180, 180).

    Raises
    ------
    GeometryError
        As `inverse`; also when the line would end beyond `LATITUDE_LIMIT_DEG`.
    """
    lon, lat, azimuth, length = _checked(lon_deg, lat_deg, azimuth_deg, length_m)
    _check_length(length)
    if kind is LineKind.GEODESIC:
        lon1, lat1, _ = WGS84.fwd(lon, lat, azimuth, length)
    elif kind is LineKind.RHUMB:
        lon1, lat1 = _rhumb_direct(lon, lat, np.radians(azimuth), length)
    else:
        lon1, lat1 = _lonlat_direct(lon, lat, np.radians(azimuth), length)
    _check_latitude(np.asarray(lat1))
    return wrap_longitude(lon1), np.asarray(lat1)


def points_along(
    kind: LineKind,
    lon0_deg: npt.ArrayLike,
    lat0_deg: npt.ArrayLike,
    lon1_deg: npt.ArrayLike,
    lat1_deg: npt.ArrayLike,
    fraction: npt.ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    """Return points on the line between two points.

    Parameters
    ----------
    fraction : array_like
        0 at the first point, 1 at the second: of the length for rhumb lines and geodesics,
        of the parameter of RFC 7946 section 3.1.1 (equal steps in degrees) for lon/lat lines.

    Returns
    -------
    lon_deg, lat_deg : ndarray
        Longitude continues from the first point without a jump, so it may leave [-180, 180).

    Raises
    ------
    GeometryError
        As `inverse`.
    """
    lon0, lat0, lon1, lat1, part = _checked(lon0_deg, lat0_deg, lon1_deg, lat1_deg, fraction)
    _check_latitude(lat1)
    dlon = _shorter_way(lon0, lon1)
    if kind is LineKind.LONLAT:
        return lon0 + part * dlon, lat0 + part * (lat1 - lat0)
    if kind is LineKind.RHUMB:
        lat = _latitude_from_arc(_meridian_arc(lat0) + part * _meridian_difference(lat0, lat1))
        return lon0 + _rhumb_share(lat0, lat1, lat, part) * dlon, lat
    azimuth, _, length = WGS84.inv(lon0, lat0, lon1, lat1)
    _check_length(np.asarray(length))
    lon, lat, _ = WGS84.fwd(lon0, lat0, azimuth, np.asarray(length) * part)
    return lon0 + wrap_longitude(np.asarray(lon) - lon0), np.asarray(lat)


def check_positions(lon_deg: FloatArray, lat_deg: FloatArray) -> None:
    """Refuse positions that nothing can be computed for.

    Raises
    ------
    GeometryError
        A coordinate is not finite, or a latitude is beyond `LATITUDE_LIMIT_DEG`.
    """
    for column in (lon_deg, lat_deg):
        _check_finite(column)
    _check_latitude(lat_deg)


def _checked(*columns: npt.ArrayLike) -> tuple[FloatArray, ...]:
    """Return the columns as broadcast float arrays; the second is a latitude."""
    floats = (np.asarray(c, dtype=np.float64) for c in columns)
    arrays = tuple(np.array(a) for a in np.broadcast_arrays(*floats))
    for array in arrays:
        _check_finite(array)
    _check_latitude(arrays[1])
    return arrays


def _check_finite(column: FloatArray) -> None:
    if not np.isfinite(column).all():
        message = "a coordinate, course or length is not a finite number"
        raise GeometryError(message)


def _check_latitude(lat_deg: FloatArray) -> None:
    if np.any(np.abs(lat_deg) > LATITUDE_LIMIT_DEG):
        message = f"latitude {lat_deg[np.abs(lat_deg) > LATITUDE_LIMIT_DEG].flat[0]:.6f} is beyond "
        message += f"{LATITUDE_LIMIT_DEG:.0f} degrees, the limit of this tool"
        raise GeometryError(message)


def _check_length(length_m: FloatArray) -> None:
    if np.any(np.abs(length_m) > LONGEST_EDGE_M):
        longest_km = np.max(np.abs(length_m)) / 1000.0
        message = f"a line of {longest_km:.0f} km is longer than the {LONGEST_EDGE_M / 1000:.0f} km allowed"
        raise GeometryError(message)


def _shorter_way(lon0_deg: FloatArray, lon1_deg: FloatArray) -> FloatArray:
    difference = wrap_longitude(lon1_deg - lon0_deg)
    if np.any(difference == -180.0):
        message = "two corners are exactly 180 degrees of longitude apart: add a corner to say which way"
        raise GeometryError(message)
    return difference


def _radii(lat_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return metres per radian northwards and eastwards at a latitude."""
    lat = np.radians(lat_deg)
    root = np.sqrt(1.0 - ECCENTRICITY_SQUARED * np.sin(lat) ** 2)
    return SEMI_MAJOR_M * (1.0 - ECCENTRICITY_SQUARED) / root**3, SEMI_MAJOR_M * np.cos(lat) / root


def _series(angle_rad: FloatArray, coefficients: tuple[float, ...]) -> FloatArray:
    total = np.array(angle_rad)
    for order, coefficient in enumerate(coefficients, start=1):
        total = total + coefficient * np.sin(2 * order * angle_rad)
    return total


def _meridian_arc(lat_deg: FloatArray) -> FloatArray:
    """Return the length of the meridian from the equator, metres."""
    return RECTIFYING_RADIUS_M * _series(np.radians(lat_deg), TO_RECTIFYING)


def _latitude_from_arc(arc_m: FloatArray) -> FloatArray:
    return np.asarray(np.degrees(_series(arc_m / RECTIFYING_RADIUS_M, FROM_RECTIFYING)))


def _meridian_difference(lat0_deg: FloatArray, lat1_deg: FloatArray) -> FloatArray:
    """Return the meridian between two latitudes, metres; keeps its digits when they are close."""
    total, half = np.radians(lat0_deg + lat1_deg), np.radians(lat1_deg - lat0_deg) / 2.0
    difference = 2.0 * half
    for order, coefficient in enumerate(TO_RECTIFYING, start=1):
        difference = difference + 2.0 * coefficient * np.cos(order * total) * np.sin(2.0 * order * half)
    return np.asarray(RECTIFYING_RADIUS_M * difference)


def _metres_per_ordinate(lat0_deg: FloatArray, lat1_deg: FloatArray) -> FloatArray:
    """Return metres of meridian per radian of isometric latitude between two latitudes."""
    ordinate = isometric_difference(lat0_deg, lat1_deg)
    along = ordinate == 0.0
    quotient = _meridian_difference(lat0_deg, lat1_deg) / np.where(along, 1.0, ordinate)
    return np.where(along, _radii((lat0_deg + lat1_deg) / 2.0)[1], quotient)


def _rhumb_share(
    lat0_deg: FloatArray, lat1_deg: FloatArray, lat_deg: FloatArray, part: FloatArray
) -> FloatArray:
    """Return the share of the longitude that a rhumb line has made at a fraction of its length.

    Notes
    -----
    On lines almost along a parallel the quotient of isometric latitudes has no digits left. There, with
    ``d(length)/d(ordinate)`` proportional to ``1 - sin(lat) * ordinate`` near the start, the share is
    ``f + k f (1 - f)`` with ``k = -sin(lat) * span / 2``, to the second order in ``span``.
    """
    flat = np.abs(np.radians(lat1_deg - lat0_deg)) < FLAT_RAD
    span = isometric_difference(lat0_deg, lat1_deg)
    share = isometric_difference(lat0_deg, lat_deg) / np.where(flat, 1.0, span)
    bend = -np.sin(np.radians(lat0_deg)) * span / 2.0
    return np.where(flat, part + bend * part * (1.0 - part), share)


def _rhumb_direct(
    lon_deg: FloatArray, lat_deg: FloatArray, azimuth_rad: FloatArray, length_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    arc = _meridian_arc(lat_deg) + length_m * np.cos(azimuth_rad)
    lat1 = _latitude_from_arc(arc)
    # Past the pole the arc no longer names a latitude on the same meridian.
    lat1 = np.where(np.abs(arc) < _meridian_arc(np.array(90.0)), lat1, 90.0)
    _check_latitude(lat1)
    dlon = length_m * np.sin(azimuth_rad) / _metres_per_ordinate(lat_deg, lat1)
    return lon_deg + np.degrees(dlon), lat1


def _lonlat_length(lat_deg: FloatArray, dlat_rad: FloatArray, dlon_rad: FloatArray) -> FloatArray:
    """Return the true length of a lon/lat line by 32-point Gauss-Legendre quadrature."""
    part = (_NODES + 1.0) / 2.0
    meridional, transverse = _radii(lat_deg[..., None] + np.degrees(dlat_rad)[..., None] * part)
    speed = np.hypot(meridional * dlat_rad[..., None], transverse * dlon_rad[..., None])
    return np.asarray(speed @ _WEIGHTS / 2.0)


def _lonlat_direct(
    lon_deg: FloatArray, lat_deg: FloatArray, azimuth_rad: FloatArray, length_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    meridional, transverse = _radii(lat_deg)
    north, east = np.cos(azimuth_rad) / meridional, np.sin(azimuth_rad) / transverse
    stretch = np.array(length_m)
    for _ in range(20):  # Newton on the arc length, which grows monotonically with the stretch
        end_lat = lat_deg + np.degrees(north * stretch)
        _check_latitude(end_lat)
        far_meridional, far_transverse = _radii(end_lat)
        slope = np.hypot(far_meridional * north, far_transverse * east)
        excess = _lonlat_length(lat_deg, north * stretch, east * stretch) * np.sign(stretch) - length_m
        stretch = stretch - excess / slope
        if not np.any(np.abs(excess) > 1e-7):
            break
    return lon_deg + np.degrees(east * stretch), lat_deg + np.degrees(north * stretch)
