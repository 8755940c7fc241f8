"""The cheapest way from start to end over possible corners, leg by leg, turns and gear looked at."""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

from towzone.geodesy.ellipsoid import FloatArray
from towzone.plan.route.footprint import SHARPEST_DEG
from towzone.plan.route.room import Leg, Room
from towzone.plan.route.wanted import Wanted

__all__ = ["Found", "cheapest"]

_MOST_POPS = 2_000
"""Legs looked at before a search is given up: a budget, for there are no limits of time. Own choice."""

_TURN_SLACK_DEG = 0.05

_SECTORS = 72
"""Sectors of courses by which it is told what the rest of a way costs, turns looked at. Own choice."""


@dataclass(slots=True)
class Found:
    """What a search came to: the corners of a way, if there is one, and the obstacles that were met.

    ``given_up`` is whether there were legs left to look at.
    """

    xy_m: FloatArray | None
    cost_m: float = math.inf
    met: set[int] = field(default_factory=set)
    given_up: bool = False


@dataclass(slots=True)
class _Graph:
    """Corners, and between which of them a straight leg may run.

    ``left`` is what the rest of a way costs at the least, shape (v + 1, n), by how many of the places to be
    passed have been; ``passed`` how many have been after a corner, shape (v + 1, n), by how many before.
    ``left_turning`` is the same as ``left`` by the sector of the course to the corner, shape
    (v + 1, n, s), with turns looked at (`_left_turning`): more, and so nearer to what is true.
    """

    nodes: FloatArray
    cost: FloatArray
    course: FloatArray
    left: FloatArray
    passed: npt.NDArray[np.int64]
    left_turning: FloatArray | None = None

    def rest(self, after: npt.NDArray[np.int64], i: int) -> FloatArray:
        """Return what the rest costs at the least after a leg from one corner to each, by places passed."""
        all_of_them = np.arange(len(after))
        if self.left_turning is None:
            return np.asarray(self.left[after, all_of_them])
        return np.asarray(self.left_turning[after, all_of_them, _sectors(self.course[i])])


def cheapest(
    room: Room,
    wanted: Wanted,
    nodes: FloatArray,
    chosen: Sequence[int],
    least_leg_m: float,
    below_m: float = math.inf,
    *,
    turning: bool = False,
) -> Found:
    """Return the cheapest way over nodes, the first of which is the start and the second the end.

    Parameters
    ----------
    chosen : sequence of int
        The obstacles by which legs are left out from the outset; the others are looked at as legs come up.
    least_leg_m : float
        Over the ground; a way of a single leg may be shorter.
    below_m : float
        What a way has to cost less than.
    turning : bool
        Work out beforehand what the rest of each way costs with its turns. Where the end is come to from its
        far side only, many legs that lead straight to it would else be looked at before one that turns back.
    """
    graph = _graph(room, wanted, nodes, chosen, least_leg_m)
    found, queue = Found(None), _Queue(graph, below_m)
    if not math.isfinite(graph.left[0, 0]):
        return found
    if turning:
        _bar_ends(room, graph, chosen)
        graph.left_turning = _left_turning(graph)
    legs: list[_Sailed] = []
    done: set[tuple[int, int, int]] = set()
    barred: set[tuple[int, int]] = set()
    queue.open(-1, _Sailed(-1, 0, -1, 0.0, 0.0, 0))
    for _ in range(_MOST_POPS):
        taken = queue.take(done, barred)
        if taken is None:
            break
        before, i, j, cost_m, stage = taken
        turn = _turn(room, graph, legs, before, i, j)
        met, always = room.blocked(_leg(nodes, i, j, turn))
        if met:
            found.met.update(met)
            if always:
                barred.add((i, j))  # not even with the gear straight astern
            continue
        done.add((i, j, stage))
        legs.append(_Sailed(i, j, before, turn, cost_m, stage))
        if j == 1:
            found.xy_m, found.cost_m = nodes[_way(legs)], cost_m
            return found
        queue.open(len(legs) - 1, legs[-1])
    found.given_up = taken is not None
    return found


class _Sailed(NamedTuple):
    """A leg that is clear: its corners, the leg before, the turn with what was left of it, cost to its end.

    ``stage`` is how many of the places to be passed have been.
    """

    start: int
    end: int
    before: int
    turn_deg: float
    cost_m: float
    stage: int


class _Queue:
    """Legs that may be next, cheapest whole way first; of those that follow a leg only the best is held."""

    def __init__(self, graph: _Graph, below_m: float) -> None:
        self.graph, self.below_m = graph, below_m
        self._heap: list[tuple[float, int, int]] = []
        self._after: dict[int, tuple[_Sailed, list[int], list[float]]] = {}

    def open(self, number: int, leg: _Sailed) -> None:
        """Add the legs that may follow one; number -1 stands for the start."""
        graph, j = self.graph, leg.end
        after = graph.passed[leg.stage]
        whole = leg.cost_m + graph.cost[j] + graph.rest(after, j)
        fine = whole < self.below_m
        fine[0] = False
        fine[1] &= after[1] == len(graph.left) - 1
        if number >= 0:
            turns = np.abs((graph.course[j] - graph.course[leg.start, j] + 180.0) % 360.0 - 180.0)
            fine &= turns <= SHARPEST_DEG - _TURN_SLACK_DEG
        some = np.flatnonzero(fine)
        order = some[np.argsort(whole[some], kind="stable")]
        self._after[number] = leg, order.tolist(), whole[order].tolist()
        self._push(number, 0)

    def _push(self, number: int, rank: int) -> None:
        wholes = self._after[number][2]
        if rank < len(wholes):
            heapq.heappush(self._heap, (wholes[rank], number, rank))

    def take(
        self, done: set[tuple[int, int, int]], barred: set[tuple[int, int]]
    ) -> tuple[int, int, int, float, int] | None:
        """Return the next leg: the one before, its corners, the cost to its end, the stage there."""
        while self._heap:
            _, number, rank = heapq.heappop(self._heap)
            leg, ends, _ = self._after[number]
            self._push(number, rank + 1)
            i, j = leg.end, ends[rank]
            stage = int(self.graph.passed[leg.stage, j])
            if (i, j, stage) not in done and (i, j) not in barred:
                return number, i, j, leg.cost_m + float(self.graph.cost[i, j]), stage
        return None


def _leg(nodes: FloatArray, i: int, j: int, turn: float) -> Leg:
    start, end = (float(nodes[i, 0]), float(nodes[i, 1])), (float(nodes[j, 0]), float(nodes[j, 1]))
    return Leg(start=start, end=end, turn_deg=round(turn, 1), first=i == 0, last=j == 1)


def _turn(room: Room, graph: _Graph, legs: Sequence[_Sailed], before: int, i: int, j: int) -> float:
    """Return how far off a leg the gear lies as it begins: the turn, and what was left of the one before."""
    if before < 0:
        return 0.0
    last = legs[before]
    turned = float((graph.course[i, j] - graph.course[last.start, last.end] + 180.0) % 360.0 - 180.0)
    run = room.true_m(graph.nodes[last.start], graph.nodes[last.end])
    return turned + room.residual_deg(last.turn_deg, run)


def _way(legs: Sequence[_Sailed]) -> list[int]:
    """Return the corners of the way that ends with the last leg."""
    way, at = [legs[-1].end], len(legs) - 1
    while at >= 0:
        way.append(legs[at].start)
        at = legs[at].before
    return way[::-1]


def _graph(
    room: Room, wanted: Wanted, nodes: FloatArray, chosen: Sequence[int], least_leg_m: float
) -> _Graph:
    count = len(nodes)
    first, second = np.triu_indices(count, 1)
    a, b = nodes[first], nodes[second]
    middle = (a + b) / 2.0
    scale = np.interp(middle[:, 1], *room.scale_table)
    length = np.hypot(*(b - a).T) / scale
    alone = (first == 0) & (second == 1)
    open_ = (length >= least_leg_m) | alone
    first, second, middle, length = first[open_], second[open_], middle[open_], length[open_]
    lines = shapely.linestrings(np.stack([nodes[first], nodes[second]], axis=1))
    clear = np.ones(len(lines), dtype=bool)
    if len(chosen) and len(lines):
        grown = shapely.buffer(
            room.shapes[list(chosen)], np.maximum(room.straight_m[list(chosen)] - 1.0, 0.5), quad_segs=8
        )
        hit = shapely.STRtree(lines).query(grown, predicate="intersects")
        clear[hit[1]] = False
    first, second, middle, length = first[clear], second[clear], middle[clear], length[clear]
    at_node = wanted.factor(nodes)
    mean = 0.25 * (at_node[first] + at_node[second]) + 0.5 * wanted.factor(middle)
    cost = np.full((count, count), np.inf)
    cost[first, second] = cost[second, first] = length * mean + wanted.corner_m
    dx, dy = nodes[None, :, 0] - nodes[:, None, 0], nodes[None, :, 1] - nodes[:, None, 1]
    course = np.degrees(np.arctan2(dx, dy)) % 360.0
    passed = _passed(wanted, nodes)
    left = np.full(passed.shape, np.inf)
    for stage in range(len(left) - 1, -1, -1):
        known = np.full(count, np.inf)
        if stage == len(left) - 1:
            known[1] = 0.0
        else:
            further = np.flatnonzero(passed[stage] > stage)
            known[further] = left[passed[stage, further], further]
        left[stage] = _left(cost, known)
    return _Graph(nodes, cost, course, left, passed)


def _passed(wanted: Wanted, nodes: FloatArray) -> npt.NDArray[np.int64]:
    """Return how many places have been passed after each node, by how many before it."""
    passed = np.repeat(np.arange(len(wanted.via_m) + 1)[:, None], len(nodes), axis=1)
    for stage in range(len(wanted.via_m) - 1, -1, -1):
        off = np.hypot(*(nodes - wanted.via_m[stage]).T)
        passed[stage] = np.where(off <= wanted.near_m[stage], passed[stage + 1], stage)
    return passed


def _left(cost: FloatArray, known: FloatArray) -> FloatArray:
    """Return what the cheapest way from each node to one of which it is known costs, turns left aside."""
    count, left = len(cost), known
    open_: npt.NDArray[np.bool_] = np.ones(count, dtype=bool)
    for _ in range(count):
        at = int(np.argmin(np.where(open_, left, np.inf)))
        if not open_[at] or not math.isfinite(left[at]):
            break
        open_[at] = False
        left = np.minimum(left, left[at] + cost[at])
    return left


def _sectors(course: FloatArray) -> npt.NDArray[np.int64]:
    return np.asarray((course * (_SECTORS / 360.0)).astype(np.int64) % _SECTORS)


def _bar_ends(room: Room, graph: _Graph, chosen: Sequence[int]) -> None:
    """Leave out first and last legs that the obstacles chosen do not let pass, whatever turn is before them.

    Other obstacles are told of when such a leg comes up.
    """
    legs = [(0, j) for j in range(1, len(graph.nodes))] + [(i, 1) for i in range(2, len(graph.nodes))]
    for i, j in legs:
        if math.isfinite(graph.cost[i, j]):
            met, _ = room.blocked(_leg(graph.nodes, i, j, 0.0))
            if met and set(met) <= set(chosen):
                graph.cost[i, j] = np.inf


def _left_turning(graph: _Graph) -> FloatArray:
    """Return what the way on costs at the least after a leg, by its end and the sector of its course.

    Notes
    -----
    It is the least, over the legs that may follow, of what these cost and what is left after them; worked out
    again until nothing changes. A turn counts as allowed where any two courses of the sectors allow it, so
    never too much is told.
    """
    count, wide = len(graph.nodes), math.ceil(SHARPEST_DEG * _SECTORS / 360.0)
    start, end = np.nonzero(np.isfinite(graph.cost))
    sector = _sectors(graph.course[start, end])
    order = np.argsort(start * _SECTORS + sector, kind="stable")
    start, end, sector = start[order], end[order], sector[order]
    keys, first = np.unique(start * _SECTORS + sector, return_index=True)
    left = np.full((len(graph.left), count, _SECTORS), np.inf)
    left[-1, 1] = 0.0
    for stage in range(len(left) - 1, -1, -1):
        for _ in range(count):
            onward = graph.cost[start, end] + left[graph.passed[stage, end], end, sector]
            ahead = np.full(count * _SECTORS, np.inf)
            ahead[keys] = np.minimum.reduceat(onward, first)
            around = np.pad(ahead.reshape(count, _SECTORS), ((0, 0), (wide, wide)), mode="wrap")
            least = np.lib.stride_tricks.sliding_window_view(around, 2 * wide + 1, axis=1).min(axis=2)
            better = np.minimum(left[stage], least)
            if np.array_equal(better, left[stage]):
                break
            left[stage] = better
    return left
