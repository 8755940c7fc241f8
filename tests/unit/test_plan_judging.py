"""The judge of a plan says of a line what the whole check says, and leaves out only what is proved far."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from gear_stretches import SINGLE
from hypothesis import given, settings
from hypothesis import strategies as st
from scenes import GEOD, START, apart_m, area, around, line, moved, points, zone

from towzone.checks.run import run_check
from towzone.checks.settings import CheckSettings, GearProof
from towzone.errors import UsageError
from towzone.geodesy.lines import LineKind
from towzone.model.result import Part, Status
from towzone.model.rules import Rules
from towzone.model.zone import ZoneKind
from towzone.plan.judging import Judge, PlanSettings
from towzone.plan.lines import legs_of, line_of, refuse_untowable, reversed_line, turns_deg
from towzone.units import KNOT_MPS

HOME = (-20.0, 57.0)
SOON = Rules(valid_from=datetime(2026, 3, 1, 6, 20, tzinfo=UTC))
"""From twenty minutes after `START` on, in UTC, which is not stated."""


def planned(*corners, name="plan"):
    lon_lat = np.array(corners)
    return line_of(name, lon_lat[:, 0], lon_lat[:, 1])


def east(length_m=8000.0, start=HOME):
    return planned(start, moved(start, 90.0, length_m))


def judge(zones=(), *, check=None, **more):
    check = {"gear": "OTB", "figures": SINGLE, "position_error_m": 10.0, "gear_proof": GearProof.MODEL} | (
        check or {}
    )
    given = {
        "depart_utc": START,
        "speed_kn": 3.0,
        "hauling_way_kn": 1.5,
        "hauling_way_stated": True,
        "strongest_kn": 1.5,
    }
    return Judge(list(zones), PlanSettings(check=CheckSettings(**check), **(given | more)))


def beside(along_m, left_m, start=HOME):
    here = moved(start, 90.0, along_m)
    return moved(here, 0.0, left_m)


def told(rows):
    return [(r.zone_id, r.part, r.status, r.reason, r.clearance_m, r.explain) for r in rows]


def assert_as_whole(asked, line):
    """The judge, which leaves out far zones, says what the check says that looks at all of them."""
    whole = run_check([asked.track(line)], asked.zones, asked.settings.check)
    made = asked.check([line])
    assert told(asked.rows(line)) == told(made.rows) == told(whole.rows)
    assert (made.beyond_reach, made.in_force, made.counts) == (
        whole.beyond_reach,
        whole.in_force,
        whole.counts,
    )
    assert made.warnings == whole.warnings


def test_the_track_has_its_times_and_its_run_in_and_run_out_straight_on():
    asked = judge()
    track = asked.track(east())
    apart = GEOD.inv(track.lon_deg[:-1], track.lat_deg[:-1], track.lon_deg[1:], track.lat_deg[1:])[2]
    seconds = np.diff(track.time_utc) / np.timedelta64(1, "us") / 1e6
    assert track.towed == (1, 2)
    assert track.time_utc[1] == START
    np.testing.assert_allclose(apart[:2] / seconds[:2], 3.0 * KNOT_MPS, rtol=1e-4)
    assert apart[2] / seconds[2] == pytest.approx(1.5 * KNOT_MPS, rel=1e-4)
    assert apart[0] == pytest.approx(asked.run_in_m, rel=1e-4)
    assert apart[2] == pytest.approx(asked.run_out_m, rel=1e-4)
    # Straight on: the course of a rhumb line stays what it is.
    assert np.ptp(legs_of(planned(*zip(track.lon_deg, track.lat_deg, strict=True)), LineKind.RHUMB)[1]) < 1e-9


@pytest.mark.parametrize("proof", list(GearProof))
def test_the_rows_are_those_of_the_whole_check(proof):
    zones = [
        zone(points(beside(4000.0, 320.0)), ZoneKind.OBSTRUCTION, zone_id="wreck"),
        zone(area(around(beside(9500.0, -700.0), 300.0)), zone_id="closed", margin_m=100.0),
        zone(line(beside(2000.0, 4000.0), beside(3000.0, 9000.0)), ZoneKind.CABLE, zone_id="cable"),
        zone(points(moved(HOME, 20.0, 40_000.0)), ZoneKind.OBSTRUCTION, zone_id="far"),
        zone(area(around(moved(HOME, 200.0, 60_000.0), 9000.0)), zone_id="far season", rules=SOON),
        zone(area(around(beside(2000.0, 900.0), 200.0)), zone_id="season", rules=SOON),
    ]
    asked = judge(zones, check={"gear_proof": proof})
    corner = planned(HOME, beside(5000.0, 0.0), beside(9000.0, 2500.0))
    for some in (east(), corner, reversed_line(corner, "back")):
        assert_as_whole(asked, some)


@settings(max_examples=20, deadline=None)
@given(
    st.floats(0.0, 360.0), st.floats(0.0, 60_000.0), st.floats(10.0, 30_000.0), st.sampled_from([0.0, 3000.0])
)
def test_no_zone_that_has_a_row_is_left_out(bearing_deg, distance_m, size_m, radius_m):
    made = zone(area(around(moved(HOME, bearing_deg, distance_m), size_m, 5)), radius_m=radius_m)
    asked = judge([made])
    assert_as_whole(asked, east())


def test_a_zone_that_holds_the_whole_line_far_from_its_boundary_is_not_left_out():
    held = zone(area(around(HOME, 300_000.0, 8)))
    rows = judge([held]).rows(east())
    assert [row.status for row in rows] == [Status.INSIDE] * 2 + [Status.UNDETERMINED] * 2  # towing; shooting


def test_gear_is_judged_while_it_is_shot_and_hauled_by_its_rope_alone():
    asked = judge()
    ahead_m = asked.run_out_m + asked.rope_m
    for far_m, status in ((ahead_m + 30.0, Status.CLEAR), (ahead_m - 30.0, Status.UNDETERMINED)):
        wreck = zone(points(moved(HOME, 90.0, 8000.0 + far_m)), ZoneKind.OBSTRUCTION)
        (row,) = (r for r in judge([wreck]).rows(east()) if r.part is Part.GEAR)
        assert row.status is status


def test_steering_widens_what_is_uncertain_of_vessel_and_gear():
    wreck = [zone(points(beside(4000.0, 420.0)), ZoneKind.OBSTRUCTION)]
    plain, steered = (judge(wreck, check={"steering_m": m}).rows(east()) for m in (0.0, 50.0))
    for one, other in zip(plain, steered, strict=True):
        assert other.uncertainty_m == pytest.approx(one.uncertainty_m + 50.0, abs=0.01)
        assert other.clearance_m == one.clearance_m
        if one.part is Part.GEAR:
            assert other.gear.rope_clearance_m == pytest.approx(one.gear.rope_clearance_m - 50.0, abs=0.01)
            assert other.gear.likely_clearance_m == pytest.approx(
                one.gear.likely_clearance_m - 50.0, abs=0.01
            )


def test_a_strongest_current_is_a_bound_of_what_may_set_the_gear_aside():
    weak, strong = (
        judge(check={"figures": replace(SINGLE, strongest_kn=kn)}).rigging.drift_sigma for kn in (0.3, 1.2)
    )
    assert (weak.value, strong.value) == (pytest.approx(0.1), pytest.approx(0.4))
    assert "strongest current stated" in strong.source


def test_another_departure_moves_the_times_and_nothing_else():
    later = judge().at(START + np.timedelta64(3, "h"))
    assert later.track(east()).time_utc[1] == START + np.timedelta64(3, "h")


@pytest.mark.parametrize("kind", [LineKind.RHUMB, LineKind.GEODESIC])
def test_turns_are_positive_to_starboard_and_lengths_are_true(kind):
    corner = moved(HOME, 45.0, 6000.0)
    some = planned(HOME, corner, moved(corner, 105.0, 3000.0))
    assert turns_deg(some, kind)[0] == pytest.approx(60.0, abs=0.1)
    assert turns_deg(reversed_line(some, "r"), kind)[0] == pytest.approx(-60.0, abs=0.1)
    assert legs_of(some, kind).length_m[0] == pytest.approx(apart_m(HOME, corner), rel=1e-4)


def test_lines_that_cannot_be_towed_are_refused_by_the_numbers_of_their_points():
    corner = moved(HOME, 45.0, 6000.0)
    with pytest.raises(UsageError, match=r"points 2 and 3 coincide"):
        refuse_untowable(planned(HOME, corner, corner))
    with pytest.raises(UsageError, match=r"point 2 .*its own gear"):
        refuse_untowable(planned(HOME, corner, HOME))
    refuse_untowable(planned(HOME, corner, moved(HOME, 300.0, 500.0)))


def test_a_plan_without_speed_or_time_is_refused():
    for wrong in ({"speed_kn": 0.0}, {"hauling_way_kn": float("nan")}):
        with pytest.raises(UsageError, match="must be more than 0"):
            judge(**wrong)
    with pytest.raises(UsageError, match="no time of departure"):
        judge(depart_utc=np.datetime64("NaT"))


@pytest.mark.parametrize(
    ("depth_m", "hangs"), [(140.0, False), (156.0, False), (170.0, False), (320.0, True)]
)
def test_gear_that_hardly_hangs_clear_is_taken_to_drag_until_it_is_in(depth_m, hangs):
    """With 160 m of sweeps and net, two metres more of water may not end the contact minutes sooner."""
    figures = replace(SINGLE, warp_m=800.0, depth_m=depth_m, sweeps_m=110.0, net_length_m=50.0)
    asked = judge(check={"figures": figures})
    height_m = depth_m + asked.rigging.block_height.value
    winch = asked.rigging.heave_speed
    whole_m = 800.0 + 160.0 - (height_m if hangs else 0.0)
    assert asked.contact.latest_s == pytest.approx(whole_m / (winch.value - 2.0 * winch.sigma))
