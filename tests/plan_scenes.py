"""Random plans for checks of corrected lines: a line, the zones around it, the gear, what is known of them.

Everything is laid out in a plane round the line (complex metres, as in `gear_oracle`) and turned to degrees.
`Scene.grounds` are the zones as shapes in that plane, each with the time at which its rule holds, known from
how the scene was made; towzone is only given the zones.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cached_property

import numpy as np
import shapely
from gear_oracle import KNOT_MPS, Plane, level
from oracles import Lines, densify
from scenes import START, area, line, points, zone
from strategies import wrapped

from towzone.checks.settings import CheckSettings, GearProof
from towzone.geodesy.lines import LineKind
from towzone.model.plan import PlannedLine
from towzone.model.rules import Rules, Window
from towzone.model.vessel import Current, GearFigures, Rig
from towzone.model.zone import Zone, ZoneKind
from towzone.plan.judging import Judge, PlanSettings

PLACES = ((-20.0, 57.0), (179.97, -16.0), (30.0, 74.0), (-0.05, 0.02), (-179.9, -61.0), (5.0, 43.0))
GEARS = {Rig.SINGLE: "OTB", Rig.TWIN: "OTT", Rig.BEAM: "TBB"}
KINDS = ("scatter", "on", "gap", "wall", "rect", "inside", "small")
SHARES = (0.2, 0.18, 0.15, 0.1, 0.12, 0.1, 0.15)
MARGINS_M = (0.0, 50.0, 100.0, 200.0, 463.0)
CHORD_M = 100.0
"""Of boundaries and legs in the plane: a rhumb line at 75 degrees strays 0.7 mm from such a chord."""
DEPARTS = datetime(2026, 3, 1, 6, tzinfo=UTC)
START_UTC = START


# ---------------------------------------------------------------- a zone in the plane


@dataclass(frozen=True)
class Ground:
    """A zone as a shape in the plane, and when its rule holds: seconds after departure, or never (`None`)."""

    zone_id: str
    shape: object
    margin_m: float
    radius_m: float
    allowed: bool
    force: tuple[float, float] | None

    @cached_property
    def rim(self):
        rim = shapely.boundary(self.shape) if self.is_area else self.shape
        shapely.prepare(rim)
        return rim

    @property
    def is_area(self):
        return self.shape.geom_type in ("Polygon", "MultiPolygon")

    def holds(self, clock_s):
        """At which moments the rule holds, seconds after departure."""
        if self.force is None:
            return np.zeros(np.shape(clock_s), bool)
        return (np.asarray(clock_s) >= self.force[0]) & (np.asarray(clock_s) < self.force[1])

    def near(self, things, within_m):
        """Whether shapes come nearer than a distance, or are on the wrong side of the boundary."""
        if self.allowed:
            return shapely.dwithin(self.rim, things, within_m) | ~shapely.contains_properly(
                self.shape, things
            )
        return shapely.dwithin(self.shape, things, within_m + self.radius_m)

    def clearance_m(self, things):
        """Clearance of points or lines, negative on the wrong side; -0.1 at most where they touch."""
        things = np.asarray(things)
        rim = shapely.distance(self.rim, things)
        if not self.is_area:
            found = rim - self.radius_m
        elif self.allowed:
            found = np.where(shapely.contains_properly(self.shape, things), rim, -rim)
        else:
            found = np.where(shapely.intersects(self.shape, things), -rim, rim) - self.radius_m
        for n in np.flatnonzero((rim <= 0.0) & (self.radius_m <= 0.0)):
            found[n] = min(-0.1, self._depth_m(things[n]))
        return found

    def _depth_m(self, thing):
        """Of a line that runs over the boundary: how far its corners are on the wrong side."""
        if not self.is_area:
            return -0.1
        corners = shapely.points(shapely.get_coordinates(thing))
        wrong = shapely.contains_properly(self.shape, corners) != self.allowed
        return -float(shapely.distance(self.rim, corners[wrong]).max(initial=0.0))


def ground_of(target, plane, force):
    """A zone in the plane, its edges by its own rule."""
    parts = []
    for polygon in target.shape.polygons:
        rings = [_flat(plane, target.edges, ring, closed=True) for ring in polygon]
        parts.append(shapely.polygons(rings[0], holes=rings[1:] or None))
    parts += [shapely.linestrings(_flat(plane, target.edges, c, closed=False)) for c in target.shape.lines]
    if len(target.shape.points):
        z = plane.flat(target.shape.points[:, 0], target.shape.points[:, 1])
        parts += list(shapely.points(z.real, z.imag))
    whole = parts[0] if len(parts) == 1 else shapely.union_all(parts)
    shapely.prepare(whole)
    return Ground(
        target.zone_id,
        whole,
        target.margin_m or 0.0,
        target.radius_m,
        target.rules.allowed_only_inside,
        force,
    )


def _flat(plane, edges, corners, *, closed):
    pieces = densify(str(edges), np.array(corners), CHORD_M, closed=closed)
    lon, lat = (np.concatenate([c[k] for c in pieces]) for k in (0, 1))
    z = plane.flat(lon, lat)
    return np.column_stack([z.real, z.imag])


# ---------------------------------------------------------------- a scene


@dataclass(frozen=True)
class Scene:
    """A plan: ``z`` are the corners of the wanted line in the plane."""

    kind: str
    plane: Plane
    z: np.ndarray
    line: PlannedLine
    zones: tuple[Zone, ...]
    grounds: tuple[Ground, ...]
    figures: GearFigures
    speed_kn: float
    hauling_way_kn: float
    steering_m: float
    position_error_m: float
    strongest_kn: float | None
    depart: datetime = DEPARTS
    cache: dict = field(default_factory=dict)

    @property
    def gear(self):
        return GEARS[self.figures.rig]

    @property
    def depart_utc(self):
        return np.datetime64(self.depart.replace(tzinfo=None), "us")

    def line_of(self, z, name="other"):
        """A line through places of the plane."""
        lon, lat = self.plane.degrees(np.asarray(z))
        return PlannedLine(name=name, lon_deg=wrapped(lon), lat_deg=lat)

    def dense(self, planned):
        """Rhumb legs of a line in the plane: places, and the index of each corner among them."""
        corners = np.column_stack([planned.lon_deg, planned.lat_deg])
        pieces = densify("rhumb", corners, 2.0 * CHORD_M, closed=False)
        lon = np.concatenate([pieces[0][0][:1], *(p[0][1:] for p in pieces)])
        lat = np.concatenate([pieces[0][1][:1], *(p[1][1:] for p in pieces)])
        return self.plane.flat(lon, lat), np.cumsum([0, *(len(p[0]) - 1 for p in pieces)])


def legs_of(planned):
    """Lengths and courses of rhumb legs, and the turns between them."""
    lon, lat = planned.lon_deg, planned.lat_deg
    length, course = Lines.between("rhumb", lon[:-1], lat[:-1], lon[1:], lat[1:]).inverse()
    return length, course, np.abs((np.diff(course) + 180.0) % 360.0 - 180.0)


def layback_m(figures):
    """Block to doors by the figures."""
    height = figures.depth_m + figures.block_height_m
    aside = 0.0 if figures.rig is Rig.BEAM else (figures.door_spread_m - figures.block_separation_m) / 2.0
    return float(level(figures.warp_m, height, aside))


def rope_m(figures):
    """More than any part of the gear can be away from the antenna, allowing for errors: own, and simple."""
    out = 1.15 * figures.warp_m + 1.06 * ((figures.sweeps_m or 0.0) + figures.net_length_m)
    aside = (figures.beams_apart_m or 0.0) + (figures.beam_length_m or 0.0) + 10.0
    return out + aside + figures.block_aft_m + 30.0


def scene(rng, kind=None):
    """A random scene of a kind, or of any."""
    kind = str(rng.choice(KINDS, p=SHARES)) if kind is None else kind
    figures = _figures(rng)
    current = rng.random() < 0.4
    if current:
        drift = Current(set_deg=float(rng.uniform(0.0, 360.0)), drift_kn=float(rng.uniform(0.1, 0.8)))
        figures = replace(figures, current=drift)
    place = PLACES[int(rng.integers(len(PLACES)))]
    plane = Plane(*place)
    z = _corners(rng, small=kind == "small")
    lon, lat = plane.degrees(z)
    wanted = PlannedLine(name="wanted", lon_deg=wrapped(lon), lat_deg=lat)
    one = Scene(
        kind=kind,
        plane=plane,
        z=z,
        line=wanted,
        zones=(),
        grounds=(),
        figures=figures,
        speed_kn=float(np.round(rng.uniform(2.4, 3.8), 1)),
        hauling_way_kn=float(np.round(rng.uniform(1.0, 3.5), 1)),
        steering_m=float(rng.choice([0.0, 0.0, 15.0, 40.0])),
        position_error_m=float(rng.choice([5.0, 15.0])),
        strongest_kn=float(np.round(rng.uniform(0.2, 1.0), 1)) if rng.random() < 0.4 else None,
        depart=DEPARTS + timedelta(hours=float(np.round(rng.uniform(0.0, 17.0), 2))),
    )
    return _with_zones(one, _Maker(rng, one).zones())


def _with_zones(one, made):
    zones = tuple(target for target, _ in made)
    grounds = tuple(ground_of(target, one.plane, force) for target, force in made)
    return replace(one, zones=zones, grounds=grounds)


def _corners(rng, *, small):
    """Two to five corners, legs of 3 to 20 km, turns to 55 degrees and now and then to 100."""
    heading = np.exp(2j * np.pi * rng.random())
    legs = 1 if small and rng.random() < 0.6 else int(rng.integers(1, 5))
    z = [0.0 + 0.0j]
    for n in range(legs):
        if n:
            widest = 100.0 if rng.random() < 0.1 else 55.0
            heading = heading * np.exp(1j * np.radians(rng.uniform(-widest, widest)))
        z.append(z[-1] + heading * 3000.0 * (20.0 / 3.0) ** (rng.random() ** 1.3))
    return np.array(z) - np.mean(z)


def _figures(rng):
    rig = list(Rig)[int(rng.choice(3, p=[0.45, 0.35, 0.2]))]
    depth = float(np.round(rng.uniform(30.0, 150.0)))
    warp = float(np.round((depth + 5.0) * rng.uniform(2.4, 4.2)))
    shared = {
        "rig": rig,
        "warp_m": warp,
        "depth_m": depth,
        "block_height_m": float(np.round(rng.uniform(2.0, 7.0), 1)),
        "net_length_m": float(np.round(rng.uniform(30.0, 60.0))),
        "heave_speed_mps": float(np.round(rng.uniform(0.7, 1.6), 2)),
        "shoot_time_s": float(np.round(rng.uniform(240.0, 600.0))),
        "block_aft_m": float(rng.choice([0.0, 12.0, 18.0])),
        "block_starboard_m": float(rng.choice([0.0, 0.0, 2.0])),
        "tow_speed_kn": 3.0,
    }
    if rig is Rig.BEAM:
        length = float(np.round(rng.uniform(4.0, 12.0), 1))
        apart = float(np.round(rng.uniform(14.0, 30.0), 1))
        return GearFigures(**shared, beam_length_m=length, beams_apart_m=apart, sweeps_m=0.0)
    spread = float(np.round(min(warp * rng.uniform(0.2, 0.4), 110.0)))
    share = spread / (2.0 if rig is Rig.TWIN else 1.0)
    more = {
        "block_separation_m": float(np.round(rng.uniform(4.0, 10.0), 1)),
        "door_spread_m": spread,
        "sweeps_m": float(np.round(rng.uniform(60.0, 140.0))),
        "wing_spread_m": float(np.round(min(rng.uniform(10.0, 20.0), 0.8 * share), 1)),
    }
    if rig is Rig.TWIN:
        more["clump_warp_m"] = float(np.round(warp * rng.uniform(0.95, 1.0)))
    return GearFigures(**shared, **more)


# ---------------------------------------------------------------- zones


class _Maker:
    """Makes the zones of a scene; answers (zone, when its rule holds)."""

    def __init__(self, rng, one):
        self.rng, self.one = rng, one
        self.keep_ends = rng.random() < 0.92
        self.dated = rng.random() < 0.3
        dense, _ = one.dense(one.line)
        self.run = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(dense)))])
        self.dense = dense
        first, last = (dense[1] - dense[0]), (dense[-1] - dense[-2])
        back = 700.0 + 500.0 * rng.random()
        self.ends = shapely.union_all(
            [
                shapely.linestrings(
                    [(dense[0].real, dense[0].imag), _xy(dense[0] - first / abs(first) * back)]
                ),
                shapely.linestrings(
                    [(dense[-1].real, dense[-1].imag), _xy(dense[-1] + last / abs(last) * back)]
                ),
            ]
        )

    def zones(self):
        made = []
        makers = getattr(self, f"_{self.one.kind}")()
        for n, make in enumerate(makers):
            for _ in range(30):  # until one keeps off the ends
                found = make(f"Z{n}")
                if found is not None and (not self.keep_ends or self._keeps_off(*found)):
                    made.append(found)
                    break
        return made

    def _keeps_off(self, target, force):
        ground = ground_of(target, self.one.plane, force)
        return not ground.near(self.ends, ground.margin_m + rope_m(self.one.figures) + 60.0)

    # kinds of scenes: what to make, one by one

    def _scatter(self):
        return [lambda i: self._any(i, 2500.0)] * int(self.rng.integers(2, 11))

    def _on(self):
        some = [lambda i: self._any(i, 250.0)] * int(self.rng.integers(1, 4))
        return some + [lambda i: self._any(i, 2500.0)] * int(self.rng.integers(0, 5))

    def _gap(self):
        at, way = self._place(0.25, 0.75)
        wide, margin = self.rng.uniform(100.0, 1100.0), self._margin()
        middle = at + 1j * way * self.rng.uniform(-600.0, 600.0)
        sides = [
            lambda i, side=side: self._side(i, middle, way, side, margin + wide / 2.0, margin)
            for side in (1.0, -1.0)
        ]
        return sides + [lambda i: self._any(i, 2500.0)] * int(self.rng.integers(0, 3))

    def _wall(self):
        at, way = self._place(0.25, 0.75)
        both = self.rng.choice([3000.0, 6000.0, 90000.0], 2, p=[0.4, 0.35, 0.25])
        turned = way * np.exp(1j * np.radians(self.rng.uniform(50.0, 130.0)))

        def wall(i):
            z = [at + turned * both[0], at + turned * self.rng.uniform(-300.0, 300.0), at - turned * both[1]]
            kind = ZoneKind.CABLE if self.rng.random() < 0.7 else ZoneKind.PIPELINE
            return self._made(i, line(*self._degrees(z)), kind, radius_m=20.0 * (kind is ZoneKind.PIPELINE))

        return [wall] + [lambda i: self._any(i, 2500.0)] * int(self.rng.integers(0, 3))

    def _rect(self):
        return [self._box] * int(self.rng.integers(1, 4)) + [lambda i: self._any(i, 2500.0)] * int(
            self.rng.integers(0, 3)
        )

    def _inside(self):
        room = self.rng.uniform(1500.0, 5000.0) + 2.0 * rope_m(self.one.figures)

        def pen(i):
            hull = shapely.convex_hull(shapely.multipoints([_xy(c) for c in self.dense]))
            ring = shapely.get_coordinates(shapely.buffer(hull, room, quad_segs=2))[:-1]
            z = ring[::-1, 0] + 1j * ring[::-1, 1]
            return self._made(
                i, area(self._degrees(z)), ZoneKind.CLOSED_AREA, rules=Rules(allowed_only_inside=True)
            )

        return [pen] + [lambda i: self._any(i, 800.0)] * int(self.rng.integers(1, 5))

    def _small(self):
        return [lambda i: self._convex(i, 900.0)] * int(self.rng.integers(1, 4))

    # kinds of zones

    def _any(self, zone_id, off_m):
        what = self.rng.choice(
            ["wreck", "safety", "cable", "pipe", "area", "box"], p=[0.15, 0.15, 0.15, 0.1, 0.3, 0.15]
        )
        at, _ = self._place(-0.05, 1.05)
        at = at + self.rng.normal() * off_m * np.exp(2j * np.pi * self.rng.random())
        if what == "wreck":
            radius = float(self.rng.choice([0.0, 50.0]))
            return self._made(zone_id, points(*self._degrees([at])), ZoneKind.OBSTRUCTION, radius_m=radius)
        if what == "safety":
            radius = float(self.rng.choice([100.0, 500.0]))
            return self._made(zone_id, points(*self._degrees([at])), ZoneKind.SAFETY_ZONE, radius_m=radius)
        if what == "area":
            return self._star(zone_id, at, 10.0 ** self.rng.uniform(2.3, 3.6))
        if what == "box":
            return self._box(zone_id, at)
        size = 10.0 ** self.rng.uniform(2.5, 3.7)
        heading = np.exp(2j * np.pi * self.rng.random())
        bent = heading * np.exp(1j * np.radians(self.rng.uniform(-60.0, 60.0)))
        kind = ZoneKind.CABLE if what == "cable" else ZoneKind.PIPELINE
        return self._made(
            zone_id,
            line(*self._degrees([at - heading * size, at, at + bent * size])),
            kind,
            radius_m=20.0 * (what == "pipe"),
        )

    def _star(self, zone_id, at, size):
        n = int(self.rng.integers(3, 8))
        turns = self.rng.uniform(0.0, 360.0) + np.arange(n) * 360.0 / n
        z = at + size * self.rng.uniform(0.5, 1.0, n) * np.exp(1j * np.radians(turns))
        return self._made(zone_id, area(self._degrees(z)), ZoneKind.CLOSED_AREA)

    def _convex(self, zone_id, off_m):
        at, _ = self._place(0.1, 0.9)
        at = at + self.rng.normal() * off_m * np.exp(2j * np.pi * self.rng.random())
        n = int(self.rng.integers(3, 7))
        spread = np.cumsum(self.rng.uniform(0.6, 1.0, n))
        turns = 2.0 * np.pi * (self.rng.random() + spread / spread[-1])
        long, short = 10.0 ** self.rng.uniform(2.7, 3.6, 2)
        z = at + (long * np.cos(turns) + 1j * short * np.sin(turns)) * np.exp(2j * np.pi * self.rng.random())
        return self._made(zone_id, area(self._degrees(z)), ZoneKind.CLOSED_AREA)

    def _box(self, zone_id, at=None):
        """Bounded by parallels and meridians."""
        if at is None:
            at, way = self._place(0.15, 0.85)
            at = at + 1j * way * self.rng.uniform(-1500.0, 1500.0)
        high, wide = 10.0 ** self.rng.uniform(2.7, 3.7, 2)
        (west, south), (east, north) = self._degrees([at - wide - 1j * high, at + wide + 1j * high])
        ring = [(west, south), (east, south), (east, north), (west, north)]
        return self._made(zone_id, area(ring), ZoneKind.CLOSED_AREA, edges=LineKind.RHUMB)

    def _side(self, zone_id, middle, way, side, away_m, margin_m):
        """One of two areas with a gap between them."""
        deep, wide = self.rng.uniform(500.0, 3000.0), self.rng.uniform(2000.0, 8000.0)
        out = 1j * way * side
        z = [
            middle + out * away_m + way * deep * self.rng.uniform(0.0, 0.3),
            middle + out * (away_m + wide) + way * deep,
            middle + out * (away_m + wide) - way * deep,
            middle + out * (away_m + self.rng.uniform(0.0, 300.0)) - way * deep * self.rng.uniform(0.3, 1.0),
        ]
        return self._made(zone_id, area(self._degrees(z)), ZoneKind.CLOSED_AREA, margin_m=margin_m)

    # what all have

    def _place(self, low, high):
        """A place on the line, beyond its ends for shares under 0 and over 1, and the way there."""
        share = self.rng.uniform(low, high) * self.run[-1]
        k = int(np.clip(np.searchsorted(self.run, share) - 1, 0, len(self.run) - 2))
        way = (self.dense[k + 1] - self.dense[k]) / abs(self.dense[k + 1] - self.dense[k])
        return self.dense[k] + way * (share - self.run[k]), way

    def _degrees(self, z):
        lon, lat = self.one.plane.degrees(np.asarray(z))
        return list(zip(wrapped(lon).tolist(), lat.tolist(), strict=True))

    def _margin(self):
        return float(self.rng.choice(MARGINS_M))

    def _made(self, zone_id, shape, kind, *, margin_m=None, edges=None, rules=None, **more):
        edges = list(LineKind)[int(self.rng.integers(3))] if edges is None else edges
        force = (-np.inf, np.inf)
        if rules is None:
            rules, force = self._rules()
        margin = self._margin() if margin_m is None else margin_m
        return zone(shape, kind, edges=edges, zone_id=zone_id, margin_m=margin, rules=rules, **more), force

    def _rules(self):
        """Rules, and when they hold: seconds after departure, from and until."""
        depart, always = self.one.depart, (-np.inf, np.inf)
        if not self.dated or self.rng.random() < 0.5:
            return Rules(), always
        what = self.rng.choice(["summer", "winter", "tomorrow", "valid", "until", "gear"])
        midnight = datetime(2026, 3, 2, tzinfo=UTC)
        if what == "summer":
            return Rules(season=(Window(from_month=6, from_day=1, to_month=8, to_day=31),)), None
        if what == "winter":
            return Rules(season=(Window(from_month=11, from_day=15, to_month=4, to_day=30),)), always
        if what == "tomorrow":
            season = (Window(from_month=3, from_day=2, to_month=9, to_day=30),)
            return Rules(season=season), ((midnight - depart).total_seconds(), np.inf)
        if what == "gear":
            return Rules(except_gears=(self.one.gear,)), None
        at_s = float(round(self.rng.uniform(-2.0, 8.0) * 3600.0))
        at = depart + timedelta(seconds=at_s)
        if what == "valid":
            return Rules(valid_from=at), (at_s, np.inf)
        return Rules(valid_until=at), (-np.inf, at_s)


def _xy(z):
    return (float(np.real(z)), float(np.imag(z)))


def towing_s(one, planned):
    """How long a line takes, from its first corner to its last."""
    return float(legs_of(planned)[0].sum()) / (one.speed_kn * KNOT_MPS)


# ---------------------------------------------------------------- what towzone is given


def settings_of(one, **more):
    """The settings of a plan, as towzone wants them."""
    figures = replace(one.figures, strongest_kn=one.strongest_kn)
    check = CheckSettings(
        gear=one.gear,
        figures=figures,
        gear_proof=GearProof.MODEL,
        position_error_m=one.position_error_m,
        steering_m=one.steering_m,
    )
    unknown_kn = 0.6 if one.figures.current is not None else 1.5
    return PlanSettings(
        check=check,
        depart_utc=one.depart_utc,
        speed_kn=one.speed_kn,
        hauling_way_kn=one.hauling_way_kn,
        hauling_way_stated=True,
        strongest_kn=unknown_kn if one.strongest_kn is None else one.strongest_kn,
        strongest_stated=one.strongest_kn is not None,
        **more,
    )


def judge_of(one):
    return Judge(one.zones, settings_of(one))


def figures_of(judge):
    """The figures of the gear by name, with their deviations."""
    return {figure.name: figure for figure in judge.rigging.all()}
