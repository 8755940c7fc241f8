"""What a planned line keeps clear of each zone by, and what a current from any direction would leave."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from towzone.checks.gear_curves import curve_batch, side_together
from towzone.checks.gear_figures import gear_of_tow
from towzone.checks.gear_ground import SweptShare, met_at, swept_ground
from towzone.checks.gear_leads import TowGear
from towzone.checks.gear_least import least_clearance_m
from towzone.checks.gear_shares import contact, curves_of
from towzone.checks.intervals import Intervals, intersect, merged
from towzone.checks.legs import BoolArray
from towzone.checks.passages import CONTACT_M
from towzone.checks.path_passages import PathScene
from towzone.checks.paths import Path, build_path
from towzone.checks.shares import Group
from towzone.checks.verdicts import TOUCH_M
from towzone.errors import UsageError
from towzone.gear.figures import Rigging
from towzone.gear.likely import with_current
from towzone.gear.stretch import GearStretch, gear_stretch
from towzone.geodesy.approach import Side, closest, reaches
from towzone.geodesy.edges import IntArray
from towzone.geodesy.ellipsoid import FloatArray, from_geocentric
from towzone.geodesy.pieces import Pieces
from towzone.model.plan import PlannedLine, ZoneMargin
from towzone.model.result import Activity, Part, Row, Status
from towzone.plan.along import Way
from towzone.plan.judging import Judge
from towzone.units import KNOT_MPS

__all__ = ["SETS_DEG", "margins_of"]

SETS_DEG = tuple(45.0 * n for n in range(8))
"""Where the strongest current is tried to set to. Own choice, as asked for."""

_STEP_M = 10.0
"""Steps in which gear inside an area is followed to tell which current is the worst. Own choice."""

_STRIDES, _ALIKE = (256, 16, 1), 0.002
"""Which points of such gear are asked about, first and then; and depths that differ by so small a share are
alike. Own choices."""

_NO_FIXES = np.empty(0)


class _Least(NamedTuple):
    """A clearance, where the vessel was then (a place on its track), and the set of the current."""

    clearance_m: float
    place: float
    set_deg: float | None = None


def margins_of(line: PlannedLine, judge: Judge, rows: Sequence[Row]) -> tuple[ZoneMargin, ...]:
    """Return what a line keeps clear by of every zone that it has rows with.

    Parameters
    ----------
    rows : sequence of Row
        Of the line, as `Judge.rows` has them.

    Returns
    -------
    tuple of ZoneMargin
        The least to spare first; zones whose rule binds nobody then, last.
    """
    by_zone: dict[str, list[Row]] = {}
    for row in rows:
        by_zone.setdefault(row.zone_id, []).append(row)
    sets = _sets(line, judge, by_zone)
    clock = _LegClock(line, judge)
    found = [_margin(zone_id, own, sets.get(zone_id), clock) for zone_id, own in by_zone.items()]
    return tuple(sorted(found, key=lambda margin: _least_first(margin, by_zone[margin.zone_id])))


def _least_first(margin: ZoneMargin, rows: Sequence[Row]) -> tuple[bool, float, str]:
    idle = all(row.status is Status.NOT_IN_FORCE for row in rows)
    known = [m for m in (margin.vessel_m, margin.gear_m, margin.likely_m, margin.set_m) if m is not None]
    return idle, min(known, default=np.inf) - margin.margin_m, margin.zone_id


class _LegClock:
    """On which leg of a line the vessel is, from 1; run-in and run-out count to the leg they prolong."""

    def __init__(self, line: PlannedLine, judge: Judge) -> None:
        way = Way.of(line, judge.settings.check.legs)
        self._ends_s = way.corner_m[1:-1] / (judge.settings.speed_kn * KNOT_MPS)
        self._depart_utc = judge.settings.depart_utc
        self._legs = len(way.legs.length_m)

    def at_time(self, utc: np.datetime64) -> int:
        """Return the leg at a time."""
        elapsed_s = float((utc - self._depart_utc) / np.timedelta64(1, "us")) / 1e6
        return int(np.searchsorted(self._ends_s, elapsed_s, side="left")) + 1

    def at_place(self, place: float) -> int:
        """Return the leg at a place of the track, whose first leg is the run-in."""
        return int(np.clip(np.ceil(place) - 1.0, 1, self._legs))


def _margin(zone_id: str, rows: Sequence[Row], in_set: _Least | None, clock: _LegClock) -> ZoneMargin:
    vessel = _least_row([row for row in rows if row.part is Part.VESSEL])
    gear = _least_row([row for row in rows if row.part is Part.GEAR])
    likely = [row.gear.likely_clearance_m for row in rows if row.gear is not None]
    at: list[tuple[float, int]] = [
        (row.clearance_m, clock.at_time(row.closest.utc))
        for row in (vessel, gear)
        if row is not None and row.clearance_m is not None and row.closest is not None
    ]
    if in_set is not None:
        at.append((in_set.clearance_m, clock.at_place(in_set.place)))
    return ZoneMargin(
        zone_id=zone_id,
        margin_m=rows[0].margin_m,
        vessel_m=vessel.clearance_m if vessel is not None else None,
        gear_m=gear.clearance_m if gear is not None else None,
        likely_m=min((metres for metres in likely if metres is not None), default=None),
        set_m=in_set.clearance_m if in_set is not None else None,
        set_deg=in_set.set_deg if in_set is not None else None,
        leg=min(at)[1] if at else None,
    )


def _least_row(rows: Sequence[Row]) -> Row | None:
    known = [row for row in rows if row.clearance_m is not None]
    return min(known, key=lambda row: row.clearance_m or 0.0, default=None)


def _sets(line: PlannedLine, judge: Judge, by_zone: dict[str, list[Row]]) -> dict[str, _Least]:
    """Return the least clearance of the gear from each zone in the worst of the currents.

    Where no current is reckoned with, that of the gear by the figures. Inside an area the worst current is
    chosen by depths true to half a step; how deep the gear then is, is true to 0.2 m.
    """
    track, check = judge.track(line), judge.settings.check
    zones, boundaries = judge.near(track)
    path = build_path(track, check)
    gear = gear_of_tow(path, path.tows[0], check)
    open_by_rope = {zone_id for zone_id, rows in by_zone.items() if any(map(_open_by_rope, rows))}
    asked = np.array([z for z, zone in enumerate(zones) if zone.zone_id in open_by_rope], dtype=np.int64)
    if not isinstance(gear, TowGear) or not len(asked):
        return {}
    scene = PathScene(path, zones, boundaries, (), check)
    edge = boundaries.measured(asked)
    strongest_kn = judge.settings.strongest_kn
    currents: list[float | None] = [*SETS_DEG] if strongest_kn > 0.0 else [None]
    worst: dict[int, tuple[_Least, _Passed]] = {}
    for set_deg in currents:
        rigging = gear.rigging if set_deg is None else with_current(gear.rigging, set_deg, strongest_kn)
        passed = _passed(scene, gear.with_rigging(rigging))
        if passed is None:
            continue
        for z, found in passed.clearances(asked, edge, set_deg):
            if z not in worst or found.clearance_m < worst[z][0].clearance_m:
                worst[z] = found, passed
    return {zones[z].zone_id: passed.exact(z, found) for z, (found, passed) in worst.items()}


def _open_by_rope(row: Row) -> bool:
    """Return whether the length of the rope alone leaves it open that the gear keeps its margin.

    Where it does not, no current matters.
    """
    if row.gear is None:
        return False
    return row.gear.rope_clearance_m is None or row.gear.rope_clearance_m < max(row.margin_m, TOUCH_M)


def _passed(scene: PathScene, gear: TowGear) -> _Passed | None:
    """Return the gear while it is on the bottom; ``None`` where it never is or cannot be computed."""
    try:
        stretches = [gear_stretch(lead, gear.rigging) for lead in gear.leads(scene.path, _NO_FIXES)]
    except UsageError:
        return None
    covered = contact(stretches)
    return _Passed.of(scene, gear.rigging, stretches, covered) if len(covered) else None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Passed:
    """The gear on the bottom in one current: its traced parts as pieces, with the places of their ends.

    ``lon_deg`` and ``lat_deg`` are those of both ends of the pieces, shape (2, n).
    """

    scene: PathScene
    rigging: Rigging
    stretches: Sequence[GearStretch]
    covered: Intervals
    side: Side
    begin: FloatArray
    end: FloatArray
    lon_deg: FloatArray
    lat_deg: FloatArray

    @classmethod
    def of(
        cls, scene: PathScene, rigging: Rigging, stretches: Sequence[GearStretch], covered: Intervals
    ) -> _Passed:
        """Return the traced parts along some stretches, where they are on the bottom."""
        group = Group(
            unit=0, tow=None, activity=Activity.TOWING, covered=covered, first_s=np.nan, last_s=np.nan
        )
        batches = [curve_batch(curve, [group]) for curve in curves_of(stretches, scene.path)]
        side = side_together([batch.side for batch in batches])
        ends = [from_geocentric(xyz) for xyz in (side.pieces.start_m, side.pieces.end_m)]
        return cls(
            scene=scene,
            rigging=rigging,
            stretches=stretches,
            covered=covered,
            side=side,
            begin=np.concatenate([batch.piece_begin for batch in batches]),
            end=np.concatenate([batch.piece_end for batch in batches]),
            lon_deg=np.stack([lon for lon, _ in ends]),
            lat_deg=np.stack([lat for _, lat in ends]),
        )

    def clearances(self, asked: IntArray, edge: Side, set_deg: float | None) -> Iterator[tuple[int, _Least]]:
        """Yield the least clearance from each zone; inside areas true to half a step.

        Parameters
        ----------
        asked : ndarray of int
            Numbers of the zones.
        edge : Side
            Their boundaries.
        """
        owner, cutoff_m = np.zeros(len(asked), dtype=np.int64), np.full(len(asked), np.inf)
        near = closest(self.side, owner, edge, asked, cutoff_m)
        places = self._places(near.path_piece, near.path_part)
        for z, place, metres in zip(asked.tolist(), places.tolist(), near.distance_m.tolist(), strict=True):
            zone = self.scene.zones[z]
            wrong = self._wrong(z, crossed=metres <= CONTACT_M)
            if wrong.any():
                depth_m, place = self._depth(z, edge, wrong)
                yield z, _Least(-depth_m - zone.radius_m, place, set_deg)
            elif metres < self._widest_m and self._runs_over(z, edge):
                yield z, _Least(0.0 - zone.radius_m, place, set_deg)
            else:
                yield z, _Least(metres - zone.radius_m, place, set_deg)

    def exact(self, z: int, found: _Least) -> _Least:
        """Return the same clearance; of gear inside an area the greatest depth, between nodes too."""
        wrong = self._wrong(z, crossed=found.clearance_m <= CONTACT_M)
        if not wrong.any():
            return found
        span = float(self.begin[wrong].min()), float(self.end[wrong].max())
        deepest_m = least_clearance_m(self.scene, self.stretches, z, span)
        return found if deepest_m is None else found._replace(clearance_m=deepest_m)

    @property
    def _widest_m(self) -> float:
        """A distance within which a zone that lies between parts of the gear is from one of them."""
        return float(self.rigging.door_spread.value + self.rigging.net_length.value)

    def _places(self, piece: IntArray, part: FloatArray) -> FloatArray:
        return np.asarray(self.begin[piece] + part * (self.end[piece] - self.begin[piece]))

    def _wrong(self, z: int, *, crossed: bool) -> BoolArray:
        """Return which pieces have an end on the wrong side of an area's boundary.

        Where none crosses it, all of each traced part is on one side.
        """
        zone, wrong = self.scene.zones[z], np.zeros(len(self.begin), dtype=bool)
        if not zone.shape.is_area:
            return wrong
        region, turned = self.scene.boundaries.regions[z], zone.rules.allowed_only_inside
        if not crossed:
            first = np.flatnonzero(np.append(True, np.diff(self.begin) < 0.0))
            if not (region.contains(self.lon_deg[0, first], self.lat_deg[0, first]) != turned).any():
                return wrong
        inside = region.contains(self.lon_deg.ravel(), self.lat_deg.ravel()).reshape(2, -1)
        return np.asarray((inside != turned).any(axis=0))

    def _depth(self, z: int, edge: Side, wrong: BoolArray) -> tuple[float, float]:
        """Return how far on the wrong side the traced parts come, true to half a step, and where."""
        pieces, which = self.side.pieces, np.flatnonzero(wrong)
        legs = pieces.end_m[which] - pieces.start_m[which]
        counts = np.maximum(1, np.ceil(np.sqrt((legs**2).sum(axis=1)) / _STEP_M)).astype(np.int64)
        row = np.repeat(np.arange(len(which)), counts + 1)
        first = np.repeat(np.cumsum(counts + 1) - counts - 1, counts + 1)
        part = (np.arange(len(row)) - first) / np.repeat(counts, counts + 1)
        points = pieces.start_m[which][row] + part[:, None] * legs[row]
        inside = self.scene.boundaries.regions[z].contains(*from_geocentric(points))
        deep = np.flatnonzero(inside != self.scene.zones[z].rules.allowed_only_inside)
        off_m = self._off_m(z, edge, points[deep])
        most = int(np.nanargmax(off_m))
        place = self._places(which[row[deep[most : most + 1]]], part[deep[most : most + 1]])
        return float(off_m[most]), float(place[0])

    def _off_m(self, z: int, edge: Side, points: FloatArray) -> FloatArray:
        """Return how far points are from a boundary, NaN where others are farther, or as far.

        From one point to another that changes by no more than they are apart: few are asked about, and
        between them those that may be farther by half a step, or by a small share, which tells nothing of
        the current.
        """
        off_m, most_m = np.full(len(points), np.inf), np.full(len(points), np.nan)
        best_m = 0.0
        for stride in _STRIDES:
            asked = np.arange(0, len(points), stride)
            asked = asked[off_m[asked] > best_m + max(_STEP_M / 2.0, _ALIKE * best_m)]
            if not len(asked):
                continue
            side = Side.of(Pieces.each_alone(points[asked], points[asked]), len(asked))
            zone, cutoff_m = np.full(len(asked), z), np.full(len(asked), np.inf)
            most_m[asked] = closest(side, np.arange(len(asked)), edge, zone, cutoff_m).distance_m
            best_m = float(np.nanmax(most_m))
            known = np.flatnonzero(~np.isnan(most_m))
            after = np.searchsorted(known, np.arange(len(points)))
            for beside in (known[np.maximum(after - 1, 0)], known[np.minimum(after, len(known) - 1)]):
                apart_m = np.sqrt(((points - points[beside]) ** 2).sum(axis=1))
                off_m = np.minimum(off_m, most_m[beside] + apart_m)
        return most_m

    def _runs_over(self, z: int, edge: Side) -> bool:
        """Return whether some of a zone lies on the ground swept between the traced parts."""
        zone = self.scene.zones[z]
        limit_m = np.array([self._widest_m + zone.radius_m + CONTACT_M])
        close = reaches(self.side, np.array([0]), edge, np.array([z]), limit_m).each_piece()
        first, last = (self._places(close.path_piece, part) for part in (close.first, close.last))
        behind_m = self.rigging.sweeps.value + self.rigging.net_length.value + self._widest_m
        places = intersect(_widened(self.scene.path, first, last, behind_m), self.covered)
        share = SweptShare(stretches=self.stretches, rigging=self.rigging, covered=places)
        return met_at(swept_ground(share), zone, z, self.scene.boundaries) is not None


def _widened(path: Path, first: FloatArray, last: FloatArray, by_m: float) -> Intervals:
    """Return stretches of a path made longer at both ends."""
    fixes = np.arange(len(path.travelled_m), dtype=np.float64)
    low, high = (
        np.interp(np.interp(place, fixes, path.travelled_m) + off_m, path.travelled_m, fixes)
        for place, off_m in ((first, -by_m), (last, by_m))
    )
    return merged(low, high)
