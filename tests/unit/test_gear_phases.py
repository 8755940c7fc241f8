"""Warp that is out through a tow, and when the gear touched the bottom, against sums done by hand."""

import numpy as np
import pytest

from towzone.gear.phases import Winch, contact_times, warp_out_m

WINCH = Winch(shoot_s=1000.0, haul_s=5000.0, veer_mps=2.0, heave_mps=1.2)


def out_m(clock_s, towed_m=350.0, winch=WINCH):
    clock = np.atleast_1d(np.asarray(clock_s, float))
    return warp_out_m(clock, np.full(len(clock), towed_m), winch)


def test_warp_is_veered_before_shooting_ends_steady_while_towing_and_heaved_after():
    found = out_m([825.0, 900.0, 1000.0, 3000.0, 5000.0, 5100.0, 5250.0])
    np.testing.assert_allclose(found, [0.0, 150.0, 350.0, 350.0, 350.0, 230.0, 50.0], rtol=0, atol=1e-9)


def test_no_less_than_no_warp_is_out():
    assert out_m([0.0, 800.0, 5300.0, 1e6]).tolist() == [0.0] * 4


def test_a_tow_that_is_not_seen_to_begin_or_end_has_all_its_warp_out_there():
    open_ = Winch(shoot_s=-np.inf, haul_s=np.inf, veer_mps=2.0, heave_mps=1.2)
    assert out_m([-1e12, 0.0, 1e12], winch=open_).tolist() == [350.0] * 3


def test_one_open_end_leaves_the_other_as_it_is():
    begun = Winch(shoot_s=-np.inf, haul_s=5000.0, veer_mps=2.0, heave_mps=1.2)
    np.testing.assert_allclose(out_m([-1e9, 5100.0], winch=begun), [350.0, 230.0], rtol=0, atol=1e-9)


def test_where_the_time_is_not_known_the_warp_is_that_of_towing():
    assert out_m([np.nan]).tolist() == [350.0]


def test_a_warp_that_changes_while_towing_is_shortened_from_what_it_is_then():
    towed = np.array([300.0, 340.0, 400.0])
    found = warp_out_m(np.array([950.0, 3000.0, 5050.0]), towed, WINCH)
    np.testing.assert_allclose(found, [200.0, 340.0, 340.0], rtol=0, atol=1e-9)


def test_a_tow_of_no_time_is_veered_up_to_it_and_heaved_from_it():
    short = Winch(shoot_s=100.0, haul_s=100.0, veer_mps=2.0, heave_mps=1.0)
    np.testing.assert_allclose(
        out_m([90.0, 100.0, 110.0], winch=short), [330.0, 350.0, 340.0], rtol=0, atol=0
    )


def test_doors_are_down_from_the_depth_veered_to_three_quarters_of_the_scope():
    found = contact_times(WINCH, warp_m=350.0, height_m=105.0, behind_m=155.0)
    # gear.md of the plan, 3.1: 350 m over 105 m, doors lift at a scope of 3.333 / 1.33 after 72 s at 1.2 m/s.
    assert found.first_s == pytest.approx(1000.0 - (350.0 - 105.0) / 2.0, abs=1e-9)
    assert found.last_s - WINCH.haul_s == pytest.approx(72.0, abs=0.5)
    assert found.last_s - WINCH.haul_s == pytest.approx((350.0 - 350.0 / 1.33) / 1.2, abs=0.05)


def test_a_net_longer_than_the_water_is_deep_touches_until_all_of_it_is_in():
    found = contact_times(WINCH, warp_m=350.0, height_m=105.0, behind_m=155.0)
    assert found.earliest_s == pytest.approx(1000.0 - (350.0 + 155.0) / 2.0, abs=1e-9)
    assert found.latest_s == pytest.approx(5000.0 + (350.0 + 155.0) / 1.2, abs=1e-9)


def test_a_net_that_can_hang_free_is_off_when_warp_and_net_are_shorter_than_the_depth():
    found = contact_times(WINCH, warp_m=700.0, height_m=305.0, behind_m=155.0)
    assert found.earliest_s == pytest.approx(1000.0 - (700.0 + 155.0 - 305.0) / 2.0, abs=1e-9)
    assert found.latest_s == pytest.approx(5000.0 + (700.0 + 155.0 - 305.0) / 1.2, abs=1e-9)


@pytest.mark.parametrize("behind_m", [0.0, 104.0, 106.0, 400.0])
@pytest.mark.parametrize("warp_m", [106.0, 130.0, 350.0, 1200.0])
def test_the_times_by_the_figures_lie_within_the_hard_ones(warp_m, behind_m):
    found = contact_times(WINCH, warp_m=warp_m, height_m=105.0, behind_m=behind_m)
    assert found.earliest_s <= found.first_s <= WINCH.shoot_s
    assert WINCH.haul_s <= found.last_s <= found.latest_s


def test_ends_that_are_not_seen_stay_open():
    open_ = Winch(shoot_s=-np.inf, haul_s=np.inf, veer_mps=2.0, heave_mps=1.2)
    found = contact_times(open_, warp_m=350.0, height_m=105.0, behind_m=155.0)
    assert (found.first_s, found.earliest_s) == (-np.inf, -np.inf)
    assert (found.last_s, found.latest_s) == (np.inf, np.inf)
