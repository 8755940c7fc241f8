"""Edges of every kind cut into pieces, compiled: the loops of `pieces.cut`.

The formulas are those of `lines` and `ellipsoid`, one edge at a time; tests/unit/test_cuts.py compares them.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from towzone.geodesy.compiling import compiled
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import ECCENTRICITY, ECCENTRICITY_SQUARED, SEMI_MAJOR_M, FloatArray
from towzone.geodesy.lines import (
    FLAT_RAD,
    FROM_RECTIFYING,
    LONGEST_EDGE_M,
    RECTIFYING_RADIUS_M,
    TO_RECTIFYING,
)
from towzone.geodesy.points import chord, geocentric, row

__all__ = [
    "BEND",
    "GEODESIC",
    "GEODESIC_STRETCH",
    "LONLAT",
    "RHUMB",
    "chords",
    "cut_up",
    "greatest_speeds",
    "piece_counts",
]

RHUMB, GEODESIC, LONLAT = 0, 1, 2

GEODESIC_STRETCH = 1.0001
"""More than a geodesic of up to 20 km is longer than its chord (4e-7 of it). Own choice."""

_FAR_M = 20_000.0
"""Chord of geodesics that are measured exactly."""

_LONGEST_RADIUS_M = 6_400_000.0
"""Above every radius of curvature of WGS 84: the greatest is a**2 / b = 6 399 594 m."""

BEND = 1.1 / 6_335_000.0
"""Times tan(latitude): upper bound of the curvature on the surface of a rhumb line (factor 1) and of
a lon/lat line (factor max of sin(a) (1 + cos(a)**2) = 1.0887 over courses a), 1/m. Own derivation from
the Christoffel symbols of the sphere; the ellipsoid's share is inside the rounding up."""

BoolArray = npt.NDArray[np.bool_]


@compiled
def _wrapped(lon_deg: float) -> float:
    if -180.0 <= lon_deg < 180.0:
        return lon_deg
    return (lon_deg + 180.0) % 360.0 - 180.0


@compiled
def _isometric_difference(lat0_deg: float, lat1_deg: float) -> float:
    """See `ellipsoid.isometric_difference`."""
    lat0, lat1 = math.radians(lat0_deg), math.radians(lat1_deg)
    both = math.sin(lat0) * math.sin(lat1)
    rise = 2.0 * math.cos((lat0 + lat1) / 2.0) * math.sin(math.radians(lat1_deg - lat0_deg) / 2.0)
    flattening = ECCENTRICITY * math.atanh(ECCENTRICITY * rise / (1.0 - ECCENTRICITY_SQUARED * both))
    return math.atanh(rise / (1.0 - both)) - flattening


@compiled
def _meridian_difference(lat0_deg: float, lat1_deg: float) -> float:
    """See `lines`: the meridian between two latitudes, metres."""
    total, half = math.radians(lat0_deg + lat1_deg), math.radians(lat1_deg - lat0_deg) / 2.0
    difference = 2.0 * half
    for number in range(len(TO_RECTIFYING)):
        order = number + 1
        difference += 2.0 * TO_RECTIFYING[number] * math.cos(order * total) * math.sin(2.0 * order * half)
    return RECTIFYING_RADIUS_M * difference


@compiled
def _series(angle: float, coefficients: tuple[float, ...]) -> float:
    """Return an angle and coefficients times the sines of 2, 4, 6... times it, these from one to the next."""
    before, sine, twice = 0.0, math.sin(2.0 * angle), 2.0 * math.cos(2.0 * angle)
    total = angle
    for number in range(len(coefficients)):
        total += coefficients[number] * sine
        before, sine = sine, twice * sine - before
    return total


@compiled
def _rhumb_length(lat0_deg: float, lat1_deg: float, dlon: float) -> float:
    """Return the length of a rhumb line over a difference of longitude in radians."""
    ordinate = _isometric_difference(lat0_deg, lat1_deg)
    if ordinate == 0.0:
        lat = math.radians((lat0_deg + lat1_deg) / 2.0)
        scale = SEMI_MAJOR_M * math.cos(lat) / math.sqrt(1.0 - ECCENTRICITY_SQUARED * math.sin(lat) ** 2)
    else:
        scale = _meridian_difference(lat0_deg, lat1_deg) / ordinate
    return math.hypot(dlon, ordinate) * scale


@compiled
def greatest_speeds(
    lon0_deg: FloatArray, lat0_deg: FloatArray, lon1_deg: FloatArray, lat1_deg: FloatArray, kind: IntArray
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return the greatest metres of each edge per unit of its fraction, no less than its length.

    Returns
    -------
    speed_m, chord_m : ndarray, shape (n,)
    unsure : ndarray of bool, shape (n,)
        Edges that are to be looked at by `lines.inverse`: far geodesics, and those that may be refused.
    """
    speed_m, chord_m = np.empty(len(kind)), np.empty(len(kind))
    unsure = np.zeros(len(kind), np.bool_)
    for edge in range(len(kind)):
        lat0, lat1 = lat0_deg[edge], lat1_deg[edge]
        dlon_deg = _wrapped(lon1_deg[edge] - lon0_deg[edge])
        chord_m[edge] = chord(geocentric(lon0_deg[edge], lat0), geocentric(lon1_deg[edge], lat1))
        if kind[edge] == GEODESIC:
            # Most edges are legs of a track, for which the chord is as good as the geodesic.
            speed_m[edge] = chord_m[edge] * GEODESIC_STRETCH
            unsure[edge] = chord_m[edge] > _FAR_M
        elif kind[edge] == RHUMB:
            speed_m[edge] = _rhumb_length(lat0, lat1, math.radians(dlon_deg))
        else:
            lowest = 0.0 if lat0 * lat1 < 0.0 else min(abs(lat0), abs(lat1))
            across = math.radians(dlon_deg) * math.cos(math.radians(lowest))
            speed_m[edge] = _LONGEST_RADIUS_M * math.hypot(math.radians(lat1 - lat0), across)
        unsure[edge] |= dlon_deg == -180.0 or not speed_m[edge] <= LONGEST_EDGE_M
    return speed_m, chord_m, unsure


@compiled
def piece_counts(
    lat0_deg: FloatArray,
    lat1_deg: FloatArray,
    kind: IntArray,
    speed_m: FloatArray,
    chord_m: FloatArray,
    deviation_m: float,
    longest_m: float,
) -> IntArray:
    """Return into how many pieces edges are to be cut; see `pieces.cut`."""
    counts = np.ones(len(kind), np.int64)
    for edge in range(len(kind)):
        # An edge whose ends are closer than a metre is one piece of any kind.
        if chord_m[edge] <= 1.0:
            continue
        longest = longest_m
        if kind[edge] != GEODESIC:
            highest = max(abs(lat0_deg[edge]), abs(lat1_deg[edge]))
            bend = max(BEND * math.tan(math.radians(highest)), 1e-12)
            longest = min(longest, math.sqrt(8.0 * deviation_m / bend))
        counts[edge] = max(math.ceil(speed_m[edge] / longest), 1)
    return counts


@compiled
def cut_up(
    lon0_deg: FloatArray,
    lat0_deg: FloatArray,
    lon1_deg: FloatArray,
    lat1_deg: FloatArray,
    kind: IntArray,
    counts: IntArray,
) -> tuple[FloatArray, FloatArray, IntArray, FloatArray, FloatArray]:
    """Return pieces of edges; ends of edges come straight from the corners, so neighbours meet.

    Returns
    -------
    start_m, end_m : ndarray, shape (p, 3)
        Where a geodesic is cut there is nothing yet.
    edge : ndarray of int, shape (p,)
    from_part, to_part : ndarray, shape (p,)
    """
    total = 0
    for edge in range(len(counts)):
        total += counts[edge]
    start_m, end_m, edges = np.empty((total, 3)), np.empty((total, 3)), np.empty(total, np.int64)
    from_part, to_part = np.empty(total), np.empty(total)
    piece = 0
    for edge in range(len(counts)):
        lon0, lat0, lat1 = lon0_deg[edge], lat0_deg[edge], lat1_deg[edge]
        dlon = _wrapped(lon1_deg[edge] - lon0)
        begin_m, steps = geocentric(lon0, lat0), counts[edge]
        span, arc, rise = 0.0, 0.0, 0.0
        if kind[edge] == RHUMB and steps > 1:
            span = _isometric_difference(lat0, lat1)
            arc = _series(math.radians(lat0), TO_RECTIFYING)
            rise = _meridian_difference(lat0, lat1) / RECTIFYING_RADIUS_M
        for step in range(steps):
            part = (step + 1) / steps
            if step + 1 == steps:
                stop_m = geocentric(lon1_deg[edge], lat1)
            elif kind[edge] == RHUMB:
                stop_m = geocentric(*_rhumb_point(lon0, lat0, lat1, dlon, span, arc + part * rise, part))
            elif kind[edge] == LONLAT:
                stop_m = geocentric(lon0 + part * dlon, lat0 + part * (lat1 - lat0))
            else:
                stop_m = (math.nan, math.nan, math.nan)
            for axis in range(3):
                start_m[piece, axis], end_m[piece, axis] = begin_m[axis], stop_m[axis]
            edges[piece], from_part[piece], to_part[piece] = edge, step / steps, part
            begin_m = stop_m
            piece += 1
    return start_m, end_m, edges, from_part, to_part


@compiled
def chords(start_m: FloatArray, end_m: FloatArray) -> FloatArray:
    """Return the straight lengths between points in the same rows."""
    chord_m = np.empty(len(start_m))
    for piece in range(len(start_m)):
        chord_m[piece] = chord(row(start_m, piece), row(end_m, piece))
    return chord_m


@compiled
def _rhumb_point(
    lon0_deg: float, lat0_deg: float, lat1_deg: float, dlon_deg: float, span: float, arc: float, part: float
) -> tuple[float, float]:
    """Return a point of a rhumb line; see `lines.points_along`.

    Parameters
    ----------
    span : float
        Difference of the isometric latitudes of its ends.
    arc : float
        Rectifying latitude of the point, radians.
    """
    lat = math.degrees(_series(arc, FROM_RECTIFYING))
    if abs(math.radians(lat1_deg - lat0_deg)) < FLAT_RAD:
        # Almost along a parallel; see `lines`.
        share = part - math.sin(math.radians(lat0_deg)) * span / 2.0 * part * (1.0 - part)
    else:
        share = _isometric_difference(lat0_deg, lat) / span
    return lon0_deg + share * dlon_deg, lat
