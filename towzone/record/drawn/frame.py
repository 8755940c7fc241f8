"""The flat frame of a chart: one run of longitudes without a jump, boxes and chart-true lines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

__all__ = [
    "Box",
    "LonLat",
    "chart_true",
    "mercator_y_deg",
    "metres_per_degree",
    "near",
    "polygons_of",
    "scales_at",
    "shifted",
    "unwrap",
]

LonLat = npt.NDArray[np.float64]
"""Array ``(n, 2)`` of longitude, latitude in degrees; the longitude may run past 180."""

_SEMI_MAJOR_M = 6378137.0  # WGS 84, published: NGA.STND.0036 (2014), Table 3.1
_E2 = (
    0.0066943799901413165  # WGS 84 first eccentricity squared, follows from the flattening in the same table
)
_LEAST_DEG = 0.02  # height of the chart of a track beyond that limit
_CHART_LATITUDE_DEG = 85.0  # own limit: a Mercator chart stretches without bound towards the poles


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A rectangle of a Mercator chart, degrees; ``east`` may exceed 180."""

    west: float
    south: float
    east: float
    north: float

    @classmethod
    def around(cls, lonlat_deg: LonLat) -> Box:
        """Return the smallest box holding all of at least one position."""
        west, south = lonlat_deg.min(axis=0)
        east, north = lonlat_deg.max(axis=0)
        return cls(west=float(west), south=float(south), east=float(east), north=float(north))

    def union(self, other: Box) -> Box:
        """Return the smallest box holding both."""
        return Box(
            west=min(self.west, other.west),
            south=min(self.south, other.south),
            east=max(self.east, other.east),
            north=max(self.north, other.north),
        )

    def intersection(self, other: Box) -> Box | None:
        """Return what both boxes share, ``None`` when that is nothing."""
        west, east = max(self.west, other.west), min(self.east, other.east)
        south, north = max(self.south, other.south), min(self.north, other.north)
        if west > east or south > north:
            return None
        return Box(west=west, south=south, east=east, north=north)

    def grown(self, lon_deg: float, lat_deg: float) -> Box:
        """Return the box with a border added on each side, kept off the poles."""
        return Box(
            west=self.west - lon_deg,
            south=min(max(self.south - lat_deg, -_CHART_LATITUDE_DEG), _CHART_LATITUDE_DEG - _LEAST_DEG),
            east=self.east + lon_deg,
            north=max(min(self.north + lat_deg, _CHART_LATITUDE_DEG), -_CHART_LATITUDE_DEG + _LEAST_DEG),
        )

    def padded(self, share: float, least_m: float) -> Box:
        """Return the box grown on each side by a share of its own size, at least by ``least_m``."""
        per_lon_m, per_lat_m = metres_per_degree((self.south + self.north) / 2.0)
        height_m = (self.north - self.south) * per_lat_m
        width_m = (self.east - self.west) * per_lon_m
        border_m = max(share * height_m, share * width_m, least_m)
        return self.grown(border_m / per_lon_m, border_m / per_lat_m)


def metres_per_degree(lat_deg: float) -> tuple[float, float]:
    """Return the length of a degree of longitude and of latitude on WGS 84, metres.

    Radii of curvature in the prime vertical and the meridian: Bowditch, American Practical Navigator
    (NGA Pub. 9), and any text on geodesy. For drawing; no finding uses it.
    """
    per_lon_m, per_lat_m = scales_at(np.array(lat_deg))
    return float(per_lon_m), float(per_lat_m)


def scales_at(
    lat_deg: npt.NDArray[np.float64],
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return the same of many latitudes at once."""
    sine = np.sin(np.radians(lat_deg))
    w2 = 1.0 - _E2 * sine * sine
    prime_m = _SEMI_MAJOR_M / np.sqrt(w2)
    meridian_m = _SEMI_MAJOR_M * (1.0 - _E2) / w2**1.5
    return np.radians(prime_m) * np.maximum(np.cos(np.radians(lat_deg)), 0.01), np.radians(meridian_m)


def mercator_y_deg(lat_deg: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Return the spherical Mercator ordinate, in degrees of longitude at the equator.

    The interactive chart uses the same formula, so both pictures agree.

    Examples
    --------
    >>> float(mercator_y_deg(0.0)) + 0.0
    0.0
    """
    lat = np.clip(np.asarray(lat_deg, dtype=np.float64), -_CHART_LATITUDE_DEG, _CHART_LATITUDE_DEG)
    return np.degrees(np.arcsinh(np.tan(np.radians(lat))))


def unwrap(lon_deg: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Return longitudes with whole turns added so that no step is longer than half a turn.

    Examples
    --------
    >>> unwrap(np.array([179.9, -179.9])).round(6).tolist()
    [179.9, 180.1]
    """
    turns = np.round(np.diff(lon_deg, prepend=lon_deg[:1]) / 360.0).cumsum()
    return lon_deg - 360.0 * turns


def near(lon_deg: float, centre_deg: float) -> float:
    """Return the whole turn, in degrees, that brings a longitude nearest to the centre of the frame.

    Examples
    --------
    >>> near(-179.5, 180.2)
    360.0
    """
    return float(360.0 * np.round((centre_deg - lon_deg) / 360.0))


def shifted(lonlat_deg: LonLat, turn_deg: float) -> LonLat:
    """Return positions with their longitudes moved, shape (n, 2).

    Examples
    --------
    >>> shifted(np.array([[-179.0, 5.0]]), 360.0).tolist()
    [[181.0, 5.0]]
    """
    return np.column_stack([lonlat_deg[:, 0] + turn_deg, lonlat_deg[:, 1]])


def chart_true(lonlat_deg: LonLat, tolerance_m: float = 0.5) -> LonLat:
    """Return a path with positions added so that drawing it straight on a Mercator chart is true.

    Parameters
    ----------
    lonlat_deg : ndarray, shape (n, 2)
        A path that is straight in longitude and latitude between its positions.
    tolerance_m : float
        Largest departure of the drawn line from that path, metres.

    Notes
    -----
    The Mercator ordinate has second derivative ``sec(lat) tan(lat)``, so a chord over ``d`` radians of
    latitude departs by about ``d**2 / 8 * tan(lat)`` radians of latitude; ``n`` parts divide it by ``n**2``.
    """
    if len(lonlat_deg) < 2:
        return lonlat_deg
    step = np.diff(lonlat_deg, axis=0)
    steepest = np.minimum(
        np.maximum(np.abs(lonlat_deg[:-1, 1]), np.abs(lonlat_deg[1:, 1])), _CHART_LATITUDE_DEG
    )
    bend_m = _SEMI_MAJOR_M * np.radians(step[:, 1]) ** 2 / 8.0 * np.tan(np.radians(steepest))
    bend_m[step[:, 0] == 0.0] = 0.0
    parts = np.maximum(np.ceil(np.sqrt(bend_m / tolerance_m)), 1.0).astype(np.int64)
    if (parts == 1).all():
        return lonlat_deg
    leg = np.repeat(np.arange(len(step)), parts)
    within = np.arange(len(leg)) - np.repeat(np.cumsum(parts) - parts, parts)
    points = lonlat_deg[leg] + step[leg] * (within / parts[leg])[:, np.newaxis]
    return np.vstack([points, lonlat_deg[-1:]])


def polygons_of(shape: shapely.Geometry) -> list[shapely.Geometry]:
    """Return the polygons of a shape, however deep in collections they stand, without lines and points.

    Examples
    --------
    >>> inner = shapely.MultiPolygon([shapely.box(0, 0, 1, 1), shapely.box(2, 0, 3, 1)])
    >>> len(polygons_of(shapely.GeometryCollection([shapely.Point(5, 5), inner])))
    2
    """
    parts = shapely.get_parts(shapely.get_parts(shape))
    return [part for part in parts if shapely.get_dimensions(part) == 2]
