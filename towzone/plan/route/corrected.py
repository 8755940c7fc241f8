"""The one entry: the shortest line that keeps vessel and gear clear, or why there is none."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from towzone.checks.legs import seconds_since_epoch
from towzone.gear.figures import NoRigging
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.plan import NoLine, NoLineWhy, PlannedLine
from towzone.model.result import Part, Row
from towzone.plan.judging import Judge
from towzone.plan.lines import line_of
from towzone.plan.route.footprint import LEAST_LEG_LAYBACKS, Footprint, footprint_of
from towzone.plan.route.nodes import around_ends, around_shape, far_enough, free_courses, grid_nodes
from towzone.plan.route.obstacles import Obstacle, obstacles_in, waters_around
from towzone.plan.route.plane import HIGHEST_DEG, Plane, plane_around
from towzone.plan.route.polish import Way, polished
from towzone.plan.route.room import Ends, Room
from towzone.plan.route.search import Found, cheapest
from towzone.plan.route.wanted import Wanted

__all__ = ["FoundLine", "find_line"]

_ROUNDS = 14
"""How often obstacles that were met are added and the search is begun again. Own choice."""

_CHECKS = 8
"""How often a line that the check does not pass is mended. Own choice."""

_DENSITIES = 3
_MOST_GRID = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundLine:
    """A line that the check has passed, and how far it strays from the wanted one."""

    line: PlannedLine
    aside_m: float


@dataclass(slots=True)
class _Scene:
    """All that a search among the same obstacles shares."""

    judge: Judge
    line: PlannedLine
    plane: Plane
    wanted: Wanted
    footprint: Footprint
    waters: tuple[float, float, float, float]
    obstacles: tuple[Obstacle, ...]
    more_m: dict[int, tuple[float, float]] = field(default_factory=dict)

    def room(self) -> Room:
        ends = Ends(self.judge.rope_m, self.judge.run_in_m, self.judge.run_out_m)
        return Room(self.plane, self.footprint, ends, self.obstacles, self.more_m)

    @property
    def least_leg_m(self) -> float:
        return LEAST_LEG_LAYBACKS * self.footprint.layback_m


def find_line(line: PlannedLine, judge: Judge) -> FoundLine | NoLine:
    """Return the shortest line from start to end of a wanted one that keeps vessel and gear clear.

    It has no turn sharper than 60 degrees and no leg shorter than three laybacks, unless it is a single leg;
    of lines that are nearly as short the one nearer to the wanted one. A line is only returned if the check
    itself passes it.
    """
    if isinstance(judge.rigging, NoRigging):
        return NoLine(
            why=NoLineWhy.GEAR, words=f"Where the gear goes cannot be computed. {judge.rigging.why}"
        )
    if float(np.abs(line.lat_deg).max()) > HIGHEST_DEG:
        words = f"No line is looked for beyond {HIGHEST_DEG:g} degrees of latitude."
        return NoLine(why=NoLineWhy.NOT_FOUND, words=words)
    scene = _scene(line, judge)
    found = _search(scene)
    if found is not None:
        return found
    return NoLine(why=NoLineWhy.NOT_FOUND, words="No line was found that keeps vessel and gear clear.")


def _scene(line: PlannedLine, judge: Judge) -> _Scene:
    plane = plane_around(line.lon_deg, line.lat_deg, judge.settings.check.legs)
    xy = plane.to_plane(line.lon_deg, line.lat_deg)
    length = float(np.hypot(*np.diff(xy, axis=0).T).sum())
    wider = max(10_000.0, length) + 2.0 * (judge.rope_m + judge.run_in_m)
    waters = waters_around(xy, wider)
    time_utc = judge.track(line).time_utc
    span = seconds_since_epoch(time_utc[[0, -1]])
    obstacles = obstacles_in(judge, plane, waters, span_s=(float(span[0]), float(span[1])))
    footprint = footprint_of(judge, plane.lon_deg, plane.lat_deg)
    return _Scene(judge, line, plane, Wanted(xy_m=xy), footprint, waters, obstacles)


def _search(scene: _Scene) -> FoundLine | None:
    room = scene.room()
    way = _way(scene, room, _Chosen())
    for _ in range(_CHECKS):
        if way is None:
            return None
        better = polished(Way(room, scene.wanted, scene.least_leg_m), way)
        line = _line(scene, better)
        open_rows = scene.judge.open_rows(line)
        if not open_rows:
            return FoundLine(line=line, aside_m=_aside_m(scene, better))
        _learn(scene, open_rows)
        room = scene.room()
        mended = polished(Way(room, scene.wanted, scene.least_leg_m), better)
        way = mended if Way(room, scene.wanted, scene.least_leg_m).lack(_points(mended)) <= 0.5 else None
        if way is None:
            way = _way(scene, room, _Chosen())
    return None


def _points(xy: FloatArray) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in xy]


@dataclass(slots=True)
class _Chosen:
    """The obstacles around which corners are put, and how densely."""

    numbers: list[int] = field(default_factory=list)
    density: int = 0


def _way(scene: _Scene, room: Room, chosen: _Chosen) -> FloatArray | None:
    """Return the cheapest way by the footprint, looking at ever more obstacles and corners."""
    best: Found = Found(None)
    for _ in range(_ROUNDS):
        nodes = _nodes(scene, room, chosen)
        found = cheapest(room, scene.wanted, nodes, chosen.numbers, scene.least_leg_m)
        new = sorted(found.met - set(chosen.numbers))
        if found.xy_m is not None:
            best = found
            if not new:
                return found.xy_m
        if new:
            chosen.numbers = sorted({*chosen.numbers, *new})
        elif chosen.density + 1 < _DENSITIES:
            chosen.density += 1
        else:
            break
    return best.xy_m


def _nodes(scene: _Scene, room: Room, chosen: _Chosen) -> FloatArray:
    corners = scene.wanted.xy_m
    ends = np.array([corners[0], corners[-1]])
    some = [corners[1:-1]]
    some += [around_shape(room, number, min(chosen.density, 1)) for number in chosen.numbers]
    least = scene.least_leg_m * room.scale(float(ends[0, 1]))
    for first, at in ((True, ends[0]), (False, ends[1])):
        here = float(at[0]), float(at[1])
        courses = free_courses(room, here, first=first, length_m=least)
        if len(courses) < 72 or chosen.density:
            some.append(
                around_ends(courses, here, first=first, least_m=least, density=min(chosen.density, 1))
            )
    if chosen.density == 2:
        wide = waters_around(corners, 0.3 * float(np.hypot(*(ends[1] - ends[0]))) + 3.0 * least)
        some.append(grid_nodes(wide, least / 1.5, _MOST_GRID))
    nodes = far_enough(np.concatenate(some), room, chosen.numbers)
    return np.concatenate([ends, nodes])


def _line(scene: _Scene, xy: FloatArray) -> PlannedLine:
    lon, lat = scene.plane.from_plane(xy)
    wanted = scene.line
    lon[[0, -1]], lat[[0, -1]] = wanted.lon_deg[[0, -1]], wanted.lat_deg[[0, -1]]
    names = [""] * len(lon)
    names[0], names[-1] = wanted.point_names[0], wanted.point_names[-1]
    return line_of(wanted.name, lon, lat, point_names=tuple(names), source=wanted.source)


def _aside_m(scene: _Scene, xy: FloatArray) -> float:
    points = [xy[:1]]
    for a, b in itertools.pairwise(xy):
        steps = max(2, math.ceil(float(np.hypot(*(b - a))) / 50.0))
        points.append(a + (b - a) * (np.arange(1, steps + 1) / steps)[:, None])
    dense = np.concatenate(points)
    return float((scene.wanted.away_m(dense) / scene.plane.scale_at(dense)).max())


def _learn(scene: _Scene, rows: Sequence[Row]) -> None:
    """Let vessel or gear keep farther off the zones of rows that were not clear, by what was missing."""
    numbers = {zone.zone_id: number for number, zone in enumerate(scene.judge.zones)}
    for row in rows:
        number = numbers[row.zone_id]
        vessel, gear = scene.more_m.get(number, (0.0, 0.0))
        if row.part is Part.VESSEL:
            have = row.clearance_m if row.clearance_m is not None else 0.0
            vessel += min(max(row.margin_m + row.uncertainty_m - have, 0.0), 50.0) + 1.0
        else:
            have = (row.gear.likely_clearance_m if row.gear is not None else None) or 0.0
            gear += min(max(row.margin_m - have, 0.0), 50.0) + 1.0
        scene.more_m[number] = vessel, gear
