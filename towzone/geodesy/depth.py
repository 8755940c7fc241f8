"""The deepest point of a path inside an area: where the nearest boundary is farthest away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from towzone.errors import GeometryError
from towzone.geodesy.approach import Side, closest
from towzone.geodesy.compiling import solid
from towzone.geodesy.depth_search import Stretches, search_each
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray, from_geocentric, to_geocentric
from towzone.geodesy.pieces import Pieces

__all__ = ["Deepest", "deepest", "deepest_of_each"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Deepest:
    """The deepest point: its place on the path, its depth and the nearest point of the boundary."""

    depth_m: float
    piece: int
    part: float
    lon_deg: float
    lat_deg: float
    edge_lon_deg: float
    edge_lat_deg: float


def deepest(
    path: Pieces, piece: IntArray, first: FloatArray, last: FloatArray, edge: Side, owner: int
) -> Deepest:
    """Return the deepest point on stretches of a path that are known to lie inside an area.

    Parameters
    ----------
    path : Pieces
    piece, first, last : ndarray, shape (k,)
        Stretches: pieces of the path, with the fractions where each begins and ends; at least one.
    edge : Side
        The boundary of the area (and maybe others).
    owner : int
        Which owner of `edge` the area is.

    Raises
    ------
    ValueError, GeometryError
        As `deepest_of_each`.
    """
    return deepest_of_each(path, np.array([len(piece)]), piece, first, last, edge, np.array([owner]))[0]


def deepest_of_each(
    path: Pieces,
    counts: IntArray,
    piece: IntArray,
    first: FloatArray,
    last: FloatArray,
    edge: Side,
    owner: IntArray,
) -> list[Deepest]:
    """Return the deepest points of several sets of stretches, each known to lie inside an area.

    Parameters
    ----------
    path : Pieces
    counts : ndarray of int, shape (m,)
        How many stretches each set has, at least one.
    piece, first, last : ndarray, shape (k,)
        The stretches of all sets, one set after the other: pieces of the path, with the fractions where each
        begins and ends.
    edge : Side
    owner : ndarray of int, shape (m,)
        Which owner of `edge` the area of each set is.

    Raises
    ------
    ValueError
        A set is empty.
    GeometryError
        A distance could not be computed.

    Notes
    -----
    Branch and bound, true to `towzone.geodesy.depth_search.RESOLUTION_M`. Three bounds are proved:

    * Depth changes by no more than a metre a metre, which bounds whole blocks of stretches from one sample,
      and a stretch from its ends.
    * The straight distance from a chord of the boundary is convex along a chord of the path, so nowhere
      greater than at the worse end; the arc over it is longer by a known amount at the most. The piece of
      boundary that is nearest to one place bounds all stretches of a block, without a search for each.
    * The distance on the surface from a piece of boundary is convex along a short straight piece of path, but
      for the bend of the earth.

    Where the path stands still at its deepest, the place is told at which it came there.
    """
    if not (np.asarray(counts) > 0).all():
        message = "no stretch to search"
        raise ValueError(message)
    stretches = Stretches(
        solid(path.start_m), solid(path.end_m), solid(piece, np.int64), solid(first), solid(last)
    )
    found, part = np.empty(len(counts), dtype=np.int64), np.empty(len(counts))
    owner = solid(owner, np.int64)
    if not search_each(stretches, solid(counts, np.int64), edge.tree, owner, found, part):
        message = "a distance could not be computed"
        raise GeometryError(message)
    return _described(path, stretches.piece[found], part, edge, owner)


def _described(path: Pieces, piece: IntArray, part: FloatArray, edge: Side, owner: IntArray) -> list[Deepest]:
    """Return places and what is nearest to them, by the one search that answers for all distances."""
    start, end = path.start_m[piece], path.end_m[piece]
    # Through degrees and back: that is the surface point to the last bit.
    lon, lat = from_geocentric(start + part[:, None] * (end - start))
    xyz = to_geocentric(lon, lat)
    each = np.arange(len(piece))
    points = Side.of(Pieces.each_alone(xyz, xyz), len(piece))
    near = closest(points, each, edge, owner, np.full(len(piece), np.inf))
    columns = (near.distance_m, piece, part, lon, lat, near.edge_lon_deg, near.edge_lat_deg)
    return [
        Deepest(
            depth_m=depth_m,
            piece=one,
            part=at,
            lon_deg=lon_deg,
            lat_deg=lat_deg,
            edge_lon_deg=edge_lon_deg,
            edge_lat_deg=edge_lat_deg,
        )
        for depth_m, one, at, lon_deg, lat_deg, edge_lon_deg, edge_lat_deg in zip(
            *(column.tolist() for column in columns), strict=True
        )
    ]
