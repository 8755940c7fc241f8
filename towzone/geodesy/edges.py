"""The boundary of shapes as edges: one row per pair of joined corners."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Corners, Shape

__all__ = ["Edges", "IntArray", "edges_of", "join_edges"]

IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edges:
    """Edges of several owners, as columns.

    Parameters
    ----------
    lon0_deg, lat0_deg, lon1_deg, lat1_deg : ndarray, shape (n,)
        Ends in degrees; a lone point is an edge whose ends coincide.
    owner : ndarray of int, shape (n,)
        Number of the zone (or tow) an edge belongs to, never decreasing.
    kind : ndarray of object, shape (n,)
        `LineKind` of each edge.
    """

    lon0_deg: FloatArray
    lat0_deg: FloatArray
    lon1_deg: FloatArray
    lat1_deg: FloatArray
    owner: IntArray
    kind: npt.NDArray[np.object_]

    def __len__(self) -> int:
        return len(self.owner)

    def select(self, which: npt.NDArray[np.bool_] | IntArray) -> Edges:
        """Return some of the edges, in order."""
        return Edges(
            lon0_deg=self.lon0_deg[which],
            lat0_deg=self.lat0_deg[which],
            lon1_deg=self.lon1_deg[which],
            lat1_deg=self.lat1_deg[which],
            owner=self.owner[which],
            kind=self.kind[which],
        )


def edges_of(shape: Shape, kind: LineKind, owner: int = 0) -> Edges:
    """Return the boundary of a shape as edges; seams between its own parts are left out.

    A seam is an edge two parts share: a cut at 180 degrees, or neighbouring boxes of one zone.
    It is no boundary, and a distance to it would be false.
    """
    starts: list[FloatArray] = [np.empty((0, 2))]
    ends: list[FloatArray] = [np.empty((0, 2))]
    if shape.polygons:
        rings = [_oriented(r, hole=i > 0) for polygon in shape.polygons for i, r in enumerate(polygon)]
        ring_starts = np.concatenate(rings)
        ring_ends = np.concatenate([part for ring in rings for part in (ring[1:], ring[:1])])
        if len(shape.polygons) > 1:
            ring_starts, ring_ends = _without_seams(ring_starts, ring_ends, kind)
        starts.append(ring_starts)
        ends.append(ring_ends)
    for line in shape.lines:
        starts.append(line[:-1])
        ends.append(line[1:])
    starts.append(shape.points)
    ends.append(shape.points)
    first, last = np.concatenate(starts), np.concatenate(ends)
    return Edges(
        lon0_deg=first[:, 0],
        lat0_deg=first[:, 1],
        lon1_deg=last[:, 0],
        lat1_deg=last[:, 1],
        owner=np.full(len(first), owner, dtype=np.int64),
        kind=np.full(len(first), kind, dtype=object),
    )


def _oriented(ring: Corners, *, hole: bool) -> FloatArray:
    """Return a ring wound so that the inside of the area lies to its left."""
    lon, lat = ring[:, 0] - ring[0, 0], ring[:, 1] - ring[0, 1]
    if np.abs(np.diff(lon)).max(initial=0.0) >= 180.0:
        lon = np.concatenate([[0.0], np.cumsum(wrap_longitude(np.diff(lon)))])
    # From the first corner, so that what closes the ring adds nothing.
    twice_area = lon[:-1] @ lat[1:] - lon[1:] @ lat[:-1]
    return np.array(ring if (twice_area > 0) != hole else ring[::-1])


def _without_seams(starts: FloatArray, ends: FloatArray, kind: LineKind) -> tuple[FloatArray, FloatArray]:
    """Drop edges that run both ways: there the inside lies on both hands."""
    lon0, dlon = wrap_longitude(starts[:, 0]), wrap_longitude(ends[:, 0] - starts[:, 0])
    lat0, lat1 = starts[:, 1], ends[:, 1]
    there = np.stack([lon0, lat0, wrap_longitude(ends[:, 0]), lat1], axis=1)
    back = there[:, [2, 3, 0, 1]]
    _, key = np.unique(np.concatenate([there, back]), axis=0, return_inverse=True)
    key = key.reshape(-1)
    keep = ~np.isin(key[: len(there)], key[len(there) :])
    upright = (dlon == 0.0) & (lat0 != lat1)
    # Geodesics between points of one parallel are different curves unless their ends are the same.
    level = (lat0 == lat1) & (dlon != 0.0) & (kind is not LineKind.GEODESIC)
    plain = keep & ~upright & ~level
    columns = _one_way(lon0[upright], lat0[upright], lat1[upright])
    rows = _one_way(*_cut_at_180(lat0[level], lon0[level], dlon[level]))
    return (
        np.concatenate([starts[plain], columns[:, [0, 1]], rows[:, [1, 0]]]),
        np.concatenate([ends[plain], columns[:, [0, 2]], rows[:, [2, 0]]]),
    )


def _cut_at_180(
    lat_deg: FloatArray, lon_deg: FloatArray, dlon_deg: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return stretches along parallels as latitude, first and last longitude, all within [-180, 180]."""
    end = lon_deg + dlon_deg
    over = (end > 180.0) | (end < -180.0)
    limit = np.where(end > 0.0, 180.0, -180.0)
    return (
        np.concatenate([lat_deg, lat_deg[over]]),
        np.concatenate([lon_deg, -limit[over]]),
        np.concatenate([np.where(over, limit, end), (end - 2.0 * limit)[over]]),
    )


def _one_way(line_deg: FloatArray, from_deg: FloatArray, to_deg: FloatArray) -> FloatArray:
    """Return the stretches of meridians (or parallels) that edges cover in one direction only.

    Boxes cut at 180 degrees, or stacked beside each other, may meet along parts of their sides.

    Returns
    -------
    ndarray, shape (n, 3)
        The meridian (or parallel), where the stretch begins and where it ends.
    """
    stretches: list[tuple[float, float, float]] = []
    for line in np.unique(line_deg):
        mine = line_deg == line
        first, last = from_deg[mine], to_deg[mine]
        for low, high in pairwise(np.unique(np.concatenate([first, last]))):
            up = bool(np.any((first <= low) & (last >= high)))
            down = bool(np.any((last <= low) & (first >= high)))
            if up != down:
                stretches.append((line, low, high) if up else (line, high, low))
    return np.array(stretches).reshape(-1, 3)


def join_edges(many: list[Edges]) -> Edges:
    """Return the edges of several shapes as one set of columns."""
    empty = edges_of(Shape(), LineKind.GEODESIC)
    together = [empty, *many]
    return Edges(
        lon0_deg=np.concatenate([e.lon0_deg for e in together]),
        lat0_deg=np.concatenate([e.lat0_deg for e in together]),
        lon1_deg=np.concatenate([e.lon1_deg for e in together]),
        lat1_deg=np.concatenate([e.lat1_deg for e in together]),
        owner=np.concatenate([e.owner for e in together]),
        kind=np.concatenate([e.kind for e in together]),
    )
