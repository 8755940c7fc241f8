"""The least and greatest clearance of a strand from one zone, in every column of a drawing.

Outside the zone the least is that of the exact closest approach. On its wrong side it is the greatest depth,
which is searched for until nothing can be deeper by more than `towzone.record.curve_depth.TOLERANCE_M`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from towzone.checks.passages import CONTACT_M
from towzone.geodesy.approach import closest, near_pairs
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.record.curve_depth import BoolArray, Question, Sides, deepest_by_column, intervals_of, wrong_side
from towzone.record.curve_strands import Strand

__all__ = ["Columns", "State", "columns_near", "measure_columns"]


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
    """Return which columns of a whole strand may have clearances between two."""
    cutoff_m = np.full(len(ask.boundaries.regions), _cutoff_m(ask, within_m))
    near = np.zeros(-(-ask.strand.columns // width), dtype=bool)
    near[near_pairs(ask.strand.side(width), ask.edge, cutoff_m)[0]] = True
    return near


def _cutoff_m(ask: Question, within_m: tuple[float, float]) -> float:
    return max(within_m[1], -within_m[0]) + ask.zone.radius_m


def measure_columns(
    ask: Question, width: int, span: tuple[int, int], within_m: tuple[float, float], *, band: bool = True
) -> Columns:
    """Return the clearances of a strand from a zone.

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
    columns = np.arange(*span)
    held = side.tree.root[columns] >= 0
    cutoff_m = np.full(len(columns), _cutoff_m(ask, within_m))
    found = closest(side, columns, ask.edge, np.full(len(columns), ask.number), cutoff_m)
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
