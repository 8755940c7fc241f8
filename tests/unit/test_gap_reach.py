"""What a gap leaves open: how fast, how long, whether a tow fits; values by hand, and random sailing."""

from __future__ import annotations

import numpy as np
import pytest
from scenes import KNOT_MPS, NMI_M, area, around, check, fixes, moved, points, steady, zone

from towzone.checks.settings import Towing
from towzone.model.zone import ZoneKind

A = (-20.0, 57.0)
DISC_M = 100.0


def gap_between(distance_m, seconds):
    return fixes([A, moved(A, 90.0, distance_m)], [0.0, seconds])


def disc(distance_m, bearing_deg=0.0, along_m=0.0):
    """A charted point with everything within 100 m of it, its rim the given distance from a place."""
    foot = moved(A, 90.0, along_m)
    return zone(points(moved(foot, bearing_deg, distance_m + DISC_M)), ZoneKind.SAFETY_ZONE, radius_m=DISC_M)


def reach(track, a_zone, **settings):
    result = check(track, a_zone, **({"position_error_m": 0.0, "reach_m": 1.0, "gap_s": 1.0} | settings))
    (gap,) = result.gaps["t"]
    return gap.could_reach[0] if gap.could_reach else None


@pytest.mark.parametrize(("aside_m", "open_"), [(6211.8 - 1.0, True), (6211.8 + 1.0, False)])
def test_a_gap_is_open_to_half_the_width_of_its_ellipse(aside_m, open_):
    """Six miles apart in two hours at 4.5 kn at most: half the width is 6211.797 m.

    Derived by hand: b = sqrt(4 a^2 - d^2) / 2 with 2 a = 4.5 x 2 x 1852 m, d = 6 x 1852 m, in the plane; the
    curvature of the earth changes it by less than a millimetre here.
    """
    track = gap_between(6.0 * NMI_M, 7200.0)
    target = zone(points(moved(moved(A, 90.0, 3.0 * NMI_M), 0.0, aside_m)), ZoneKind.OBSTRUCTION)
    assert (reach(track, target, max_speed_kn=4.5) is not None) is open_


def test_a_point_three_miles_along_and_two_aside_is_reachable_and_needs_its_own_speed():
    """The way over it is 2 x sqrt(3^2 + 2^2) miles = 13 354.96 m of 16 668 m (by hand), so 3.606 kn do."""
    track = gap_between(6.0 * NMI_M, 7200.0)
    target = zone(points(moved(moved(A, 90.0, 3.0 * NMI_M), 0.0, 2.0 * NMI_M)), ZoneKind.OBSTRUCTION)
    found = reach(track, target, max_speed_kn=4.5)
    np.testing.assert_allclose(found.least_speed_kn, 13354.9619 / 7200.0 / KNOT_MPS, rtol=0, atol=2e-4)


def test_longest_time_inside_is_what_the_ways_in_and_out_leave():
    """There and back 2 x 1000 m at 10 kn take 388.8 s of the hour (by hand)."""
    track = gap_between(0.001, 3600.0)
    found = reach(track, disc(1000.0), max_speed_kn=10.0)
    np.testing.assert_allclose(found.longest_inside_s, 3600.0 - 2000.0 / (10.0 * KNOT_MPS), rtol=0, atol=0.1)


def test_what_is_sailed_right_across_counts_as_time_inside():
    """Straight through a disc of 3 km at top speed: no time to spare, and yet the crossing lasts."""
    speed = 10.0 * KNOT_MPS
    track = gap_between(10_000.0, 10_000.0 / speed)
    across = zone(points(moved(A, 90.0, 5000.0)), ZoneKind.SAFETY_ZONE, radius_m=1500.0)
    found = reach(track, across, max_speed_kn=10.0)
    np.testing.assert_allclose(found.longest_inside_s, 3000.0 / speed, rtol=0, atol=0.1)
    assert not found.tow_fits, "at top speed all the way there is no time to tow"


def test_a_fix_inside_leaves_the_whole_gap_but_the_way_out():
    track = gap_between(4000.0, 1800.0)
    here = zone(area(around(A, 1000.0)))
    found = reach(track, here, max_speed_kn=10.0)
    np.testing.assert_allclose(found.longest_inside_s, 1800.0 - 3000.0 / (10.0 * KNOT_MPS), rtol=0, atol=2.0)


def test_the_margin_and_the_position_error_widen_what_is_open():
    track, target = gap_between(0.001, 3600.0), disc(1000.0)
    plain = reach(track, target, max_speed_kn=10.0).longest_inside_s
    wide = reach(track, target, max_speed_kn=10.0, margin_m=200.0, position_error_m=50.0).longest_inside_s
    np.testing.assert_allclose(wide - plain, 2 * 250.0 / (10.0 * KNOT_MPS), rtol=0, atol=0.1)


def test_a_gap_steamed_through_leaves_no_time_for_a_tow_and_a_slow_one_does():
    target = zone(area(around(moved(A, 90.0, 3000.0), 1000.0)))
    fast = reach(gap_between(6000.0, 6000.0 / (10.0 * KNOT_MPS)), target, max_speed_kn=11.0)
    slow = reach(gap_between(6000.0, 6000.0 / (4.0 * KNOT_MPS)), target, max_speed_kn=11.0)
    assert (fast.tow_fits, slow.tow_fits) == (False, True)


def test_a_turned_round_area_is_left_open_by_a_gap_near_its_limits():
    home = zone(
        area(around(A, 5000.0, corners=360)),
        rules=zone(area(around(A, 1.0))).rules.__class__(allowed_only_inside=True),
    )
    found = reach(gap_between(0.001, 3600.0), home, max_speed_kn=10.0)
    np.testing.assert_allclose(
        found.longest_inside_s, 3600.0 - 10_000.0 / (10.0 * KNOT_MPS), rtol=0, atol=1.0
    )


def test_random_sailing_in_a_gap_never_beats_what_was_said_of_it():
    """Ways through a random place of the zone, waiting or towing there, at random speeds up to the top speed.

    What is sailed is laid out in the plane around the zone, good to centimetres over these few miles.
    """
    rng = np.random.default_rng(20260301)
    tried = 0
    for _ in range(60):
        across_m, aside_m, radius_m = rng.uniform(500, 9000), rng.uniform(0, 4000), rng.uniform(100, 2500)
        along_m = rng.uniform(-0.2, 1.2) * across_m
        slow = 1.0 + rng.uniform(0.0, 1.0)
        seconds = max(across_m / (12.0 * KNOT_MPS) * slow, 60.0)
        centre = np.array([along_m, aside_m])
        target = zone(
            points(moved(moved(A, 90.0, along_m), 0.0, aside_m)), ZoneKind.SAFETY_ZONE, radius_m=radius_m
        )
        said = reach(gap_between(across_m, seconds), target, max_speed_kn=12.0, towing=Towing.ALL)
        ends = np.array([[0.0, 0.0], [across_m, 0.0]])
        for _ in range(40):
            angle, part = rng.uniform(0, 2 * np.pi, 2), np.sqrt(rng.uniform(0, 1, 2))
            inner = centre + (part * radius_m * 0.999)[:, None] * np.stack(
                [np.cos(angle), np.sin(angle)], axis=1
            )
            way = [np.linalg.norm(inner[0] - ends[0]), np.linalg.norm(inner[1] - inner[0])]
            way.append(np.linalg.norm(ends[1] - inner[1]))
            spare_s = seconds - sum(way) / (12.0 * KNOT_MPS)
            if spare_s < 0.0:
                continue
            tried += 1
            assert said is not None, "a way within the top speed touches the zone"
            assert sum(way) / seconds / KNOT_MPS >= said.least_speed_kn - 0.01
            assert spare_s + way[1] / (12.0 * KNOT_MPS) <= said.longest_inside_s + 0.5
            tow_s = spare_s + way[1] / (12.0 * KNOT_MPS)
            if tow_s >= 600.0 and way[1] / tow_s <= 8.0 * KNOT_MPS:
                assert said.tow_fits
    assert tried > 300, "the search must find ways to try"


def test_a_steaming_trip_without_gaps_leaves_nothing_open():
    result = check(steady([A, moved(A, 90.0, 20_000.0)], speed_kn=10.0), disc(3000.0, along_m=9000.0))
    assert result.gaps["t"] == ()
