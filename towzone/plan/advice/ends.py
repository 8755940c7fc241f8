"""Where on a line a tow may begin or end for one zone: how near shooting and hauling bring the gear to it.

While gear is shot and hauled only the length of its rope counts, around the vessel on its straight way before
the tow and after it. What is found here is a proposal; the check decides.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from towzone.checks.boundaries import Boundaries
from towzone.checks.intervals import merged
from towzone.checks.legs import BoolArray
from towzone.checks.passages import CONTACT_M
from towzone.checks.verdicts import TOUCH_M
from towzone.gear.phases import Contact
from towzone.geodesy.approach import Side, closest, reaches
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.plan import PlannedLine
from towzone.model.result import Row
from towzone.model.zone import Zone
from towzone.plan.along import Way
from towzone.plan.judging import OPEN, Judge
from towzone.units import KNOT_MPS

__all__ = ["MOST_ZONES", "Ends", "Stretch", "ends_of", "last_place"]

Stretch = tuple[float, float]
"""Metres along the line, from and to."""

_STEP_M, _MOST_PLACES = 50.0, 2_000
"""Distance of the places that are tried first; on long lines they are farther apart. Own choices."""

_HALVINGS = 12
"""Of a step of the search: to centimetres."""

_SPARE_M = 0.05
"""Kept beside what is needed: curves are cut into chords. Own choice."""

_AFTER_S = 1.0
"""So much longer the check looks (`towzone.plan.judging`)."""

_LEAST_RUN_M = 0.01
"""A place, as a way of no length. Own choice."""

_ANGLE_M = 50.0
"""So far before a boundary, and twice as far, clearance tells the angle of approach. Own choice."""

_JOIN_M = 0.01

MOST_ZONES = 3
"""For so many zones at the most a place is looked for: those that the line comes to first. Own choice."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Ends:
    """One line against one zone, for where a tow may begin and end.

    Parameters
    ----------
    way : Way
    judge : Judge
    checker : Judge
        The same check, of no more zones than can be open: what is farther off has no rows.
    zone : Zone
    number : int
        Of the zone among those near the line.
    boundaries : Boundaries
        Of these.
    margin_m : float
    """

    way: Way
    judge: Judge
    checker: Judge
    zone: Zone
    number: int
    boundaries: Boundaries
    margin_m: float

    @property
    def off_m(self) -> float:
        """How far vessel and zone may be from where they are computed: steering, and the zone's datum."""
        return self.judge.settings.check.steering_m + self.zone.datum_accuracy_m

    @cached_property
    def contact(self) -> Contact:
        """When any part of the gear may touch the bottom, before towing begins and after the call."""
        return self.judge.contact

    @property
    def hauling_m(self) -> float:
        """How far the vessel goes straight on from the call until no part can touch the bottom."""
        return (self.contact.latest_s + _AFTER_S) * self.judge.settings.hauling_way_kn * KNOT_MPS

    @property
    def shooting_m(self) -> float:
        """How far before the brakes are on any part can first touch the bottom."""
        return (-self.contact.earliest_s + _AFTER_S) * self.judge.settings.speed_kn * KNOT_MPS

    @cached_property
    def rope_needs_m(self) -> float:
        """How far the vessel must be from the zone for no part of its gear to come under the margin."""
        gear_m = max(self.margin_m, TOUCH_M) + self.judge.rope_m
        vessel_m = self.margin_m + self.judge.settings.check.position_error_m
        return max(gear_m, vessel_m) + self.off_m + _SPARE_M

    @cached_property
    def places(self) -> FloatArray:
        """Places along the line that are tried first, both ends among them."""
        length_m = self.way.length_m
        steps = int(np.clip(np.ceil(length_m / _STEP_M), 1, _MOST_PLACES))
        return np.linspace(0.0, length_m, steps + 1)

    @cached_property
    def clear_to_haul(self) -> FloatArray:
        """What each place leaves beyond the need, if the haul is called there, shape (n,)."""
        return self.haul_spare_m(self.places)

    @cached_property
    def clear_to_shoot(self) -> FloatArray:
        """What each place leaves beyond the need, if the brakes go on there, shape (n,)."""
        return self.shoot_spare_m(self.places)

    def haul_spare_m(self, way_m: FloatArray) -> FloatArray:
        """Return what hauling from places on leaves beyond the need, metres."""
        return self._runs_m(way_m, self.hauling_m) - self.rope_needs_m

    def shoot_spare_m(self, way_m: FloatArray) -> FloatArray:
        """Return what shooting up to places leaves beyond the need, metres."""
        return self._runs_m(way_m, self.shooting_m, astern=True) - self.rope_needs_m

    def wrong(self, way_m: FloatArray) -> BoolArray:
        """Return whether the vessel is on the wrong side of an area's boundary at places on the line."""
        if not self.zone.shape.is_area:
            return np.zeros(len(way_m), dtype=bool)
        inside = self.boundaries.regions[self.number].contains(*self.way.positions(way_m))
        return np.asarray(inside != self.zone.rules.allowed_only_inside)

    def doors_spare_m(self, way_m: FloatArray, ahead_m: float, wide_m: float, needs_m: float) -> FloatArray:
        """Return what is left beyond a need where doors go straight on so far from places on the line."""
        sides = [self._runs_m(way_m, ahead_m, aside_m=aside) for aside in (-wide_m, wide_m)]
        return np.asarray(np.minimum(*sides) - needs_m)

    def vessel_spare_m(self, way_m: FloatArray, ahead_m: float) -> FloatArray:
        """Return what is left beyond the margin where the vessel goes straight on from places on the line."""
        return self._runs_m(way_m, max(ahead_m, _LEAST_RUN_M)) - max(self.margin_m, TOUCH_M) - self.off_m

    def _runs_m(
        self, way_m: FloatArray, length_m: float, *, aside_m: float = 0.0, astern: bool = False
    ) -> FloatArray:
        """Return the clearance of straight ways from places on the line, negative where they begin wrong."""
        side = self.way.runs(way_m, length_m, aside_m=aside_m, astern=astern)
        count = len(way_m)
        zone, cutoff_m = np.full(count, self.number), np.full(count, np.inf)
        off_m = closest(side, np.arange(count), self._edge, zone, cutoff_m).distance_m
        return np.asarray(np.where(self.wrong(way_m), -off_m, off_m) - self.zone.radius_m)

    @cached_property
    def _edge(self) -> Side:
        return self.boundaries.measured(np.array([self.number]))

    def within(self, limit_m: float, *, aside_m: float = 0.0, farther_m: float = 0.0) -> list[Stretch]:
        """Return where the line, and hauling straight on from its end, are so near the boundary or nearer.

        Metres along the line; beyond its end they go on.

        Parameters
        ----------
        aside_m : float
            Of ways so far to starboard of it instead.
        farther_m : float
            So far beyond where hauling ends, too.
        """
        way, beyond_m = self.way, self.hauling_m + farther_m
        side = self.way.whole(beyond_m, aside_m=aside_m)
        count = len(way.legs.length_m) + 1
        limits = np.full(count, max(limit_m, CONTACT_M) + self.zone.radius_m)
        found = reaches(side, np.arange(count), self._edge, np.full(count, self.number), limits).each_piece()
        if not len(found.pair):
            return []
        pieces = side.pieces
        begin_m, long_m = way.corner_m, np.append(way.legs.length_m, beyond_m)
        leg, start = pieces.edge[found.path_piece], pieces.from_part[found.path_piece]
        span = pieces.to_part[found.path_piece] - start
        first, last = (
            begin_m[leg] + (start + part * span) * long_m[leg] for part in (found.first, found.last)
        )
        both = merged(first, last, touch=_JOIN_M)
        return list(zip(both.first.tolist(), both.last.tolist(), strict=True))

    @cached_property
    def nearest_m(self) -> float:
        """Where on the line, or straight on from its end, it passes the zone nearest, metres along it."""
        side = self.way.whole(self.hauling_m)
        count = len(self.way.legs.length_m) + 1
        number, cutoff_m = np.full(count, self.number), np.full(count, np.inf)
        found = closest(side, np.arange(count), self._edge, number, cutoff_m)
        leg = int(np.argmin(found.distance_m))
        piece, part = found.path_piece[leg], found.path_part[leg]
        share = side.pieces.from_part[piece] * (1.0 - part) + side.pieces.to_part[piece] * part
        long_m = np.append(self.way.legs.length_m, self.hauling_m)
        return float(self.way.corner_m[leg] + share * long_m[leg])

    @cached_property
    def first_near_m(self) -> float:
        """Where on the line any part of the gear can first come under the margin, metres along it."""
        return min((first for first, _ in self.within(self.rope_needs_m)), default=np.inf)

    @cached_property
    def last_near_m(self) -> float:
        """Where on the line, or hauling on from its end, any part of the gear can last come under it."""
        return max((last for _, last in self.within(self.rope_needs_m)), default=-np.inf)

    @property
    def near_s(self) -> Stretch | None:
        """From when to when any part of the gear may be within the margin, seconds after towing begins.

        Shooting and hauling are counted; ``None`` where it never is. What lies between is not told apart.
        """
        settings, contact = self.judge.settings, self.contact
        tow_mps, haul_mps = settings.speed_kn * KNOT_MPS, settings.hauling_way_kn * KNOT_MPS
        length_m = self.way.length_m
        near = [metres for stretch in self.within(self.rope_needs_m) for metres in stretch]
        moments = [min(m, length_m) / tow_mps + max(m - length_m, 0.0) / haul_mps for m in near]
        ends_wrong = self.wrong(np.array([0.0, length_m]))
        if ends_wrong[0] or self.clear_to_shoot[0] < 0.0:
            moments.append(contact.earliest_s - 1.0)
        if ends_wrong[1]:
            moments.append(length_m / tow_mps + contact.latest_s + 1.0)
        return (min(moments), max(moments)) if moments else None

    def angle_deg(self, way_m: float) -> float | None:
        """Return the angle between the course and the boundary that the line meets at a place.

        By how clearance falls over the last 50 m before that; ``None`` where the line has not so much.
        """
        places = np.array([way_m - 2.0 * _ANGLE_M, way_m - _ANGLE_M])
        if places[0] < 0.0 or way_m > self.way.length_m:
            return None
        far_m, near_m = self._runs_m(places, _LEAST_RUN_M).tolist()
        return math.degrees(math.asin(min(abs(far_m - near_m) / _ANGLE_M, 1.0)))


def ends_of(line: PlannedLine, judge: Judge, rows: Sequence[Row], *, dated: bool = False) -> list[Ends]:
    """Return a line against the zones of its open rows, in the order in which it comes to them, a few.

    Parameters
    ----------
    dated : bool
        Only those of which the rule holds at some times only.
    """
    if not any(row.status in OPEN for row in rows):
        return []
    zones, boundaries = judge.near(judge.track(line))
    number = {zone.zone_id: z for z, zone in enumerate(zones)}
    margin_m = {
        row.zone_id: row.margin_m
        for row in rows
        if row.status in OPEN
        and row.zone_id in number
        and (zones[number[row.zone_id]].rules.dated or not dated)
    }
    way = Way.of(line, judge.settings.check.legs)
    check = replace(judge.settings.check, reach_m=0.0)
    checker = judge.with_settings(replace(judge.settings, check=check))
    found = [
        Ends(
            way=way,
            judge=judge,
            checker=checker,
            zone=zones[number[zone_id]],
            number=number[zone_id],
            boundaries=boundaries,
            margin_m=margin,
        )
        for zone_id, margin in margin_m.items()
    ]
    return sorted(found, key=lambda ends: (ends.first_near_m, ends.zone.zone_id))[:MOST_ZONES]


Spares = Callable[[FloatArray], FloatArray]
"""From places to what is left there beyond the need."""


def last_place(
    places: FloatArray, spare_m: FloatArray, sure: BoolArray, spares: Spares, passes: Callable[[float], bool]
) -> float | None:
    """Return the last place with enough to spare that passes the check; ``None`` where none does.

    Parameters
    ----------
    places : ndarray, shape (n,)
        Rising, or falling where the first is looked for: the one that is wanted most comes last.
    spare_m : ndarray, shape (n,)
        What each of them has to spare.
    sure : ndarray of bool, shape (n,)
        Whether all of the tow keeps as far off where it ends, or begins, there. Others may pass by the model
        of the gear's path; if the last of them does not, none is asked about again.
    spares : callable
        What other places have to spare.
    passes : callable
        Whether the check agrees.
    """
    for wanted in (np.ones(len(places), dtype=bool), sure):
        good = np.flatnonzero((spare_m >= 0.0) & wanted)
        if not len(good):
            continue
        last = int(good[-1])
        best = float(places[last])
        if last + 1 < len(places) and spare_m[last + 1] < 0.0:
            best = _between(best, float(places[last + 1]), spares)
        for one in dict.fromkeys([best, float(places[last])]):
            if passes(one):
                return one
    return None


def _between(good_m: float, bad_m: float, spares: Spares) -> float:
    """Return a place between one with enough to spare and one without, as far as there is, whole metres."""
    start_m, towards = good_m, math.copysign(1.0, bad_m - good_m)
    for _ in range(_HALVINGS):
        middle = (good_m + bad_m) / 2.0
        if float(spares(np.array([middle]))[0]) >= 0.0:
            good_m = middle
        else:
            bad_m = middle
    whole = math.floor(good_m) if towards > 0.0 else math.ceil(good_m)
    return float(whole) if (whole - start_m) * towards > 0.0 else start_m
