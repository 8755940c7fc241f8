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
from towzone.checks.gear_figures import slowest_mps
from towzone.checks.intervals import merged
from towzone.checks.legs import BoolArray
from towzone.checks.passages import CONTACT_M
from towzone.checks.verdicts import TOUCH_M
from towzone.gear.bounds import longest_warp_m
from towzone.gear.figures import Rigging
from towzone.gear.phases import Contact
from towzone.gear.stretch import laybacks_m
from towzone.gear.uncertainty import Sigmas, sag_sigma_m, sigmas
from towzone.gear.winch import (
    last_door_contact_reach_m,
    layback_at_warp_m,
    lift_off_scope,
    relative_m,
)
from towzone.geodesy.approach import Side, closest, reaches
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.plan import PlannedLine
from towzone.model.result import Row
from towzone.model.vessel import Rig
from towzone.model.zone import Zone
from towzone.plan.along import Way
from towzone.plan.judging import OPEN, Judge
from towzone.units import KNOT_MPS

__all__ = ["MOST_ZONES", "Ends", "GearEnds", "Stretch", "ends_of", "gear_ends", "last_place"]

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
_SETTLED_M = 1e6
_SAMPLES = 200

MOST_ZONES = 3
"""For so many zones at the most a place is looked for: those that the line comes to first. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GearEnds:
    """How far gear reaches while it is hauled and shot on a straight course, metres from the antenna.

    Parameters
    ----------
    off_ahead_m : float
        Where the doors are by the figures when they leave the bottom, ahead of where the haul was called;
        negative astern of it.
    last_ahead_m : float
        Where they can touch at the farthest, whatever they weigh.
    vessel_off_m, vessel_last_m : float
        The way of the vessel until then.
    back_m : float
        How far astern of where the brakes go on the net may lie by the figures, since the doors came down.
    wide_m : float
        How far aside of the vessel's way the outer door is: half the spread, and the set of a stated current.
    wide_surely_m : float
        The same, three standard deviations allowed for, the strongest current among them.
    sigma_m, place_sigma_m : float
        Standard deviation of the place of the doors along the tow; and of the place of the block alone.
    parts : str
        ``doors`` or ``beams``.
    """

    off_ahead_m: float
    last_ahead_m: float
    vessel_off_m: float
    vessel_last_m: float
    back_m: float
    wide_m: float
    wide_surely_m: float
    sigma_m: float
    place_sigma_m: float
    parts: str


def gear_ends(judge: Judge) -> GearEnds | None:
    """Return how far gear reaches while it is hauled and shot; ``None`` where nothing is known of it.

    Notes
    -----
    By the figures doors lift at three quarters of the scope, and surely when no more warp is out than the
    water is deep (`towzone.gear.winch`): there with the longest warp, the least depth and the slowest winch
    that the figures allow for. Shooting, the net lies as far astern as warp, sweeps and net reach while the
    vessel goes on; the winch pays out faster than it goes, so that this is farthest either when the doors
    come down or when the brakes go on, or in between.
    """
    rigging = judge.rigging
    if not isinstance(rigging, Rigging):
        return None
    way_mps = judge.settings.hauling_way_kn * KNOT_MPS
    warp_m, height_m = rigging.warp.value, rigging.depth.value + rigging.block_height.value
    heave_mps, aft_m = rigging.heave_speed.value, rigging.block_aft.value
    scope = float(lift_off_scope(max(warp_m / height_m, 1.0)))
    shallow_m = _shallow_m(rigging)
    longest_m, slow_mps = longest_warp_m(rigging), slowest_mps(rigging.heave_speed)
    last_m = float(last_door_contact_reach_m(longest_m, shallow_m, way_mps, slow_mps))
    tow_mps = judge.settings.speed_kn * KNOT_MPS
    known, layback_m = _sigmas(rigging, min(tow_mps, way_mps), height_m)
    stated_kn = rigging.current.drift_kn if rigging.current is not None else 0.0
    set_m = layback_m * min(stated_kn * KNOT_MPS / min(tow_mps, way_mps), 1.0)
    wide_m = rigging.door_spread.value / 2.0 + set_m
    return GearEnds(
        off_ahead_m=float(relative_m(warp_m, height_m, way_mps, heave_mps, scope)) - aft_m,
        last_ahead_m=last_m - aft_m,
        vessel_off_m=max(warp_m - scope * height_m, 0.0) / heave_mps * way_mps,
        vessel_last_m=last_m,
        back_m=_back_m(rigging, tow_mps, height_m) + aft_m,
        wide_m=wide_m,
        wide_surely_m=wide_m + 3.0 * float(known.cross_m[0]),
        sigma_m=float(known.along_m[0]),
        place_sigma_m=math.hypot(rigging.position.sigma, rigging.antenna.sigma),
        parts="beams" if rigging.rig is Rig.BEAM else "doors",
    )


def _shallow_m(rigging: Rigging) -> float:
    """Return a height of the block over the bottom that it hardly ever falls short of."""
    height_m = rigging.depth.value + rigging.block_height.value
    return max(height_m - 3.0 * math.hypot(rigging.depth.sigma, rigging.block_height.sigma), 0.0)


def _back_m(rigging: Rigging, speed_mps: float, height_m: float) -> float:
    """Return how far astern of the blocks' place at brakes on the net may lie since the doors came down."""
    warp_m, veer_mps = rigging.warp.value, rigging.veer_speed.value
    before_s = np.linspace(0.0, max(warp_m - height_m, 0.0) / veer_mps, _SAMPLES)
    out_m = layback_at_warp_m(warp_m - veer_mps * before_s, height_m)
    behind_m = rigging.sweeps.value + rigging.net_length.value
    return float((speed_mps * before_s + out_m).max()) + behind_m


def _sigmas(rigging: Rigging, speed_mps: float, height_m: float) -> tuple[Sigmas, float]:
    """Return how surely the doors are where the figures put them on a long straight tow; and the layback."""
    warp = np.array([rigging.warp.value])
    layback = laybacks_m(warp, np.array([height_m]), rigging)
    known = sigmas(
        warp_m=warp,
        height_m=height_m,
        layback_m=layback,
        speed_mps=speed_mps,
        beta_deg=0.0,
        settled_m=_SETTLED_M,
        warp_sigma_m=rigging.warp.sigma,
        height_sigma_m=math.hypot(rigging.depth.sigma, rigging.block_height.sigma),
        sag_sigma_m=sag_sigma_m(warp, layback),
        position_sigma_m=rigging.position.sigma,
        antenna_sigma_m=rigging.antenna.sigma,
        drift_sigma_mps=rigging.drift_sigma.sigma * KNOT_MPS,
        spread_sigma_m=rigging.door_spread.sigma,
    )
    return known, float(layback[0])


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
        found = reaches(side, np.arange(count), self._edge, np.full(count, self.number), limits)
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
