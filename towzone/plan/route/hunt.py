"""The hunt for a line: search, polish, check, and again with what the check has shown."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
import shapely

from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.plan import PlannedLine
from towzone.model.result import Part, Row
from towzone.plan.judging import Judge
from towzone.plan.lines import line_of
from towzone.plan.route.footprint import Footprint
from towzone.plan.route.narrowest import is_closed
from towzone.plan.route.nodes import (
    around_ends,
    around_shape,
    around_tips,
    far_enough,
    free_courses,
    grid_nodes,
)
from towzone.plan.route.obstacles import Obstacle, waters_around
from towzone.plan.route.plane import Plane
from towzone.plan.route.polish import Way, polished
from towzone.plan.route.room import Ends, Room
from towzone.plan.route.search import Found, cheapest
from towzone.plan.route.wanted import Wanted

__all__ = ["Hunt", "Scene", "hunted"]

_ROUNDS = 12
"""How often obstacles that were met are added and the search is begun again. Own choice."""

_ROUNDS_VIA = 3
"""The same where places are to be passed; without a line soon the search goes on without them. Own choice."""

_CHECKS = 10
"""How often a line that the check does not pass is mended. Own choice."""

_MOST_GRID = 400
_MOST_NODES = 450
"""Corners of one search at the most, beside the ends. Own choice, for time and memory."""


class _Search(NamedTuple):
    """One search of several: how dense its corners are, and when it is made.

    ``wanting`` is whether it is for want of any way only: then, and from then on, there are corners to turn
    back round the tips of obstacles. ``turning`` is whether it is, beyond that, only where one before it was
    given up: then turns are looked at from the end on.
    """

    density: int
    wanting: bool = False
    turning: bool = False


_SEARCHES = (
    _Search(0),
    _Search(0, wanting=True),
    _Search(1),
    _Search(2),
    _Search(2, wanting=True, turning=True),
)
_SEARCHES_VIA = _SEARCHES[0], _SEARCHES[2]
"""The searches, one after the other; the second where places are to be passed. Own choice."""

_AGAIN = (1.02, 1.1, math.inf)
"""A way longer than the straight one by more than this is looked for again, with denser corners. Own
choice."""

_FEASIBLE_M = 0.5

_UNKNOWN_M = 5.0
"""So much more is kept off each time where it is not known how much is missing. Own choice."""


_SHARED_LEGS = (1.02, 1.6)
"""How far from a corner that is kept others are tried, in shortest legs. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """All that a hunt is about.

    Parameters
    ----------
    obstacles : tuple of Obstacle
        All that may be in the way.
    dropped : frozenset of int
        Zones left out at first, because their rules do not hold when the wanted line passes them.
    least_leg_m : float
        Over the ground.
    """

    judge: Judge
    line: PlannedLine
    plane: Plane
    wanted: Wanted
    footprint: Footprint
    waters: tuple[float, float, float, float]
    obstacles: tuple[Obstacle, ...]
    dropped: frozenset[int]
    least_leg_m: float

    def room(self, more_m: dict[int, tuple[float, float]] | None = None) -> Room:
        """Return the room between the obstacles that are not left out."""
        ends = Ends(self.judge.rope_m, self.judge.run_in_m, self.judge.run_out_m)
        kept = [o for o in self.obstacles if o.number not in self.dropped]
        return Room(self.plane, self.footprint, ends, kept, self.waters, more_m or {})

    def as_line(self, xy: FloatArray) -> PlannedLine:
        """Return corners of the plane as a line, with the very ends of the wanted one."""
        lon, lat = self.plane.from_plane(xy)
        wanted = self.line
        lon[[0, -1]], lat[[0, -1]] = wanted.lon_deg[[0, -1]], wanted.lat_deg[[0, -1]]
        names = [""] * len(lon)
        names[0], names[-1] = wanted.point_names[0], wanted.point_names[-1]
        return line_of(wanted.name, lon, lat, point_names=tuple(names), source=wanted.source)

    def aside_m(self, xy: FloatArray) -> float:
        """Return how far corners and the legs between stray from the wanted line, metres over the ground."""
        points = [xy[:1]]
        for a, b in itertools.pairwise(xy):
            steps = max(2, math.ceil(float(np.hypot(*(b - a))) / 50.0))
            points.append(a + (b - a) * (np.arange(1, steps + 1) / steps)[:, None])
        dense = np.concatenate(points)
        return float((self.wanted.away_m(dense) / self.plane.scale_at(dense)).max())

    def missed_m(self, xy: FloatArray) -> tuple[float, ...]:
        """Return how far a way passes each inner corner of the wanted line, metres over the ground."""
        corners = self.wanted.xy_m[1:-1]
        if not len(corners):
            return ()
        off = shapely.distance(shapely.LineString(xy), shapely.points(corners)) / self.plane.scale_at(corners)
        return tuple(off.tolist())


@dataclass(slots=True)
class Hunt:
    """What a hunt has learnt: needs that the check has shown, and obstacles that stand in the way.

    ``xy_m`` are the corners of a line that the check has passed, ``line`` that line.
    """

    more_m: dict[int, tuple[float, float]] = field(default_factory=dict)
    chosen: list[int] = field(default_factory=list)
    xy_m: FloatArray | None = None
    line: PlannedLine | None = None


def hunted(scene: Scene) -> Hunt:
    """Return a hunt that has ended, with a line or without."""
    hunt = Hunt()
    room = scene.room()
    way = _shortest(scene, room, hunt)
    for _ in range(_CHECKS):
        if way is None:
            return hunt
        line = scene.as_line(way)
        rows = scene.judge.open_rows(line)
        if not rows:
            hunt.xy_m, hunt.line = way, line
            return hunt
        scene = _learnt(scene, hunt, rows)
        room = scene.room(hunt.more_m)
        ways = Way(room, scene.wanted, scene.least_leg_m)
        way = polished(ways, way)
        if ways.lack(_points(way)) > _FEASIBLE_M:
            way = _shortest(scene, room, hunt)
    return hunt


def _points(xy: FloatArray) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in xy]


def _learnt(scene: Scene, hunt: Hunt, rows: Sequence[Row]) -> Scene:
    """Let vessel or gear keep farther off the zones of rows that were not clear, by what was missing."""
    numbers = {zone.zone_id: number for number, zone in enumerate(scene.judge.zones)}
    back = {numbers[row.zone_id] for row in rows} & scene.dropped
    if back:
        hunt.chosen.clear()  # their numbers are others now
        return replace(scene, dropped=scene.dropped - back)
    for row in rows:
        number = numbers[row.zone_id]
        vessel, gear = hunt.more_m.get(number, (0.0, 0.0))
        if row.part is Part.VESSEL:
            have = row.clearance_m if row.clearance_m is not None else 0.0
            vessel += min(max(row.margin_m + row.uncertainty_m - have, 0.0), 50.0) + 0.5
        else:
            have = (row.gear.likely_clearance_m if row.gear is not None else None) or 0.0
            unknown = have <= 0.0  # by how much it is too near is not told then
            gear += min(max(row.margin_m - have, 0.0), 50.0) + (_UNKNOWN_M if unknown else 0.5)
        hunt.more_m[number] = vessel, gear
    return scene


def _shortest(scene: Scene, room: Room, hunt: Hunt) -> FloatArray | None:
    """Return the best way by the footprint: found with few corners, and again with more if it is long."""
    corners, ways = _Corners(scene, room), Way(room, scene.wanted, scene.least_leg_m)
    straight_m = scene.wanted.least_m / room.scale(0.0)
    best: FloatArray | None = None
    worth, below_m, given_up = math.inf, math.inf, False
    searches = _SEARCHES_VIA if len(scene.wanted.via_m) else _SEARCHES
    for number, search in enumerate(searches):
        if number and best is None and corners.shut:
            break
        if (search.wanting and best is not None) or (search.turning and not given_up):
            continue
        corners.tips |= search.wanting
        settled = _settled(corners, hunt, search, below_m)
        given_up |= settled.given_up
        if settled.xy_m is not None:
            way = polished(ways, settled.xy_m)
            found = ways.worth(_points(way), math.inf)
            if found < worth:
                best, worth = way, found
        if worth < _AGAIN[search.density] * straight_m:
            break
        below_m = min(below_m, worth - 1.0)
    return best


def _settled(corners: _Corners, hunt: Hunt, search: _Search, below_m: float) -> Found:
    """Return the cheapest way over corners around all the obstacles that matter to it."""
    scene, room, best = corners.scene, corners.room, Found(None)
    for _ in range(_ROUNDS_VIA if len(scene.wanted.via_m) else _ROUNDS):
        nodes = corners.nodes(hunt.chosen, search.density, below_m)
        found = cheapest(
            room, scene.wanted, nodes, hunt.chosen, scene.least_leg_m, below_m, turning=search.turning
        )
        if found.xy_m is not None or best.xy_m is None:
            best = found
        new = found.met - set(hunt.chosen)
        if not new:
            break
        hunt.chosen = sorted({*hunt.chosen, *new})
    return best


class _Corners:
    """The corners that a line may have, made once for each obstacle and density.

    ``tips`` is whether there are some to turn back round the tips of obstacles.
    """

    def __init__(self, scene: Scene, room: Room) -> None:
        self.scene, self.room, self.tips = scene, room, False
        self.ends = scene.wanted.xy_m[[0, -1]]
        self._around: dict[tuple[int, int], FloatArray] = {}
        self._free = [self._courses(first=True), self._courses(first=False)]

    def _courses(self, *, first: bool) -> FloatArray:
        here = _points(self.ends)[0 if first else -1]
        return free_courses(self.room, here, first=first, length_m=self._least(here))

    def _least(self, here: tuple[float, float]) -> float:
        return self.scene.least_leg_m * self.room.scale(here[1])

    @cached_property
    def shut(self) -> bool:
        """Whether no line can begin or end, or the way is closed: then more corners are no help."""
        if not all(len(courses) for courses in self._free):
            return True
        return is_closed(self.room, self.scene.wanted.xy_m, self.scene.waters)

    def nodes(self, chosen: Sequence[int], density: int, below_m: float) -> FloatArray:
        """Return start, end, and corners to go over, shape (n, 2)."""
        some = [self.scene.wanted.xy_m[1:-1]]
        fine = min(density, 1)
        some += [self._shape(number, fine) for number in chosen]
        some += [self._tips(number) for number in chosen if self.tips]
        for place, near in zip(self.scene.wanted.via_m, self.scene.wanted.near_m.tolist(), strict=True):
            least = self._least((float(place[0]), float(place[1])))
            some += [_ring(place, (0.45 * near, 0.95 * near), 12 * (1 + fine))]
            # A sharp turn is shared with corners a leg before and after.
            some += [_ring(place, tuple(least * far for far in _SHARED_LEGS), 24)]
        for first, here, courses in zip((True, False), _points(self.ends), self._free, strict=True):
            if fine or not len(courses) or len(courses) < _ALL:
                some.append(around_ends(courses, here, first=first, least_m=self._least(here), density=fine))
        if density == 2:
            least = self._least(_points(self.ends)[0])
            wide = waters_around(
                self.scene.wanted.xy_m, 0.3 * float(np.hypot(*(self.ends[1] - self.ends[0]))) + 3.0 * least
            )
            some.append(grid_nodes(wide, least / 1.5, _MOST_GRID))
        nodes = far_enough(np.concatenate(some), self.room, chosen)
        way = np.hypot(*(nodes - self.ends[0]).T) + np.hypot(*(nodes - self.ends[1]).T)
        scale = self.room.scale_table[1].max()
        nodes, way = nodes[way <= below_m * scale], way[way <= below_m * scale]
        nodes = _thinned(nodes, 0.05 * self._least(_points(self.ends)[0]), _MOST_NODES)
        return np.concatenate([self.ends, nodes])

    def _shape(self, number: int, density: int) -> FloatArray:
        if (number, density) not in self._around:
            self._around[number, density] = around_shape(
                self.room, number, density, self._least(_points(self.ends)[0])
            )
        return self._around[number, density]

    def _tips(self, number: int) -> FloatArray:
        return around_tips(self.room, number, self._least(_points(self.ends)[0]))


def _thinned(nodes: FloatArray, cell_m: float, most: int) -> FloatArray:
    """Return the first node of each cell of a grid, its cells so large that there are no more than most."""
    while len(nodes):
        cells = np.floor(nodes / cell_m).astype(np.int64)
        _, first = np.unique(cells, axis=0, return_index=True)
        if len(first) <= most:
            return np.asarray(nodes[np.sort(first)])
        cell_m *= 1.2
    return nodes


def _ring(place: FloatArray, far_m: Sequence[float], count: int) -> FloatArray:
    """Return corners around a place, so far from it."""
    angle = 2.0 * np.pi * np.arange(count) / count
    way = np.column_stack([np.sin(angle), np.cos(angle)])
    return np.concatenate([place + far * way for far in far_m])


_ALL = 72
"""Courses looked at around an end; with all of them free no corners are put there."""
