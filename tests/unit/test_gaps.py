"""Gaps: `clear` is never said of a zone that some permitted way between the fixes touches."""

from __future__ import annotations

import numpy as np
import pytest
from scenes import (
    GEOD,
    KNOT_MPS,
    NMI_M,
    START,
    apart_m,
    area,
    around,
    box,
    check,
    fixes,
    line,
    moved,
    points,
    zone,
)

from towzone.checks.settings import Towing
from towzone.geodesy.lines import LineKind
from towzone.model.result import Activity, Outcome, Status
from towzone.model.rules import Rules
from towzone.model.zone import ZoneKind

A = (-20.0, 57.0)
SEED = 20260315


def gap_track(a, b, seconds):
    return fixes([a, b], [0.0, seconds])


def status(track, target, **settings):
    """The worst status of a scene; `clear` when nothing was listed."""
    rows = check(track, target, **settings).rows
    return rows[0].status if rows else Status.CLEAR


def shipwreck(position, **more):
    return zone(points(position), ZoneKind.OBSTRUCTION, **more)


# The ellipse, tight.


def sum_at(a, b, point):
    return apart_m(a, point) + apart_m(point, b)


def on_ellipse(a, b, total_m, bearing):
    """The place at a bearing from the first focus where the sum of distances is as given, by bisection."""
    low, high = 0.0, total_m
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if sum_at(a, b, moved(a, bearing, middle)) < total_m else (low, middle)
    return moved(a, bearing, low)


CASES = {
    "two hours at 4.5 kn, 6 nmi apart": (A, moved(A, 90.0, 6 * NMI_M), 7200.0, 4.5),
    "across 180 degrees": ((179.95, -16.0), (-179.9, -16.1), 7200.0, 12.0),
    "85 degrees north": ((30.0, 85.0), moved((30.0, 85.0), 45.0, 15_000.0), 5400.0, 12.0),
    "no way made": (A, A, 3600.0, 3.0),
    "a day at 12 kn": (A, moved(A, 200.0, 300_000.0), 86400.0, 12.0),
    "straight at full speed": (A, moved(A, 90.0, 5.0 * NMI_M), 3600.0, 5.0),
}


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("bearing", [0.0, 80.0, 200.0, 310.0])
def test_a_point_just_inside_the_ellipse_is_open_and_just_outside_is_clear(case, bearing):
    """Budget = speed x time + 2 x position error; 1 m of sum on either side of it.

    The point is found with pyproj alone. Its own distance to the fixes keeps it out of the 15 m error.
    """
    a, b, seconds, speed_kn = CASES[case]
    budget = speed_kn * KNOT_MPS * seconds + 30.0
    for extra, expected in ((-1.0, Status.UNDETERMINED), (1.0, Status.CLEAR)):
        point = on_ellipse(a, b, budget + extra, bearing)
        if min(apart_m(a, point), apart_m(b, point)) < 16.0:
            point = on_ellipse(a, b, budget + extra, bearing + 90.0)
        found = status(gap_track(a, b, seconds), shipwreck(point), max_speed_kn=speed_kn, reach_m=1.0)
        if case == "straight at full speed" and min(apart_m(a, point), apart_m(b, point)) < 16.0:
            expected = Status.UNDETERMINED  # within the position error of a fix
        assert found is expected, (extra, point)


@pytest.mark.parametrize("kind", list(LineKind))
@pytest.mark.parametrize("side", [0.0, 180.0])
def test_a_boundary_touched_by_the_ellipse_in_one_place_is_open(kind, side):
    """A long edge tangent to the ellipse at its flank, 1 m within and 1 m beyond.

    Foci east and west of A on one meridian's normal, so the flank lies due north or south of A and, by
    symmetry, an edge symmetric about that meridian is nearest to it there: its own middle is placed.
    """
    half, seconds, speed_kn = 5000.0, 7200.0, 6.0
    a, b = moved(A, 90.0, half), moved(A, 270.0, half)
    # Foci one latitude: geodesics from A east and west are mirror images.
    budget = speed_kn * KNOT_MPS * seconds + 30.0
    low, high = 0.0, budget
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if sum_at(a, b, moved(A, side, middle)) < budget else (low, middle)
    flank = low
    for extra, expected in ((-1.0, Status.UNDETERMINED), (1.0, Status.CLEAR)):
        through = moved(A, side, flank + extra)
        wing = 40_000.0
        east, west = moved(through, 90.0, wing), moved(through, 270.0, wing)
        if kind is not LineKind.GEODESIC:
            east, west = (east[0], through[1]), (west[0], through[1])  # the parallel, through the point
        cable = zone(line(west, east), ZoneKind.CABLE, edges=kind)
        if kind is LineKind.GEODESIC or side == 0.0:
            # A parallel bends polewards of the geodesic; from the south it curves away from the ellipse.
            assert status(gap_track(a, b, seconds), cable, max_speed_kn=speed_kn, reach_m=1.0) is expected
        elif expected is Status.UNDETERMINED:
            assert status(gap_track(a, b, seconds), cable, max_speed_kn=speed_kn, reach_m=1.0) is expected


def test_the_ellipse_of_the_planar_formula_agrees_within_the_ellipsoid_s_share():
    """Half-width of the potential path area: d 6 nmi, 2 h, 4.5 kn: 6211.7968 m.

    Derived by hand from the planar ellipse (Miller 2005, doi:10.1111/j.1538-4632.2005.00575.x):
    sqrt((v t)**2 - d**2) / 2 = sqrt(16668**2 - 11112**2) / 2. On the ellipsoid the lengths differ by
    d**2 / (6 R**2), 1e-6 of them: under 0.1 m.
    """
    a, b = moved(A, 90.0, 3 * NMI_M), moved(A, 270.0, 3 * NMI_M)
    half_width = np.sqrt((9 * NMI_M) ** 2 - (6 * NMI_M) ** 2) / 2.0
    np.testing.assert_allclose(half_width, 6211.7968, rtol=0, atol=0.0001)
    for off, expected in ((-0.1, Status.UNDETERMINED), (0.1, Status.CLEAR)):
        point = moved(A, 0.0, half_width + off)
        found = status(
            gap_track(a, b, 7200.0), shipwreck(point), max_speed_kn=4.5, position_error_m=0.0, reach_m=1.0
        )
        assert found is expected


def test_a_point_three_miles_along_and_two_off_is_reached():
    """Planar sum 13354.9619 m = 2 sqrt(3**2 + 2**2) nmi against a budget of 9 nmi = 16668 m: reachable.

    With the greatest speed lowered so that the budget is that sum, 1 m decides.
    """
    a, b = moved(A, 270.0, 3 * NMI_M), moved(A, 90.0, 3 * NMI_M)
    point = moved(A, 0.0, 2 * NMI_M)
    total = 2 * np.hypot(3 * NMI_M, 2 * NMI_M)
    np.testing.assert_allclose(total, 13354.9619, rtol=0, atol=0.0001)
    for budget, expected in (
        (16668.0, Status.UNDETERMINED),
        (total + 1, Status.UNDETERMINED),
        (total - 1, Status.CLEAR),
    ):
        speed_kn = budget / 7200.0 / KNOT_MPS
        found = status(
            gap_track(a, b, 7200.0),
            shipwreck(point),
            max_speed_kn=speed_kn,
            position_error_m=0.0,
            reach_m=1.0,
        )
        assert found is expected


# Counterexamples wanted.


def random_ways(rng, a, b, length_m, count):
    """Ends of first legs of two-legged ways from a to b no longer than permitted: (lon, lat) of each turn."""
    turns = []
    while len(turns) < count:
        turn = moved(a, rng.uniform(0.0, 360.0), length_m * rng.uniform(0.0, 1.0))
        if sum_at(a, b, turn) <= length_m:
            turns.append(turn)
    return turns


@pytest.mark.parametrize("seed", range(4))
def test_no_way_at_permitted_speed_ever_touches_a_zone_that_is_called_clear(seed):
    """Random gaps, random zones of all kinds, random ways from slightly wrong fixes: looked for hard."""
    rng = np.random.default_rng(SEED + seed)
    centre = [(-20.0, 57.0), (180.0, -16.0), (30.0, 79.0), (0.0, 0.0)][seed % 4]
    a = moved(centre, rng.uniform(0, 360), rng.uniform(0, 8000))
    b = moved(centre, rng.uniform(0, 360), rng.uniform(0, 8000))
    seconds = rng.uniform(1000.0, 7000.0)
    speed_kn = max(4.0, 1.1 * apart_m(a, b) / seconds / KNOT_MPS)
    error, zones = 15.0, []
    for number in range(25):
        at = moved(centre, rng.uniform(0, 360), rng.uniform(0, 30_000))
        kind = list(LineKind)[number % 3]
        size = 10.0 ** rng.uniform(1.5, 3.8)
        more = {"zone_id": str(number), "margin_m": float(rng.choice([0.0, 200.0, 1000.0]))}
        if number % 4 == 0:
            zones.append(shipwreck(at, radius_m=float(rng.choice([0.0, 500.0])), **more))
        elif number % 4 == 1:
            zones.append(
                zone(line(at, moved(at, rng.uniform(0, 360), 5 * size)), ZoneKind.CABLE, edges=kind, **more)
            )
        else:
            zones.append(zone(area(around(at, size, int(rng.integers(3, 9)))), edges=kind, **more))
    result = check(gap_track(a, b, seconds), zones, max_speed_kn=speed_kn, reach_m=1.0)
    open_ = {row.zone_id for row in result.rows if row.status is not Status.CLEAR}
    called_clear = [z for z in zones if z.zone_id not in open_]
    assert 3 < len(called_clear) < 25
    # Every place of a permitted way: the turns, from true positions up to the error off the fixes.
    places = []
    for _ in range(25):
        true_a, true_b = (moved(p, rng.uniform(0, 360), rng.uniform(0, error)) for p in (a, b))
        longest = speed_kn * KNOT_MPS * seconds
        if apart_m(true_a, true_b) <= longest:
            places += random_ways(rng, true_a, true_b, longest, 5)
    # And the rim of the ellipse itself, where counterexamples would hide.
    budget = speed_kn * KNOT_MPS * seconds + 2 * error
    places += [on_ellipse(a, b, budget - 0.01, bearing) for bearing in np.arange(0.0, 360.0, 3.0)]
    there = [fixes([place], [0.0], track_id=str(n)) for n, place in enumerate(places)]
    result = check(there, called_clear, position_error_m=0.0, reach_m=1.0)
    assert result.outcome is Outcome.CLEAR, result.rows[0]


# Which rows gaps make.


def test_a_gap_within_reach_makes_the_tow_undetermined_and_says_when():
    track = fixes([moved(A, 90.0, d) for d in (8000.0, 8100.0, 8200.0)], [0.0, 60.0, 3660.0])
    (row,) = check(track, zone(area(around(A, 2000.0)))).rows
    assert (row.status, row.reason, row.tow) == (Status.UNDETERMINED, "gap", 1)
    assert "06:01:00" in row.explain
    assert "07:01:00" in row.explain


def test_a_gap_between_stops_has_a_row_of_its_own_with_unknown_activity():
    still = moved(A, 90.0, 8000.0)
    times = [*range(0, 1261, 60), *range(9000, 10261, 60)]
    result = check(fixes([still] * len(times), times), zone(area(around(A, 2000.0))))
    assert result.outcome is Outcome.UNDETERMINED
    gap_rows = [row for row in result.rows if row.activity is Activity.UNKNOWN]
    assert [(row.tow, row.status, row.reason, row.clearance_m) for row in gap_rows] == [
        (None, Status.UNDETERMINED, "gap", None)
    ]


@pytest.mark.parametrize("times", [[None, None, None], [None, 0.0, 60.0], [0.0, 60.0, None]])
def test_unknown_times_leave_every_zone_open_even_those_far_away(times):
    """Without a time there is no bound on where the vessel went."""
    far = zone(area(around(moved(A, 0.0, 900_000.0), 2000.0)))
    track = fixes([moved(A, 90.0, 50.0 * n) for n in range(3)], times)
    (row,) = check(track, far).rows
    assert (row.status, row.reason) == (Status.UNDETERMINED, "missing_times")


def test_a_zone_around_the_whole_ellipse_is_reached():
    """No boundary within reach, but the vessel is inside at both ends; and at one."""
    inside = zone(area(box(-30.0, 50.0, -10.0, 64.0)), edges=LineKind.RHUMB)
    found = check(gap_track(A, moved(A, 90.0, 1000.0), 3600.0), inside).rows
    assert [row.status for row in found] == [Status.INSIDE]


def test_a_gap_between_two_stops_deep_inside_an_area_is_open():
    """No boundary within reach: it is the fixes themselves that lie inside; what was done is unknown."""
    shut = zone(area(box(-23.0, 55.5, -17.0, 58.5)), edges=LineKind.RHUMB)
    times = [*range(0, 1261, 60), *range(9000, 10261, 60)]
    rows = check(fixes([A] * len(times), times), shut).rows
    assert {(row.activity, row.status) for row in rows} == {
        (Activity.NOT_TOWING, Status.TRANSIT),
        (Activity.UNKNOWN, Status.UNDETERMINED),
    }


def test_an_entry_zone_stays_open_in_a_gap_with_towing_none_and_a_fishing_zone_does_not():
    track = gap_track(moved(A, 90.0, 9000.0), moved(A, 270.0, 9000.0), 7200.0)
    assert status(track, zone(area(around(A, 2000.0))), towing=Towing.NONE, reach_m=1.0) is Status.CLEAR
    shut = zone(points(A), ZoneKind.SAFETY_ZONE, radius_m=500.0)
    assert status(track, shut, towing=Towing.NONE, reach_m=1.0) is Status.UNDETERMINED


def test_a_gap_near_a_zone_with_a_transit_rule_is_open_even_with_towing_none():
    """A transit speed rule binds vessels that do not fish; whether it was kept in the gap is unknown."""
    track = gap_track(moved(A, 90.0, 9000.0), moved(A, 270.0, 9000.0), 7200.0)
    strict = zone(area(around(A, 2000.0)), rules=Rules(transit_min_speed_kn=6.0))
    assert status(track, strict, towing=Towing.NONE, reach_m=1.0) is Status.UNDETERMINED


@pytest.mark.parametrize("wider", [{"margin_m": 300.0}, {"datum_accuracy_m": 300.0}, {"radius_m": 300.0}])
def test_margin_radius_and_datum_widen_what_a_gap_reaches(wider):
    """A point 250 m beyond the ellipse is out of reach; with 300 m around it, it is not."""
    a, b = moved(A, 90.0, 9000.0), moved(A, 270.0, 9000.0)
    budget = 12.0 * KNOT_MPS * 7200.0 + 30.0
    point = moved(on_ellipse(a, b, budget, 0.0), 0.0, 250.0)
    track = gap_track(a, b, 7200.0)
    assert status(track, shipwreck(point), reach_m=1.0) is Status.CLEAR
    assert status(track, shipwreck(point, **wider), reach_m=1.0) is Status.UNDETERMINED


def test_an_impossible_speed_is_remarked_and_nothing_removed():
    track = fixes([A, moved(A, 90.0, 20_000.0), moved(A, 90.0, 20_100.0)], [0.0, 60.0, 120.0])
    result = check(track, shipwreck(moved(A, 0.0, 900.0)))
    (remark,) = result.warnings
    assert remark.message.startswith("1 leg")
    assert "12 kn" in remark.message
    assert len(result.tracks[0]) == 3
    assert check(track, shipwreck(A), max_speed_kn=700.0).warnings == ()


def test_a_gap_crossed_faster_than_possible_is_open_along_the_straight_way_at_least():
    a, b = A, moved(A, 90.0, 80_000.0)
    assert (
        status(gap_track(a, b, 3600.0), shipwreck(moved(A, 90.0, 40_000.0)), reach_m=1.0)
        is Status.UNDETERMINED
    )


def test_the_gaps_of_a_track_are_listed_with_times_and_reach():
    result = check(gap_track(A, moved(A, 90.0, 1000.0), 3600.0), shipwreck(A))
    (gap,) = result.gaps["t"]
    assert (gap.from_utc, gap.to_utc) == (START, START + np.timedelta64(3600, "s"))
    np.testing.assert_allclose(gap.reach_m, 12.0 * KNOT_MPS * 3600.0 + 30.0, rtol=0, atol=1e-6)
    assert GEOD.inv(0, 0, 0, 1)[2] > 0
