"""How far shooting reaches back from a tow and hauling on from it, compiled: mark by mark, tow by tow."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from towzone.geodesy.compiling import compiled
from towzone.geodesy.ellipsoid import FloatArray
from towzone.tows.mark_loops import BoolArray, IntArray
from towzone.tows.speeds import SPEED_WINDOW_S

__all__ = ["Bounds", "Stretches", "back_from", "beside", "on_from", "surrounded"]

_SHORT_LEG_S = 300.0
"""Within shorter legs the change from one speed to another is not looked for. Own choice."""


class Stretches(NamedTuple):
    """What is looked at of a profile; see `towzone.tows.speeds.Profile`."""

    time_s: FloatArray
    gap: BoolArray
    lasts_s: FloatArray
    speed_kn: FloatArray


class Bounds(NamedTuple):
    """Between which speeds shooting or hauling goes on, for how long, and over gaps shorter than what."""

    least_kn: float
    top_kn: float
    longest_s: float
    gap_s: float


@compiled
def back_from(legs: Stretches, at: int, floor: int, bounds: Bounds) -> int:
    """Return the mark before which the gear was surely on board; see `around.begin_of_shooting`."""
    mark = at
    while mark > floor and legs.time_s[mark] > legs.time_s[at] - bounds.longest_s:
        if not _passable(legs, mark - 1, bounds):
            return mark - 1 if _mixed(legs, mark - 1) else mark
        mark -= 1
    return mark


@compiled
def on_from(legs: Stretches, at: int, ceiling: int, bounds: Bounds) -> int:
    """Return the mark after which the gear was surely on board; see `around.end_of_hauling`."""
    mark = at
    while mark < ceiling and legs.time_s[mark] < legs.time_s[at] + bounds.longest_s:
        if not _passable(legs, mark, bounds):
            return mark + 1 if _mixed(legs, mark) else mark
        mark += 1
    return mark


@compiled
def _passable(legs: Stretches, leg: int, bounds: Bounds) -> bool:
    """Return whether shooting and hauling may go on over a stretch; an unknown speed does not end them."""
    if legs.gap[leg]:
        return bool(legs.lasts_s[leg] < bounds.gap_s)
    speed_kn = legs.speed_kn[leg]
    return math.isnan(speed_kn) or bounds.least_kn <= speed_kn <= bounds.top_kn


@compiled
def _mixed(legs: Stretches, leg: int) -> bool:
    """Return whether a stretch is so long that two speeds may hide in its mean."""
    return not legs.gap[leg] and legs.lasts_s[leg] >= SPEED_WINDOW_S


@compiled
def surrounded(
    legs: Stretches, shoot: IntArray, haul: IntArray, shooting: Bounds, hauling: Bounds
) -> tuple[IntArray, IntArray]:
    """Return the marks outside which the gear was surely on board, of each tow.

    Shooting and hauling take longer by what of a long leg beside a tow was part of it; shooting ends hauling
    where they meet.

    Parameters
    ----------
    legs : Stretches
    shoot, haul : ndarray of int64, shape (k,)
        Marks where tows reach their speed and leave it, in order.
    shooting, hauling : Bounds
    """
    first, last = np.empty(len(shoot), np.int64), np.empty(len(shoot), np.int64)
    floor = 0
    for tow in range(len(shoot)):
        ceiling = shoot[tow + 1] if tow + 1 < len(shoot) else len(legs.gap)
        before_s = shooting.longest_s + _towed_beside_s(legs, shoot[tow] - 1, shoot[tow], shoot[tow] - 2)
        after_s = hauling.longest_s + _towed_beside_s(legs, haul[tow], haul[tow] - 1, haul[tow] + 1)
        reach = Bounds(shooting.least_kn, shooting.top_kn, before_s, shooting.gap_s)
        first[tow] = back_from(legs, shoot[tow], floor, reach)
        reach = Bounds(hauling.least_kn, hauling.top_kn, after_s, hauling.gap_s)
        floor = last[tow] = on_from(legs, haul[tow], ceiling, reach)
    return first, last


@compiled
def _towed_beside_s(legs: Stretches, leg: int, towing: int, other: int) -> float:
    """Return for how long a leg beside a tow was part of it, seconds, judged by its mean speed.

    With the speed ``a`` of the tow and ``b`` of what is on the other side, a mean of ``v`` is made up by a
    share of ``(v - b) / (a - b)``. Where that cannot be worked out it is all of the leg. For legs of
    `_SHORT_LEG_S` and less it is 0: as shooting and hauling are counted in whole legs, they come out right.

    Parameters
    ----------
    leg, towing, other : int
        Stretches: the long one, the one of the tow beside it, the one on its other side.
    """
    if not 0 <= leg < len(legs.gap) or legs.gap[leg] or legs.lasts_s[leg] <= _SHORT_LEG_S:
        return 0.0
    lasts_s = float(legs.lasts_s[leg])
    if not 0 <= other < len(legs.gap):
        return lasts_s
    v, a, b = float(legs.speed_kn[leg]), float(legs.speed_kn[towing]), float(legs.speed_kn[other])
    if math.isnan(v) or math.isnan(a) or math.isnan(b) or a == b:
        return lasts_s
    return lasts_s * min(max((v - b) / (a - b), 0.0), 1.0)


@compiled
def beside(legs: Stretches, first: IntArray, last: IntArray, shooting: Bounds, hauling: Bounds) -> BoolArray:
    """Return what may be shooting before, and hauling after, any of some runs of stretches."""
    found = np.zeros(len(legs.gap), np.bool_)
    for run in range(len(first)):
        found[back_from(legs, first[run], 0, shooting) : first[run]] = True
        found[last[run] : on_from(legs, last[run], len(legs.gap), hauling)] = True
    return found
