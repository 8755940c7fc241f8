"""The deepest point of a path inside an area: where the nearest boundary is farthest away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from towzone.errors import GeometryError
from towzone.geodesy.approach import Side, closest
from towzone.geodesy.compiling import solid
from towzone.geodesy.depth_search import Stays, search_each
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray, from_geocentric, to_geocentric
from towzone.geodesy.pieces import Pieces

__all__ = ["Deepest", "Stays", "deepest_of_each"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Deepest:
    """Deepest points, as columns: places on the path, their depths and the nearest points of the boundary."""

    depth_m: FloatArray
    piece: IntArray
    part: FloatArray
    lon_deg: FloatArray
    lat_deg: FloatArray
    edge_lon_deg: FloatArray
    edge_lat_deg: FloatArray


def deepest_of_each(
    path: Side, path_owner: IntArray, stays: Stays, counts: IntArray, edge: Side, edge_owner: IntArray
) -> Deepest:
    """Return the deepest points of several sets of stays, each known to be inside an area.

    Parameters
    ----------
    path : Side
    path_owner : ndarray of int, shape (m,)
        Whose pieces the stays of each set are of.
    stays : Stays
        Of all sets, one set after the other, those of each set in order.
    counts : ndarray of int, shape (m,)
        How many stays each set has, at least one.
    edge : Side
    edge_owner : ndarray of int, shape (m,)
        Which owner of `edge` the area of each set is.

    Raises
    ------
    ValueError
        A set is empty.
    GeometryError
        A distance could not be computed.

    Notes
    -----
    Branch and bound down the tree of the path, true to `towzone.geodesy.depth_search.RESOLUTION_M`. These
    bounds are proved:

    * No place in a box is farther from a piece of boundary than the middle of the box is and half its
      diagonal. The piece nearest to one place bounds all boxes around, without a search for each.
    * The straight distance from a chord of the boundary is convex along a chord of the path, so nowhere
      greater than at the worse end; the arc over it is longer by a known amount at the most.
    * Depth changes by no more than a metre a metre.
    * The distance on the surface from a piece of boundary is convex along a short straight piece of path, but
      for the bend of the earth.

    Where the path stands still at its deepest, the place is told at which it came there.
    """
    if not (np.asarray(counts) > 0).all():
        message = "no stay to search"
        raise ValueError(message)
    rows = Stays(
        solid(stays.first_piece, np.int64),
        solid(stays.last_piece, np.int64),
        solid(stays.first),
        solid(stays.last),
    )
    piece, part = np.empty(len(counts), dtype=np.int64), np.empty(len(counts))
    owner, area = solid(path_owner, np.int64), solid(edge_owner, np.int64)
    counts = solid(counts, np.int64)
    if not search_each(path.tree, owner, rows, counts, edge.tree, area, piece, part):
        message = "a distance could not be computed"
        raise GeometryError(message)
    return _described(path.pieces, piece, part, edge, area)


def _described(path: Pieces, piece: IntArray, part: FloatArray, edge: Side, owner: IntArray) -> Deepest:
    """Return places and what is nearest to them, by the one search that answers for all distances."""
    start, end = path.start_m[piece], path.end_m[piece]
    # Through degrees and back: that is the surface point to the last bit.
    lon, lat = from_geocentric(start + part[:, None] * (end - start))
    xyz = to_geocentric(lon, lat)
    each = np.arange(len(piece))
    points = Side.of(Pieces.each_alone(xyz, xyz), len(piece))
    near = closest(points, each, edge, owner, np.full(len(piece), np.inf))
    return Deepest(
        depth_m=near.distance_m,
        piece=piece,
        part=part,
        lon_deg=lon,
        lat_deg=lat,
        edge_lon_deg=near.edge_lon_deg,
        edge_lat_deg=near.edge_lat_deg,
    )
