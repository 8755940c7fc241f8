"""The sea bed swept by what is towed across it: the union of convex hulls from moment to moment.

Between two moments the gear is taken to have swept the convex hull of where it was at both. A hull cannot
cross itself, holds the straight motion of every point and survives the cusps of a turn tighter than half
the spread, where quadrilaterals become bow-ties. Hulls are united in one azimuthal equidistant plane around
all that was swept, so that neither 180 degrees nor high latitudes matter, and come back as rings of
positions.

The plane bends nothing that counts: a side of length ``l`` at a distance ``r`` from its middle is off the
geodesic by ``l**2 r / (12 R**2)`` (own derivation, tested): 0.1 mm for 1 km at 50 km, 1 mm at 500 km. Which
ground is overlapped, enclosed or touched is the same in the plane as on the ellipsoid, and areas are
measured on the ellipsoid. So a long tow needs no parts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from towzone.errors import GeometryError
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plane:
    """The azimuthal equidistant plane around a position, x east and y north, metres."""

    lon_deg: float
    lat_deg: float

    def to_plane(self, lon_deg: FloatArray, lat_deg: FloatArray) -> FloatArray:
        """Return coordinates, shape ``(n, 2)``, of positions, shape ``(n,)``."""
        start_lon, start_lat = np.full_like(lon_deg, self.lon_deg), np.full_like(lat_deg, self.lat_deg)
        azimuth, _, distance_m = WGS84.inv(start_lon, start_lat, lon_deg, lat_deg)
        azimuth = np.radians(azimuth)
        return np.column_stack([distance_m * np.sin(azimuth), distance_m * np.cos(azimuth)])

    def from_plane(self, xy_m: FloatArray) -> FloatArray:
        """Return longitude and latitude, shape ``(n, 2)``, longitudes within 180 degrees of the middle's."""
        azimuth = np.degrees(np.arctan2(xy_m[:, 0], xy_m[:, 1]))
        start_lon, start_lat = np.full(len(xy_m), self.lon_deg), np.full(len(xy_m), self.lat_deg)
        lon, lat, _ = WGS84.fwd(start_lon, start_lat, azimuth, np.hypot(xy_m[:, 0], xy_m[:, 1]))
        return np.column_stack([self.lon_deg + wrap_longitude(lon - self.lon_deg), lat])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ground:
    """What was swept, in its plane, ready to be asked about: all of it (shapely), and a tree of its edges."""

    plane: _Plane
    whole: Any
    edges: Any

    def holds(self, lon_deg: FloatArray, lat_deg: FloatArray) -> BoolArray:
        """Return which positions are inside, or within the tolerance of an edge."""
        xy_m = self.plane.to_plane(lon_deg, lat_deg)
        held = np.asarray(shapely.intersects_xy(self.whole, xy_m[:, 0], xy_m[:, 1]), dtype=np.bool_)
        outside = np.flatnonzero(~held)
        near = self.edges.query(shapely.points(xy_m[outside]), predicate="dwithin", distance=EDGE_TOLERANCE_M)
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
    plane = _around(corners)
    xy_m = plane.to_plane(corners[:, 0], corners[:, 1])
    _refuse_too_far(xy_m)
    xy_m = np.round(xy_m / _GRID_M) * _GRID_M
    cuts = np.cumsum([array.shape[0] * array.shape[1] for array in arrays])[:-1]
    parts = zip(np.split(xy_m, cuts), arrays, strict=True)
    united = _united(np.concatenate([_hulls(part.reshape(array.shape)) for part, array in parts]))
    pieces = shapely.get_parts(united)
    areal = shapely.get_type_id(pieces) == _AREAL
    wide = areal & ~_thin(pieces)
    polygons = [_without_thin_holes(polygon) for polygon in pieces[wide]]
    rings = tuple(_rings(polygon, plane) for polygon in shapely.orient_polygons(polygons))
    ground = _ground(plane, np.array([*polygons, *pieces[~wide]], dtype=np.object_))
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


def _around(corners: FloatArray) -> _Plane:
    """Return the plane around the middle of the box that holds all corners, which their order cannot move."""
    xyz_m = to_geocentric(corners[:, 0], corners[:, 1])
    lon, lat = from_geocentric((xyz_m.min(axis=0) + xyz_m.max(axis=0)) / 2.0)
    return _Plane(lon_deg=float(wrap_longitude(lon)), lat_deg=float(lat))


def _refuse_too_far(xy_m: FloatArray) -> None:
    farthest_m = float(np.hypot(xy_m[:, 0], xy_m[:, 1]).max())
    if farthest_m > FARTHEST_M:
        message = (
            f"the gear is up to {farthest_m / 1000.0:.0f} km from the middle of its tow; a corridor may reach"
            f" {FARTHEST_M / 1000.0:.0f} km: check the positions, or compute it in parts"
        )
        raise GeometryError(message)


def _hulls(xy_m: FloatArray) -> npt.NDArray[np.object_]:
    """Return what is swept from moment to moment, of one moment alone its own hull; points ``(n, m, 2)``."""
    across = np.concatenate([xy_m[:-1], xy_m[1:]], axis=1) if len(xy_m) > 1 else xy_m
    # As lines, for their hulls are the same and points are made one by one; a line has two points at least.
    lines = across if across.shape[1] > 1 else np.repeat(across, 2, axis=1)
    return np.asarray(shapely.convex_hull(shapely.linestrings(lines)))


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


def _ground(plane: _Plane, pieces: npt.NDArray[np.object_]) -> _Ground:
    whole = shapely.geometrycollections(pieces)
    shapely.prepare(whole)
    lines = np.concatenate([shapely.get_rings(pieces), pieces[shapely.get_type_id(pieces) != _AREAL]])
    xy_m, line = shapely.get_coordinates(lines, return_index=True)
    along = np.flatnonzero(line[1:] == line[:-1])
    sides = shapely.linestrings(np.stack([xy_m[along], xy_m[along + 1]], axis=1))
    alone = shapely.points(xy_m[np.bincount(line)[line] == 1])
    return _Ground(plane=plane, whole=whole, edges=shapely.STRtree(np.concatenate([sides, alone])))


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
