"""The deepest point of a path inside an area: where the nearest boundary is farthest away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from towzone.geodesy.approach import Approaches, Side, closest
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray, from_geocentric, to_geocentric
from towzone.geodesy.pieces import Pieces

__all__ = ["Deepest", "deepest"]

_RESOLUTION_M = 0.002
"""Own choice: the search stops when nothing can be deeper by more than this."""

_BLOCK = 256
"""Own choice: consecutive pieces looked at as one before any of them is looked at alone."""


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
        Stretches: pieces of the path, with the fractions where each begins and ends.
    edge : Side
        The boundary of the area (and maybe others).
    owner : int
        Which owner of `edge` the area is.

    Notes
    -----
    Branch and bound. Depth changes by no more than a metre a metre, which bounds whole blocks of pieces
    from one sample. Along one short straight piece the distance to any fixed bit of boundary is convex,
    so it is nowhere greater than at the worse of the two ends; the least such bound over the boundary
    nearest to either end bounds the depth of the piece.
    """
    search = _Search(path, edge, owner)
    stretches = _surviving_blocks(search, _Stretches(piece=piece, first=first, last=last))
    while len(stretches.piece):
        stretches = _halve(search, *search.bounded(stretches))
    return search.answer()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Stretches:
    piece: IntArray
    first: FloatArray
    last: FloatArray

    def pick(self, which: IntArray) -> _Stretches:
        return _Stretches(piece=self.piece[which], first=self.first[which], last=self.last[which])


class _Search:
    """Measures depths and remembers the best."""

    def __init__(self, path: Pieces, edge: Side, owner: int) -> None:
        self._path, self._edge, self._owner = path, edge, owner
        self._best: Deepest | None = None

    @property
    def best_m(self) -> float:
        return -1.0 if self._best is None else self._best.depth_m

    def answer(self) -> Deepest:
        if self._best is None:
            message = "no stretch to search"
            raise ValueError(message)
        return self._best

    def measure(self, piece: IntArray, part: FloatArray) -> Approaches:
        """Return the nearest boundary of points on the path."""
        start, end = self._path.start_m[piece], self._path.end_m[piece]
        # Through degrees and back: that is the surface point to the last bit.
        lon, lat = from_geocentric(start + part[:, None] * (end - start))
        found = _points_to_boundary(lon, lat, self._edge, self._owner)
        deepest_one = int(np.argmax(found.distance_m))
        if found.distance_m[deepest_one] > self.best_m:
            self._best = Deepest(
                depth_m=float(found.distance_m[deepest_one]),
                piece=int(piece[deepest_one]),
                part=float(part[deepest_one]),
                lon_deg=float(lon[deepest_one]),
                lat_deg=float(lat[deepest_one]),
                edge_lon_deg=float(found.edge_lon_deg[deepest_one]),
                edge_lat_deg=float(found.edge_lat_deg[deepest_one]),
            )
        return found

    def travelled(self, stretches: _Stretches) -> tuple[FloatArray, FloatArray]:
        """Return how far a walk over all stretches has come where each begins and ends.

        Jumps from one stretch to the next are walked too, so that depth cannot change by more than
        the difference of two values.
        """
        start, end = self._path.start_m[stretches.piece], self._path.end_m[stretches.piece]
        begin = start + stretches.first[:, None] * (end - start)
        finish = start + stretches.last[:, None] * (end - start)
        steps = np.zeros(2 * len(begin))
        steps[1::2] = np.sqrt(((finish - begin) ** 2).sum(axis=1))
        steps[2::2] = np.sqrt(((begin[1:] - finish[:-1]) ** 2).sum(axis=1))
        # An arc is longer than its chord, but never by more than this factor (half a turn, flattened).
        walked = np.cumsum(1.6 * steps)
        return walked[0::2], walked[1::2]

    def bounded(self, stretches: _Stretches) -> tuple[_Stretches, FloatArray]:
        """Measure both ends of stretches; return them with upper bounds of the depth on each."""
        piece = stretches.piece
        at_first = self.measure(piece, stretches.first)
        at_last = self.measure(piece, stretches.last)
        to_far = self._to_pieces(piece, stretches.last, at_first.edge_piece)
        to_near = self._to_pieces(piece, stretches.first, at_last.edge_piece)
        upper = np.minimum(np.maximum(at_first.distance_m, to_far), np.maximum(at_last.distance_m, to_near))
        return stretches, upper

    def _to_pieces(self, piece: IntArray, part: FloatArray, edge_piece: IntArray) -> FloatArray:
        """Return the distance from points on the path to given boundary pieces, pair by pair."""
        start, end = self._path.start_m[piece], self._path.end_m[piece]
        lon, lat = from_geocentric(start + part[:, None] * (end - start))
        each = np.arange(len(piece))
        target = Side.of(_single_pieces(self._edge.pieces, edge_piece), len(piece))
        found = closest(_points(lon, lat), each, target, each, np.full(len(piece), np.inf))
        return found.distance_m


def _points(lon_deg: FloatArray, lat_deg: FloatArray) -> Side:
    xyz = to_geocentric(lon_deg, lat_deg)
    return Side.of(Pieces.each_alone(xyz, xyz), len(xyz))


def _single_pieces(pieces: Pieces, which: IntArray) -> Pieces:
    return Pieces(
        start_m=pieces.start_m[which],
        end_m=pieces.end_m[which],
        edge=pieces.edge[which],
        from_part=pieces.from_part[which],
        to_part=pieces.to_part[which],
        owner=np.arange(len(which)),
        swell_m=pieces.swell_m[which],
    )


def _points_to_boundary(lon_deg: FloatArray, lat_deg: FloatArray, edge: Side, owner: int) -> Approaches:
    n = len(lon_deg)
    return closest(
        _points(lon_deg, lat_deg), np.arange(n), edge, np.full(n, owner, dtype=np.int64), np.full(n, np.inf)
    )


def _surviving_blocks(search: _Search, stretches: _Stretches) -> _Stretches:
    """Return the stretches that may hold the deepest point, after a coarse look at blocks of them."""
    begun_m, ended_m = search.travelled(stretches)
    keep = np.arange(len(stretches.piece))
    size = _BLOCK
    while size > 1 and len(keep) > size:
        begins = np.arange(0, len(keep), size)
        ends = np.minimum(begins + size, len(keep))
        sample = keep[(begins + ends) // 2]
        found = search.measure(stretches.piece[sample], stretches.first[sample])
        radius_m = np.maximum(
            ended_m[keep[ends - 1]] - begun_m[sample], begun_m[sample] - begun_m[keep[begins]]
        )
        alive = found.distance_m + radius_m > search.best_m + _RESOLUTION_M
        keep = keep[np.repeat(alive, ends - begins)]
        size //= 4
    return stretches.pick(keep)


def _halve(search: _Search, stretches: _Stretches, upper: FloatArray) -> _Stretches:
    """Return the halves of the stretches that may still hold something deeper."""
    alive = np.flatnonzero(upper > search.best_m + _RESOLUTION_M)
    open_ = stretches.pick(alive)
    middle = (open_.first + open_.last) / 2.0
    return _Stretches(
        piece=np.concatenate([open_.piece, open_.piece]),
        first=np.concatenate([open_.first, middle]),
        last=np.concatenate([middle, open_.last]),
    )
