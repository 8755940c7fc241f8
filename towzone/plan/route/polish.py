"""A way made better: corners moved, taken out and put together while vessel and gear keep clear."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np

from towzone.geodesy.ellipsoid import FloatArray
from towzone.plan.route.footprint import SHARPEST_DEG
from towzone.plan.route.room import Leg, Room, course_of, turn_between
from towzone.plan.route.wanted import Wanted

__all__ = ["Way", "polished"]

_STEPS = (1.0, 0.5, 0.25, 0.12, 0.06, 0.03, 0.015)
"""Steps by which corners are moved, in laybacks, one after the other. Own choice."""

_SWEEPS = 6
"""How often all corners are moved by one step at the most. Own choice."""

_WEIGHT = 25.0
"""Metres of way that a metre too little clearance is counted as. Own choice."""

_GAIN_M = 0.2
_DIRECTIONS = 8
_TURN_M = 30.0
"""Metres that a degree of turn too much is counted as, and a share of a leg too short by the metre."""

Point = tuple[float, float]


class Way:
    """Corners, and what each leg costs and lacks."""

    def __init__(self, room: Room, wanted: Wanted, least_leg_m: float) -> None:
        self.room, self.wanted, self.least_leg_m = room, wanted, least_leg_m
        self._known: dict[tuple[object, ...], float] = {}

    def cost(self, points: Sequence[Point]) -> float:
        """Return what a way costs, whether it is clear or not."""
        return sum(self.wanted.cost(self.room, a, b) for a, b in itertools.pairwise(points))

    def lack(self, points: Sequence[Point]) -> float:
        """Return by how much a way fails: metres of clearance, legs too short, turns too sharp; 0 if not."""
        total, earlier, last_course = 0.0, 0.0, 0.0
        for n, (a, b) in enumerate(itertools.pairwise(points)):
            length, course = self.room.true_m(a, b), course_of(a, b)
            if length < 1.0:
                return math.inf
            if len(points) > 2:
                total += max(self.least_leg_m - length, 0.0)
            turn = turn_between(last_course, course) if n else 0.0
            total += max(abs(turn) - SHARPEST_DEG + 0.02, 0.0) * _TURN_M
            off = turn + earlier
            total += self._leg_lack(
                Leg(start=a, end=b, turn_deg=off, first=n == 0, last=n == len(points) - 2)
            )
            earlier, last_course = self.room.residual_deg(off, length), course
        return total

    def _leg_lack(self, leg: Leg) -> float:
        key = (leg.start, leg.end, round(leg.turn_deg, 2), leg.first, leg.last)
        if key not in self._known:
            self._known[key] = sum(lack for _, lack in self.room.lacks(leg))
        return self._known[key]

    def worth(self, points: Sequence[Point], below: float) -> float:
        """Return what a way costs with what it lacks; not all of it where the cost alone is not below."""
        cost = self.cost(points)
        return cost if cost >= below else cost + _WEIGHT * self.lack(points)


def polished(way: Way, xy_m: FloatArray) -> FloatArray:
    """Return a way that is no worse, and nearly the best of its kind; both ends stay."""
    points: list[Point] = [(float(x), float(y)) for x, y in xy_m]
    step_m = way.room.footprint.layback_m
    best = way.worth(points, math.inf)
    for step in _STEPS:
        for _ in range(_SWEEPS):
            before = best
            points, best = _without(way, points, best)
            points, best = _moved(way, points, best, step * step_m)
            if before - best < _GAIN_M:
                break
    return np.array(points)


def _without(way: Way, points: list[Point], best: float) -> tuple[list[Point], float]:
    """Take corners out while that is better."""
    at = 1
    while at < len(points) - 1:
        fewer = points[:at] + points[at + 1 :]
        worth = way.worth(fewer, best)
        if worth < best:
            points, best = fewer, worth
        else:
            at += 1
    return points, best


def _moved(way: Way, points: list[Point], best: float, step: float) -> tuple[list[Point], float]:
    """Move each corner, and each two that follow each other, by one step where that is better."""
    for at in range(1, len(points) - 1):
        heading = math.atan2(points[at + 1][0] - points[at - 1][0], points[at + 1][1] - points[at - 1][1])
        for direction in range(_DIRECTIONS):
            angle = heading + 2.0 * math.pi * direction / _DIRECTIONS
            move = step * math.sin(angle), step * math.cos(angle)
            for wide in (1, 2):
                if at + wide >= len(points):
                    continue
                tried = list(points)
                for n in range(at, at + wide):
                    tried[n] = tried[n][0] + move[0], tried[n][1] + move[1]
                worth = way.worth(tried, best)
                if worth < best - 1e-6:
                    points, best = tried, worth
    return points, best
