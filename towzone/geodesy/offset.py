"""Curves at a distance from a shape, outside or inside of it, for charts: to draw, not to judge by.

The curve is found in the azimuthal equidistant plane around the shape, where which parts of it meet is right;
then every corner of it is moved to its distance on the ellipsoid, and more are put between them until the
straight lines between corners, drawn in longitude and latitude, keep that distance as well.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from towzone.errors import GeometryError
from towzone.geodesy.approach import Side, closest
from towzone.geodesy.edges import IntArray, edges_of
from towzone.geodesy.ellipsoid import FloatArray, from_geocentric, to_geocentric, wrap_longitude
from towzone.geodesy.lines import WGS84, LineKind
from towzone.geodesy.pieces import Pieces, cut, outline
from towzone.geodesy.shape import Shape

__all__ = ["Offset", "offset_areas"]

_OFF_M = 0.4
"""Own choice: a curve is drawn so much beyond its distance, and is as much nearer or farther than that at the
most, so that no place on it is nearer than it must be, or a metre farther."""
_SAG_M = 0.2
"""Own choice: how far the middle between two corners may be off the curve before one is put there."""
_LONGEST_M = 2000.0
"""Own choice: corners are no farther apart, so that a look at three places between them misses nothing."""
_ROUNDS = 14
"""Own choice: halvings of a side; of 2 km they leave 12 cm."""
_MOVES = 12
"""Own choice: what is off is at first a small part of the distance, and each move leaves a part of that."""
_MEND_M = 0.01
"""Own choice: parts of a shape that lie closer are one."""
_FARTHEST_M = 5_000_000.0
"""Own limit: beyond it the plane says no more which parts of a curve meet."""
_PARTS = np.array([0.0, 0.25, 0.5, 0.75, 1.0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Offset:
    """Areas bounded by a curve at a distance from a shape.

    Parameters
    ----------
    areas : tuple of tuple of ndarray, each of shape (n, 2)
        Rings of longitude and latitude, degrees, the outer one first, then holes; no corner is repeated at
        the end. Longitudes run on without a jump and may leave [-180, 180].
    nearest_m, farthest_m : float
        The least and the greatest distance of the curve from the shape, at its corners and between them.
    """

    areas: tuple[tuple[FloatArray, ...], ...]
    nearest_m: float
    farthest_m: float


def offset_areas(shape: Shape, kind: LineKind, distance_m: float, *, inward: bool = False) -> Offset:
    """Return the area within a distance of a shape, or that within it at least so far from its boundary.

    Parameters
    ----------
    shape : Shape
        Checked by `towzone.geodesy.validity.check_shape`.
    kind : LineKind
        How its corners are joined.
    distance_m : float
        Metres, more than 0.
    inward : bool
        Whether the curve lies inside the polygons of the shape; then there may be no area left.

    Raises
    ------
    GeometryError
        The shape reaches more than 5000 km from its middle.
    """
    plane = _Plane.around(shape)
    edge = Side.of(cut(edges_of(shape, kind), deviation_m=_MEND_M), 1)
    wanted_m = distance_m + _OFF_M
    drawn = _in_plane(shape, kind, plane)
    # The side of an arc of radius r and angle a lies r (1 - cos(a / 2)) within it.
    quarter = math.ceil(math.pi / 4.0 / math.acos(max(1.0 - 0.7 * _SAG_M / wanted_m, 0.0)))
    grown = shapely.buffer(drawn, -wanted_m if inward else wanted_m, quad_segs=quarter)
    grown = shapely.segmentize(grown, _LONGEST_M)
    areas, nearest, farthest = [], [], []
    for polygon in _polygons(grown):
        rings: list[FloatArray] = []
        for number, ring in enumerate(shapely.get_rings(polygon)):
            found = _put_right(plane.from_plane(shapely.get_coordinates(ring)[:-1]), edge, wanted_m, plane)
            if found is None or (number and found.nearest_m < distance_m):
                # A pocket that the plane left open and the ellipsoid does not: there is no room in it.
                continue
            if not number or rings:
                rings.append(found.ring)
                nearest.append(found.nearest_m)
                farthest.append(found.farthest_m)
        if rings:
            areas.append(tuple(rings))
    return Offset(
        areas=tuple(areas),
        nearest_m=min(nearest, default=math.inf),
        farthest_m=max(farthest, default=math.inf),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plane:
    """The azimuthal equidistant plane around a position, x east and y north, metres."""

    lon_deg: float
    lat_deg: float

    @classmethod
    def around(cls, shape: Shape) -> _Plane:
        """Return the plane around the middle of the box that holds all corners."""
        corners = np.concatenate([string for string, _ in shape.strings()])
        xyz_m = to_geocentric(corners[:, 0], corners[:, 1])
        lon, lat = from_geocentric((xyz_m.min(axis=0) + xyz_m.max(axis=0)) / 2.0)
        plane = cls(lon_deg=float(wrap_longitude(lon)), lat_deg=float(lat))
        farthest_m = float(np.hypot(*plane.to_plane(corners).T).max())
        if farthest_m > _FARTHEST_M:
            message = (
                f"the shape reaches {farthest_m / 1000.0:.0f} km from its middle; a curve around it is drawn"
                f" up to {_FARTHEST_M / 1000.0:.0f} km"
            )
            raise GeometryError(message)
        return plane

    def to_plane(self, lon_lat: FloatArray) -> FloatArray:
        """Return coordinates, shape ``(n, 2)``, of positions in degrees, shape ``(n, 2)``."""
        lon, lat = np.full(len(lon_lat), self.lon_deg), np.full(len(lon_lat), self.lat_deg)
        azimuth, _, distance_m = WGS84.inv(lon, lat, lon_lat[:, 0], lon_lat[:, 1])
        azimuth = np.radians(azimuth)
        return np.column_stack([distance_m * np.sin(azimuth), distance_m * np.cos(azimuth)])

    def from_plane(self, xy_m: FloatArray) -> FloatArray:
        """Return positions, shape ``(n, 2)``, longitudes within 180 degrees of the middle's."""
        azimuth = np.degrees(np.arctan2(xy_m[:, 0], xy_m[:, 1]))
        lon, lat = np.full(len(xy_m), self.lon_deg), np.full(len(xy_m), self.lat_deg)
        lon, lat, _ = WGS84.fwd(lon, lat, azimuth, np.hypot(xy_m[:, 0], xy_m[:, 1]))
        return self.unrolled(lon, lat)

    def unrolled(self, lon_deg: FloatArray, lat_deg: FloatArray) -> FloatArray:
        """Return positions, shape ``(n, 2)``, longitudes within 180 degrees of the middle's."""
        return np.column_stack([self.lon_deg + wrap_longitude(lon_deg - self.lon_deg), lat_deg])


def _in_plane(shape: Shape, kind: LineKind, plane: _Plane) -> Any:
    """Return the shape in the plane, its parts made one."""
    strings = iter([plane.to_plane(string) for string, _ in outline(shape, kind, tolerance_m=0.1)])
    parts = []
    for polygon in shape.polygons:
        shell, *holes = [next(strings) for _ in polygon]
        parts.append(shapely.make_valid(shapely.Polygon(shell, holes)))
    whole = shapely.union_all(parts)
    if len(parts) > 1:
        # A cut at 180 degrees is no boundary, though its two sides differ by rounding.
        mended = shapely.buffer(whole, _MEND_M, join_style="mitre")
        whole = shapely.buffer(mended, -_MEND_M, join_style="mitre")
    rest = [shapely.LineString(string) if len(string) > 1 else shapely.Point(string[0]) for string in strings]
    return shapely.union_all([whole, *rest])


def _polygons(shape: Any) -> list[Any]:
    return [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and not part.is_empty]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ring:
    ring: FloatArray
    nearest_m: float
    farthest_m: float


def _put_right(ring: FloatArray, edge: Side, wanted_m: float, plane: _Plane) -> _Ring | None:
    """Return a ring at its true distance, with as many corners as it needs; ``None`` where none is left."""
    ring = _kept(ring, edge, wanted_m, plane)
    ring = ring[(np.diff(ring, axis=0, prepend=ring[-1:]) != 0.0).any(axis=1)]
    # Of each side from one corner to the next: the least and the greatest distance, once it has been seen.
    least, greatest = np.full(len(ring), np.nan), np.full(len(ring), np.nan)
    for _ in range(_ROUNDS):
        if len(ring) < 3:
            return None
        new = np.flatnonzero(np.isnan(least))
        if not len(new):
            break
        least[new], greatest[new], length_m = _along(ring, new, edge, wanted_m)
        off = np.maximum(greatest[new] - wanted_m, wanted_m - least[new])
        split = new[((off > _SAG_M) | (length_m > _LONGEST_M)) & (length_m > _SAG_M)]
        middles = (ring[split] + ring[(split + 1) % len(ring)]) / 2.0
        least[split] = greatest[split] = np.nan
        # A middle that cannot be put right is left out: then the side stays as it is.
        placed, right = _moved(middles, edge, wanted_m, plane)
        stays = split[~right]
        least[stays], greatest[stays], _ = _along(ring, stays, edge, wanted_m)
        at = split[right] + 1
        ring = np.insert(ring, at, placed[right], axis=0)
        least, greatest = np.insert(least, at, np.nan), np.insert(greatest, at, np.nan)
    new = np.flatnonzero(np.isnan(least))
    least[new], greatest[new], _ = _along(ring, new, edge, wanted_m)
    return _Ring(ring=ring, nearest_m=float(least.min()), farthest_m=float(greatest.max()))


def _kept(ring: FloatArray, edge: Side, wanted_m: float, plane: _Plane) -> FloatArray:
    """Return the corners that can be put at their distance, put there."""
    placed, right = _moved(ring, edge, wanted_m, plane)
    return placed[right]


def _along(
    ring: FloatArray, sides: IntArray, edge: Side, wanted_m: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the least and the greatest distance of some sides, by five places on each, and their lengths."""
    start, end = ring[sides], ring[(sides + 1) % len(ring)]
    places = start[:, None, :] + _PARTS[None, :, None] * (end - start)[:, None, :]
    distance_m = _distances(places.reshape(-1, 2), edge, wanted_m)[0].reshape(-1, len(_PARTS))
    _, _, length_m = WGS84.inv(start[:, 0], start[:, 1], end[:, 0], end[:, 1])
    return distance_m.min(axis=1), distance_m.max(axis=1), np.asarray(length_m)


def _moved(
    places: FloatArray, edge: Side, wanted_m: float, plane: _Plane
) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
    """Return places moved to their distance from what is nearest to them, and which came to be there.

    Where two boundaries are as near, a place would be sent to and fro between them: then it goes to where
    both are at that distance.
    """
    places = places.copy()
    right = np.zeros(len(places), dtype=np.bool_)
    off: IntArray = np.arange(len(places))
    before = np.full_like(places, np.nan)
    for _ in range(_MOVES):
        distance_m, nearest = _distances(places[off], edge, wanted_m)
        there = np.abs(distance_m - wanted_m) <= _SAG_M / 10.0
        right[off[there]] = True
        # A place on the boundary itself says nothing of its side.
        still = ~there & (distance_m > 0.0)
        off, nearest = off[still], nearest[still]
        if not len(off):
            break
        places[off] = _sent(places[off], nearest, before[off], wanted_m, plane)
        before[off] = nearest
    return places, right


def _sent(
    places: FloatArray, nearest: FloatArray, before: FloatArray, wanted_m: float, plane: _Plane
) -> FloatArray:
    """Return places at their distance from what is nearest now and, if it is elsewhere, was before."""
    azimuth, _, _ = WGS84.inv(nearest[:, 0], nearest[:, 1], places[:, 0], places[:, 1])
    first = np.isnan(before[:, 0])
    other = np.where(first[:, None], nearest, before)
    back, _, apart_m = WGS84.inv(nearest[:, 0], nearest[:, 1], other[:, 0], other[:, 1])
    apart_m = np.asarray(apart_m)
    two = ~first & (apart_m > 1.0) & (apart_m < 2.0 * wanted_m)
    # The corner of a triangle of sides wanted_m, wanted_m, apart_m; on the side on which the place is.
    corner = np.degrees(np.arccos(np.clip(apart_m / (2.0 * wanted_m), 0.0, 1.0)))
    turn = wrap_longitude(np.asarray(azimuth) - back)
    azimuth = np.where(two, back + np.where(turn < 0.0, -corner, corner), azimuth)
    lon, lat, _ = WGS84.fwd(nearest[:, 0], nearest[:, 1], azimuth, np.full(len(places), wanted_m))
    return plane.unrolled(lon, lat)


def _distances(places: FloatArray, edge: Side, wanted_m: float) -> tuple[FloatArray, FloatArray]:
    """Return the distances of places from the boundary, and the positions nearest to them."""
    xyz_m = to_geocentric(places[:, 0], places[:, 1])
    distance_m, nearest = np.full(len(xyz_m), np.inf), np.full((len(xyz_m), 2), np.nan)
    for cutoff_m in (1.5 * wanted_m, math.inf):  # most are found near, which is far quicker
        far = np.flatnonzero(np.isinf(distance_m))
        if not len(far):
            break
        own = Side.of(Pieces.each_alone(xyz_m[far], xyz_m[far]), len(far))
        zone, cutoff = np.zeros(len(far), dtype=np.int64), np.full(len(far), cutoff_m)
        found = closest(own, np.arange(len(far)), edge, zone, cutoff)
        distance_m[far] = found.distance_m
        nearest[far] = np.column_stack([found.edge_lon_deg, found.edge_lat_deg])
    return distance_m, nearest
