"""The least and greatest clearance of a strand from one zone, in every column of a drawing.

Outside the zone the least is that of the exact closest approach. On its wrong side it is the greatest depth,
which is searched for until nothing can be deeper by more than `towzone.record.curve_depth.TOLERANCE_M`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from towzone.checks.passages import CONTACT_M
from towzone.geodesy.approach import Approaches, Side, closest
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.record.curve_depth import BoolArray, Question, Sides, deepest_by_column, intervals_of, wrong_side
from towzone.record.curve_strands import Strand

__all__ = ["Columns", "State", "columns_near", "least_of", "measure_columns", "nothing"]


class State:
    """What is known of a column: nothing, or its clearance is above, within or below what is drawn."""

    NOTHING, ABOVE, WITHIN, BELOW = range(4)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Columns:
    """Clearances by columns, shape ``(n,)`` each.

    Parameters
    ----------
    state : ndarray of int
        See `State`.
    least_m, most_m : ndarray
        Signed clearances, negative on the wrong side of the boundary; 0 where the state is not ``WITHIN``.
    place : ndarray
        Where on the track the least is.
    """

    state: IntArray
    least_m: FloatArray
    most_m: FloatArray
    place: FloatArray


def columns_near(ask: Question, width: int, within_m: tuple[float, float]) -> BoolArray:
    """Return which columns of a whole strand have clearances between two, on some of its paths."""
    owners = ask.strand.owners(width, 0, ask.strand.columns // width)
    found = _closest(ask, ask.strand.side(width), owners, within_m)
    return np.asarray(np.isfinite(found.distance_m).reshape(ask.strand.paths, -1).any(axis=0))


def _closest(ask: Question, side: Side, owners: IntArray, within_m: tuple[float, float]) -> Approaches:
    cutoff_m = max(within_m[1], -within_m[0]) + ask.zone.radius_m
    number = np.full(len(owners), ask.number)
    return closest(side, owners, ask.edge, number, np.full(len(owners), cutoff_m))


def measure_columns(
    ask: Question, width: int, span: tuple[int, int], within_m: tuple[float, float], *, band: bool = True
) -> Columns:
    """Return the clearances of a strand from a zone, of its paths one after the other.

    Parameters
    ----------
    width : int
        How many of the finest columns make one.
    span : tuple of int
        First column, and the one after the last.
    within_m : tuple of float
        The least and greatest clearance that is drawn; beyond them nothing is measured exactly.
    band : bool
        Whether the greatest clearances are asked for too; if not, they are the least.
    """
    strand, zone, side = ask.strand, ask.zone, ask.strand.side(width)
    columns = strand.owners(width, *span)
    held = side.tree.root[columns] >= 0
    found = _closest(ask, side, columns, within_m)
    near = np.isfinite(found.distance_m)
    lows, highs = np.searchsorted(side.pieces.owner, [columns, columns + 1])
    wrong = np.zeros(len(columns), dtype=bool)
    wrong[held] = wrong_side(ask, side.pieces.start_m[lows[held]])
    # Where the path meets the boundary, or jumps, a column may lie on both sides of it.
    either = near & zone.shape.is_area
    either &= (found.distance_m <= CONTACT_M) | _jumps(strand, lows, highs)
    state = np.where(held, np.where(wrong, State.BELOW, State.ABOVE), State.NOTHING)
    state[near] = State.WITHIN
    least_m = np.where(near, found.distance_m, 0.0)
    most_m, place = np.array(least_m), np.zeros(len(columns))
    place[near] = strand.place(found.path_piece[near], found.path_part[near])
    deep = near & (wrong | either)
    some = np.flatnonzero(near if band else deep)
    if len(some):
        open_ = intervals_of(ask, some, lows, highs, Sides(wrong, either))
        most_m[deep] = -np.inf
        np.maximum.at(most_m, open_.column, -np.minimum(open_.depth0, open_.depth1))
        open_ = open_.pick(deep[open_.column])
        depth_m, at = deepest_by_column(ask, open_, Sides(wrong, either), -within_m[0])
        below = depth_m > 0.0
        least_m[below], place[below] = -depth_m[below], at[below]
    return Columns(
        state=state.astype(np.int64),
        least_m=np.where(near, least_m - zone.radius_m, 0.0),
        most_m=np.where(near, np.maximum(most_m, least_m) - zone.radius_m, 0.0),
        place=place,
    )


def _jumps(strand: Strand, lows: IntArray, highs: IntArray) -> BoolArray:
    """Return which columns hold a jump."""
    jumps = np.append(0, np.cumsum(~strand.follows))
    return np.asarray(jumps[highs] - jumps[np.minimum(lows + 1, highs)] > 0)


def nothing(count: int) -> Columns:
    """Return columns of which nothing is known."""
    none = np.zeros(count)
    return Columns(state=np.zeros(count, dtype=np.int64), least_m=none, most_m=none, place=none)


def least_of(paths: Columns, count: int) -> Columns:
    """Return the least over paths that lie one after the other in so many columns each."""
    state, least, most, place = (
        column.reshape(-1, count) for column in (paths.state, paths.least_m, paths.most_m, paths.place)
    )
    within = state == State.WITHIN
    least, most = (np.where(within, column, np.inf) for column in (least, most))
    nearest = least.argmin(axis=0)[None]
    any_within = within.any(axis=0)
    low = np.where(any_within, least.min(axis=0), 0.0)
    return Columns(
        state=state.max(axis=0),
        least_m=low,
        most_m=np.where(any_within, np.maximum(most.min(axis=0), low), 0.0),
        place=np.take_along_axis(place, nearest, axis=0)[0],
    )
