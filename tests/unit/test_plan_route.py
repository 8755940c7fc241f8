"""Corrected lines in quick scenes with known answers; each one is measured again by other arithmetic."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from gear_oracle import KNOT_MPS, Plane, dragged
from oracles import densify
from planned_tows import bent, judge_of, planned
from scenes import GEOD, START, area, line, moved, points, zone

from towzone.checks.settings import GearProof
from towzone.geodesy.lines import LineKind
from towzone.model.plan import NoLine, NoLineWhy
from towzone.model.rules import Rules
from towzone.model.vessel import Current, GearFigures
from towzone.model.zone import ZoneKind
from towzone.plan.lines import legs_of, turns_deg
from towzone.plan.route.corrected import FoundLine, find_line

PORT = (-8.175, 54.5)
FAR_M, STEERING_M, ERROR_M = 10_000.0, 20.0, 10.0
LAYBACK_M, HALF_SPREAD_M = 331.932, 40.0
PLACES = {
    "54 N": (PORT, LineKind.RHUMB),
    "54 N geodesic": (PORT, LineKind.GEODESIC),
    "180 degrees": ((179.95, -16.0), LineKind.RHUMB),
    "180 degrees geodesic": ((179.95, -16.0), LineKind.GEODESIC),
    "72 N": ((3.0, 72.0), LineKind.RHUMB),
}


STEADY = GearFigures(
    warp_m=350.0, depth_m=100.0, block_height_m=5.0, block_separation_m=8.0, door_spread_m=80.0,
    sweeps_m=110.0, net_length_m=50.0, wing_spread_m=20.0, block_aft_m=0.0, block_starboard_m=0.0,
    tow_speed_kn=3.0, heave_speed_mps=1.2, strongest_kn=0.3,
)  # fmt: skip


def asked(zones, wanted, *, check=None, figures=STEADY, **more):
    judge = judge_of(
        zones,
        check={"steering_m": STEERING_M, "position_error_m": ERROR_M} | (check or {}),
        figures=figures,
        **more,
    )
    return find_line(wanted, judge), judge


def straight(start=PORT, bearing_deg=80.0, length_m=FAR_M):
    return bent((bearing_deg, length_m), start=start)


def wreck(at, *, radius_m=500.0, margin_m=200.0, **more):
    return zone(points(at), ZoneKind.CLOSED_AREA, radius_m=radius_m, margin_m=margin_m, **more)


def way_of(found, kind):
    """Positions on a line, no farther apart than 10 m."""
    corners = np.column_stack([found.lon_deg, found.lat_deg])
    pieces = densify(str(kind), corners, 10.0, closed=False)
    return tuple(np.concatenate([p[axis] for p in pieces]) for axis in (0, 1))


def nearest_m(lon, lat, at):
    return float(np.min(GEOD.inv(lon, lat, np.full_like(lon, at[0]), np.full_like(lat, at[1]))[2]))


def doors_of(found, kind):
    """The middle of the doors behind a line, dragged in small steps in a plane of another program."""
    lon, lat = way_of(found, kind)
    plane = Plane(lon[0], lat[0])
    z = plane.flat(lon, lat)
    run = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(z)))])
    at = np.arange(0.0, run[-1], 10.0)
    block = (np.interp(at, run, z.real) + 1j * np.interp(at, run, z.imag))[:, None]
    time_s = (at / (3.0 * KNOT_MPS))[:, None]
    gear = dragged(time_s, block, np.full(block.shape, LAYBACK_M), np.array([150.0]))
    return plane.degrees(gear.doors[:, 0])


def check_found(found, judge, wanted, rounds=()):
    """Hold a line against the check, its own ends, its legs and turns, and round zones (position, metres)."""
    assert isinstance(found, FoundLine), found
    kind, got = judge.settings.check.legs, found.line
    assert judge.is_clear(got)
    for end in (0, -1):
        assert (got.lon_deg[end], got.lat_deg[end]) == (wanted.lon_deg[end], wanted.lat_deg[end])
    assert np.abs(turns_deg(got, kind)).max(initial=0.0) <= 60.0
    if len(got) > 2:
        assert legs_of(got, kind).length_m.min() >= 3.0 * LAYBACK_M - 0.5
    for at, need_m in rounds:
        assert nearest_m(*way_of(got, kind), at) >= need_m + ERROR_M + STEERING_M
        assert nearest_m(*doors_of(got, kind), at) >= need_m + HALF_SPREAD_M + STEERING_M
    return legs_of(got, kind).length_m.sum()


def around_m(half_m, away_m):
    """The shortest way between two points around a disc in the middle: two tangents and an arc."""
    return 2.0 * (math.sqrt(half_m**2 - away_m**2) + away_m * math.asin(away_m / half_m))


# ---------------------------------------------------------------- one round zone


@pytest.mark.parametrize("place", PLACES)
def test_a_round_zone_is_passed_by_tangents(place):
    start, kind = PLACES[place]
    wanted, at = straight(start), moved(start, 80.0, FAR_M / 2.0)
    found, judge = asked([wreck(at)], wanted, check={"legs": kind})
    length = check_found(found, judge, wanted, [(at, 700.0)])
    least = around_m(FAR_M / 2.0, 700.0 + ERROR_M + STEERING_M)
    assert least <= length <= 1.02 * least
    assert 700.0 < found.aside_m < 1000.0


def test_around_a_large_round_zone_the_way_is_within_two_per_cent_of_tangents_and_arc():
    wanted, at = straight(), moved(PORT, 80.0, FAR_M / 2.0)
    found, judge = asked([wreck(at, radius_m=2500.0)], wanted)
    length = check_found(found, judge, wanted, [(at, 2700.0)])
    # The gear by three deviations: half its spread, and what is unsure, mostly set by a current of 0.3 knots.
    assert around_m(FAR_M / 2.0, 2700.0 + STEERING_M + 90.0) < length
    assert length < 1.02 * around_m(FAR_M / 2.0, 2700.0 + STEERING_M + 90.0)


def test_of_two_ways_the_one_near_the_wanted_line_is_taken():
    at = moved(PORT, 90.0, FAR_M / 2.0)
    for side, bearing in ((1.0, 0.0), (-1.0, 180.0)):
        through = moved(at, bearing, 600.0)
        wanted = planned(PORT, through, moved(PORT, 90.0, FAR_M))
        found, judge = asked([wreck(at)], wanted)
        check_found(found, judge, wanted, [(at, 700.0)])
        assert side * (found.line.lat_deg[1:-1].mean() - at[1]) > 0.0


def test_in_a_stated_current_a_zone_is_passed_on_the_side_the_gear_is_set_away_to():
    at = moved(PORT, 90.0, FAR_M / 2.0)
    wanted = bent((90.0, FAR_M))
    figures = GearFigures(
        warp_m=350.0, depth_m=100.0, block_height_m=5.0, door_spread_m=80.0, tow_speed_kn=3.0,
        strongest_kn=0.2, current=Current(set_deg=0.0, drift_kn=0.8),
    )  # fmt: skip
    found, judge = asked([wreck(at)], wanted, figures=figures)
    assert isinstance(found, FoundLine)
    assert judge.is_clear(found.line)
    assert found.line.lat_deg[1:-1].max() > at[1]  # down-current of it, the gear is set away


def test_by_the_length_of_the_rope_the_way_is_wider():
    wanted, at = straight(), moved(PORT, 80.0, FAR_M / 2.0)
    by_model, _ = asked([wreck(at)], wanted)
    by_rope, judge = asked([wreck(at)], wanted, check={"gear_proof": GearProof.ROPE})
    check_found(by_rope, judge, wanted, [(at, 700.0)])
    assert nearest_m(*way_of(by_rope.line, LineKind.RHUMB), at) >= 700.0 + judge.rope_m + STEERING_M
    assert by_rope.aside_m > by_model.aside_m


def test_the_same_line_comes_out_again():
    wanted = straight()
    zones = [wreck(moved(PORT, 80.0, 4000.0), zone_id="A"), wreck(moved(PORT, 85.0, 6500.0), zone_id="B")]
    first, second = (asked(zones, wanted)[0] for _ in range(2))
    assert first.line.lon_deg.tobytes() == second.line.lon_deg.tobytes()
    assert first.line.lat_deg.tobytes() == second.line.lat_deg.tobytes()


# ---------------------------------------------------------------- gaps


def gap(width_m, *, margin_m=100.0):
    """Two deep areas on both sides of the middle of the line, so wide apart, with no way around."""
    at, sides = moved(PORT, 80.0, FAR_M / 2.0), []
    for bearing, name in ((350.0, "N"), (170.0, "S")):
        near = moved(at, bearing, width_m / 2.0)
        west, east = moved(near, 260.0, 400.0), moved(near, 80.0, 400.0)
        ring = [west, east, moved(east, bearing, 40_000.0), moved(west, bearing, 40_000.0)]
        sides.append(zone(area(ring), zone_id=name, margin_m=margin_m))
    return sides, at


def test_a_gap_is_used_if_it_is_wide_enough_and_told_if_it_is_10_m_too_narrow():
    sides, at = gap(200.0)
    told, _ = asked(sides, straight())
    assert told.why is NoLineWhy.CLOSED
    assert told.zone_ids == ("N", "S")
    assert told.width_m == pytest.approx(200.0, abs=3.0)
    assert GEOD.inv(*at, told.lon_deg, told.lat_deg)[2] < 600.0
    # On each side margin, steering, half the spread and what is unsure.
    assert 2.0 * (100.0 + STEERING_M + HALF_SPREAD_M) < told.needed_m < 2.0 * (100.0 + STEERING_M + 140.0)
    narrow, _ = asked(gap(told.needed_m - 10.0)[0], straight())
    assert narrow.why is NoLineWhy.CLOSED
    assert narrow.width_m == pytest.approx(told.needed_m - 10.0, abs=3.0)
    wanted = straight()
    found, judge = asked(gap(told.needed_m + 20.0)[0], wanted)
    check_found(found, judge, wanted)


def test_a_cable_across_all_the_waters_closes_the_way():
    at = moved(PORT, 80.0, 4000.0)
    cable = zone(line(moved(at, 350.0, 60_000.0), moved(at, 170.0, 60_000.0)), ZoneKind.CABLE, margin_m=100.0)
    told, _ = asked([cable], straight())
    assert told.why is NoLineWhy.CLOSED
    assert (told.zone_ids, told.width_m) == (("Z",), 0.0)
    assert GEOD.inv(*at, told.lon_deg, told.lat_deg)[2] < 60.0
    assert told.needed_m > 2.0 * (100.0 + STEERING_M + HALF_SPREAD_M)


def test_an_area_that_alone_is_allowed_is_kept_to():
    at, wanted = moved(PORT, 80.0, FAR_M / 2.0), straight()
    ring = [moved(at, float(bearing), 8500.0) for bearing in range(0, 360, 30)]
    pen = zone(area(ring), zone_id="pen", margin_m=100.0, rules=Rules(allowed_only_inside=True))
    found, judge = asked([pen, wreck(at)], wanted)
    check_found(found, judge, wanted, [(at, 700.0)])
    small = zone(area([moved(at, float(b), 3000.0) for b in range(0, 360, 30)]), rules=pen.rules)
    told, _ = asked([small], wanted)
    assert told.why is NoLineWhy.START
    assert "outside the area" in told.words


# ---------------------------------------------------------------- rules in time


def test_a_rule_that_does_not_hold_bars_nothing():
    at, wanted = moved(PORT, 80.0, FAR_M / 2.0), straight()
    begin = START.astype("datetime64[us]").item()
    for hours, barred in ((-1.0, False), (0.5, False), (3.0, True)):
        until = begin.replace(tzinfo=UTC) + timedelta(hours=hours)
        found, judge = asked([wreck(at, rules=Rules(valid_until=until))], wanted)
        length = check_found(found, judge, wanted)
        assert (length > FAR_M + 50.0) == barred, hours
    later = begin.replace(tzinfo=UTC) + timedelta(hours=1.5)
    found, judge = asked([wreck(at, rules=Rules(valid_from=later))], wanted)
    assert check_found(found, judge, wanted) < FAR_M + 50.0


def test_rules_that_may_not_hold_are_told_when_they_alone_are_in_the_way():
    at = moved(PORT, 80.0, 4000.0)
    ends = moved(at, 350.0, 60_000.0), moved(at, 170.0, 60_000.0)
    cable = zone(line(*ends), ZoneKind.CABLE, margin_m=100.0, rules=Rules(gears=("OTB",)))
    told, _ = asked([cable], straight(), check={"gear": None})
    assert (told.why, told.zone_ids) == (NoLineWhy.UNDECIDED, ("Z",))


# ---------------------------------------------------------------- ends


def test_ends_that_cannot_be_clear_are_told():
    wanted = straight()
    end = wanted.lon_deg[-1], wanted.lat_deg[-1]
    for at, why, words in (
        (PORT, NoLineWhy.START, "inside a zone"),
        (moved(PORT, 170.0, 520.0), NoLineWhy.START, "nearer to a zone than its margin"),
        (end, NoLineWhy.END, "inside a zone"),
    ):
        told, _ = asked([wreck(at, margin_m=0.0)], wanted)
        assert isinstance(told, NoLine)
        assert (told.why, told.zone_ids) == (why, ("Z",))
        assert words in told.words


def test_shooting_that_reaches_zones_on_every_course_is_told():
    around = [
        wreck(moved(PORT, b, 800.0), radius_m=50.0, margin_m=0.0, zone_id=f"Z{b:.0f}")
        for b in (0.0, 90.0, 180.0, 270.0)
    ]
    told, judge = asked(around, straight())
    assert told.why is NoLineWhy.START
    assert set(told.zone_ids) == {"Z0", "Z90", "Z180", "Z270"}
    assert "while shooting" in told.words
    assert f"{judge.rope_m:.0f} m" in told.words


def test_a_zone_beyond_the_end_is_kept_off_by_hauling_on_another_course():
    wanted = straight()
    at = moved((wanted.lon_deg[-1], wanted.lat_deg[-1]), 80.0, 900.0)
    found, judge = asked([wreck(at, radius_m=50.0, margin_m=0.0)], wanted)
    check_found(found, judge, wanted)
    assert len(found.line) > 2


def test_without_figures_of_the_gear_and_near_the_poles_nothing_is_looked_for():
    told, _ = asked([wreck(PORT)], straight(), figures=GearFigures())
    assert told.why is NoLineWhy.GEAR
    told, _ = asked([], planned((0.0, 88.5), (5.0, 88.5)))
    assert told.why is NoLineWhy.NOT_FOUND
    assert "latitude" in told.words


# ---------------------------------------------------------------- many zones, lines that come back


def test_between_many_zones_legs_and_turns_are_what_the_gear_allows():
    rng = np.random.default_rng(7)
    wanted, rounds = bent((80.0, 9000.0), (60.0, 8000.0)), []
    for n in range(9):
        at = moved(moved(PORT, 71.0, 2500.0 + 1350.0 * n), 341.0, float(rng.uniform(-1500.0, 1500.0)))
        rounds.append((at, float(rng.uniform(150.0, 500.0))))
    zones = [
        wreck(at, radius_m=need - 100.0, margin_m=100.0, zone_id=f"Z{n}")
        for n, (at, need) in enumerate(rounds)
    ]
    found, judge = asked(zones, wanted)
    length = check_found(found, judge, wanted, rounds)
    assert length < 1.1 * GEOD.inv(*PORT, wanted.lon_deg[-1], wanted.lat_deg[-1])[2]


def test_a_line_that_comes_back_is_not_cut_short():
    wanted = bent((90.0, 7000.0), (150.0, 2500.0), (210.0, 2500.0), (270.0, 7000.0))
    at = moved(PORT, 90.0, 3500.0)
    found, judge = asked([wreck(at, radius_m=200.0, margin_m=100.0)], wanted)
    length = check_found(found, judge, wanted, [(at, 300.0)])
    assert 0.85 * 19_000.0 < length < 1.05 * 19_000.0


def test_a_corner_that_is_free_is_passed_as_the_wanted_line_passes_it():
    """A tow out and back at a right angle: what is not clear is mended, the rest stays that tow."""
    corner = moved(PORT, 90.0, FAR_M)
    wanted = planned(PORT, corner, moved(corner, 0.0, FAR_M))
    at = moved(PORT, 90.0, FAR_M / 2.0)
    found, judge = asked([wreck(at)], wanted)
    length = check_found(found, judge, wanted, [(at, 700.0)])
    (missed_m,) = found.missed_m
    assert missed_m == pytest.approx(nearest_m(*way_of(found.line, LineKind.RHUMB), corner), abs=6.0)
    assert missed_m < 150.0
    assert length < 1.1 * 2.0 * FAR_M


@pytest.mark.parametrize("dated", [False, True])
def test_what_closes_the_way_is_named_and_is_a_proof_only_where_its_rule_lasts(dated):
    """A wall from side to side behind a small box: only the wall closes the way, and not before its rule."""
    at = moved(PORT, 80.0, 0.7 * FAR_M)
    ring = [moved(moved(at, bearing, 60_000.0), aside, 300.0)
            for bearing, aside in ((350.0, 260.0), (350.0, 80.0), (170.0, 80.0), (170.0, 260.0))]  # fmt: skip
    rules = Rules(valid_from=datetime(2026, 3, 1, 6, 40, tzinfo=UTC)) if dated else Rules()
    wall = zone(area(ring), zone_id="WALL", rules=rules)
    box = wreck(moved(PORT, 80.0, 0.35 * FAR_M), zone_id="BOX")
    told, _ = asked([box, wall], straight())
    assert told.zone_ids == ("WALL",)
    assert told.why is (NoLineWhy.NOT_FOUND if dated else NoLineWhy.CLOSED)
    assert ("does not prove" in told.words) is dated
