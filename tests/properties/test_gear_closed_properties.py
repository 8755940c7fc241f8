"""What must hold for the closed forms of the gear, whatever the figures."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from towzone.gear.current import crab_angle
from towzone.gear.layback import bottom_reach_m, layback_m, reaches_bottom, rope_bound_m, spread_from_warps_m
from towzone.gear.scope import depth_range_m, greatest_warp_m, warp_range_m
from towzone.gear.turns import (
    angle_after_arc,
    angle_after_leg,
    angle_after_winch_leg,
    corner_cut,
    gate_distance_m,
    gear_run_m,
    settle_run_m,
)
from towzone.gear.winch import last_door_contact_reach_m, last_door_contact_s, net_off_time_s, relative_m


def between(low, high):
    return st.floats(low, high, allow_nan=False)


LENGTHS = between(0.0, 3000.0)
LAYBACKS = between(1.0, 3000.0)
ANGLES = between(-3.1, 3.1)
RADII = st.one_of(between(10.0, 1e5), between(-1e5, -10.0))


def turned(angle):
    return math.remainder(float(angle), 2 * math.pi)


@given(LENGTHS, LENGTHS, between(0.0, 300.0), between(0.0, 30.0))
def test_a_layback_is_real_or_the_bottom_is_not_reached(warp, height, spread, separation):
    """Never longer than the warp, and shorter the farther apart the doors."""
    if reaches_bottom(warp, height, spread_m=spread, separation_m=separation):
        found = float(layback_m(warp, height, spread_m=spread, separation_m=separation))
        assert 0.0 <= found <= warp
        assert found <= float(layback_m(warp, height))


@given(LENGTHS, LENGTHS, LENGTHS, LENGTHS)
def test_the_reach_is_never_less_than_the_bound_with_the_doors_down(warp, height, sweeps, net):
    """The one that a proof may use grows with every length and shrinks with the height."""
    reach = float(bottom_reach_m(warp, height, sweeps, net))

    assert float(rope_bound_m(warp, height, sweeps, net)) <= reach + 1e-6
    assert reach <= float(bottom_reach_m(warp + 1.0, height, sweeps, net))
    assert reach <= float(bottom_reach_m(warp, height, sweeps + 1.0, net))
    assert reach >= float(bottom_reach_m(warp, height + 1.0, sweeps, net))


@given(between(1.0, 3000.0), between(0.0, 1.0), between(0.1, 100.0), between(0.0, 30.0))
def test_a_spread_comes_back_from_its_warps(warp, share, at, separation):
    spread = share * min(2.0 * warp, 300.0)
    apart = separation + (spread - separation) * at / warp
    assume(at <= warp and apart > 1e-3 and abs(spread - separation) < 1.99 * warp and spread > 1e-3)

    assert abs(spread_from_warps_m(warp, apart, at, separation) - spread) < 1e-6


@given(between(1.0, 3000.0), between(1.0, 3000.0))
def test_deeper_water_takes_more_warp(first, second):
    shallow, deep = sorted((first, second))
    for limit in (lambda d: warp_range_m(d)[0], lambda d: warp_range_m(d)[1], greatest_warp_m):
        assert float(limit(shallow)) <= float(limit(deep))
    assert float(warp_range_m(deep)[1]) < float(greatest_warp_m(deep))


@given(between(5.0, 2000.0), between(0.0, 1.0))
def test_a_warp_within_the_range_of_a_depth_has_the_depth_in_its_own(depth, share):
    low, high = warp_range_m(depth)
    warp = float(low + share * (high - low))
    assume(warp <= 4000.0 and depth <= warp / 1.05)
    shallowest, deepest = depth_range_m(warp)

    assert float(shallowest) <= depth * (1 + 1e-9)
    assert depth <= float(deepest) * (1 + 1e-9)


@given(ANGLES, LENGTHS, LENGTHS, LAYBACKS)
def test_a_leg_in_two_parts_is_the_leg(angle, first, second, layback):
    parts = angle_after_leg(angle_after_leg(angle, first, layback), second, layback)

    assert abs(parts - angle_after_leg(angle, first + second, layback)) < 1e-9


@given(ANGLES, LENGTHS, LENGTHS, LAYBACKS, RADII)
def test_an_arc_in_two_parts_is_the_arc(angle, first, second, layback, radius):
    parts = angle_after_arc(angle_after_arc(angle, first, layback, radius), second, layback, radius)
    whole = angle_after_arc(angle, first + second, layback, radius)

    # Gear near to standing ahead of the vessel is unstable: what it was to the last digit decides.
    growth = math.exp(min((first + second) / layback, 25.0))
    assert abs(turned(parts - whole)) < 1e-12 * growth + 1e-9


@given(ANGLES, LENGTHS, LAYBACKS, RADII)
def test_a_mirrored_turn_has_mirrored_angles(angle, run, layback, radius):
    assert float(angle_after_arc(-angle, run, layback, -radius)) == -float(
        angle_after_arc(angle, run, layback, radius)
    )
    assert float(angle_after_leg(-angle, run, layback)) == -float(angle_after_leg(angle, run, layback))


@given(ANGLES, LENGTHS, LAYBACKS)
def test_the_angle_dies_away_on_a_leg_and_never_changes_sides(angle, run, layback):
    after = float(angle_after_leg(angle, run, layback))

    assert abs(after) <= abs(angle) + 1e-15
    assert after * angle >= 0.0


@given(ANGLES, between(0.0, 3.0), between(-3.0, 3.0), between(0.0, 3000.0), LAYBACKS)
def test_heaving_brings_the_gear_astern_sooner_and_veering_later(angle, speed, heave, seconds, layback):
    assume(heave * seconds < 0.999 * layback)
    still = abs(float(angle_after_winch_leg(angle, speed, 0.0, seconds, layback)))
    found = abs(float(angle_after_winch_leg(angle, speed, heave, seconds, layback)))

    assert found <= still + 1e-12 if heave >= 0.0 else found >= still - 1e-12


@given(between(0.01, math.pi / 2), LENGTHS, LAYBACKS)
def test_gear_moves_no_farther_than_the_vessel(angle, run, layback):
    """And lags by no more than one layback."""
    assume(run / layback < 30.0)
    moved = float(gear_run_m(angle, angle_after_leg(angle, run, layback), layback))

    assert -1e-6 <= moved <= run + 1e-6
    assert moved >= run - layback - 1e-6


@given(between(-math.pi, math.pi), LAYBACKS, between(0.1, 300.0))
def test_the_nearer_the_line_the_longer_the_run(turn, layback, off):
    assert float(settle_run_m(turn, layback, off)) >= float(settle_run_m(turn, layback, off * 1.5))
    assert float(gate_distance_m(turn, layback, off)) >= -layback
    assert 0.0 <= float(corner_cut(turn).distance) <= 1.0


@given(between(0.1, 5.0), between(-5.0, 5.0), between(0.0, 3.0))
def test_friction_never_sets_the_gear_farther(speed, cross, friction):
    assume(cross == 0.0 or abs(cross) > 1e-9)  # smaller products come out as nothing
    found = float(crab_angle(speed, cross, friction))

    assert abs(found) <= abs(float(crab_angle(speed, cross, 0.0)))
    assert np.sign(found) == np.sign(cross)


@given(LENGTHS, LENGTHS, between(-1.0, 4.0), between(0.1, 3.0), between(1.0, 10.0), between(0.0, 400.0))
def test_a_haul_ends_no_later_and_no_farther_than_its_bounds(warp, height, speed, heave, scope, behind):
    assert (
        float(relative_m(warp, height, speed, heave, scope))
        <= float(last_door_contact_reach_m(warp, height, speed, heave)) + 1e-6
    )
    assert float(last_door_contact_s(warp, height, heave)) <= float(
        net_off_time_s(warp, height, behind, 0.0, heave)
    )
