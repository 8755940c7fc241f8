"""Inside or outside of areas whose edges follow their own rule.

A point is inside a polygon when the meridian from it to the north crosses the boundary an odd number
of times. Where an edge crosses a meridian is computed by the edge's own rule, so the answer is exact
to the rounding of the arithmetic; a caller settles points on the line itself by their distance.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from towzone.errors import GeometryError
from towzone.geodesy import crossings
from towzone.geodesy.compiling import solid
from towzone.geodesy.crossings import INSIDE, UNSURE, Rings
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray, isometric_latitude, to_geocentric, wrap_longitude
from towzone.geodesy.lines import WGS84, LineKind
from towzone.geodesy.shape import Polygon, Shape

__all__ = ["Region", "Regions"]

_BATCH = 2_000_000
"""Point-edge pairs asked of exact geodesics together; bounds memory, not the answer."""

_METRES_PER_DEGREE = 110_000.0
"""Rounded down: a degree of latitude is at least 110 574 m (facts of the ellipsoid, at the equator)."""

_PLANE_LONGEST_M = 1_000_000.0
_PLANE_HIGHEST_DEG = 85.0
"""Own choice: longer geodesics, and those nearer a pole, are always asked of exact geodesics."""

_PLANE_BEND = 6.0e-10
"""Upper bound of how much a plane section through the middle of the earth bends sideways on the surface, 1/m.

The normal of the ellipsoid leans on that plane by no more than geodetic and geocentric latitude differ,
11.55 minutes of arc (0.00336), and no normal section bends more than 1 / 6 335 km; their product is 5.31e-10.
The rest covers that geodesics which part grow apart a little faster on some surfaces, up to 1000 km."""

_PLANE_ROUNDING_M = 1e-6

_KINDS = {
    LineKind.RHUMB: crossings.RHUMB,
    LineKind.GEODESIC: crossings.GEODESIC,
    LineKind.LONLAT: crossings.LONLAT,
}

BoolArray = npt.NDArray[np.bool_]


class Regions:
    """The insides of many shapes, numbered like them.

    Parameters
    ----------
    shapes : sequence of Shape
        Checked by `towzone.geodesy.validity.check_shape`; lines and points have no inside.
    kinds : sequence of LineKind
        How the corners of each are joined.

    Notes
    -----
    Each polygon is judged for itself (its holes included), so parts may touch, overlap or be cut
    apart at 180 degrees. A point within a micrometre of the line may fall on either side.
    """

    __slots__ = ("rings",)

    def __init__(self, shapes: Sequence[Shape], kinds: Sequence[LineKind]) -> None:
        self.rings = _rings(shapes, np.array([_KINDS[kind] for kind in kinds], dtype=np.int64))

    def __len__(self) -> int:
        return len(self.rings.kind)

    def __getitem__(self, number: int) -> Region:
        """Return the inside of one shape."""
        return Region.among(self, number)

    def holding(self, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> tuple[IntArray, IntArray]:
        """Return which shapes hold which points.

        Parameters
        ----------
        lon_deg, lat_deg : array_like, shape (n,)
            Degrees; any longitude.

        Returns
        -------
        shape, point : ndarray of int, shape (k,)
            Pairs, sorted by shape and then by point.

        Raises
        ------
        GeometryError
            A coordinate is not finite: neither inside nor outside would be true.
        """
        lon, lat = _positions(lon_deg, lat_deg)
        room = 1024
        while True:
            number, point = np.empty(room, dtype=np.int64), np.empty(room, dtype=np.int64)
            found = int(crossings.framed(self.rings, lon, lat, number, point))
            if found <= room:
                break
            room = found
        number, point = number[:found], point[:found]
        held = self._sides(number, lon[point], lat[point])
        return number[held], point[held]

    def contain(self, number: IntArray, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> BoolArray:
        """Return for each point whether it lies inside the shape of the number beside it.

        Parameters
        ----------
        number : ndarray of int, shape (n,)
        lon_deg, lat_deg : array_like, shape (n,)
            Degrees; any longitude.

        Raises
        ------
        GeometryError
            As `holding`.
        """
        lon, lat = _positions(lon_deg, lat_deg)
        return self._sides(solid(number, np.int64), lon, lat)

    def _sides(self, number: IntArray, lon_deg: FloatArray, lat_deg: FloatArray) -> BoolArray:
        answer = np.empty(len(number), dtype=np.int8)
        crossings.sides(self.rings, number, lon_deg, lat_deg, answer)
        unsure = np.flatnonzero(answer == UNSURE)
        for one in np.unique(number[unsure]).tolist():
            rows = unsure[number[unsure] == one]
            answer[rows] = _inside_geodesics(self.rings, one, lon_deg[rows], lat_deg[rows])
        return np.asarray(answer == INSIDE)


class Region:
    """The inside of the polygons of a shape; see `Regions`, which it is one of.

    Parameters
    ----------
    shape : Shape
    kind : LineKind
    """

    __slots__ = ("_number", "_regions")

    def __init__(self, shape: Shape, kind: LineKind) -> None:
        self._regions, self._number = Regions([shape], [kind]), 0

    @classmethod
    def among(cls, regions: Regions, number: int) -> Region:
        """Return one of many, which share their columns."""
        one = cls.__new__(cls)
        one._regions, one._number = regions, range(len(regions))[number]
        return one

    def contains(self, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> BoolArray:
        """Return which points lie inside any of the polygons.

        Parameters
        ----------
        lon_deg, lat_deg : array_like, shape (n,)
            Degrees; any longitude.

        Raises
        ------
        GeometryError
            A coordinate is not finite: neither inside nor outside would be true.
        """
        lon = np.atleast_1d(np.asarray(lon_deg, dtype=np.float64))
        return self._regions.contain(np.full(len(lon), self._number), lon, lat_deg)


def _positions(lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    lon, lat = np.atleast_1d(np.asarray(lon_deg, float)), np.atleast_1d(np.asarray(lat_deg, float))
    if not (np.isfinite(lon).all() and np.isfinite(lat).all()):
        message = "a position that is not finite is neither inside nor outside"
        raise GeometryError(message)
    return solid(wrap_longitude(lon)), solid(lat)


def _rings(shapes: Sequence[Shape], kind: IntArray) -> Rings:
    """Return the polygons of shapes as columns."""
    polygons = [polygon for shape in shapes for polygon in shape.polygons]
    polygon_first = _offsets(np.array([len(shape.polygons) for shape in shapes], dtype=np.int64))
    edge_first = _offsets(np.array([sum(map(len, polygon)) for polygon in polygons], dtype=np.int64))
    group_count = -(-np.diff(edge_first) // crossings.GROUP)
    polygon = np.repeat(np.arange(len(polygons)), np.diff(edge_first))
    edge_kind = np.repeat(np.repeat(kind, np.diff(polygon_first)), np.diff(edge_first))
    start, end, lon0, lon1, reference = _joined(polygons, edge_first, polygon)
    lat0, lat1 = start[:, 1].copy(), end[:, 1].copy()
    climb_deg, normal, doubt_m = _geodesics(start, end, lon1 - lon0, edge_kind == crossings.GEODESIC)
    band_low, band_high = np.minimum(lat0, lat1) - climb_deg, np.maximum(lat0, lat1) + climb_deg
    group = _offsets(group_count)[polygon] + (np.arange(len(lon0)) - edge_first[polygon]) // crossings.GROUP
    rhumb = edge_kind == crossings.RHUMB
    return Rings(
        polygon_first=polygon_first,
        kind=kind,
        edge_first=edge_first,
        group_first=_offsets(group_count),
        reference_deg=reference,
        low_deg=_least(band_low, polygon),
        high_deg=-_least(-band_high, polygon),
        west_deg=_least(np.minimum(lon0, lon1), polygon),
        east_deg=-_least(-np.maximum(lon0, lon1), polygon),
        group_west_deg=_least(np.minimum(lon0, lon1), group),
        group_east_deg=-_least(-np.maximum(lon0, lon1), group),
        lon0_deg=lon0,
        lon1_deg=lon1,
        lat0_deg=lat0,
        lat1_deg=lat1,
        band_low_deg=band_low,
        band_high_deg=band_high,
        rise0=isometric_latitude(np.where(rhumb, lat0, 0.0)),
        rise1=isometric_latitude(np.where(rhumb, lat1, 0.0)),
        normal=normal,
        doubt_m=doubt_m,
    )


def _offsets(counts: IntArray) -> IntArray:
    return np.concatenate([np.zeros(1, dtype=np.int64), np.cumsum(counts)])


def _least(values: FloatArray, group: IntArray) -> FloatArray:
    """Return the least value of each group; groups are numbered through and never decrease."""
    if not len(values):
        return np.empty(0)
    return np.minimum.reduceat(values, np.flatnonzero(np.append(True, group[1:] != group[:-1])))


def _joined(
    polygons: Sequence[Polygon], edge_first: IntArray, polygon: IntArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return corners at both ends of all edges, their longitudes run on, and each polygon's reference."""
    rings = [ring for rings in polygons for ring in rings]
    if not rings:
        none = np.empty((0, 2))
        return none, none, np.empty(0), np.empty(0), np.empty(0)
    start = np.concatenate(rings)
    size = np.array([len(ring) for ring in rings], dtype=np.int64)
    first, last = _offsets(size)[:-1], _offsets(size)[1:] - 1
    after = np.arange(len(start)) + 1
    after[last] = first
    end = start[after]
    lon = wrap_longitude(start[:, 0])
    reference = lon[edge_first[:-1]]
    # East of the reference as `crossings` tells it of points, so that equal longitudes stay equal;
    # whole turns are added where the ring has gone on over 180 degrees.
    east = lon - reference[polygon]
    east = np.where(east >= 180.0, east - 360.0, np.where(east < -180.0, east + 360.0, east))
    dlon = wrap_longitude(end[:, 0] - start[:, 0])
    walked = np.cumsum(dlon) - dlon
    walked -= np.repeat(walked[first] - east[first], size)
    lon0 = east + 360.0 * np.round((walked - east) / 360.0)
    lon1 = east[after] + 360.0 * np.round((walked + dlon - east[after]) / 360.0)
    return start, end, lon0, lon1, reference


def _geodesics(
    start: FloatArray, end: FloatArray, dlon_deg: FloatArray, which: BoolArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return columns of `Rings` that geodesics alone need: how far they climb, their planes, the doubt."""
    climb_deg, normal, doubt_m = np.zeros(len(start)), np.zeros((len(start), 3)), np.full(len(start), np.inf)
    some = np.flatnonzero(which)
    if len(some):
        _, _, length_m = WGS84.inv(*start[some].T, *end[some].T)
        # A geodesic climbs polewards between its ends, by less than half its length.
        climb_deg[some] = length_m / 2.0 / _METRES_PER_DEGREE
        upright = np.cross(to_geocentric(*start[some].T), to_geocentric(*end[some].T))
        upright *= np.sign(dlon_deg[some])[:, None]
        size = np.sqrt((upright**2).sum(axis=1))
        normal[some] = upright / np.where(size > 0.0, size, 1.0)[:, None]
        highest = np.maximum(np.abs(start[some, 1]), np.abs(end[some, 1]))
        proved = (length_m <= _PLANE_LONGEST_M) & (highest <= _PLANE_HIGHEST_DEG) & (size > 0.0)
        stray_m = _PLANE_BEND * length_m**2 / 8.0 + _PLANE_ROUNDING_M
        doubt_m[some] = np.where(proved, stray_m, np.inf)
    return climb_deg, normal, doubt_m


def _inside_geodesics(rings: Rings, number: int, lon_deg: FloatArray, lat_deg: FloatArray) -> BoolArray:
    """Return which points lie inside a shape of geodesics, from the exact crossing of every edge."""
    inside = np.zeros(len(lon_deg), dtype=bool)
    for polygon in range(rings.polygon_first[number], rings.polygon_first[number + 1]):
        edges = slice(rings.edge_first[polygon], rings.edge_first[polygon + 1])
        step = max(1, _BATCH // (edges.stop - edges.start))
        for first in range(0, len(lon_deg), step):
            some = slice(first, first + step)
            inside[some] |= _odd_above(rings, polygon, edges, lon_deg[some], lat_deg[some])
    return inside


def _odd_above(
    rings: Rings, polygon: int, edges: slice, lon_deg: FloatArray, lat_deg: FloatArray
) -> BoolArray:
    lon0, lon1 = rings.lon0_deg[edges], rings.lon1_deg[edges]
    lat0, lat1 = rings.lat0_deg[edges], rings.lat1_deg[edges]
    east = lon_deg - rings.reference_deg[polygon]
    east = np.where(east >= 180.0, east - 360.0, np.where(east < -180.0, east + 360.0, east))
    count = np.zeros(len(lon_deg), dtype=np.int64)
    turns = np.arange(np.floor(lon0.min() / 360.0) - 1.0, np.ceil(lon0.max() / 360.0) + 2.0)
    for turned in (east + 360.0 * turn for turn in turns):
        ahead = turned[:, None] - lon0
        point, edge = np.nonzero((ahead >= 0.0) != (turned[:, None] - lon1 >= 0.0))
        meets = _geodesic_latitude_at(lat0[edge], lat1[edge], (lon1 - lon0)[edge], ahead[point, edge])
        count += np.bincount(point[lat_deg[point] < meets], minlength=len(lon_deg))
    return np.asarray(count % 2 == 1)


def _geodesic_latitude_at(
    lat0_deg: FloatArray, lat1_deg: FloatArray, dlon_deg: FloatArray, ahead_deg: FloatArray
) -> FloatArray:
    """Return where geodesics meet the meridians so far east of their first corners.

    Found by regula falsi (Illinois) on the length along the geodesic.
    """
    lon0 = np.zeros(len(lat0_deg))
    azimuth, _, length = WGS84.inv(lon0, lat0_deg, dlon_deg, lat1_deg)
    low, high = np.zeros(len(lon0)), np.asarray(length)
    low_miss, high_miss = -ahead_deg, dlon_deg - ahead_deg
    lat = np.array(lat0_deg)
    for _ in range(60):
        span = np.where(high_miss == low_miss, 1.0, high_miss - low_miss)
        guess = np.clip(low - low_miss * (high - low) / span, low, high)
        lon, lat, _ = (np.asarray(c) for c in WGS84.fwd(lon0, lat0_deg, azimuth, guess))
        miss = lon - ahead_deg
        if not np.any(np.abs(miss) > 1e-13):
            break
        beyond = np.sign(miss) == np.sign(high_miss)
        low_miss = np.where(beyond, low_miss / 2.0, miss)
        high_miss = np.where(beyond, miss, high_miss / 2.0)
        low, high = np.where(beyond, low, guess), np.where(beyond, guess, high)
    return lat
