"""Shooting and hauling on a straight course."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from towzone.errors import UsageError
from towzone.gear.layback import layback_m
from towzone.gear.winch import (
    advance_m,
    earliest_contact_s,
    earliest_door_contact_s,
    gear_ground_speed_mps,
    last_door_contact_reach_m,
    last_door_contact_s,
    layback_at_warp_m,
    lift_off_scope,
    net_off_time_s,
    relative_m,
    time_to_scope_s,
)

PRINTED = [
    # height, warp, speed, heave, scope, time, advance, relative, reach
    (55, 220, 0.8, 1.0, 1.5, 137.5, 261.5, 48.5, 132.0),
    (105, 350, 0.8, 1.2, 1.5, 160.4, 344.8, 10.9, 163.3),
    (105, 350, 1.5, 1.2, 1.5, 160.4, 457.1, 123.2, 306.25),
    (205, 620, 0.8, 1.5, 1.5, 208.3, 522.6, -62.5, 221.3),
    (505, 1320, 0.8, 1.5, 1.5, 375.0, 955.0, -264.6, 434.7),
]
"""Own derivation, worked out by a script of its own."""


@pytest.mark.parametrize(("h", "s", "v", "w", "k", "time", "advance", "relative", "reach"), PRINTED)
def test_hauls_worked_out_elsewhere(h, s, v, w, k, time, advance, relative, reach):
    found = [
        time_to_scope_s(s, h, w, k),
        advance_m(s, h, v, w, k),
        relative_m(s, h, v, w, k),
        last_door_contact_reach_m(s, h, v, w),
    ]

    np.testing.assert_allclose(found, [time, advance, relative, reach], rtol=0, atol=0.0501)


def test_the_advance_is_the_ground_speed_summed_up():
    def law(t, _):
        return [float(gear_ground_speed_mps(350.0 - 1.2 * t, 105.0, 0.8, 1.2))]

    end = float(time_to_scope_s(350.0, 105.0, 1.2, 1.5))
    run = solve_ivp(law, (0.0, end), [0.0], method="DOP853", rtol=1e-11, atol=1e-11).y[0, -1]

    assert abs(advance_m(350.0, 105.0, 0.8, 1.2, 1.5) - run) < 1e-6


def test_gear_is_where_it_was_and_as_far_on_as_it_went():
    """Behind the call point by the layback, then on by the advance."""
    place = advance_m(350.0, 105.0, 0.8, 1.2, 1.5) - layback_m(350.0, 105.0)

    assert abs(relative_m(350.0, 105.0, 0.8, 1.2, 1.5) - place) < 1e-9


def test_a_warp_already_shorter_than_the_scope_takes_no_time_and_moves_nothing():
    assert float(time_to_scope_s(150.0, 105.0, 1.2, 1.5)) == 0.0
    assert float(advance_m(150.0, 105.0, 0.8, 1.2, 1.5)) == 0.0
    assert abs(relative_m(150.0, 105.0, 0.8, 1.2, 1.5) + layback_m(150.0, 105.0)) < 1e-12
    assert float(last_door_contact_s(100.0, 105.0, 1.2)) == 0.0
    assert float(relative_m(100.0, 105.0, 0.8, 1.2, 1.5)) == 0.0


def test_gear_hauled_on_the_spot_comes_up_below_the_block():
    assert float(relative_m(350.0, 105.0, 0.0, 1.2, 1.0)) == 0.0
    assert abs(advance_m(350.0, 105.0, 0.0, 1.2, 1.0) - layback_m(350.0, 105.0)) < 1e-9


def test_the_gear_over_the_ground_is_faster_than_vessel_and_winch():
    warps = np.array([106.0, 150.0, 350.0, 1e5])
    speed = gear_ground_speed_mps(warps, 105.0, 0.8, 1.2)

    assert (speed >= 2.0).all()
    assert (np.diff(speed) < 0.0).all()
    assert float(gear_ground_speed_mps(350.0, 105.0, 1.5, 0.0)) == 1.5


def test_doors_that_lift_have_no_ground_speed():
    with pytest.raises(UsageError, match="warp 105 m, block above the sea bed 105 m"):
        gear_ground_speed_mps(105.0, 105.0, 0.8, 1.2)


def test_doors_cannot_touch_farther_ahead_than_the_hard_reach():
    """Wherever they leave the bottom."""
    scopes = np.linspace(1.0, 350.0 / 105.0, 200)

    assert (
        relative_m(350.0, 105.0, 0.8, 1.2, scopes) <= last_door_contact_reach_m(350.0, 105.0, 0.8, 1.2) + 1e-9
    ).all()


def test_a_vessel_going_astern_carries_the_doors_no_farther_ahead_than_the_call():
    scopes = np.linspace(1.0, 350.0 / 105.0, 200)

    assert float(last_door_contact_reach_m(350.0, 105.0, -0.5, 1.2)) == 0.0
    assert (relative_m(350.0, 105.0, -0.5, 1.2, scopes) <= 0.0).all()


def test_doors_lift_at_three_quarters_of_the_scope_but_never_below_one():
    """k0 / 1.33, own derivation; k0 = 350 / 105 lifts after 72 s, 151 m on and 183 m astern of the call."""
    scope = lift_off_scope(350.0 / 105.0)

    assert abs(scope - 350.0 / 105.0 / 1.33) < 1e-12
    assert abs(time_to_scope_s(350.0, 105.0, 1.2, scope) - 72.0) < 1.0
    assert abs(advance_m(350.0, 105.0, 0.8, 1.2, scope) - 151.0) < 1.0
    assert abs(relative_m(350.0, 105.0, 0.8, 1.2, scope) + 183.0) < 1.0
    np.testing.assert_array_equal(lift_off_scope([1.0, 1.2, 1.33]), 1.0)
    with pytest.raises(UsageError, match="scope"):
        lift_off_scope(0.99)


def test_the_layback_follows_the_warp_in_and_ends_below_the_block():
    warps = np.array([350.0, 200.0, 105.0, 50.0, 0.0])

    np.testing.assert_allclose(
        layback_at_warp_m(warps, 105.0), [*layback_m(warps[:2], 105.0), 0.0, 0.0, 0.0], rtol=0, atol=1e-12
    )


def test_the_net_is_off_when_all_of_the_rope_hangs_free():
    """Warp left plus sweeps plus net as long as the height."""
    seconds = float(net_off_time_s(350.0, 305.0, 120.0, 50.0, 1.2))

    assert abs(350.0 - 1.2 * seconds + 170.0 - 305.0) < 1e-9
    assert float(net_off_time_s(100.0, 305.0, 120.0, 50.0, 1.2)) == 0.0


def test_a_net_that_reaches_down_by_itself_is_never_surely_off():
    """In shallow water the doors may be at the blocks and the codend on the bottom."""
    np.testing.assert_array_equal(net_off_time_s(350.0, [105.0, 169.999], 120.0, 50.0, 1.2), math.inf)
    assert abs(net_off_time_s(350.0, 170.0, 120.0, 50.0, 1.2) - 350.0 / 1.2) < 1e-9


def test_doors_leave_before_the_net_does():
    assert float(last_door_contact_s(900.0, 305.0, 1.2)) < float(
        net_off_time_s(900.0, 305.0, 120.0, 50.0, 1.2)
    )


def test_nothing_touches_before_so_much_is_out_as_reaches_down():
    assert abs(earliest_door_contact_s(105.0, 2.0) - 52.5) < 1e-12
    assert abs(earliest_contact_s(305.0, 120.0, 50.0, 2.0) - 67.5) < 1e-12
    np.testing.assert_array_equal(earliest_contact_s([170.0, 105.0], 120.0, 50.0, 2.0), 0.0)


FIGURES = {
    layback_at_warp_m: (350.0, 105.0),
    lift_off_scope: (3.0,),
    time_to_scope_s: (350.0, 105.0, 1.2, 1.5),
    advance_m: (350.0, 105.0, 0.8, 1.2, 1.5),
    relative_m: (350.0, 105.0, 0.8, 1.2, 1.5),
    last_door_contact_s: (350.0, 105.0, 1.2),
    last_door_contact_reach_m: (350.0, 105.0, 0.8, 1.2),
    net_off_time_s: (350.0, 105.0, 120.0, 50.0, 1.2),
    gear_ground_speed_mps: (350.0, 105.0, 0.8, 1.2),
    earliest_door_contact_s: (105.0, 2.0),
    earliest_contact_s: (105.0, 120.0, 50.0, 2.0),
}


@pytest.mark.parametrize("asked", FIGURES)
def test_no_figure_may_be_missing(asked):
    """NaN in any place is refused, alone and in a column."""
    figures = FIGURES[asked]
    assert np.isfinite(asked(*figures)) or asked is net_off_time_s
    for place in range(len(figures)):
        for bad in (np.nan, [figures[place], np.nan]):
            with pytest.raises(UsageError, match="found nan"):
                asked(*figures[:place], bad, *figures[place + 1 :])


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (lambda: time_to_scope_s(-1.0, 105.0, 1.2, 1.5), "warp"),
        (lambda: time_to_scope_s(350.0, -1.0, 1.2, 1.5), "height"),
        (lambda: time_to_scope_s(350.0, 105.0, 0.0, 1.5), "speed of heaving"),
        (lambda: time_to_scope_s(350.0, 105.0, -1.2, 1.5), "speed of heaving"),
        (lambda: time_to_scope_s(350.0, 105.0, 1.2, 0.9), "scope"),
        (lambda: gear_ground_speed_mps(350.0, 105.0, 0.8, -0.1), "speed of heaving"),
        (lambda: net_off_time_s(350.0, 105.0, -1.0, 50.0, 1.2), "length of sweeps"),
        (lambda: net_off_time_s(350.0, 105.0, 120.0, -1.0, 1.2), "length of the net"),
        (lambda: earliest_door_contact_s(105.0, 0.0), "speed of veering"),
    ],
)
def test_figures_that_cannot_be_are_refused(asked, words):
    with pytest.raises(UsageError, match=f"^{words}.*allowed"):
        asked()


def test_columns_broadcast():
    assert advance_m([[350.0], [400.0]], [100.0, 105.0, 110.0], 0.8, 1.2, 1.5).shape == (2, 3)
    assert net_off_time_s(350.0, [100.0, 400.0], 120.0, 50.0, 1.2).shape == (2,)
    assert lift_off_scope(3.0).shape == ()
