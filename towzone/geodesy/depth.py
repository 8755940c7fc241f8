"""The deepest point of a path inside an area: where the nearest boundary is farthest away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from towzone.errors import GeometryError
from towzone.geodesy.approach import Side, closest
from towzone.geodesy.compiling import solid
from towzone.geodesy.depth_search import Stretches, search
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray, from_geocentric, to_geocentric
from towzone.geodesy.pieces import Pieces

__all__ = ["Deepest", "deepest"]


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
    """
    if not len(piece):
        message = "no stretch to search"
        raise ValueError(message)
    root = int(edge.tree.root[owner])
    stretches = Stretches(
        solid(path.start_m), solid(path.end_m), solid(piece, np.int64), solid(first), solid(last)
    )
    found, part, sound = search(stretches, edge.tree, root) if root >= 0 else (0, 0.0, False)
    if not sound:
        message = "a distance could not be computed"
        raise GeometryError(message)
    return _described(path, int(piece[found]), float(part), edge, owner)


def _described(path: Pieces, piece: int, part: float, edge: Side, owner: int) -> Deepest:
    """Return the place and what is nearest to it, by the one search that answers for all distances."""
    start, end = path.start_m[[piece]], path.end_m[[piece]]
    # Through degrees and back: that is the surface point to the last bit.
    lon, lat = from_geocentric(start + part * (end - start))
    xyz = to_geocentric(lon, lat)
    point = Side.of(Pieces.each_alone(xyz, xyz), 1)
    near = closest(point, np.zeros(1, np.int64), edge, np.array([owner]), np.array([np.inf]))
    return Deepest(
        depth_m=float(near.distance_m[0]),
        piece=piece,
        part=part,
        lon_deg=float(lon[0]),
        lat_deg=float(lat[0]),
        edge_lon_deg=float(near.edge_lon_deg[0]),
        edge_lat_deg=float(near.edge_lat_deg[0]),
    )
