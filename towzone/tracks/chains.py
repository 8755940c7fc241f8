"""Which runs of fixes tell one story: the cheapest way through a track that is torn by impossible steps.

A track is cut into runs where a step was impossible. Either a run is left out, which costs its fixes, and
only where those before and after it agree with each other; or the step stays, which costs a fixed sum.
The cheapest choice leaves out what stands aside and keeps two long halves that cannot both be true.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from towzone.geodesy.ellipsoid import to_geocentric
from towzone.tracks.possible import BoolArray, FloatArray, IntArray, Possible
from towzone.units import KNOT_MPS

__all__ = ["agreeing", "best_chain"]

_PAIRS = 5_000_000
_LEAST_WINDOW = 32
"""Own choices: pairs of runs compared at the most (seconds of work), and how many runs back at the least:
a piece of a track torn into more runs than that at a stretch is not bridged, only broken off."""

_AGREEING = 3
"""Own choice: one or two stretches aside are within reach of each other by chance, or after long enough;
so many in a row, or so many fixes in two that chance does not explain, are a story of their own."""

_FROM_THE_START = -1


def best_chain(
    possible: Possible,
    first: IntArray,
    last: IntArray,
    *,
    may_begin: BoolArray,
    may_end: BoolArray,
    step_cost: float,
) -> BoolArray:
    """Return which runs to keep.

    Parameters
    ----------
    possible : Possible
    first, last : ndarray of int, shape (r,)
        First and last fix of each run, in order, together all fixes.
    may_begin, may_end : ndarray of bool, shape (r,)
        Whether the track may begin (end) with a run, those before (after) it left out.
    step_cost : float
        Cost of keeping an impossible step, in fixes.

    Returns
    -------
    ndarray of bool, shape (r,)
        Of equal costs the one that leaves less out.

    Notes
    -----
    A shortest path over runs, ``O(r w)`` with a window of ``w`` runs: all of them up to some thousands.
    """
    runs = len(first)
    window = max(_LEAST_WINDOW, _PAIRS // runs)
    passed = np.concatenate([[0], np.cumsum(last - first + 1)]).astype(np.float64)
    reached = _reached(possible, first, last)
    cost = np.empty(runs)
    came_from = np.empty(runs, dtype=np.int64)
    # What a run has cost, less all fixes up to it: leaving out those in between is then one addition.
    saved = np.empty(runs)
    for run in range(runs):
        best, via = (passed[run], _FROM_THE_START) if run == 0 or may_begin[run] else (np.inf, run - 1)
        if run and cost[run - 1] + step_cost <= best:
            best, via = cost[run - 1] + step_cost, run - 1
        low = max(0, run - window)
        cheaper = low + np.flatnonzero(saved[low : max(0, run - 1)] + passed[run] < best)
        if len(cheaper):
            cheaper = cheaper[reached(cheaper, run)]
        if len(cheaper):
            via = int(cheaper[::-1][np.argmin(saved[cheaper][::-1])])
            best = saved[via] + passed[run]
        cost[run], came_from[run] = best, via
        saved[run] = best - passed[run + 1]
    whole = np.where(may_end, cost + passed[-1] - passed[1:], np.inf)
    whole[-1] = cost[-1]
    return _followed_back(came_from, runs - 1 - int(np.argmin(whole[::-1])))


def agreeing(possible: Possible, first: IntArray, last: IntArray) -> bool:
    """Return whether stretches of fixes that stand aside agree with each other.

    They do when `_AGREEING` of them in a row could each be reached from the one before, in the time
    between: a second vessel or receiver is mixed into the track. Two are enough if they have as many
    fixes and there was no time to go back to the other fixes in between. Stretches at the very same
    position count once, for a receiver without a fix may write one place again and again.

    Parameters
    ----------
    possible : Possible
    first, last : ndarray of int, shape (s,)
        First and last fix of each stretch, in order.
    """
    end, begin = last[:-1], first[1:]
    lon_deg, lat_deg = possible.lon_deg, possible.lat_deg
    moved = (lon_deg[end] != lon_deg[begin]) | (lat_deg[end] != lat_deg[begin])
    reached = possible.between(end, begin)
    story = np.cumsum(~reached)
    if (np.bincount(story[reached & moved]) >= _AGREEING - 1).any():
        return True
    way_m = possible.speed_kn * KNOT_MPS * possible.most_s(end, begin) + possible.slack_m
    no_chance = possible.apart_m(end, end + 1) + possible.apart_m(begin - 1, begin) > way_m
    fixes = last - first + 1
    return bool((reached & moved & no_chance & (fixes[:-1] + fixes[1:] >= _AGREEING)).any())


def _followed_back(came_from: IntArray, run: int) -> BoolArray:
    kept: npt.NDArray[np.bool_] = np.zeros(len(came_from), dtype=bool)
    while run != _FROM_THE_START:
        kept[run] = True
        run = int(came_from[run])
    return kept


def _reached(possible: Possible, first: IntArray, last: IntArray) -> Callable[[IntArray, int], BoolArray]:
    """Return the test whether a run could be reached from the ends of earlier ones."""
    begins_m = to_geocentric(possible.lon_deg[first], possible.lat_deg[first])
    ends_m = to_geocentric(possible.lon_deg[last], possible.lat_deg[last])
    begins_us, ends_us = possible.latest_us[first], possible.earliest_us[last]
    speed_mps = possible.speed_kn * KNOT_MPS

    def reached(earlier: IntArray, run: int) -> BoolArray:
        apart_m = np.sqrt(((ends_m[earlier] - begins_m[run]) ** 2).sum(axis=1))
        most_s: FloatArray = (begins_us[run] - ends_us[earlier]) / 1e6
        return np.asarray(apart_m <= speed_mps * most_s + possible.slack_m)

    return reached
