"""Many zones at once: what is said of each is what a check of that zone alone says, and nothing is lost.

A check of many zones leaves out what it has proved far and asks equal rules once; a check of one zone has
nothing to leave out. Boxes, rules and gaps are also compared with plain loops written here.
"""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from scenes import GEOD, START, area, around, check, line, moved, points, zone

from towzone.checks.boundaries import Boundaries, _Measured
from towzone.checks.force import (
    Force,
    GapStandings,
    Standings,
    change_instants,
    may_hold,
    span_standing,
    standing,
)
from towzone.checks.gap_boxes import near_gaps
from towzone.checks.gaps import reached
from towzone.checks.passages import Demand
from towzone.checks.paths import build_path
from towzone.checks.run import judge_track
from towzone.checks.settings import CheckSettings, Towing
from towzone.errors import GeometryError
from towzone.geodesy.approach import Side, detours
from towzone.geodesy.ellipsoid import to_geocentric
from towzone.geodesy.lines import LineKind
from towzone.geodesy.pieces import Pieces
from towzone.model.rules import Rules
from towzone.model.track import Track, TrackKind
from towzone.model.zone import Prohibition, ZoneKind
from towzone.units import KNOT_MPS

HOME = (-20.0, 57.0)
BEGIN = datetime(2026, 3, 1, 6, 0, tzinfo=UTC)
SEED = 20260716


def trip(rng, *, timed=True, hours=14):
    """A trip of tows at 3 kn and passages at 9, a fix a minute, some minutes to hours without any."""
    seconds = np.arange(0.0, hours * 3600.0, 60.0)
    heading = rng.uniform(0.0, 2.0 * np.pi) + np.cumsum(rng.normal(0.0, 0.02, len(seconds)))
    speed = np.where(seconds // 7200.0 % 2 == 0, 3.0, 9.0) * KNOT_MPS * 60.0
    east, north = np.cumsum(speed * np.sin(heading)), np.cumsum(speed * np.cos(heading))
    keep = np.ones(len(seconds), dtype=bool)
    for _ in range(3):
        first = int(rng.integers(1, len(seconds) - 2))
        keep[first : first + int(rng.integers(10, 120))] = False
    keep[[0, -1]] = True
    course, far = np.degrees(np.arctan2(east, north)), np.hypot(east, north)
    lon, lat, _ = GEOD.fwd(np.full(len(far), HOME[0]), np.full(len(far), HOME[1]), course, far)
    times = START + (seconds * 1e6).astype("timedelta64[us]")
    if not timed:
        times[rng.random(len(times)) < 0.3] = np.datetime64("NaT")
    return Track(
        track_id="t",
        source="t.gpx",
        kind=TrackKind.COMPLETED,
        lon_deg=lon[keep],
        lat_deg=lat[keep],
        time_utc=times[keep],
        part=np.zeros(int(keep.sum()), dtype=np.int32),
        fixes_read=int(keep.sum()),
    )


def rules(rng):
    """A rule of some kind: most hold always, others for some hours of the trip or for some gears."""
    hour = BEGIN + timedelta(hours=float(rng.integers(0, 15)))
    return [
        Rules(),
        Rules(),
        Rules(valid_from=hour),
        Rules(valid_until=hour, time_zone_stated=False),
        Rules(valid_until=BEGIN - timedelta(days=9)),
        Rules(gears=("TBB",)),
        Rules(transit_min_speed_kn=6.0),
        Rules(allowed_only_inside=True),
    ][int(rng.integers(0, 8))]


def sea(rng, count=40):
    """Areas, lines and points of every kind, from under the trip to far beyond what matters to it."""
    made = []
    for number in range(count):
        at = moved(HOME, rng.uniform(0.0, 360.0), rng.choice([10_000.0, 60_000.0, 400_000.0]) * rng.random())
        rule = rules(rng)
        shapes = (
            area(around(at, rng.uniform(500.0, 20_000.0))),
            line(at, moved(at, 40.0, 9000.0)),
            points(at),
        )
        shape = shapes[0] if rule.allowed_only_inside else shapes[int(rng.integers(0, 3))]
        made.append(
            zone(
                shape,
                ZoneKind.OTHER,
                zone_id=f"Z{number:02d}",
                edges=list(LineKind)[int(rng.integers(0, 3))],
                rules=rule,
                prohibits=((Prohibition.ENTRY,), (Prohibition.FISHING,), (Prohibition.BOTTOM_CONTACT,))[
                    number % 3
                ],
                margin_m=[None, 0.0, 463.0][number % 3],
                radius_m=0.0 if rule.allowed_only_inside else [0.0, 0.0, 250.0][int(rng.integers(0, 3))],
                datum_accuracy_m=[0.0, 25.0][number % 2],
            )
        )
    return tuple(made)


SETTINGS = [
    CheckSettings(gear="OTB"),
    CheckSettings(gear="OTB", towing=Towing.ALL, reach_m=2000.0),
    CheckSettings(towing=Towing.NONE, max_speed_kn=15.0),
]


@pytest.mark.parametrize("settings", SETTINGS)
@pytest.mark.parametrize("timed", [True, False])
def test_each_zone_among_many_has_the_rows_it_has_alone(settings, timed):
    rng = np.random.default_rng(SEED)
    for _ in range(2):
        track, zones = trip(rng, timed=timed), sea(rng)
        changes = change_instants(track, zones)
        whole = judge_track(track, zones, settings, Boundaries.of(zones), changes)
        alone = [judge_track(track, [one], settings, Boundaries.of([one]), changes) for one in zones]
        rows = {repr(row) for one in alone for row in one.rows}
        assert {repr(row) for row in whole.rows} == rows
        assert len(whole.rows) == sum(len(one.rows) for one in alone)
        assert whole.beyond_reach(len(zones)) == sum(one.beyond_reach(1) for one in alone) > 0
        assert whole.found.near == {(u, z) for z, one in enumerate(alone) for u, _ in one.found.near}


@pytest.mark.parametrize("settings", SETTINGS)
def test_every_unit_has_a_row_or_is_counted_for_every_zone(settings):
    rng = np.random.default_rng(SEED + 1)
    track, zones = trip(rng), sea(rng)
    found = judge_track(track, zones, settings, Boundaries.of(zones)).found
    assert found.units * len(zones) == len(found.near) + found.beyond_reach


def test_equal_rules_asked_once_answer_as_each_zone_does():
    rng = np.random.default_rng(SEED + 2)
    for timed in (True, False):
        track, zones = trip(rng, timed=timed), sea(rng, 60)
        settings = CheckSettings(gear="OTB")
        path = build_path(track, settings, change_instants(track, zones))
        rule = Boundaries.of(zones).rule
        known, gaps = Standings(zones, rule, settings), GapStandings(zones, rule, path, settings)
        held = may_hold(zones, rule, path, settings)
        for z, one in enumerate(zones):
            shares = [standing(one, group, settings) for group in path.groups]
            assert [known.of(z, group) for group in path.groups] == shares
            open_ = [gap_held(one, path, gap, settings) for gap in path.gaps]
            assert [gaps.of(z, number).force for number in range(len(path.gaps))] == open_
            forces = [*(share.force for share in shares), *open_]
            assert held[z] == any(force is not Force.IDLE for force in forces)


def gap_held(one, path, gap, settings):
    """Whether a rule holds in a gap, from the nearest known times around it."""
    times = path.track.time_utc
    before = [t for t in times[: gap.fix + 1] if not np.isnat(t)][-1:]
    after = [t for t in times[gap.fix + 1 :] if not np.isnat(t)][:1]
    seconds = [float(t.astype(np.int64)) / 1e6 for t in (*before, *after)]
    if len(seconds) == 2:
        return span_standing(one, *seconds, settings).force
    always = Boundaries.of([one])
    bare = replace(one, rules=replace(one.rules, valid_from=None, valid_until=None))
    undated = GapStandings([bare], always.rule, path, settings).of(0, path.gaps.index(gap)).force
    return Force.UNKNOWN if one.rules.dated and undated is Force.HOLDS else undated


def test_a_zone_left_out_of_the_gaps_by_its_box_cannot_be_reached():
    rng = np.random.default_rng(SEED + 3)
    left_out = 0
    for _ in range(4):
        track, zones = trip(rng), sea(rng, 60)
        path = build_path(track, CheckSettings())
        boundaries = Boundaries.of(zones)
        fix = np.array([gap.fix for gap in path.gaps])
        reach_m = np.array([gap.reach_m for gap in path.gaps])
        wider_m = rng.uniform(0.0, 900.0, len(zones))
        xyz = to_geocentric(track.lon_deg, track.lat_deg)
        ends = xyz[fix], xyz[fix + 1]
        near = set(zip(*near_gaps(*ends, reach_m, boundaries.coarse.tree, wider_m), strict=True))
        gap, z = (some.ravel() for some in np.indices((len(fix), len(zones))))
        foci = Side.of(Pieces.each_alone(*ends), len(fix))
        budget_m = reach_m[gap] + 2.0 * wider_m[z]
        way_m = detours(foci, gap, boundaries.measured(np.arange(len(zones))), z, budget_m)
        pairs = list(zip(gap.tolist(), z.tolist(), strict=True))
        assert {pair for pair, way in zip(pairs, way_m, strict=True) if np.isfinite(way)} <= near
        left_out += len(pairs) - len(near)
    assert left_out > 100


def test_a_box_that_cannot_be_compared_stays_in():
    boundaries = Boundaries.of([zone(area(around(HOME, 900.0)))])
    far = to_geocentric(np.array([10.0]), np.array([-40.0]))
    for reach_m, found in ((np.array([1.0]), []), (np.array([np.nan]), [0])):
        gap, _ = near_gaps(far, far, reach_m, boundaries.coarse.tree, np.zeros(1))
        assert gap.tolist() == found


def test_more_pairs_than_there_was_room_for_are_all_told():
    zones = [zone(points(moved(HOME, 0.0, 10.0 * n)), zone_id=f"Z{n}") for n in range(90)]
    here = np.repeat(to_geocentric(np.array([HOME[0]]), np.array([HOME[1]])), 70, axis=0)
    tree = Boundaries.of(zones).coarse.tree
    gap, z = near_gaps(here, here, np.full(70, 5000.0), tree, np.zeros(90))
    assert list(zip(gap, z, strict=True)) == [(g, n) for g in range(70) for n in range(90)]


def test_a_gap_that_begins_or_ends_inside_is_told_of_areas_both_ways_round():
    inner = area(around(HOME, 30_000.0))
    both = [
        zone(inner, zone_id="A"),
        zone(inner, zone_id="B", rules=Rules(allowed_only_inside=True)),
        zone(
            area(around(moved(HOME, 90.0, 900_000.0), 9000.0)),
            zone_id="C",
            rules=Rules(allowed_only_inside=True),
        ),
    ]
    rng = np.random.default_rng(SEED + 4)
    track = trip(rng)
    path = build_path(track, CheckSettings(max_speed_kn=0.1))
    demands = [Demand(margin_m=0.0, uncertainty_m=15.0)] * 3
    ways = reached(path, both, Boundaries.of(both), demands)
    away_m = GEOD.inv(*(np.full(len(track), c) for c in HOME), track.lon_deg, track.lat_deg)[2]
    sure = np.abs(away_m - 30_000.0) > 1500.0
    for number, gap in enumerate(path.gaps):
        ends = away_m[[gap.fix, gap.fix + 1]] < 30_000.0
        assert (number, 2) in ways
        if sure[[gap.fix, gap.fix + 1]].all():
            assert ((number, 0) in ways) == ends.any()
            assert ((number, 1) in ways) == (not ends.all())


def test_without_times_every_zone_stays_open_however_many():
    track = trip(np.random.default_rng(SEED + 5))
    track = replace(track, time_utc=np.full(len(track), np.datetime64("NaT", "us")))
    zones = [zone(points(moved(HOME, 0.0, 50_000.0 + n)), zone_id=f"Z{n}") for n in range(300)]
    zones.append(zone(points(HOME), zone_id="idle", rules=Rules(gears=("TBB",))))
    result = check(track, zones, gear="OTB")
    assert {row.reason for row in result.rows if row.zone_id != "idle"} == {"missing_times"}
    assert {row.zone_id for row in result.rows if row.reason == "missing_times"} == {
        z.zone_id for z in zones[:-1]
    }


def test_boundaries_are_the_same_in_whatever_order_they_are_asked_for():
    rng = np.random.default_rng(SEED + 6)
    zones = sea(rng, 30)
    whole = Boundaries.of(zones).measured(np.arange(30))
    asked = Boundaries.of(zones)
    for number in rng.permutation(30).tolist():
        some = asked.measured(np.array([number]))
        mine, own = (np.flatnonzero(side.pieces.owner == number) for side in (some, whole))
        for column in ("start_m", "end_m", "edge", "from_part", "to_part", "swell_m"):
            np.testing.assert_array_equal(
                getattr(some.pieces, column)[mine], getattr(whole.pieces, column)[own]
            )
        assert (np.diff(some.pieces.owner) >= 0).all()
    assert {field.name for field in fields(Pieces)} == set(Pieces.__slots__)


def test_a_boundary_that_could_not_be_cut_is_refused_again():
    long = zone(line((0.0, 10.0), (180.0, 10.0)), zone_id="long", edges=LineKind.GEODESIC)
    boundaries = Boundaries.of(
        [zone(line(HOME, moved(HOME, 9.0, 900.0))), long, zone(area(around(HOME, 900.0)))]
    )
    boundaries.measured(np.array([0]))
    for _ in range(2):
        with pytest.raises(GeometryError):
            boundaries.measured(np.array([1]))


def test_boundaries_cut_by_two_threads_at_once_are_all_there():
    """Another thread is stood in for: whenever the first one has put anything down, it asks for its zone."""
    zones = [zone(area(around((-20.0 + 0.1 * n, 57.0), 500.0)), zone_id=f"z{n}") for n in range(8)]
    edges = Boundaries.of(zones).edges
    sides = []

    class Shared(_Measured):
        def __setattr__(self, name, value):
            super().__setattr__(name, value)
            if hasattr(self, "waiting") and self.waiting:
                self.ask(self.waiting.pop())

        def ask(self, number):
            sides.append((number, self.of(np.array([number]))))

    shared = Shared(edges, len(zones))
    shared.waiting = [3, 2, 1]
    for number in (0, 1, 2, 3, 4):
        shared.ask(number)
    assert len(sides) == 8
    assert all(side.tree.root[number] >= 0 for number, side in sides)
