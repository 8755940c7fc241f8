"""A planned tow in time: legs, what happens when, rules that change around it, hours and fuel."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import numpy as np

from towzone.checks.boundaries import Boundaries
from towzone.checks.force import Force, span_standing
from towzone.gear.figures import Rigging
from towzone.geodesy.approach import closest
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.lines import LineKind, direct
from towzone.grids.crossed import cells_crossed
from towzone.grids.ices import ICES
from towzone.model.plan import (
    EventKind,
    Fuel,
    PlanEvent,
    PlanLeg,
    PlannedLine,
    SeasonChange,
    Timetable,
)
from towzone.model.zone import Zone
from towzone.plan.along import Way, legs_side
from towzone.plan.judging import Judge
from towzone.plan.lines import turns_deg
from towzone.units import KNOT_MPS

__all__ = ["timetable_of"]

_AROUND = timedelta(days=1)
"""Rules that change so long before or after a plan are told: departures move by hours. Own choice."""

_STEP_M = 1_000.0
"""Distance of the points by which rectangles are told: joined straight in longitude and latitude they lie
within a metre of any line below 80 degrees of latitude. Own choice."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_HOUR_S = 3600.0


def timetable_of(line: PlannedLine, judge: Judge) -> Timetable:
    """Return a planned line in time.

    Raises
    ------
    GeometryError
        A leg is too long or ambiguous.
    """
    way = Way.of(line, judge.settings.check.legs)
    speed_mps = judge.settings.speed_kn * KNOT_MPS
    zones, boundaries = judge.near(judge.track(line))
    near = _near(way, zones, boundaries, judge.settings.check.reach_m)
    corner_s = way.corner_m / speed_mps
    seconds = float(corner_s[-1])
    whole_s = seconds + judge.contact.latest_s - _net_away_s(judge)
    litres_per_hour = judge.settings.fuel_l_per_h
    return Timetable(
        legs=_legs(way, judge, zones, near, corner_s),
        events=_events(way, judge, seconds),
        seasons=_seasons(judge, [zones[z] for z in sorted(set().union(*near))], seconds),
        length_m=way.length_m,
        seconds=seconds,
        whole_seconds=whole_s,
        fuel=None
        if litres_per_hour is None
        else Fuel(litres=litres_per_hour * whole_s / _HOUR_S, litres_per_hour=litres_per_hour),
    )


def _near(way: Way, zones: Sequence[Zone], boundaries: Boundaries, reach_m: float) -> list[set[int]]:
    """Return for each leg the numbers of the zones within reach, or that hold (the other way round) it."""
    line = way.line
    legs = len(way.legs.length_m)
    found: list[set[int]] = [set() for _ in range(legs)]
    if not zones:
        return found
    ends = (line.lon_deg[:-1], line.lat_deg[:-1], line.lon_deg[1:], line.lat_deg[1:])
    side = legs_side(way.kind, *ends)
    limit_m = reach_m + np.array([zone.radius_m for zone in zones])
    leg, zone = boundaries.near(side, limit_m)
    if len(leg):
        edge = boundaries.measured(np.unique(zone))
        apart = closest(side, leg, edge, zone, limit_m[zone]).distance_m
        for a, z, metres in zip(leg.tolist(), zone.tolist(), apart.tolist(), strict=True):
            if metres <= limit_m[z]:
                found[a].add(z)
    for z, some in enumerate(zones):
        if some.shape.is_area:
            inside = boundaries.regions[z].contains(line.lon_deg[:-1], line.lat_deg[:-1])
            for a in np.flatnonzero(inside != some.rules.allowed_only_inside).tolist():
                found[a].add(z)
    return found


def _legs(
    way: Way, judge: Judge, zones: Sequence[Zone], near: Sequence[set[int]], corner_s: FloatArray
) -> tuple[PlanLeg, ...]:
    line, check, depart = way.line, judge.settings.check, judge.settings.depart_utc
    turns = turns_deg(line, way.kind)
    legs = []
    for leg, length_m in enumerate(way.legs.length_m.tolist()):
        begin, end = (_after(depart, float(corner_s[corner])) for corner in (leg, leg + 1))
        span = (_seconds(begin), _seconds(end))
        held = [
            zones[z].zone_id
            for z in sorted(near[leg])
            if span_standing(zones[z], *span, check).force is not Force.IDLE
        ]
        legs.append(
            PlanLeg(
                number=leg + 1,
                lon0_deg=float(line.lon_deg[leg]),
                lat0_deg=float(line.lat_deg[leg]),
                lon1_deg=float(line.lon_deg[leg + 1]),
                lat1_deg=float(line.lat_deg[leg + 1]),
                course_deg=float(way.legs.course0_deg[leg]),
                turn_deg=float(turns[leg]) if leg < len(turns) else None,
                length_m=length_m,
                speed_kn=judge.settings.speed_kn,
                begin_utc=begin,
                end_utc=end,
                rectangles=_rectangles(way, leg),
                zones=tuple(held),
            )
        )
    return tuple(legs)


def _rectangles(way: Way, leg: int) -> tuple[str, ...]:
    first, last = way.corner_m[leg], way.corner_m[leg + 1]
    steps = max(1, int(np.ceil((last - first) / _STEP_M)))
    inner_lon, inner_lat = way.positions(np.linspace(first, last, steps + 1)[1:-1])
    ends_lon, ends_lat = way.line.lon_deg[leg : leg + 2], way.line.lat_deg[leg : leg + 2]
    if way.kind is LineKind.RHUMB:  # along a side of a rectangle rounding would take it to either hand
        inner_lat = np.clip(inner_lat, ends_lat.min(), ends_lat.max())
    # The corners as they were written: computed ones may fall a hair beside the side of a rectangle.
    columns = ((ends_lon, inner_lon), (ends_lat, inner_lat))
    lon, lat = (np.concatenate([ends[:1], inner, ends[1:]]) for ends, inner in columns)
    return cells_crossed(ICES, lon, lat)


def _net_away_s(judge: Judge) -> float:
    """Return when the net goes into the water, seconds from where towing begins (negative).

    By the figures warp, sweeps and net run out at one speed; a part that may touch earlier is in the water.
    """
    if not isinstance(judge.rigging, Rigging):
        return judge.contact.earliest_s
    out_m = judge.rigging.warp.value + judge.rigging.sweeps.value
    return min(judge.contact.earliest_s, -out_m / judge.rigging.veer_speed.value)


def _events(way: Way, judge: Judge, seconds: float) -> tuple[PlanEvent, ...]:
    """Return what happens, and where the vessel is then; of gear that is not known only the tow itself."""
    contact = judge.contact
    known = isinstance(judge.rigging, Rigging)
    moments = {
        EventKind.NET_AWAY: (_net_away_s(judge), known),
        EventKind.EARLIEST_CONTACT: (contact.earliest_s, known),
        EventKind.TOWING: (0.0, True),
        EventKind.HAUL_CALL: (seconds, True),
        EventKind.DOORS_OFF: (seconds + contact.last_s, known),
        EventKind.LATEST_CONTACT: (seconds + contact.latest_s, known),
    }
    return tuple(_event(way, judge, kind, at_s, seconds) for kind, (at_s, told) in moments.items() if told)


def _event(way: Way, judge: Judge, kind: EventKind, at_s: float, seconds: float) -> PlanEvent:
    towing_mps = judge.settings.speed_kn * KNOT_MPS
    hauling_mps = judge.settings.hauling_way_kn * KNOT_MPS
    line, legs = way.line, way.legs
    if at_s <= 0.0:
        start = (line.lon_deg[0], line.lat_deg[0], (legs.course0_deg[0] + 180.0) % 360.0, -at_s * towing_mps)
    else:
        late_m = (at_s - seconds) * hauling_mps
        start = (line.lon_deg[-1], line.lat_deg[-1], legs.course1_deg[-1], late_m)
    lon, lat = direct(way.kind, *start)
    return PlanEvent(
        kind=kind, utc=_after(judge.settings.depart_utc, at_s), lon_deg=float(lon), lat_deg=float(lat)
    )


def _seasons(judge: Judge, zones: Sequence[Zone], seconds: float) -> tuple[SeasonChange, ...]:
    """Return when rules of zones begin or cease to hold around a plan, in order of time.

    Rules that do not cover the gear concern nobody.
    """
    depart = judge.settings.depart_utc
    first = _instant(_after(depart, _net_away_s(judge))) - _AROUND
    last = _instant(_after(depart, seconds + judge.contact.latest_s)) + _AROUND
    begin_s, end_s = ((at - _EPOCH).total_seconds() for at in (first, last))
    check = judge.settings.check
    found = [
        SeasonChange(
            zone_id=zone.zone_id,
            at_utc=np.datetime64(change.replace(tzinfo=None), "us"),
            begins=zone.rules.in_force_at(change),
        )
        for zone in zones
        if zone.rules.dated and span_standing(zone, begin_s, end_s, check).force is not Force.IDLE
        for change in zone.rules.changes(first, last)
    ]
    return tuple(sorted(found, key=lambda change: (change.at_utc, change.zone_id)))


def _after(depart_utc: np.datetime64, seconds: float) -> np.datetime64:
    whole: np.datetime64 = depart_utc.astype("datetime64[us]")
    return whole + np.timedelta64(round(seconds * 1e6), "us")


def _seconds(instant: np.datetime64) -> float:
    return float(instant.astype("datetime64[us]").astype(np.int64)) / 1e6


def _instant(instant: np.datetime64) -> datetime:
    return _EPOCH + timedelta(microseconds=int(instant.astype("datetime64[us]").astype(np.int64)))
