"""The sea bed swept by what is towed across it: the union of convex hulls from moment to moment.

Between two moments the gear is taken to have swept the convex hull of where it was at both. A hull cannot
cross itself, holds the straight motion of every point and survives the cusps of a turn tighter than half
the spread, where quadrilaterals become bow-ties. Hulls are united in one plane that touches the earth in the
middle of all that was swept, seen from the middle of the earth, so that neither 180 degrees nor high
latitudes matter, and come back as rings of positions.

Straight lines of that plane are plane sections through the middle of the earth. On a sphere these are the
geodesics; on the ellipsoid one of length ``l`` is off its geodesic by no more than ``l**2 e**2 / (16 R)``, as
the vertical misses the middle (own derivation, tested): 0.07 mm for 1 km, and sides are mostly shorter than
50 m. Which ground is overlapped, enclosed or touched is the same in the plane as on the ellipsoid, and areas
are measured on the ellipsoid. So a long tow needs no parts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from towzone.errors import GeometryError
from towzone.gear.hulls import hulls_between
from towzone.geodesy.compiling import solid
from towzone.geodesy.ellipsoid import FloatArray, from_geocentric, to_geocentric, wrap_longitude
from towzone.geodesy.lines import WGS84
from towzone.model.gear import Ring

__all__ = ["EDGE_TOLERANCE_M", "FARTHEST_M", "Swept", "swept"]

BoolArray = npt.NDArray[np.bool_]

EDGE_TOLERANCE_M = 0.001
"""Own choice: nearer than this to an edge counts as on it, and no gap or strip as wide as this is lost."""

FARTHEST_M = 5_000_000.0
"""Own limit on how far from its middle one corridor may reach: beyond it the plane bends sides visibly."""

_GRID_M = 1e-5
"""Positions in the plane are rounded to this, so that what was swept twice meets without slivers. It is far
above the rounding of degrees (1e-9 m) and far below `EDGE_TOLERANCE_M`."""

_TOGETHER = 64
"""Hulls next to each other in time are united first: they overlap, and little is left for the last union."""

_AREAL = 3
"""Type number of a polygon (shapely), which is the last of the simple types that can come up here."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Plane:
    """The plane that touches the earth at a position, seen from the middle of the earth; metres.

    Parameters
    ----------
    middle_deg : float
        Longitude around which longitudes come back.
    up, east, north : ndarray, shape (3,)
        Towards the position, and square to it; of length 1.
    radius_m : float
        From the middle of the earth to the position.
    """

    middle_deg: float
    up: FloatArray
    east: FloatArray
    north: FloatArray
    radius_m: float

    @classmethod
    def around(cls, xyz_m: FloatArray) -> _Plane:
        """Return the plane around the middle of the box that holds all points, which no order can move."""
        lon, lat = from_geocentric((xyz_m.min(axis=0) + xyz_m.max(axis=0)) / 2.0)
        middle = to_geocentric(lon, lat)
        radius_m = float(np.sqrt((middle**2).sum()))
        up = middle / radius_m
        east = np.array([-np.sin(np.radians(lon)), np.cos(np.radians(lon)), 0.0])
        return cls(
            middle_deg=float(wrap_longitude(lon)),
            up=up,
            east=east,
            north=np.cross(up, east),
            radius_m=radius_m,
        )

    def to_plane(self, xyz_m: FloatArray) -> FloatArray:
        """Return coordinates, shape ``(n, 2)``, of geocentric points; NaN a quarter of the earth off."""
        ahead = xyz_m @ self.up / self.radius_m
        shrink = 1.0 / np.where(ahead > 0.0, ahead, np.nan)
        return np.column_stack([xyz_m @ self.east * shrink, xyz_m @ self.north * shrink])

    def from_plane(self, xy_m: FloatArray) -> FloatArray:
        """Return longitude and latitude, shape ``(n, 2)``, longitudes within 180 degrees of the middle's."""
        lon, lat = from_geocentric(
            self.radius_m * self.up + xy_m[:, :1] * self.east + xy_m[:, 1:] * self.north
        )
        return np.column_stack([self.middle_deg + wrap_longitude(lon - self.middle_deg), lat])


class _Ground:
    """What was swept, in its plane, to be asked about.

    Parameters
    ----------
    plane : _Plane
    pieces : ndarray of object, shape (n,)
        Polygons, and lines and points without area.
    """

    def __init__(self, plane: _Plane, pieces: npt.NDArray[np.object_]) -> None:
        self._plane, self._pieces = plane, pieces

    @cached_property
    def _whole(self) -> Any:
        whole = shapely.geometrycollections(self._pieces)
        shapely.prepare(whole)
        return whole

    @cached_property
    def _edges(self) -> Any:
        """A tree of the sides of polygons, and of lines and points."""
        pieces = self._pieces
        lines = np.concatenate([shapely.get_rings(pieces), pieces[shapely.get_type_id(pieces) != _AREAL]])
        xy_m, line = shapely.get_coordinates(lines, return_index=True)
        along = np.flatnonzero(line[1:] == line[:-1])
        sides = shapely.linestrings(np.stack([xy_m[along], xy_m[along + 1]], axis=1))
        alone = shapely.points(xy_m[np.bincount(line)[line] == 1])
        return shapely.STRtree(np.concatenate([sides, alone]))

    def holds(self, lon_deg: FloatArray, lat_deg: FloatArray) -> BoolArray:
        """Return which positions are inside, or within the tolerance of an edge."""
        xy_m = self._plane.to_plane(to_geocentric(lon_deg, lat_deg))
        held = np.asarray(shapely.intersects_xy(self._whole, xy_m[:, 0], xy_m[:, 1]), dtype=np.bool_)
        # What is a quarter of the earth off has no place in the plane.
        outside = np.flatnonzero(~held & np.isfinite(xy_m).all(axis=1))
        near = self._edges.query(
            shapely.points(xy_m[outside]), predicate="dwithin", distance=EDGE_TOLERANCE_M
        )
        held[outside[near[0]]] = True
        return held


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Swept:
    """Sea bed that was swept.

    Parameters
    ----------
    polygons : tuple of tuple of Ring
        Shell, then holes; closed (the last corner repeats the first), unrolled around one longitude and so
        perhaps beyond 180 degrees. Shells run anticlockwise and holes clockwise (RFC 7946, section 3.1.6).
        Sides are geodesics, and as short as the steps they come from. Polygons do not overlap.
    area_m2 : float
        On the ellipsoid; ground swept twice counts once.
    """

    polygons: tuple[tuple[Ring, ...], ...] = ()
    area_m2: float = 0.0
    _ground: _Ground | None = field(default=None, repr=False)

    def holds(self, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> BoolArray:
        """Return which positions were swept.

        Parameters
        ----------
        lon_deg, lat_deg : array_like, shape (n,)
            Longitudes of any turn.

        Returns
        -------
        ndarray of bool, shape (n,)
            True inside and within `EDGE_TOLERANCE_M` of an edge. Gear that stood still or moved along
            itself swept a line without area; positions on that line are held too.

        Raises
        ------
        GeometryError
            A position is not finite or its latitude beyond 90 degrees.
        """
        lon, lat = np.broadcast_arrays(
            np.atleast_1d(np.asarray(lon_deg, dtype=np.float64)),
            np.atleast_1d(np.asarray(lat_deg, dtype=np.float64)),
        )
        _refuse_impossible(lon, lat, "positions asked about")
        if self._ground is None:
            return np.zeros(lon.shape, dtype=np.bool_)
        return self._ground.holds(lon, lat)


def swept(stretches: Sequence[FloatArray]) -> Swept:
    """Return the sea bed swept on some stretches of a tow.

    Parameters
    ----------
    stretches : sequence of ndarray, shape (n, m, 2)
        At each of ``n`` moments the longitude and latitude of ``m`` points across the gear: both doors, or
        wing-ends and codend, or all the edges it may have had. ``n`` and ``m`` may differ between stretches,
        whose order does not matter. A stretch of one moment sweeps the hull of its points, one of none
        nothing.

    Returns
    -------
    Swept
        Edges are true to 0.01 mm, but a hole or an odd strip nowhere wider than `EDGE_TOLERANCE_M` is
        taken for rounding and left out of the polygons.

    Raises
    ------
    GeometryError
        A stretch of another shape, positions that are not finite or off the globe, farther from their
        middle than `FARTHEST_M`, or all round a pole.
    """
    arrays = [_checked(stretch, number) for number, stretch in enumerate(stretches, start=1)]
    arrays = [array for array in arrays if array.size]
    if not arrays:
        return Swept()
    corners = np.concatenate([array.reshape(-1, 2) for array in arrays])
    xyz_m = to_geocentric(corners[:, 0], corners[:, 1])
    plane = _Plane.around(xyz_m)
    xy_m = plane.to_plane(xyz_m)
    _refuse_too_far(xy_m, plane)
    xy_m = np.round(xy_m / _GRID_M) * _GRID_M
    cuts = np.cumsum([array.shape[0] * array.shape[1] for array in arrays])[:-1]
    parts = zip(np.split(xy_m, cuts), arrays, strict=True)
    united = _united(np.concatenate([_hulls(part.reshape(array.shape)) for part, array in parts]))
    pieces = shapely.get_parts(united)
    areal = shapely.get_type_id(pieces) == _AREAL
    wide = areal & ~_thin(pieces)
    polygons = [_without_thin_holes(polygon) for polygon in pieces[wide]]
    rings = tuple(_rings(polygon, plane) for polygon in shapely.orient_polygons(polygons))
    ground = _Ground(plane, np.array([*polygons, *pieces[~wide]], dtype=np.object_))
    return Swept(polygons=rings, area_m2=_area_m2(rings), _ground=ground)


def _checked(stretch: npt.ArrayLike, number: int) -> FloatArray:
    """Return a stretch as an array, or refuse what is none."""
    array = np.asarray(stretch, dtype=np.float64)
    if array.ndim != 3 or array.shape[2] != 2 or array.shape[1] == 0:
        message = (
            f"stretch {number} of the gear has the shape {array.shape}; needed is (moments, points, 2), at"
            " least one point, longitude before latitude"
        )
        raise GeometryError(message)
    _refuse_impossible(array[..., 0].ravel(), array[..., 1].ravel(), f"stretch {number} of the gear")
    return array


def _refuse_impossible(lon_deg: FloatArray, lat_deg: FloatArray, name: str) -> None:
    bad = np.flatnonzero(~(np.isfinite(lon_deg) & (np.abs(lat_deg) <= 90.0)).ravel())
    if len(bad):
        at = f"longitude {lon_deg.flat[bad[0]]}, latitude {lat_deg.flat[bad[0]]}"
        message = (
            f"{name}: {len(bad)} of {lat_deg.size} positions are nowhere on the globe, first {at}; longitudes"
            " must be finite and latitudes within -90 to 90"
        )
        raise GeometryError(message)


def _refuse_too_far(xy_m: FloatArray, plane: _Plane) -> None:
    flat_m = float(np.hypot(xy_m[:, 0], xy_m[:, 1]).max())
    farthest_m = plane.radius_m * math.atan(flat_m / plane.radius_m)
    if not farthest_m <= FARTHEST_M:
        message = (
            f"the gear is up to {farthest_m / 1000.0:.0f} km from the middle of its tow; a corridor may reach"
            f" {FARTHEST_M / 1000.0:.0f} km: check the positions, or compute it in parts"
        )
        raise GeometryError(message)


def _hulls(xy_m: FloatArray) -> npt.NDArray[np.object_]:
    """Return what is swept from moment to moment, of one moment alone its own hull; points ``(n, m, 2)``."""
    count = np.empty(max(len(xy_m) - 1, 1), dtype=np.int64)
    corners = np.empty((len(count) * 2 * xy_m.shape[1], 2))
    corners = corners[: hulls_between(solid(xy_m), corners, count)]
    hulls = np.empty(len(count), dtype=np.object_)
    hull = np.repeat(np.arange(len(count)), count)
    for size, drawn in ((1, shapely.points), (2, shapely.linestrings)):
        mine = np.flatnonzero(count == size)
        if len(mine):
            found = corners[count[hull] == size].reshape(-1, size, 2)
            hulls[mine] = drawn(found[:, 0] if size == 1 else found)
    mine = np.flatnonzero(count > 2)
    if len(mine):
        rings = shapely.linearrings(
            corners[count[hull] > 2], indices=np.repeat(np.arange(len(mine)), count[mine])
        )
        hulls[mine] = shapely.polygons(rings)
    return hulls


def _united(hulls: npt.NDArray[np.object_]) -> Any:
    rows = -(-len(hulls) // _TOGETHER)
    padded = np.full(rows * _TOGETHER, None, dtype=np.object_)
    padded[: len(hulls)] = hulls
    return shapely.union_all(shapely.union_all(padded.reshape(rows, _TOGETHER), axis=1))


def _thin(pieces: npt.NDArray[np.object_]) -> BoolArray:
    """Return which polygons are nowhere as wide as the tolerance: no point is inside by half of it."""
    half_m = EDGE_TOLERANCE_M / 2.0
    # Some point of a polygon is inside by its area over its perimeter at least, which settles nearly all.
    doubtful = shapely.area(pieces) <= half_m * shapely.length(pieces)
    thin = np.zeros(len(pieces), dtype=np.bool_)
    thin[doubtful] = shapely.is_empty(shapely.buffer(pieces[doubtful], -half_m))
    return thin


def _without_thin_holes(polygon: Any) -> Any:
    if not shapely.get_num_interior_rings(polygon):
        return polygon
    shell, *holes = shapely.get_rings(polygon)
    kept = [hole for hole, thin in zip(holes, _thin(shapely.polygons(holes)), strict=True) if not thin]
    return shapely.polygons(shell, holes=kept or None)


def _rings(polygon: Any, plane: _Plane) -> tuple[Ring, ...]:
    return tuple(
        _ring(plane.from_plane(shapely.get_coordinates(ring))) for ring in shapely.get_rings(polygon)
    )


def _ring(corners: FloatArray) -> Ring:
    if np.abs(np.diff(corners[:, 0])).max() > 180.0:
        message = (
            "what the gear swept lies round a pole, where no ring of longitudes and latitudes can hold it;"
            " compute it in parts of less than 180 degrees of longitude"
        )
        raise GeometryError(message)
    corners.flags.writeable = False
    return corners


def _area_m2(polygons: tuple[tuple[Ring, ...], ...]) -> float:
    """Return the area on the ellipsoid; holes run the other way round and so are counted off."""
    rings = [ring for polygon in polygons for ring in polygon]
    return float(sum(WGS84.polygon_area_perimeter(ring[:-1, 0], ring[:-1, 1])[0] for ring in rings))
