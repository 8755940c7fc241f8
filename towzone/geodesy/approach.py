"""Closest approach of paths to boundaries: exact, and only where it can matter.

Both sides come as `Pieces` with a `Tree`. A search walks down both trees together, in compiled code
(`searches`); pairs whose boxes are proved farther apart than needed are dropped unseen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.errors import GeometryError
from towzone.geodesy import reach_search, searches
from towzone.geodesy.compiling import solid
from towzone.geodesy.edges import Edges, IntArray
from towzone.geodesy.ellipsoid import FloatArray, from_geocentric
from towzone.geodesy.lines import WGS84, LineKind
from towzone.geodesy.pieces import Pieces, cut
from towzone.geodesy.tree import Tree, grow
from towzone.geodesy.walks import SLACK_M

__all__ = ["Approaches", "Reaches", "Side", "clearances", "closest", "detours", "near_pairs", "reaches"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Side:
    """One side of a search: pieces and their tree."""

    pieces: Pieces
    tree: Tree

    @classmethod
    def of(cls, pieces: Pieces, owners: int) -> Side:
        """Return pieces with a tree grown over them."""
        return cls(pieces=pieces, tree=grow(pieces, owners))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Approaches:
    """Closest approaches, as columns of shape ``(n,)``.

    ``distance_m`` is on the ellipsoid, 0 where the two cross, infinite where nothing lies within the
    cutoff; then the other columns hold NaN and the pieces -1.
    """

    distance_m: FloatArray
    path_piece: IntArray
    path_part: FloatArray
    path_lon_deg: FloatArray
    path_lat_deg: FloatArray
    edge_piece: IntArray
    edge_lon_deg: FloatArray
    edge_lat_deg: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reaches:
    """Stretches of paths within a limit of boundaries, as columns.

    ``pair`` numbers the (path owner, boundary owner) pair asked for; a stretch runs from the fraction
    ``first`` of ``path_piece`` to the fraction ``last`` of ``last_piece``, over all pieces between.
    """

    pair: IntArray
    path_piece: IntArray
    last_piece: IntArray
    first: FloatArray
    last: FloatArray

    def each_piece(self) -> Reaches:
        """Return the same stretches, each of one piece."""
        counts = self.last_piece - self.path_piece + 1
        row = np.repeat(np.arange(len(counts)), counts)
        piece = self.path_piece[row] + np.arange(len(row)) - (np.cumsum(counts) - counts)[row]
        return Reaches(
            pair=self.pair[row],
            path_piece=piece,
            last_piece=piece,
            first=np.where(piece == self.path_piece[row], self.first[row], 0.0),
            last=np.where(piece == self.last_piece[row], self.last[row], 1.0),
        )


def clearances(
    path_kind: LineKind,
    path_lon0_deg: npt.ArrayLike,
    path_lat0_deg: npt.ArrayLike,
    path_lon1_deg: npt.ArrayLike,
    path_lat1_deg: npt.ArrayLike,
    edge_kind: LineKind,
    edge_lon0_deg: npt.ArrayLike,
    edge_lat0_deg: npt.ArrayLike,
    edge_lon1_deg: npt.ArrayLike,
    edge_lat1_deg: npt.ArrayLike,
) -> Approaches:
    """Return the closest approach of each path leg to the edge at the same place in the columns.

    Raises
    ------
    GeometryError
        As `towzone.geodesy.lines.inverse`.

    Notes
    -----
    Accuracy: 1 cm for clearances to 20 nmi, edges to 300 nmi, latitudes to 85 degrees (tests/oracle).
    """
    path = _pairwise_side(path_kind, path_lon0_deg, path_lat0_deg, path_lon1_deg, path_lat1_deg)
    edge = _pairwise_side(edge_kind, edge_lon0_deg, edge_lat0_deg, edge_lon1_deg, edge_lat1_deg)
    each = np.arange(len(path.tree.root))
    return closest(path, each, edge, each, np.full(len(each), np.inf))


def _pairwise_side(
    kind: LineKind, lon0: npt.ArrayLike, lat0: npt.ArrayLike, lon1: npt.ArrayLike, lat1: npt.ArrayLike
) -> Side:
    columns = [np.atleast_1d(np.asarray(c, dtype=np.float64)) for c in (lon0, lat0, lon1, lat1)]
    n = len(columns[0])
    edges = Edges(
        lon0_deg=columns[0],
        lat0_deg=columns[1],
        lon1_deg=columns[2],
        lat1_deg=columns[3],
        owner=np.arange(n),
        kind=np.full(n, kind, dtype=object),
    )
    return Side.of(cut(edges), n)


def near_pairs(path: Side, edge: Side, cutoff_m: npt.ArrayLike) -> tuple[IntArray, IntArray]:
    """Return the pairs of owners that may come within a cutoff of each other.

    Parameters
    ----------
    cutoff_m : array_like, scalar or shape (edge owners,)

    Returns
    -------
    path_owner, edge_owner : ndarray of int
        In order. Every pair that is not in the answer is proved farther apart.

    Raises
    ------
    GeometryError
        A cutoff is no number.
    """
    path_order, edge_order = np.flatnonzero(path.tree.root >= 0), _neighbourly(edge.tree)
    if not (len(path_order) and len(edge_order)):
        return path_order[:0], edge_order[:0]
    each_m = solid(np.broadcast_to(cutoff_m, len(edge.tree.root)))
    outcome, owners = searches.near_owners(path.tree, path_order, edge.tree, edge_order, each_m)
    _insist(outcome)
    order = np.lexsort((owners[:, 1], owners[:, 0]))
    return owners[order, 0], owners[order, 1]


def _neighbourly(tree: Tree) -> IntArray:
    """Return the owners with pieces in an order in which neighbours lie close together."""
    owners = np.flatnonzero(tree.root >= 0)
    return owners[np.argsort(searches.places_along_curve(tree, owners), kind="stable")]


def _insist(outcome: int) -> None:
    """Stop at a distance or a limit that is no number: compared with another it would pass for far away."""
    if outcome == searches.NO_NUMBER:
        message = "a distance could not be computed"
        raise GeometryError(message)
    if outcome == searches.NO_OWNER:
        message = "an owner is not there, or has more than one piece"
        raise IndexError(message)


def closest(
    path: Side, path_owner: IntArray, edge: Side, edge_owner: IntArray, cutoff_m: FloatArray
) -> Approaches:
    """Return the closest approach for each pair of owners, none beyond its cutoff.

    Parameters
    ----------
    path_owner, edge_owner : ndarray of int, shape (n,)
    cutoff_m : ndarray, shape (n,)
        May be infinite.

    Raises
    ------
    GeometryError
        A distance could not be computed, or a cutoff is no number.

    Notes
    -----
    Of equal distances the earliest on the path wins, so that the order of search leaves no trace.
    """
    a, b, bound_m = solid(path_owner, np.int64), solid(edge_owner, np.int64), solid(cutoff_m)
    outcome, distance_m, path_piece, edge_piece, places, far = searches.closest_pairs(
        path.tree, a, edge.tree, b, bound_m
    )
    _insist(outcome)
    if far.any():
        _settle_far(
            path, a, edge, b, bound_m, np.flatnonzero(far), distance_m, path_piece, edge_piece, places
        )
    return Approaches(
        distance_m=distance_m,
        path_piece=path_piece,
        path_part=places[:, 0],
        path_lon_deg=places[:, 1],
        path_lat_deg=places[:, 2],
        edge_piece=edge_piece,
        edge_lon_deg=places[:, 3],
        edge_lat_deg=places[:, 4],
    )


def _settle_far(
    path: Side,
    path_owner: IntArray,
    edge: Side,
    edge_owner: IntArray,
    cutoff_m: FloatArray,
    which: IntArray,
    distance_m: FloatArray,
    path_piece: IntArray,
    edge_piece: IntArray,
    places: FloatArray,
) -> None:
    """Measure far pairs again with exact geodesics: every pair of pieces that may be the nearest."""
    found = path_piece[which] >= 0
    bound_m = np.minimum(cutoff_m[which], np.where(found, _exact(places[which, 1:]), np.inf))
    outcome, pieces, measured = searches.measured_within(
        path.tree, path_owner[which], edge.tree, edge_owner[which], bound_m
    )
    _insist(outcome)
    far = measured[:, 0] > searches.FAR_M
    measured[far, 0] = _exact(measured[far, 2:])
    near = measured[:, 0] <= bound_m[pieces[:, 0]] + SLACK_M
    pieces, measured = pieces[near], measured[near]
    order = np.lexsort((pieces[:, 2], measured[:, 1], pieces[:, 1], measured[:, 0], pieces[:, 0]))
    first = order[np.flatnonzero(np.diff(pieces[order, 0], prepend=-1))]
    distance_m[which], path_piece[which], edge_piece[which], places[which] = np.inf, -1, -1, np.nan
    mine = which[pieces[first, 0]]
    path_piece[mine], edge_piece[mine] = pieces[first, 1], pieces[first, 2]
    distance_m[mine], places[mine] = measured[first, 0], measured[first, 1:]


def _exact(ends_deg: FloatArray) -> FloatArray:
    """Return geodesic lengths between rows of longitude, latitude, longitude, latitude; NaN stays NaN."""
    columns = np.ascontiguousarray(ends_deg.T)
    _, _, length_m = WGS84.inv(*columns)
    return np.asarray(length_m)


def reaches(
    path: Side, path_owner: IntArray, edge: Side, edge_owner: IntArray, limit_m: FloatArray
) -> Reaches:
    """Return where paths are within a limit of boundaries.

    Parameters
    ----------
    limit_m : ndarray, shape (n,)
        For each pair of owners; finite.

    Returns
    -------
    Reaches
        Sorted by pair, then along the path; stretches that follow each other may overlap or touch. Where one
        owner has several strings of pieces, a stretch may run from one string into the next.

    Raises
    ------
    GeometryError
        A distance could not be computed, or a limit is not finite.
    """
    outcome, runs, parts = reach_search.reached_runs(
        path.tree, solid(path_owner, np.int64), edge.tree, solid(edge_owner, np.int64), solid(limit_m)
    )
    _insist(outcome)
    return Reaches(
        pair=runs[:, 0],
        path_piece=runs[:, 1],
        last_piece=runs[:, 2],
        first=parts[:, 0],
        last=parts[:, 1],
    )


def detours(
    path: Side, path_owner: IntArray, edge: Side, edge_owner: IntArray, budget_m: FloatArray
) -> FloatArray:
    """Return the shortest way between the two ends of a path that touches a boundary, pair by pair.

    Parameters
    ----------
    path
        Each owner is one piece: its ends are the foci of an ellipse.
    budget_m : ndarray, shape (n,)
        Ways longer than this are not looked for.

    Returns
    -------
    ndarray, shape (n,)
        Metres on the ellipsoid; infinite where every way is longer than the budget.

    Raises
    ------
    GeometryError
        A way could not be computed, or a budget is no number.
    """
    a, b, bound_m = solid(path_owner, np.int64), solid(edge_owner, np.int64), solid(budget_m)
    outcome, pair, ways = searches.touching_ways(path.tree, a, edge.tree, b, bound_m, False)
    _insist(outcome)
    best_m = np.full(len(a), np.inf)
    best_m[pair] = ways[:, 0]
    far = np.flatnonzero(ways[:, 0] > searches.FAR_M)
    if len(far):
        # Every piece of a boundary that may be touched on a shorter way is measured with exact geodesics.
        which = pair[far]
        longest_m = np.minimum(bound_m[which], _exact_ways(path, a[which], ways[far]))
        outcome, row, ways = searches.touching_ways(path.tree, a[which], edge.tree, b[which], longest_m, True)
        _insist(outcome)
        best_m[which] = np.inf
        np.minimum.at(best_m, which[row], _exact_ways(path, a[which[row]], ways))
    return np.where(best_m <= bound_m, best_m, np.inf)


def _exact_ways(path: Side, owner: IntArray, ways: FloatArray) -> FloatArray:
    """Return the geodesic lengths of ways from one end of paths over places to their other ends."""
    piece = path.tree.root[owner]
    start = np.stack(from_geocentric(path.pieces.start_m[piece]), axis=1)
    end = np.stack(from_geocentric(path.pieces.end_m[piece]), axis=1)
    touch = ways[:, 1:]
    return _exact(np.hstack([start, touch])) + _exact(np.hstack([touch, end]))
