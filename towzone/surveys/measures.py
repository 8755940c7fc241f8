"""Figures of a zone for people: extent, area, sides of the box around it, what its line type leaves open."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from towzone.geodesy.ellipsoid import (
    LATITUDE_LIMIT_DEG,
    SEMI_MAJOR_M,
    FloatArray,
    isometric_latitude,
    latitude_from_isometric,
    wrap_longitude,
)
from towzone.geodesy.lines import WGS84, LineKind, inverse, points_along
from towzone.geodesy.shape import Corners, Shape

__all__ = ["Departure", "Extent", "area_m2", "departure", "extent", "sides_m"]

_STEP_M = 1000.0
_MOST_STEPS = 2000
"""Own choice: chords of 1 km leave the area of a zone right to a part in a million below 80 degrees."""
_SAMPLES = np.linspace(0.0, 1.0, 17)[1:-1]
_BEND = 2.1
"""Curvatures of rhumb lines and lon/lat lines on the surface are at most tan(latitude) / R and 1.089 times
that (derived in `towzone.geodesy.pieces`); together less than this many times."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Extent:
    """Sides of the box of all corners, degrees; ``west_deg > east_deg`` when it crosses 180 degrees."""

    south_deg: float
    west_deg: float
    north_deg: float
    east_deg: float


def extent(shape: Shape) -> Extent:
    """Return the box of all corners: of the ways round the earth the one that leaves the widest gap out."""
    corners = np.concatenate([corners for corners, _ in shape.strings()])
    lon = np.unique(wrap_longitude(corners[:, 0]))
    # A corner written as 180 belongs to the side its neighbours are on.
    gap = np.diff(lon, append=lon[0] + 360.0)
    widest = int(np.argmax(gap))
    west, east = float(lon[(widest + 1) % len(lon)]), float(lon[widest])
    if east == -180.0 and west != east:
        east = 180.0
    return Extent(
        south_deg=float(corners[:, 1].min()),
        west_deg=west,
        north_deg=float(corners[:, 1].max()),
        east_deg=east,
    )


def area_m2(shape: Shape, kind: LineKind) -> float:
    """Return the area of all parts less their holes, square metres; 0 for lines and points.

    Parameters
    ----------
    shape : Shape
        Sound, as `towzone.geodesy.validity.shape_faults` means it.
    kind : LineKind
        Edges follow this rule: they are cut into chords of at most 1 km (2000 to an edge).

    References
    ----------
    Karney (2013), section 6, doi:10.1007/s00190-012-0578-z, for the area of geodesic polygons.
    """
    total = 0.0
    for polygon in shape.polygons:
        rings = [_ring_area_m2(ring, kind) for ring in polygon]
        total += rings[0] - sum(rings[1:])
    return total


def _ring_area_m2(ring: Corners, kind: LineKind) -> float:
    lon, lat = ring[:, 0], ring[:, 1]
    if kind is not LineKind.GEODESIC:
        end_lon, end_lat = np.roll(lon, -1), np.roll(lat, -1)
        length_m, _ = inverse(kind, lon, lat, end_lon, end_lat)
        count = np.clip(np.ceil(length_m / _STEP_M), 1, _MOST_STEPS).astype(np.int64)
        count[lon == end_lon] = 1  # meridians are geodesics
        edge = np.repeat(np.arange(len(ring)), count)
        part = (np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)) / count[edge]
        lon, lat = points_along(kind, lon[edge], lat[edge], end_lon[edge], end_lat[edge], part)
    area, _ = WGS84.polygon_area_perimeter(lon, lat)
    return abs(float(area))


def sides_m(shape: Shape) -> tuple[float, float]:
    """Return the sides of the smallest box, turned any way, around the areas of a shape, metres.

    The shorter one first; (0, 0) without areas. In a plane scaled at the middle: good to a percent over
    some tens of miles.
    """
    if not shape.polygons:
        return 0.0, 0.0
    corners = np.concatenate([polygon[0] for polygon in shape.polygons])
    lon = corners[0, 0] + wrap_longitude(corners[:, 0] - corners[0, 0])
    middle = (corners[:, 1].min() + corners[:, 1].max()) / 2.0
    metres = np.radians(1.0) * SEMI_MAJOR_M
    plane = np.stack([lon * np.cos(np.radians(middle)) * metres, corners[:, 1] * metres], axis=1)
    box = shapely.get_coordinates(shapely.oriented_envelope(shapely.MultiPoint(plane)))
    if len(box) < 4:
        return 0.0, 0.0
    first, second = float(np.hypot(*(box[1] - box[0]))), float(np.hypot(*(box[2] - box[1])))
    return min(first, second), max(first, second)


@dataclass(frozen=True, slots=True, kw_only=True)
class Departure:
    """Largest distance between the lon/lat reading of an edge and two others, metres."""

    rhumb_m: float
    geodesic_m: float


def departure(shape: Shape) -> Departure:
    """Return how far apart the readings of a shape's edges can lie, to a few percent; 0 where under 1 m.

    Notes
    -----
    Compared at equal longitude on 15 places of each edge, the difference turned square to the edge.
    Edges are left out that bend too little for a metre: curvature times length squared, by eight.
    """
    runs = [(np.append(c, c[:1], axis=0) if closed else c) for c, closed in shape.strings()]
    starts = np.concatenate([np.empty((0, 2)), *(run[:-1] for run in runs)])
    ends = np.concatenate([np.empty((0, 2)), *(run[1:] for run in runs)])
    dlon = wrap_longitude(ends[:, 0] - starts[:, 0])
    metres = np.radians(1.0) * SEMI_MAJOR_M
    highest = np.minimum(np.abs(np.stack([starts[:, 1], ends[:, 1]])).max(axis=0), LATITUDE_LIMIT_DEG)
    lowest = np.where(
        starts[:, 1] * ends[:, 1] < 0, 0.0, np.abs(np.stack([starts[:, 1], ends[:, 1]])).min(axis=0)
    )
    length_m = np.hypot(dlon * np.cos(np.radians(lowest)), ends[:, 1] - starts[:, 1]) * metres * 1.01
    bend = (
        _BEND
        * np.tan(np.radians(np.minimum(highest + length_m / 220_000.0, LATITUDE_LIMIT_DEG)))
        / 6_335_000.0
    )
    some = (bend * length_m**2 / 8.0 > 1.0) & (dlon != 0.0)
    if not some.any():
        return Departure(rhumb_m=0.0, geodesic_m=0.0)
    lon0, lat0, dlon, lat1 = starts[some, 0], starts[some, 1], dlon[some], ends[some, 1]
    low, high = isometric_latitude(lat0), isometric_latitude(lat1)
    slant = np.abs(np.sin(np.arctan2(np.radians(dlon), high - low)))
    part = _SAMPLES[:, None]
    straight = lat0 + part * (lat1 - lat0)
    rhumb = latitude_from_isometric(low + part * (high - low))
    lon, lat = points_along(LineKind.GEODESIC, lon0, lat0, lon0 + dlon, lat1, part)
    level = lat0 + (lon - lon0) / dlon * (lat1 - lat0)
    return Departure(rhumb_m=_largest_m(straight - rhumb, slant), geodesic_m=_largest_m(level - lat, slant))


def _largest_m(apart_deg: FloatArray, slant: FloatArray) -> float:
    return float((np.radians(np.abs(apart_deg)) * SEMI_MAJOR_M * slant).max())
