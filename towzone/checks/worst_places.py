"""Where groups of a path came nearest to boundaries, or were deepest inside; as columns, a row a pair."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from towzone.checks.batches import Batch
from towzone.checks.interval_sets import IntervalSets
from towzone.checks.place_loops import stays_on_pieces
from towzone.geodesy.approach import Approaches, Side
from towzone.geodesy.compiling import solid
from towzone.geodesy.depth import Stays, deepest_of_each
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.lines import WGS84
from towzone.model.result import Closest

__all__ = ["WorstPlaces", "deepest_places", "described", "nearest_places"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WorstPlaces:
    """Places on a path and what is nearest to them on a boundary, as columns of shape ``(n,)``.

    Parameters
    ----------
    signed_m : ndarray
        Distance, negative where the place is inside.
    place : ndarray
        On the path.
    lon_deg, lat_deg : ndarray
        Its position.
    edge_lon_deg, edge_lat_deg : ndarray
        Nearest position on the boundary.
    """

    signed_m: FloatArray
    place: FloatArray
    lon_deg: FloatArray
    lat_deg: FloatArray
    edge_lon_deg: FloatArray
    edge_lat_deg: FloatArray

    def replaced(self, rows: IntArray, others: WorstPlaces) -> WorstPlaces:
        """Return the same with some rows replaced."""
        columns = {}
        for name in self.__slots__:
            columns[name] = getattr(self, name).copy()
            columns[name][rows] = getattr(others, name)
        return WorstPlaces(**columns)

    def take(self, rows: IntArray) -> WorstPlaces:
        """Return some of the rows."""
        return WorstPlaces(**{name: getattr(self, name)[rows] for name in self.__slots__})


def nearest_places(batch: Batch, found: Approaches) -> WorstPlaces:
    """Return where groups came nearest to boundaries; NaN, infinitely far, where nothing was found."""
    place, near = np.full(len(found.distance_m), np.nan), np.flatnonzero(found.path_piece >= 0)
    place[near] = batch.places(found.path_piece[near], found.path_part[near])
    return WorstPlaces(
        signed_m=found.distance_m,
        place=place,
        lon_deg=found.path_lon_deg,
        lat_deg=found.path_lat_deg,
        edge_lon_deg=found.edge_lon_deg,
        edge_lat_deg=found.edge_lat_deg,
    )


def deepest_places(
    batch: Batch, group: IntArray, edge: Side, zone: IntArray, stays: IntervalSets
) -> WorstPlaces:
    """Return where groups are farthest from boundaries, on stretches that lie on one side of each.

    Parameters
    ----------
    group, zone : ndarray of int, shape (n,)
        Owners of the batch's pieces and of ``edge``.
    stays : IntervalSets
        As many; none is empty.
    """
    cuts = np.searchsorted(batch.side.pieces.owner, [group, group + 1])
    low, high, low_part, high_part, counts = stays_on_pieces(
        solid(batch.piece_begin),
        solid(batch.piece_end),
        solid(cuts, np.int64),
        stays.counts,
        solid(stays.first),
        solid(stays.last),
    )
    on_pieces = Stays(first_piece=low, last_piece=high, first=low_part, last=high_part)
    found = deepest_of_each(batch.side, group, on_pieces, counts, edge, zone)
    return WorstPlaces(
        signed_m=-found.depth_m,
        place=batch.places(found.piece, found.part),
        lon_deg=found.lon_deg,
        lat_deg=found.lat_deg,
        edge_lon_deg=found.edge_lon_deg,
        edge_lat_deg=found.edge_lat_deg,
    )


def described(batch: Batch, places: WorstPlaces, radius_m: FloatArray) -> list[Closest]:
    """Return where and when each place is, with boundary points moved out from the shapes by the radii."""
    vessel = np.stack([places.lon_deg, places.lat_deg])
    nearest = np.stack([places.edge_lon_deg, places.edge_lat_deg])
    out = np.flatnonzero(radius_m > 0.0)
    if len(out):
        # At the very centre every way out is as short; WGS84.inv then names one of them.
        outward, _, _ = WGS84.inv(*nearest[:, out], *vessel[:, out])
        lon, lat, _ = WGS84.fwd(nearest[0, out], nearest[1, out], outward, radius_m[out])
        nearest[:, out] = lon, lat
    bearing, _, apart_m = WGS84.inv(*vessel, *nearest)
    course = np.asarray(bearing) % 360.0
    columns = (places.place, *vessel, *nearest, course, np.asarray(apart_m))
    return [
        Closest(
            utc=batch.path.time_at(place),
            lon_deg=lon,
            lat_deg=lat,
            zone_lon_deg=zone_lon,
            zone_lat_deg=zone_lat,
            bearing_deg=course if away_m >= 0.001 else None,
        )
        for place, lon, lat, zone_lon, zone_lat, course, away_m in zip(
            *(column.tolist() for column in columns), strict=True
        )
    ]
