"""Inside or outside of areas whose edges follow their own rule.

A point is inside a polygon when the meridian from it to the north crosses the boundary an odd number
of times. Where an edge crosses a meridian is computed by the edge's own rule, so the answer is exact
to the rounding of the arithmetic; a caller settles points on the line itself by their distance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.errors import GeometryError
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import (
    FloatArray,
    isometric_latitude,
    latitude_from_isometric,
    wrap_longitude,
)
from towzone.geodesy.lines import WGS84, LineKind
from towzone.geodesy.shape import Polygon, Shape

__all__ = ["Region"]

_BATCH = 2_000_000
"""Point-edge pairs looked at together; bounds memory, not the answer."""


_METRES_PER_DEGREE = 110_000.0
"""Rounded down: a degree of latitude is at least 110 574 m (facts of the ellipsoid, at the equator)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _PolygonEdges:
    """Edges of one polygon, holes included; `dlon_deg` is the shorter way from corner to corner."""

    lon0_deg: FloatArray
    lon1_deg: FloatArray
    dlon_deg: FloatArray
    lat0_deg: FloatArray
    lat1_deg: FloatArray


class Region:
    """The inside of the polygons of a shape.

    Parameters
    ----------
    shape : Shape
        Checked by `towzone.geodesy.validity.check_shape`; lines and points have no inside.
    kind : LineKind
        How its corners are joined.
    """

    __slots__ = ("_kind", "_polygons")

    def __init__(self, shape: Shape, kind: LineKind) -> None:
        self._kind = kind
        self._polygons = tuple(_edges(polygon) for polygon in shape.polygons)

    def contains(self, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> npt.NDArray[np.bool_]:
        """Return which points lie inside any of the polygons.

        Parameters
        ----------
        lon_deg, lat_deg : array_like, shape (n,)
            Degrees; any longitude.

        Raises
        ------
        GeometryError
            A coordinate is not finite: neither inside nor outside would be true.

        Notes
        -----
        Each polygon is judged for itself (its holes included), so parts may touch, overlap or be cut
        apart at 180 degrees. A point within a micrometre of the line may fall on either side.
        """
        lon, lat = np.atleast_1d(np.asarray(lon_deg, float)), np.atleast_1d(np.asarray(lat_deg, float))
        if not (np.isfinite(lon).all() and np.isfinite(lat).all()):
            message = "a position that is not finite is neither inside nor outside"
            raise GeometryError(message)
        inside = np.zeros(len(lon), dtype=bool)
        for edges in self._polygons:
            near = np.flatnonzero(~inside & _in_frame(self._kind, edges, lon, lat))
            step = max(1, _BATCH // max(1, len(edges.lon0_deg)))
            for first in range(0, len(near), step):
                some = near[first : first + step]
                inside[some] = _inside(self._kind, edges, lon[some], lat[some])
        return inside


def _edges(polygon: Polygon) -> _PolygonEdges:
    starts = np.concatenate(polygon)
    ends = np.concatenate([np.roll(ring, -1, axis=0) for ring in polygon])
    return _PolygonEdges(
        lon0_deg=starts[:, 0],
        lon1_deg=ends[:, 0],
        dlon_deg=wrap_longitude(ends[:, 0] - starts[:, 0]),
        lat0_deg=starts[:, 1],
        lat1_deg=ends[:, 1],
    )


def _in_frame(
    kind: LineKind, edges: _PolygonEdges, lon_deg: FloatArray, lat_deg: FloatArray
) -> npt.NDArray[np.bool_]:
    """Return which points lie in the frame of meridians and parallels that holds the polygon."""
    low, high = float(edges.lat0_deg.min()), float(edges.lat0_deg.max())
    if kind is LineKind.GEODESIC:
        # A geodesic climbs polewards between its ends, by less than half its length.
        _, _, length_m = WGS84.inv(edges.lon0_deg, edges.lat0_deg, edges.lon1_deg, edges.lat1_deg)
        climb = float(np.max(length_m)) / 2.0 / _METRES_PER_DEGREE
        low, high = low - climb, high + climb
    # Corners as far east of the first as the ring's own way round leads; holes stay within the shell.
    ahead = wrap_longitude(edges.lon0_deg - edges.lon0_deg[0])
    spread = 360.0 if np.ptp(ahead) > 170.0 else float(np.ptp(ahead))
    east = wrap_longitude(lon_deg - (edges.lon0_deg[0] + float(ahead.min()) + spread / 2.0))
    return np.asarray((lat_deg >= low) & (lat_deg <= high) & (np.abs(east) <= spread / 2.0 + 1e-9))


def _inside(
    kind: LineKind, edges: _PolygonEdges, lon_deg: FloatArray, lat_deg: FloatArray
) -> npt.NDArray[np.bool_]:
    # A meridian through a corner counts as east of it, for both edges that meet there: edges that go on
    # in one direction are then crossed once, and a turning point twice or not at all.
    ahead = wrap_longitude(lon_deg[:, None] - edges.lon0_deg[None, :])
    end_ahead = wrap_longitude(lon_deg[:, None] - edges.lon1_deg[None, :])
    crossed = (ahead >= 0.0) != (end_ahead >= 0.0)
    # On the far side of the earth the signs differ too, by a whole turn.
    crossed &= np.abs(ahead - end_ahead - edges.dlon_deg[None, :]) < 180.0
    point, edge = np.nonzero(crossed)
    lat0, lat1 = edges.lat0_deg[edge], edges.lat1_deg[edge]
    above = np.zeros(len(point), dtype=bool)
    open_ = np.ones(len(point), dtype=bool)
    if kind is not LineKind.GEODESIC:  # the others never leave the band between their ends
        above = lat_deg[point] < np.minimum(lat0, lat1)
        open_ = ~above & (lat_deg[point] <= np.maximum(lat0, lat1))
    which = np.flatnonzero(open_)
    meets = _latitude_at(kind, edges, edge[which], ahead[point[which], edge[which]])
    above[which] = lat_deg[point[which]] < meets
    return np.asarray(np.bincount(point[above], minlength=len(lon_deg)) % 2 == 1)


def _latitude_at(kind: LineKind, edges: _PolygonEdges, edge: IntArray, ahead_deg: FloatArray) -> FloatArray:
    """Return the latitude at which edges cross meridians ``ahead_deg`` east of their first corners."""
    lat0, lat1, dlon = edges.lat0_deg[edge], edges.lat1_deg[edge], edges.dlon_deg[edge]
    part = ahead_deg / np.where(dlon == 0.0, 1.0, dlon)
    if kind is LineKind.LONLAT:
        return lat0 + part * (lat1 - lat0)
    if kind is LineKind.RHUMB:
        start, end = isometric_latitude(lat0), isometric_latitude(lat1)
        return latitude_from_isometric(start + part * (end - start))
    return _geodesic_latitude_at(edges, edge, ahead_deg)


def _geodesic_latitude_at(edges: _PolygonEdges, edge: IntArray, ahead_deg: FloatArray) -> FloatArray:
    """Find the crossing by regula falsi (Illinois) on the length along the geodesic."""
    lon0, lat0 = edges.lon0_deg[edge], edges.lat0_deg[edge]
    dlon = edges.dlon_deg[edge]
    azimuth, _, length = WGS84.inv(lon0, lat0, lon0 + dlon, edges.lat1_deg[edge])
    low, high = np.zeros(len(edge)), np.asarray(length)
    low_miss, high_miss = -ahead_deg, dlon - ahead_deg
    lat = np.array(lat0)
    for _ in range(60):
        span = np.where(high_miss == low_miss, 1.0, high_miss - low_miss)
        guess = np.clip(low - low_miss * (high - low) / span, low, high)
        lon, lat, _ = (np.asarray(c) for c in WGS84.fwd(lon0, lat0, azimuth, guess))
        miss = wrap_longitude(lon - lon0) - ahead_deg
        if not np.any(np.abs(miss) > 1e-13):
            break
        beyond = np.sign(miss) == np.sign(high_miss)
        low_miss = np.where(beyond, low_miss / 2.0, miss)
        high_miss = np.where(beyond, miss, high_miss / 2.0)
        low, high = np.where(beyond, low, guess), np.where(beyond, guess, high)
    return lat
