"""The signed clearance of every point of a track from every zone within reach: a table, block by block."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.errors import GeometryError
from towzone.geodesy import point_blocks
from towzone.geodesy.approach import Side, closest
from towzone.geodesy.compiling import solid
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray, to_geocentric, wrap_longitude
from towzone.geodesy.pieces import Pieces
from towzone.geodesy.point_blocks import Asked, Found
from towzone.geodesy.region import Regions

__all__ = ["BLOCK_ROWS", "PointClearances", "Surroundings", "point_clearances", "zones_in_reach"]

BLOCK_ROWS = 1_000_000
"""Own choice: rows of a block, at the most unless a stretch of the track has more zones; about 25 MB."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surroundings:
    """Zones side by side, as clearances are taken from them.

    Parameters
    ----------
    zone : ndarray of int, shape (k,)
        The numbers of those that are asked about, ascending; the other columns have all zones.
    edge : Side
        Boundaries in pieces, owned by zones; of all that are asked about.
    regions : Regions
        Their insides.
    radius_m : ndarray, shape (zones,)
        What they reach beyond their shapes.
    turned : ndarray of bool, shape (zones,)
        Those that may not be left: for them the outside is the wrong side.
    """

    zone: IntArray
    edge: Side
    regions: Regions
    radius_m: FloatArray
    turned: npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PointClearances:
    """Rows of the table as columns, sorted by point and then by zone.

    Parameters
    ----------
    point, zone : ndarray of int, shape (k,)
    clearance_m : ndarray, shape (k,)
        Distance from the zone; negative on the wrong side of its boundary, or within its radius.
    """

    point: IntArray
    zone: IntArray
    clearance_m: FloatArray

    def __len__(self) -> int:
        return len(self.point)


def point_clearances(
    lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike, zones: Surroundings, reach_m: float
) -> Iterator[PointClearances]:
    """Yield the clearances of all points from all zones within reach, some rows at a time.

    Parameters
    ----------
    lon_deg, lat_deg : array_like, shape (n,)
        Degrees; any longitude. Points that follow each other should be near each other, as fixes are: that
        makes it fast, and changes clearances by 0.1 mm at the most.
    zones : Surroundings
    reach_m : float
        Rows with a greater clearance are left out. What is on the wrong side is told however deep it is.

    Raises
    ------
    GeometryError
        A coordinate or the reach is no number, or a distance could not be computed.

    Notes
    -----
    Error under 2 mm up to 100 km: 1 mm for cutting boundaries into chords, 0.5 mm for the plane of each block
    and 0.1 mm for arcs. The rest as `towzone.geodesy.approach.closest`, which is asked for greater depths.
    """
    asked = _asked(lon_deg, lat_deg, zones, reach_m)
    begin, room = 0, BLOCK_ROWS
    while begin < len(asked.xyz_m):
        found = Found(
            np.empty(room, dtype=np.int64),
            np.empty(room, dtype=np.int64),
            np.empty(room),
            np.empty(room, dtype=bool),
        )
        end, rows, sound = point_blocks.clearances(asked, begin, found)
        if not sound:
            message = "a distance could not be computed"
            raise GeometryError(message)
        if end == begin:
            room = rows
            continue
        begin = end
        if rows:
            some = Found(found.point[:rows], found.zone[:rows], found.clearance_m[:rows], found.doubt[:rows])
            yield _settled(asked, zones, some)


def zones_in_reach(
    lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike, zones: Surroundings, reach_m: float
) -> IntArray:
    """Return the numbers of the zones that may have rows in the table of `point_clearances`.

    Parameters
    ----------
    zones : Surroundings
        Its boundaries may be coarse, as long as their boxes hold them.

    Raises
    ------
    GeometryError
        As `point_clearances`.
    """
    return np.flatnonzero(point_blocks.zones_in_reach(_asked(lon_deg, lat_deg, zones, reach_m)))


def _asked(lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike, zones: Surroundings, reach_m: float) -> Asked:
    lon, lat = np.asarray(lon_deg, dtype=np.float64), solid(lat_deg)
    # A comparison with NaN is false, so what is no number is not on the earth.
    if not (np.isfinite(lon).all() and (np.abs(lat) <= 90.0).all()):
        message = "a position that is not on the earth has no clearance"
        raise GeometryError(message)
    if not 0.0 <= reach_m < np.inf:
        message = f"a reach of {reach_m} m is not a distance; it must be a number from 0 on"
        raise GeometryError(message)
    lon = solid(wrap_longitude(lon))
    return Asked(
        zone=solid(zones.zone, np.int64),
        xyz_m=solid(to_geocentric(lon, lat)),
        lon_deg=lon,
        lat_deg=lat,
        tree=zones.edge.tree,
        rings=zones.regions.rings,
        radius_m=solid(zones.radius_m),
        turned=solid(zones.turned, np.bool_),
        reach_m=float(reach_m),
    )


def _settled(asked: Asked, zones: Surroundings, found: Found) -> PointClearances:
    """Return rows, those in doubt settled by exact geodesics, without those that turn out beyond reach."""
    doubt = np.flatnonzero(found.doubt)
    keep: slice | npt.NDArray[np.bool_] = slice(None)
    if len(doubt):
        point, zone = found.point[doubt], found.zone[doubt]
        xyz = asked.xyz_m[point]
        each = np.arange(len(doubt))
        alone = Side.of(Pieces.each_alone(xyz, xyz), len(doubt))
        distance_m = closest(alone, each, zones.edge, zone, np.full(len(doubt), np.inf)).distance_m
        inside = zones.regions.contain(zone, asked.lon_deg[point], asked.lat_deg[point])
        signed_m = np.where(inside != asked.turned[zone], -distance_m, distance_m)
        found.clearance_m[doubt] = signed_m - asked.radius_m[zone]
        keep = found.clearance_m <= asked.reach_m
    return PointClearances(
        point=found.point[keep], zone=found.zone[keep], clearance_m=found.clearance_m[keep]
    )
