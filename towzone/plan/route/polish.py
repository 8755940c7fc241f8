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

_STEPS = (2.0, 1.0, 0.5, 0.25, 0.12, 0.06, 0.03, 0.015)
"""Steps by which corners are moved, in laybacks, one after the other. Own choice."""

_SWEEPS = 6
"""How often all corners are moved by one step at the most. Own choice."""

_PASSES, _LITTLE = 4, 0.002
"""How often all steps are gone through at the most, and the share by which the last time must have helped."""

_WEIGHT = 25.0
"""Metres of way that a metre too little clearance is counted as. Own choice."""

_SPLIT_DEG = 12.0
_SPLIT_ASIDE = (0.0, 0.25, 0.5, 0.75)
"""Turns that may be split in two, and how far the two are set out, by how far they cut inside. Own choice."""

_GAIN_M = 0.2
_DIRECTIONS = 8
_TURN_M = 30.0
"""Metres that a degree of turn too much is counted as, and a share of a leg too short by the metre."""

Point = tuple[float, float]


class Way:
    """What ways of corners cost, and what they lack."""

    def __init__(self, room: Room, wanted: Wanted, least_leg_m: float) -> None:
        self.room, self.wanted, self.least_leg_m = room, wanted, least_leg_m
        self._lacks: dict[Leg, tuple[float, bool]] = {}
        self._costs: dict[tuple[Point, Point], float] = {}

    def cost(self, points: Sequence[Point]) -> float:
        """Return what a way costs, whether it is clear or not."""
        return sum(self._cost(pair) for pair in itertools.pairwise(points))

    def _cost(self, pair: tuple[Point, Point]) -> float:
        if pair not in self._costs:
            self._costs[pair] = self.wanted.cost(self.room, *pair)
        return self._costs[pair]

    def lack(self, points: Sequence[Point], most: float = math.inf) -> float:
        """Return by how much a way fails: metres of clearance, legs too short, turns too sharp; 0 if not.

        Beyond ``most`` it may be less than all.
        """
        total, legs = self._shape_lack(points, most)
        total += self.wanted.missed_m(points)
        for leg in legs:
            if total > most:
                break
            total += self._leg_lack(leg, most - total)
        return total

    def _shape_lack(self, points: Sequence[Point], most: float) -> tuple[float, list[Leg]]:
        """Return what lengths and turns lack, and the legs."""
        total, earlier, last_course, legs = 0.0, 0.0, 0.0, []
        for n, (a, b) in enumerate(itertools.pairwise(points)):
            length, course = self.room.true_m(a, b), course_of(a, b)
            if length < 1.0:
                return math.inf, []
            if len(points) > 2:
                total += max(self.least_leg_m - length, 0.0)
            turn = turn_between(last_course, course) if n else 0.0
            total += max(abs(turn) - SHARPEST_DEG + 0.02, 0.0) * _TURN_M
            if total > most:
                return total, []
            off = turn + earlier
            ends = {"first": n == 0, "last": n == len(points) - 2}
            legs.append(Leg(start=a, end=b, turn_deg=round(off, 2), **ends))
            earlier, last_course = self.room.residual_deg(off, length), course
        return total, legs

    def _leg_lack(self, leg: Leg, most: float) -> float:
        known = self._lacks.get(leg)
        if known is None or not (known[1] or known[0] > most):
            known = self._lacks[leg] = self.room.shortfall(leg, most)
        return known[0]

    def worth(self, points: Sequence[Point], below: float) -> float:
        """Return what a way costs with what it lacks; not all of it where it is not below."""
        cost = self.cost(points)
        return cost if cost >= below else cost + _WEIGHT * self.lack(points, (below - cost) / _WEIGHT)


def polished(way: Way, xy_m: FloatArray) -> FloatArray:
    """Return a way that is no worse, and nearly the best of its kind; both ends stay."""
    points: list[Point] = [(float(x), float(y)) for x, y in xy_m]
    step_m = way.room.footprint.layback_m
    best = way.worth(points, math.inf)
    for _ in range(_PASSES):
        begun = best
        for step in _STEPS:
            points, best = _by_one_step(way, points, best, step * step_m)
        if begun - best < _LITTLE * best:
            break
    return np.array(points)


def _by_one_step(way: Way, points: list[Point], best: float, step_m: float) -> tuple[list[Point], float]:
    for _ in range(_SWEEPS):
        before = best
        points, best = _without(way, points, best)
        points, best = _split(way, points, best)
        points, best = _moved(way, points, best, step_m)
        if before - best < _GAIN_M:
            break
    return points, best


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


def _split(way: Way, points: list[Point], best: float) -> tuple[list[Point], float]:
    """Make two corners of one, set out a little, where that is better: two turns cut less than one."""
    at = 1
    while at < len(points) - 1:
        before, here, after = points[at - 1 : at + 2]
        courses = course_of(before, here), course_of(here, after)
        turn = turn_between(*courses)
        if abs(turn) < _SPLIT_DEG:
            at += 1
            continue
        scale = way.room.scale(here[1])
        half = 0.5 * scale * (way.least_leg_m + 1.0) / math.cos(math.radians(turn / 2.0))
        out = math.radians(courses[0] + turn / 2.0) - math.copysign(math.pi / 2.0, turn)
        for aside in _SPLIT_ASIDE:
            far = aside * half * math.tan(math.radians(abs(turn) / 2.0))
            middle = here[0] + far * math.sin(out), here[1] + far * math.cos(out)
            pair = [
                (
                    middle[0] + s * half * math.sin(math.radians(c)),
                    middle[1] + s * half * math.cos(math.radians(c)),
                )
                for s, c in ((-1.0, courses[0]), (1.0, courses[1]))
            ]
            tried = points[:at] + pair + points[at + 1 :]
            worth = way.worth(tried, best)
            if worth < best - _GAIN_M:
                points, best = tried, worth
                break
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
