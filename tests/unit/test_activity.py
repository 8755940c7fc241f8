"""What a track was doing, and what that makes of its rows: towing, not towing, or not to be told."""

from __future__ import annotations

import numpy as np
import pytest
from scenes import KNOT_MPS, NMI_M, START, area, around, check, fixes, joined, line, moved, steady, wait, zone

from towzone.checks.legs import made_good
from towzone.checks.paths import build_path
from towzone.checks.settings import CheckSettings, Towing
from towzone.errors import UsageError
from towzone.model.result import Activity, Status
from towzone.model.zone import Prohibition, ZoneKind
from towzone.tows.logged import LoggedHaul

A = (-20.0, 57.0)


def haul(shoot_s, haul_s, name="1"):
    return LoggedHaul(
        haul=name,
        shoot_utc=START + np.timedelta64(int(shoot_s), "s"),
        haul_utc=START + np.timedelta64(int(haul_s), "s"),
        warp_m=None,
        depth_m=120.0,
        door_spread_m=None,
        gear=None,
        line=2,
    )


def day():
    """Steam out an hour, tow three hours (to 14 400 s), haul a quarter of an hour, steam home."""
    out = steady([A, moved(A, 90.0, 10.0 * NMI_M)], speed_kn=10.0)
    start = moved(A, 90.0, 10.0 * NMI_M)
    end = moved(start, 90.0, 9.0 * NMI_M)
    tow = steady([start, end], speed_kn=3.0, first_s=3600.0)
    hauled = moved(end, 90.0, 0.25 * NMI_M)
    hauling = steady([end, hauled], speed_kn=1.0, first_s=14_400.0)
    home = steady([hauled, moved(hauled, 0.0, 10.0 * NMI_M)], speed_kn=10.0, first_s=15_300.0)
    trimmed = [out, *(_without_first(part) for part in (tow, hauling, home))]
    return joined(*trimmed)


def _without_first(track):
    return fixes(
        np.stack([track.lon_deg[1:], track.lat_deg[1:]], axis=1),
        ((track.time_utc[1:] - START) / np.timedelta64(1, "s")).tolist(),
    )


def square(at, half_m=600.0):
    return area(
        [
            moved(moved(at, 0.0, y), 90.0, x)
            for x, y in [(-half_m, -half_m), (half_m, -half_m), (half_m, half_m), (-half_m, half_m)]
        ]
    )


def rows(track, a_zone, **settings):
    result = check(track, a_zone, **({"towing": Towing.DETECT} | settings))
    return {(row.activity.value, row.status.value, row.reason) for row in result.rows}


def at_time(seconds):
    """Where the vessel of `day` is."""
    track = day()
    times = (track.time_utc - START) / np.timedelta64(1, "s")
    fix = int(np.searchsorted(times, seconds))
    return float(track.lon_deg[fix]), float(track.lat_deg[fix])


# Rows follow activity.


def test_a_closed_area_crossed_while_towing_is_a_finding():
    assert ("towing", "inside", "fishing_inside") in rows(day(), zone(square(at_time(9000.0))))


def test_a_closed_area_crossed_while_steaming_is_a_transit():
    assert ("not_towing", "transit", "not_towing") in rows(day(), zone(square(at_time(1800.0))))


def test_a_closed_area_touched_only_while_hauling_is_open():
    """Hauling lasts a quarter of an hour; whether the gear is in the water then cannot be told."""
    here = zone(area(around(at_time(15_000.0), 200.0)))
    found = rows(day(), here)
    assert ("unknown", "undetermined", "activity_unknown") in found
    assert not {row for row in found if row[1] == "inside"}


def test_an_area_closed_to_all_is_a_finding_whatever_was_done():
    shut = zone(square(at_time(1800.0)), prohibits=(Prohibition.ENTRY,))
    assert ("not_towing", "inside", "entry") in rows(day(), shut)


def test_positions_two_hours_apart_leave_activity_open_inside_and_claim_no_tow():
    hours = np.arange(0.0, 12.0, 2.0)
    track = fixes([moved(A, 90.0, 3.3 * KNOT_MPS * 3600.0 * h) for h in hours], (hours * 3600.0).tolist())
    here = zone(square(moved(A, 90.0, 3.3 * KNOT_MPS * 3600.0 * 4.0)))
    result = check(track, here, towing=Towing.DETECT)
    assert result.tows == ()
    (row,) = result.rows
    assert (row.activity, row.status) == (Activity.UNKNOWN, Status.UNDETERMINED)
    assert [round(doubt.seconds) for doubt in result.doubts] == [36_000]


def test_a_slow_crossing_breaks_a_transit_rule_whether_towing_or_not():
    """At 2 kn with a wandering course it cannot be told what it was doing; it was under 6 kn in any case."""
    rng = np.random.default_rng(5)
    here, points, times = A, [A], [0.0]
    for minute in range(1, 120):
        here = moved(here, 90.0 + rng.uniform(-70, 70), 2.2 * KNOT_MPS * 60.0)
        points.append(here)
        times.append(60.0 * minute)
    track = fixes(points, times)
    six = zone(square(points[60], 400.0), rules=zone(square(A)).rules.__class__(transit_min_speed_kn=6.0))
    found = rows(track, six)
    assert {status for _, status, _ in found} & {"inside"}
    assert "clear" not in {status for _, status, _ in found}


def test_nothing_detected_is_ever_clearer_than_all_of_it_towing():
    """What detection calls towing or leaves open covers every finding there is in truth."""
    track = day()
    for seconds in range(3700, 14_400, 900):
        here = zone(area(around(at_time(seconds), 150.0)))
        found = rows(track, here)
        assert {status for _, status, _ in found} & {"inside", "too_close", "undetermined"}, seconds


# The haul log.


def test_a_haul_log_beats_detection_and_its_times_are_the_tows():
    result = check(day(), [], towing=Towing.LOG, hauls=(haul(3000, 14_000, "A7"),))
    (tow,) = result.tows
    assert (tow.basis, tow.haul_id, tow.depth_m) == ("log", "A7", 120.0)
    assert tow.shoot_utc == START + np.timedelta64(3000, "s")
    assert tow.haul_utc == START + np.timedelta64(14_000, "s")
    assert tow.shoot_position is not None


def test_a_logged_tow_makes_steaming_speed_a_finding_there():
    here = zone(square(at_time(3300.0)))
    assert ("not_towing", "transit", "not_towing") in rows(day(), here)
    found = rows(day(), here, towing=Towing.LOG, hauls=(haul(3000, 14_000),))
    assert ("towing", "inside", "fishing_inside") in found


@pytest.mark.parametrize(
    ("hauls", "kinds"),
    [
        ((haul(3600, 14_400),), set()),
        ((haul(200, 1500),), {"not_in_track", "unlogged"}),
        ((haul(3600, 14_400 - 2000),), {"times_apart"}),
        ((haul(3600, 14_400), haul(90_000, 99_000, "2")), {"not_in_track"}),
    ],
)
def test_disagreements_of_log_and_track_are_told(hauls, kinds):
    result = check(day(), [], towing=Towing.LOG, hauls=hauls)
    told = result.log_disagreements.get("t", ())
    assert {str(item.kind) for item in told} == kinds
    assert all(item.explain for item in told)


def test_a_tow_in_the_track_that_is_not_logged_is_open_never_clear():
    here = zone(square(at_time(9000.0)))
    found = rows(day(), here, towing=Towing.LOG, hauls=(haul(200, 1500),))
    assert ("unknown", "undetermined", "activity_unknown") in found


# Tows as told.


def test_a_tow_at_3_4_knots_for_three_hours_is_10_2_miles():
    """Common practice, no source: 3.4 kn x 3 h = 10.2 nmi."""
    track = steady([A, moved(A, 90.0, 10.2 * NMI_M)], speed_kn=3.4, step_s=10.0)
    (tow,) = check(track, [], towing=Towing.ALL).tows
    np.testing.assert_allclose(tow.length_m / NMI_M, 10.2, rtol=0, atol=0.001)
    np.testing.assert_allclose(tow.seconds, 3 * 3600.0, rtol=0, atol=0.01)
    np.testing.assert_allclose(tow.mean_speed_kn, 3.4, rtol=0, atol=0.001)


def test_the_noise_of_positions_does_not_lengthen_a_tow():
    """At one fix a second and 3 m of scatter the legs add up to twice the way."""
    rng = np.random.default_rng(7)
    seconds = np.arange(0.0, 3601.0)
    metres = 3.0 * KNOT_MPS * seconds
    track = fixes(
        [moved(moved(A, 90.0, m), float(rng.uniform(0, 360)), float(rng.rayleigh(2.0))) for m in metres],
        seconds,
    )
    (tow,) = check(track, [], towing=Towing.ALL).tows
    np.testing.assert_allclose(tow.length_m, metres[-1], rtol=0, atol=0.005 * metres[-1])
    path = build_path(track, CheckSettings(towing=Towing.ALL))
    assert path.length_m.sum() > 1.5 * metres[-1]


def test_metres_made_good_count_covered_legs_only_and_add_up():
    track = steady([A, moved(A, 90.0, 6000.0)], speed_kn=6.0, step_s=7.0)
    path = build_path(track, CheckSettings(towing=Towing.ALL))
    covered = np.ones(len(track) - 1, dtype=bool)
    covered[100:110] = False
    made = made_good(track, path.time_s, path.length_m, covered)
    assert (made[100:110] == 0.0).all()
    np.testing.assert_allclose(made.sum(), path.length_m[covered].sum(), rtol=0, atol=0.01)


def test_rectangles_are_named_in_the_order_of_the_tow():
    track = steady([(2.8, 54.1), (3.3, 54.1)], speed_kn=3.0)
    (tow,) = check(track, [], towing=Towing.ALL).tows
    assert tow.rectangles == ("37F2", "37F3")


def test_a_cable_near_a_stop_is_no_finding_and_near_a_tow_it_is():
    track = wait(steady([A, moved(A, 90.0, 9.0 * NMI_M)]), 7200.0)
    end = moved(A, 90.0, 9.0 * NMI_M)
    cable = zone(line(moved(end, 0.0, 300.0), moved(end, 0.0, 9000.0)), ZoneKind.CABLE, margin_m=500.0)
    assert ("towing", "too_close", "under_margin") in rows(track, cable)


def test_no_track_at_all_is_refused_not_clear():
    with pytest.raises(UsageError, match="no track to check"):
        check([], zone(square(A)))
