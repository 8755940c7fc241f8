"""The least and greatest clearance of a strand from one zone, in every column of a drawing.

Outside the zone the least is that of the exact closest approach. On its wrong side it is the greatest depth,
which is searched for until nothing can be deeper by more than `towzone.record.curves.depth.TOLERANCE_M`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from towzone.checks.passages import CONTACT_M
from towzone.geodesy.approach import closest
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray
from towzone.record.curves.depth import (
    SAMPLES,
    BoolArray,
    Question,
    deepest_by_column,
    intervals_of,
    least_of_columns,
    wrong_side,
)

__all__ = ["Columns", "State", "Window", "columns_near", "least_of", "measure_columns", "nothing"]


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Window:
    """The columns of a drawing: each of so many of the finest, the first, and the one after the last.

    ``near`` tells of each whether its clearance may be within what is drawn.
    """

    width: int
    first: int
    last: int
    near: BoolArray


def columns_near(ask: Question, width: int, within_m: tuple[float, float]) -> BoolArray:
    """Return which columns of a whole strand have clearances between two, on some of its paths."""
    owners = ask.strand.owners(width, 0, ask.strand.columns // width)
    cutoff_m = np.full(len(owners), _cutoff_m(ask, within_m))
    found = closest(ask.strand.side(width), owners, ask.edge, np.full(len(owners), ask.number), cutoff_m)
    return np.asarray(np.isfinite(found.distance_m).reshape(ask.strand.paths, -1).any(axis=0))


def _cutoff_m(ask: Question, within_m: tuple[float, float]) -> float:
    return max(within_m[1], -within_m[0]) + ask.zone.radius_m


def measure_columns(
    ask: Question, window: Window, within_m: tuple[float, float], samples: int = SAMPLES
) -> Columns:
    """Return the clearances of a strand from a zone, of its paths one after the other.

    Parameters
    ----------
    within_m : tuple of float
        The least and greatest clearance that is drawn; beyond them nothing is measured exactly.
    samples : int
        From how many positions of a column its greatest clearance is taken, at least.
    """
    side, owners = ask.strand.side(window.width), ask.strand.owners(window.width, window.first, window.last)
    cutoff_m, count = _cutoff_m(ask, within_m), len(owners)
    lows, highs = np.searchsorted(side.pieces.owner, [owners, owners + 1])
    held = highs > lows
    state = np.where(held, State.ABOVE, State.NOTHING)
    state[held] = np.where(wrong_side(ask, ask.strand.pieces.start_m[lows[held]]), State.BELOW, State.ABOVE)
    maybe = np.flatnonzero(held & np.tile(window.near, ask.strand.paths))
    least_m, most_m, place = np.zeros(count), np.zeros(count), np.zeros(count)
    if len(maybe):
        some = intervals_of(ask, maybe, lows, highs, samples)
        nearest_m = least_of_columns(some, np.minimum(np.abs(some.depth0), np.abs(some.depth1)), count)
        deep = least_of_columns(some, -np.maximum(some.depth0, some.depth1), count) < 0.0
        # What is on the wrong side somewhere is told by its depth, not by how near it came.
        state[deep] = np.where(nearest_m[deep] <= cutoff_m, State.WITHIN, State.BELOW)
        asked = maybe[~deep[maybe]]
        bound_m = np.minimum(nearest_m[asked], cutoff_m)
        found = closest(side, owners[asked], ask.edge, np.full(len(asked), ask.number), bound_m)
        near = np.isfinite(found.distance_m)
        state[asked[near]], least_m[asked[near]] = State.WITHIN, found.distance_m[near]
        place[asked[near]] = ask.strand.place(found.path_piece[near], found.path_part[near])
        deep[asked[near][found.distance_m[near] <= CONTACT_M]] = ask.zone.shape.is_area
        depth_m, at = deepest_by_column(
            ask, some.pick((deep & _within(state))[some.column]), count, -within_m[0]
        )
        below = depth_m > 0.0
        least_m[below], place[below] = -depth_m[below], at[below]
        most_m = -least_of_columns(some, np.minimum(some.depth0, some.depth1), count)
    return Columns(
        state=state.astype(np.int64),
        least_m=np.where(_within(state), least_m - ask.zone.radius_m, 0.0),
        most_m=np.where(_within(state), np.maximum(most_m, least_m) - ask.zone.radius_m, 0.0),
        place=place,
    )


def _within(state: IntArray) -> BoolArray:
    return np.asarray(state == State.WITHIN)


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
