"""Where a towed body is behind its lead: pursuit on the ellipsoid, exact leg by leg, without a projection.

On a straight leg of run ``s`` the angle ``theta`` from the direction of the leg to the line obeys
``tan(theta/2) -> tan(theta/2) exp(-k)``, with ``k = s/L``, or ``s ln(L0/L1) / (L0 - L1)`` while the line
changes linearly from ``L0`` to ``L1`` (own derivation from the tractrix, checked against an ODE solver in
tests/reference). Written for the vector ``(sin, cos)`` of half an angle, a leg only shrinks the part of the
vector across the leg: a linear map (`towzone.gear.towline`).

From leg to leg directions are carried along the path without turning (parallel transport): unrolled in this
way any path lies in a plane, and the true bearing is the direction there plus the turn of north along the
path (`towzone.gear.unrolling`). Poles and 180 degrees are places like any other.

A steady current is a plane that moves with the water: only leg minus drift counts for the angle, and the
position of the body is lead minus line. A slack line lets the body rest in that plane: in a current it drifts
with the water, which is the friction-free case.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.errors import GeometryError
from towzone.gear.towline import STILL_M, BoolArray, Legs, Line, followed
from towzone.gear.unrolling import behind, leg_vectors
from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["Pursuit", "pursue"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pursuit:
    """A towed body at every node of its lead's path; read-only columns.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray, shape (n,)
        The body, longitudes within [-180, 180].
    bearing_deg : ndarray, shape (n,)
        True bearing, at the lead, of the direction from body to lead, [0, 360). With no line out it is the
        direction of travel.
    distance_m : ndarray, shape (n,)
        From lead to body: the length of the line, less while it hangs slack.
    slack : ndarray of bool, shape (n - 1,)
        Legs on (part of) which the line hung slack.
    """

    lon_deg: FloatArray
    lat_deg: FloatArray
    bearing_deg: FloatArray
    distance_m: FloatArray
    slack: BoolArray


def pursue(
    lon_deg: npt.ArrayLike,
    lat_deg: npt.ArrayLike,
    length_m: npt.ArrayLike,
    *,
    drift_east_m: npt.ArrayLike | None = None,
    drift_north_m: npt.ArrayLike | None = None,
    start_bearing_deg: float | None = None,
) -> Pursuit:
    """Return where a body on a line follows a lead.

    Parameters
    ----------
    lon_deg, lat_deg : array_like, shape (n,)
        The lead, joined by geodesics. A leg may have no length.
    length_m : array_like, shape (n,)
        Length of the line over the ground, changing linearly along each leg; 0 or more.
    drift_east_m, drift_north_m : array_like, shape (n - 1,), optional
        How far the water moved during each leg; both or neither.
    start_bearing_deg : float, optional
        True bearing from body to lead at the first node. Otherwise the body starts straight astern of the
        first leg of any length (through the water, if that drifts; over the ground where the lead only drifts
        with it).

    Raises
    ------
    GeometryError
        Columns of different lengths, no node, a number that is not finite, a latitude beyond 90 degrees, a
        line shorter than 0, one drift without the other, or a lead that never moves and no start given.

    Notes
    -----
    A body that rests, without a current, keeps its position to the last digit; its line is followed in the
    unrolled plane, which over ``r`` metres is off by about ``r**3 / 6 R**2`` (0.1 mm for 3 km).
    """
    lon, lat, length, drift = _checked(lon_deg, lat_deg, length_m, drift_east_m, drift_north_m)
    legs, north = _unrolled(lon, lat, length, drift)
    line = _start(legs, start_bearing_deg)
    if line is None and drift is not None:
        # It goes with the water: astern over the ground.
        line = _start(_unrolled(lon, lat, length, None)[0], None)
    if line is None:
        message = (
            "the lead never moves, so nothing tells where its line points: give the bearing at the start"
        )
        raise GeometryError(message)
    nodes = followed(legs, line)
    half_sin = np.concatenate([[line.half_sin], nodes.half_sin])
    half_cos = np.concatenate([[line.half_cos], nodes.half_cos])
    bearing = 2.0 * np.arctan2(half_sin, half_cos) + north
    distance = np.concatenate([length[:1], nodes.distance_m])
    body_lon, body_lat = behind(lon, lat, bearing, distance)
    rests = nodes.rests if drift is None else nodes.rests & ~drift.any(axis=1)
    _keep_resting(body_lon, body_lat, rests)
    degrees = np.degrees(bearing) % 360.0
    found = Pursuit(
        lon_deg=body_lon,
        lat_deg=body_lat,
        bearing_deg=np.where(degrees < 360.0, degrees, 0.0),  # -1e-20 % 360 is 360
        distance_m=distance,
        slack=nodes.slack,
    )
    for column in (found.lon_deg, found.lat_deg, found.bearing_deg, found.distance_m, found.slack):
        column.flags.writeable = False
    return found


def _checked(
    lon_deg: npt.ArrayLike,
    lat_deg: npt.ArrayLike,
    length_m: npt.ArrayLike,
    drift_east_m: npt.ArrayLike | None,
    drift_north_m: npt.ArrayLike | None,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray | None]:
    """Return the columns as floats, drift of shape (n - 1, 2), after refusing what cannot be meant."""
    lon, lat, length = (
        _column(c, what)
        for c, what in ((lon_deg, "longitudes"), (lat_deg, "latitudes"), (length_m, "lengths of line"))
    )
    n = len(lon)
    if n == 0 or len(lat) != n or len(length) != n:
        message = f"{n} longitudes, {len(lat)} latitudes and {len(length)} lengths of line: "
        message += "a lead needs one of each at every node, and at least one node"
        raise GeometryError(message)
    if np.any(np.abs(lat) > 90.0):
        message = f"latitude {lat[np.abs(lat) > 90.0][0]:.6f} is beyond 90 degrees"
        raise GeometryError(message)
    if np.any(length < 0.0):
        message = f"a line of {length[length < 0.0][0]:.3f} m is shorter than none: lengths are 0 or more"
        raise GeometryError(message)
    if drift_east_m is None and drift_north_m is None:
        return lon, lat, length, None
    if drift_east_m is None or drift_north_m is None:
        message = "a drift was given in one direction only: give both, east and north, or neither"
        raise GeometryError(message)
    east, north = _column(drift_east_m, "drifts east"), _column(drift_north_m, "drifts north")
    if len(east) != n - 1 or len(north) != n - 1:
        message = (
            f"{len(east)} drifts east and {len(north)} north for {n - 1} legs: one of each is needed a leg"
        )
        raise GeometryError(message)
    return lon, lat, length, np.stack([east, north], axis=1)


def _column(values: npt.ArrayLike, what: str) -> FloatArray:
    column = np.asarray(values, dtype=np.float64)
    if column.ndim != 1:
        message = f"{what} must be one column, and have {column.ndim} dimensions"
        raise GeometryError(message)
    bad = np.flatnonzero(~np.isfinite(column))
    if len(bad):
        message = f"{what}: number {bad[0] + 1} of {len(column)} is not finite"
        raise GeometryError(message)
    return column


def _start(legs: Legs, start_bearing_deg: float | None) -> Line | None:
    """Return the line at the first node; ``None`` where nothing tells its direction."""
    if start_bearing_deg is not None:
        if not math.isfinite(start_bearing_deg):
            message = "the bearing of the line at the start is not a finite number"
            raise GeometryError(message)
        half = math.radians(start_bearing_deg) / 2.0
        return Line(math.sin(half), math.cos(half))
    moves = legs.run_m > STILL_M
    first = int(np.argmax(moves)) if len(moves) else 0
    if not moves[first : first + 1].any():
        return None
    return Line(float(legs.half_sin[first]), float(legs.half_cos[first]))


def _unrolled(
    lon: FloatArray, lat: FloatArray, length: FloatArray, drift: FloatArray | None
) -> tuple[Legs, FloatArray]:
    """Return the legs in the plane, and the turn of north at each node, radians."""
    east_m, north_m, turn = leg_vectors(lon, lat)
    turned = np.concatenate([[0.0], np.cumsum(turn)])
    if drift is not None:
        east_m, north_m = east_m - drift[:, 0], north_m - drift[:, 1]
    # North at the middle of a leg is turned half way.
    half = (np.arctan2(east_m, north_m) - turned[:-1] - turn / 2.0) / 2.0
    return Legs(np.sin(half), np.cos(half), np.hypot(east_m, north_m), length[:-1], length[1:]), turned


def _keep_resting(lon: FloatArray, lat: FloatArray, rests: BoolArray) -> None:
    """Leave a body where it was on legs that it rests, so that rounding does not make it creep."""
    if not rests.any():
        return
    source = np.arange(len(lon))
    source[1:][rests] = 0
    source = np.maximum.accumulate(source)
    lon[:], lat[:] = lon[source], lat[source]
