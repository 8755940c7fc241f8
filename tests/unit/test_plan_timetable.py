"""The timetable of a planned line, against times, courses and rectangles worked out by hand."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from gear_stretches import SINGLE
from planned_tows import PORT, bent, judge_of, planned
from scenes import GEOD, START, apart_m, area, around, box, moved, points, zone

from towzone.geodesy.lines import LineKind
from towzone.model.plan import EventKind
from towzone.model.rules import Rules, Window
from towzone.model.zone import ZoneKind
from towzone.plan.timetable import timetable_of

KNOT_MPS = 1852.0 / 3600.0


def after_s(utc):
    """Seconds after the departure of the tests."""
    return float((utc - START) / np.timedelta64(1, "us")) / 1e6


def hours(text):
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def test_legs_have_course_turn_length_and_times():
    """A mile of a minute along a meridian, then along a parallel: rhumb lines both."""
    line = planned((-8.0, 54.0), (-8.0, 54.1), (-7.5, 54.1))
    north, east = timetable_of(line, judge_of([])).legs

    length_m = GEOD.inv(-8.0, 54.0, -8.0, 54.1)[2]
    assert north.length_m == pytest.approx(length_m, abs=1e-3)
    assert (north.course_deg, north.turn_deg) == (pytest.approx(0.0, abs=1e-9), pytest.approx(90.0))
    assert north.begin_utc == START
    assert after_s(north.end_utc) == pytest.approx(length_m / (3.0 * KNOT_MPS), abs=1e-5)
    # A parallel is longer than the geodesic between its ends: a cos(lat) / sqrt(1 - e^2 sin^2(lat)).
    squared = 0.00669437999014
    parallel_m = 6378137.0 * np.cos(np.radians(54.1)) / np.sqrt(1 - squared * np.sin(np.radians(54.1)) ** 2)
    assert east.length_m == pytest.approx(parallel_m * np.radians(0.5), abs=1e-3)
    assert (east.number, east.course_deg, east.turn_deg) == (2, pytest.approx(90.0), None)
    assert east.begin_utc == north.end_utc


def test_geodesic_legs_are_geodesics_when_asked_for():
    line = planned((-8.0, 54.1), (-7.5, 54.1))
    (leg,) = timetable_of(line, judge_of([], check={"legs": LineKind.GEODESIC})).legs

    course_deg, _, length_m = GEOD.inv(-8.0, 54.1, -7.5, 54.1)
    assert leg.length_m == pytest.approx(length_m, abs=1e-4)
    assert leg.course_deg == pytest.approx(course_deg, abs=1e-9)


def test_a_turn_to_port_is_negative():
    legs = timetable_of(bent((90.0, 4000.0), (60.0, 4000.0)), judge_of([])).legs

    assert legs[0].turn_deg == pytest.approx(-30.0, abs=0.1)


def test_rectangles_are_told_leg_by_leg_as_entered():
    """Half a degree by a degree: 54 30 N and 8 W are sides of rectangles."""
    line = planned((-8.1, 54.45), (-8.1, 54.55), (-7.9, 54.55))
    legs = timetable_of(line, judge_of([])).legs

    assert [leg.rectangles for leg in legs] == [("37E1", "38E1"), ("38E1", "38E2")]


def test_a_leg_along_the_side_of_rectangles_stays_in_one_row():
    (leg,) = timetable_of(planned((-8.9, 54.5), (-7.1, 54.5)), judge_of([])).legs

    assert leg.rectangles == ("38E1", "38E2")


def test_a_leg_names_the_zones_within_reach_of_it():
    beside = zone(area(around(moved(PORT, 0.0, 3000.0), 500.0)), zone_id="near the first")
    far = zone(points(moved(PORT, 90.0, 30_000.0)), ZoneKind.OBSTRUCTION, zone_id="near the last")
    around_all = zone(area(box(-9.0, 54.0, -7.0, 55.0)), zone_id="holds all")
    legs = timetable_of(
        bent((90.0, 4000.0), (90.0, 20_000.0), (90.0, 6000.0)),
        judge_of([far, beside, around_all], check={"reach_m": 2600.0}),
    ).legs

    assert [leg.zones for leg in legs] == [
        ("near the first", "holds all"),
        ("holds all",),
        ("near the last", "holds all"),
    ]


def test_the_reach_is_measured_from_the_rim_of_a_radius():
    wreck = zone(points(moved(PORT, 0.0, 3000.0)), ZoneKind.OBSTRUCTION, radius_m=500.0)
    line = bent((90.0, 4000.0))

    for reach_m, told in ((2490.0, ()), (2510.0, ("Z",))):
        (leg,) = timetable_of(line, judge_of([wreck], check={"reach_m": reach_m})).legs
        assert leg.zones == told


def test_an_area_to_stay_inside_is_told_where_the_line_is_outside():
    inside = zone(
        area(around(moved(PORT, 90.0, 60_000.0), 3000.0)),
        rules=Rules(allowed_only_inside=True),
        zone_id="stay",
    )
    (leg,) = timetable_of(bent((90.0, 4000.0)), judge_of([inside])).legs

    assert leg.zones == ("stay",)


def test_a_zone_is_told_only_on_the_legs_that_are_sailed_while_its_rule_holds():
    """It begins at 08:00; 20 000 m at 3 kn are left behind after 3.6 h, at 09:36."""
    later = zone(
        area(around(moved(PORT, 90.0, 20_000.0), 500.0)),
        zone_id="later",
        rules=Rules(valid_from=hours("2026-03-01T08:00:00")),
    )
    line = bent((90.0, 10_000.0), (90.0, 10_000.0))
    legs = timetable_of(line, judge_of([later], check={"reach_m": 50_000.0})).legs
    early, late = (timetable_of(line, judge_of([later], depart_utc=START + h)).legs for h in HOURS)

    assert [leg.zones for leg in legs] == [(), ("later",)]
    assert [leg.zones for leg in early] == [(), ()]
    assert [leg.zones for leg in late][1] == ("later",)


HOURS = (np.timedelta64(-4, "h"), np.timedelta64(4, "h"))


def test_a_season_that_opens_tomorrow_is_told_and_one_that_opens_in_a_week_is_not():
    at = moved(PORT, 90.0, 5000.0)
    tomorrow = zone(
        area(around(at, 900.0)),
        zone_id="tomorrow",
        rules=Rules(season=(Window(from_month=3, from_day=2, to_month=4, to_day=30),)),
    )
    week = zone(area(around(at, 800.0)), zone_id="week", rules=Rules(valid_from=hours("2026-03-08T00:00:00")))
    ended = zone(
        area(around(at, 700.0)), zone_id="ended", rules=Rules(valid_until=hours("2026-02-28T20:00:00"))
    )
    far = replace(tomorrow, zone_id="far", shape=area(around(moved(PORT, 0.0, 60_000.0), 900.0)))
    spared = replace(tomorrow, zone_id="spared", rules=replace(tomorrow.rules, except_gears=("OTB",)))
    found = timetable_of(bent((90.0, 9000.0)), judge_of([tomorrow, week, ended, far, spared])).seasons

    assert [(change.zone_id, change.begins) for change in found] == [("ended", False), ("tomorrow", True)]
    assert found[1].at_utc == np.datetime64("2026-03-02T00:00:00", "us")


def test_what_happens_comes_in_order_with_the_vessel_where_it_is_then():
    line = bent((90.0, 9000.0), (30.0, 5000.0))
    table = timetable_of(line, judge_of([], hauling_way_kn=1.5))
    events = {event.kind: event for event in table.events}

    assert [event.kind for event in table.events] == list(EventKind)
    assert list(np.diff([after_s(event.utc) for event in table.events]) >= 0.0) == [True] * 5
    assert after_s(events[EventKind.TOWING].utc) == 0.0
    assert after_s(events[EventKind.HAUL_CALL].utc) == pytest.approx(14_000.0 / (3.0 * KNOT_MPS), abs=0.1)
    for kind, corner, speed_kn in (
        (EventKind.EARLIEST_CONTACT, 0, 3.0),
        (EventKind.TOWING, 0, 3.0),
        (EventKind.HAUL_CALL, -1, 1.5),
        (EventKind.DOORS_OFF, -1, 1.5),
        (EventKind.LATEST_CONTACT, -1, 1.5),
    ):
        begin = EventKind.TOWING if corner == 0 else EventKind.HAUL_CALL
        seconds = abs(after_s(events[kind].utc) - after_s(events[begin].utc))
        away_m = apart_m(
            (events[kind].lon_deg, events[kind].lat_deg), (line.lon_deg[corner], line.lat_deg[corner])
        )
        assert away_m == pytest.approx(seconds * speed_kn * KNOT_MPS, abs=0.01)


def test_doors_leave_by_the_figures_when_the_scope_has_fallen_to_three_quarters():
    """gear.md of the plan, 3.1: warp 350 m, height 105 m, 1.2 m/s: after 72 s."""
    table = timetable_of(bent((90.0, 9000.0)), judge_of([]))
    events = {event.kind: after_s(event.utc) for event in table.events}

    assert events[EventKind.DOORS_OFF] - events[EventKind.HAUL_CALL] == pytest.approx(72.37, abs=0.01)
    # Warp, sweeps and net, 510 m, at a winch two standard deviations (of 10 %) slower: 0.96 m/s.
    assert events[EventKind.LATEST_CONTACT] - events[EventKind.HAUL_CALL] == pytest.approx(531.25)


def test_in_deep_water_the_net_is_away_before_anything_can_touch():
    """Warp and sweeps, 1010 m, run out at 2 m/s; 840 m of rope reach down 1005 m less 160 m."""
    deep = replace(SINGLE, warp_m=1900.0, depth_m=1000.0)
    table = timetable_of(bent((90.0, 9000.0)), judge_of([], figures=deep))
    events = {event.kind: after_s(event.utc) for event in table.events}

    assert events[EventKind.NET_AWAY] == pytest.approx(-(1900.0 + 110.0) / 2.0)
    assert events[EventKind.NET_AWAY] == min(events.values())
    # Of 1900 m all but 1005 - 160 = 845 m run out, at 2 - 2 x 0.4 m/s.
    assert events[EventKind.EARLIEST_CONTACT] == pytest.approx(-(1900.0 - 845.0) / 1.2)


def test_the_whole_time_counts_shooting_and_hauling_and_the_fuel_with_it():
    table = timetable_of(bent((90.0, 9000.0)), judge_of([], fuel_l_per_h=120.0))
    first, last = table.events[0], table.events[-1]

    assert table.length_m == pytest.approx(9000.0, abs=0.1)
    assert table.seconds == pytest.approx(table.length_m / (3.0 * KNOT_MPS), abs=1e-6)
    assert table.whole_seconds == pytest.approx(after_s(last.utc) - after_s(first.utc), abs=1e-5)
    assert table.fuel.litres == pytest.approx(120.0 * table.whole_seconds / 3600.0)
    assert timetable_of(bent((90.0, 9000.0)), judge_of([])).fuel is None


def test_of_gear_that_is_not_known_only_the_tow_itself_is_told():
    table = timetable_of(bent((90.0, 9000.0)), judge_of([], figures=None))

    assert [event.kind for event in table.events] == [EventKind.TOWING, EventKind.HAUL_CALL]


def test_a_line_over_180_degrees_has_whole_legs():
    line = planned((179.95, -40.2), (-179.95, -40.2))
    (leg,) = timetable_of(line, judge_of([])).legs

    assert leg.length_m == pytest.approx(GEOD.inv(179.95, -40.2, -179.95, -40.2)[2], abs=0.05)
    assert leg.course_deg == pytest.approx(90.0)
