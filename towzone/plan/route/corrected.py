"""The one entry: the shortest line that keeps vessel and gear clear, or why there is none."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import shapely

from towzone.checks.force import Force, span_standing
from towzone.checks.legs import seconds_since_epoch
from towzone.gear.figures import NoRigging
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.plan import NoLine, NoLineWhy, PlannedLine
from towzone.model.track import Track
from towzone.plan.judging import Judge
from towzone.plan.lines import legs_of
from towzone.plan.route.footprint import LEAST_LEG_LAYBACKS, footprint_of
from towzone.plan.route.hunt import Hunt, Scene, hunted
from towzone.plan.route.narrowest import Narrow, is_closed, narrowest
from towzone.plan.route.nodes import free_courses
from towzone.plan.route.obstacles import Obstacle, obstacles_in, waters_around
from towzone.plan.route.plane import HIGHEST_DEG, Plane, plane_around
from towzone.plan.route.room import Room
from towzone.plan.route.wanted import Wanted
from towzone.units import KNOT_MPS

__all__ = ["FoundLine", "find_line"]

_LEAST_WATERS_M = 10_000.0
"""Ways are looked for so far from the wanted line at the least, else as far as it is long. Own choice."""

_DETOUR = 1.5
"""A line is taken to last up to so many times as long as the wanted one. Own choice."""

_VIA_LEGS = (0.1, 1.0, 4.0)
"""A corner of the wanted line is passed within so many of the shortest legs: first as good as exactly, then
with room to turn there, then with room to go round something. Own choice."""

_STRAY_S = 300.0
"""Where a rule changes on the way, it counts at first only if it holds within this of when the wanted line is
near. Own choice; the check decides."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundLine:
    """A line that the check has passed, how far it strays from the wanted one and from each inner corner."""

    line: PlannedLine
    aside_m: float
    missed_m: tuple[float, ...] = ()


def find_line(line: PlannedLine, judge: Judge) -> FoundLine | NoLine:
    """Return the shortest line from start to end of a wanted one that keeps vessel and gear clear.

    Returns
    -------
    FoundLine
        It has no turn sharper than 60 degrees, and no leg shorter than three laybacks or the shortest leg of
        the wanted line. Of lines that differ by less than 1 % in length the one nearer to the wanted line.
        The check itself has passed it.
    NoLine
        Why there is none, or none was found, and where it is narrowest.

    Raises
    ------
    GeometryError
        A leg is too long or ambiguous.
    """
    if isinstance(judge.rigging, NoRigging):
        words = f"Where the gear goes cannot be computed, so no line was looked for. {judge.rigging.why}"
        return NoLine(why=NoLineWhy.GEAR, words=words)
    if float(np.abs(line.lat_deg).max()) > HIGHEST_DEG:
        words = f"No line is looked for beyond {HIGHEST_DEG:g} degrees of latitude."
        return NoLine(why=NoLineWhy.NOT_FOUND, words=words)
    scene = _scene(line, judge)
    if not any(o.force is Force.UNKNOWN for o in scene.obstacles):
        shut = _shut(scene, scene.room())
        if shut is not None:
            return shut
    hunt = _hunted(scene)
    if hunt.line is not None and hunt.xy_m is not None:
        return FoundLine(line=hunt.line, aside_m=scene.aside_m(hunt.xy_m), missed_m=scene.missed_m(hunt.xy_m))
    return _undecided(scene) or _none(scene)


def _scene(line: PlannedLine, judge: Judge) -> Scene:
    plane = plane_around(line.lon_deg, line.lat_deg, judge.settings.check.legs)
    xy, legs = plane.to_plane(line.lon_deg, line.lat_deg), legs_of(line, judge.settings.check.legs)
    wider = max(_LEAST_WATERS_M, float(legs.length_m.sum())) + 2.0 * judge.rope_m
    waters = waters_around(xy, wider)
    track = judge.track(line)
    first_s, last_s = seconds_since_epoch(track.time_utc[[0, -1]]).tolist()
    span = first_s, first_s + (last_s - first_s) * _DETOUR
    obstacles = obstacles_in(judge, plane, waters, span_s=span)
    footprint = footprint_of(judge, float(line.lon_deg[0]), float(line.lat_deg[0]))
    return Scene(
        judge=judge,
        line=line,
        plane=plane,
        wanted=Wanted.of(xy),
        footprint=footprint,
        waters=waters,
        obstacles=obstacles,
        dropped=_idle_when_passed(judge, plane, track, obstacles),
        least_leg_m=min(LEAST_LEG_LAYBACKS * footprint.layback_m, float(legs.length_m.min())),
    )


def _ways_wanted(scene: Scene) -> list[Wanted]:
    """Return the wanted line with how near its corners are to be passed: nearly exactly, less near, not."""
    wanted, room = scene.wanted, scene.room()
    if not len(wanted.via_m):
        return [wanted]
    grown = shapely.union_all(shapely.buffer(room.shapes, room.straight_m)) if len(room.shapes) else None
    places = shapely.points(wanted.via_m)
    clear_m = np.zeros(len(places))
    if grown is not None:
        inside = shapely.intersects(grown, places)
        clear_m = np.where(inside, shapely.distance(shapely.boundary(grown), places), 0.0)
    leg_m = scene.least_leg_m * room.greatest_scale
    return [*(replace(wanted, near_m=clear_m + legs * leg_m) for legs in _VIA_LEGS), wanted.freely()]


def _idle_when_passed(
    judge: Judge, plane: Plane, track: Track, obstacles: Sequence[Obstacle]
) -> frozenset[int]:
    """Return the zones whose rules do not hold around the time at which the wanted line is nearest."""
    dated = [o for o in obstacles if judge.zones[o.number].rules.dated]
    if not dated:
        return frozenset()
    corners, times = plane.to_plane(track.lon_deg, track.lat_deg), seconds_since_epoch(track.time_utc)
    step_s = 100.0 / (judge.settings.speed_kn * KNOT_MPS)
    at_s = np.arange(times[0], times[-1] + step_s, step_s)
    way = shapely.points(np.column_stack([np.interp(at_s, times, axis) for axis in corners.T]))
    idle = []
    for obstacle in dated:
        apart = shapely.distance(obstacle.shape, way)
        near = at_s[apart <= apart.min() + max(obstacle.vessel_m, obstacle.gear_m) + judge.rope_m]
        span = float(near[0]) - _STRAY_S, float(near[-1]) + _STRAY_S
        zone = judge.zones[obstacle.number]
        if span_standing(zone, *span, judge.settings.check).force is Force.IDLE:
            idle.append(obstacle.number)
    return frozenset(idle)


def _hunted(scene: Scene) -> Hunt:
    """Hunt among the zones that matter when the wanted line passes; then among all, then without any dated.

    The check decides each time.
    """
    hunt = Hunt()
    for wanted in _ways_wanted(scene):  # rather a line that keeps no corner than none
        scene = replace(scene, wanted=wanted)
        hunt = hunted(scene)
        if hunt.line is not None:
            break
    dated = frozenset(o.number for o in scene.obstacles if scene.judge.zones[o.number].rules.dated)
    for dropped in (frozenset[int](), dated):
        if hunt.line is None and dropped != scene.dropped:
            hunt = hunted(replace(scene, dropped=dropped))
    return hunt


def _undecided(scene: Scene) -> NoLine | None:
    """Return where that is so, that there would be a line but for rules that may not even hold."""
    unsure = [o for o in scene.obstacles if o.force is Force.UNKNOWN]
    if not unsure:
        return None
    sure = tuple(o for o in scene.obstacles if o.force is not Force.UNKNOWN)
    without = [zone for n, zone in enumerate(scene.judge.zones) if n not in {o.number for o in unsure}]
    judge = Judge(without, scene.judge.settings)
    numbers = {zone.zone_id: n for n, zone in enumerate(without)}
    sure = tuple(replace(o, number=numbers[o.zone_id]) for o in sure)
    hunt = hunted(replace(scene, judge=judge, obstacles=sure, dropped=frozenset()))
    if hunt.line is None:
        return None
    words = (
        "It is not known whether the rules of some zones hold; without these there would be a line, with "
        "them none was found."
    )
    return NoLine(why=NoLineWhy.UNDECIDED, words=words, zone_ids=tuple(o.zone_id for o in unsure))


def _none(scene: Scene) -> NoLine:
    room = replace(scene, dropped=frozenset()).room()
    shut = _shut(scene, room)
    if shut is not None:
        return shut
    narrow = narrowest(room, scene.wanted.xy_m, scene.waters)
    if narrow is None:
        return NoLine(why=NoLineWhy.NOT_FOUND, words=_NOT_FOUND)
    dated = frozenset(o.number for o in scene.obstacles if scene.judge.zones[o.number].rules.dated)
    if narrow.closed and dated:
        # Another line may pass a dated zone before or after its rule holds: only the others prove anything.
        lasting = replace(scene, dropped=dated).room()
        narrow = replace(narrow, closed=is_closed(lasting, scene.wanted.xy_m, scene.waters))
    return _told(scene, room, narrow)


_NOT_FOUND = (
    "No line was found that keeps vessel and gear clear with the turns and legs that the gear allows; this "
    "does not prove that there is none."
)


def _told(scene: Scene, room: Room, narrow: Narrow) -> NoLine:
    lon, lat = scene.plane.from_plane(np.array([narrow.xy_m]))
    far_km = (scene.waters[2] - scene.waters[0]) / 1000.0, (scene.waters[3] - scene.waters[1]) / 1000.0
    if narrow.closed:
        words = (
            f"The zones with what must be kept off them close the way from start to end, in waters of "
            f"{far_km[0]:.0f} by {far_km[1]:.0f} km around the line: at the widest there are "
            f"{narrow.width_m:.0f} m, and {narrow.needed_m:.0f} m are needed."
        )
    elif narrow.width_m <= 0.0:
        words = f"{_NOT_FOUND} While the rules of all zones hold they close the way altogether."
    else:
        words = (
            f"{_NOT_FOUND} The narrowest place on the widest way is {narrow.width_m:.0f} m wide; a straight "
            f"leg needs {narrow.needed_m:.0f} m there, and a turn more."
        )
    return NoLine(
        why=NoLineWhy.CLOSED if narrow.closed else NoLineWhy.NOT_FOUND,
        words=words,
        zone_ids=tuple(room.obstacles[n].zone_id for n in narrow.numbers),
        lon_deg=float(lon[0]),
        lat_deg=float(lat[0]),
        width_m=narrow.width_m,
        needed_m=narrow.needed_m,
    )


def _shut(scene: Scene, room: Room) -> NoLine | None:
    """Return why no line can begin or end where the wanted one does; ``None`` if one can."""
    return _end_shut(scene, room, first=True) or _end_shut(scene, room, first=False)


def _end_shut(scene: Scene, room: Room, *, first: bool) -> NoLine | None:
    """Return why no line can begin, or end, where the wanted one does; ``None`` if one can."""
    xy = scene.wanted.xy_m
    here = (float(xy[0, 0]), float(xy[0, 1])) if first else (float(xy[-1, 0]), float(xy[-1, 1]))
    length = scene.least_leg_m * room.scale(here[1])
    for step_deg in (5.0, 2.0):
        if len(free_courses(room, here, first=first, length_m=length, step_deg=step_deg)):
            return None
    numbers, how = _why_shut(room, here, scene.least_leg_m, first=first)
    name = "start" if first else "end"
    lon, lat = (scene.line.lon_deg, scene.line.lat_deg)
    at = 0 if first else -1
    return NoLine(
        why=NoLineWhy.START if first else NoLineWhy.END,
        words=f"The {name} of the line {how}.",
        zone_ids=tuple(room.obstacles[n].zone_id for n in numbers),
        lon_deg=float(lon[at]),
        lat_deg=float(lat[at]),
    )


def _why_shut(
    room: Room, here: tuple[float, float], length_m: float, *, first: bool
) -> tuple[list[int], str]:
    """Return the obstacles that shut an end, and how, in words."""
    off = shapely.distance(room.shapes, shapely.Point(here))
    radius = np.array([o.radius_m for o in room.obstacles])
    inside = np.flatnonzero(off <= radius)
    if len(inside):
        turned = all(room.obstacles[n].turned for n in inside)
        how = "lies outside the area in which alone it is allowed" if turned else "lies inside a zone"
        return inside.tolist(), how
    near = np.flatnonzero(off < room.vessel_m)
    if len(near):
        how = "lies nearer to a zone than its margin, the position error and the steering allow"
        return near.tolist(), how
    doing = "shooting" if first else "hauling"
    reach = room.ends.run_in_m if first else room.ends.run_out_m
    numbers = np.flatnonzero(off < room.gear_m + room.ends.rope_m + reach)
    how = (
        f"leaves no course for a leg of {length_m:.0f} m with the gear clear while {doing}: it may reach "
        f"{room.ends.rope_m:.0f} m from the vessel, over {reach:.0f} m of way"
    )
    return _nearest_first(numbers, off), how


def _nearest_first(numbers: npt.NDArray[np.int64], off: FloatArray) -> list[int]:
    return [int(n) for n in sorted(numbers.tolist(), key=lambda n: (math.floor(off[n]), n))]
