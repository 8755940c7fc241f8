"""The gear behind the vessel on a steady tow."""

from __future__ import annotations

import math

import numpy as np
import pytest

from towzone.errors import UsageError
from towzone.gear.layback import (
    bottom_reach_m,
    bridle_angle_deg,
    layback_m,
    layback_slopes,
    reaches_bottom,
    rope_bound_m,
    spread_from_warps_m,
    wing_end_distance_m,
)


def close(found, expected, atol):
    np.testing.assert_allclose(found, expected, rtol=0, atol=atol)


def test_doors_blocks_and_warp_make_a_straight_line_in_space():
    """The layback puts a door exactly one warp from its block."""
    warp, height, spread, separation = 350.0, 105.0, 80.0, 8.0
    layback = float(layback_m(warp, height, spread_m=spread, separation_m=separation))

    block, door = (0.0, separation / 2, height), (-layback, spread / 2, 0.0)

    assert abs(math.dist(block, door) - warp) < 1e-9


def test_blocks_farther_apart_than_the_doors_shorten_the_layback_too():
    close(layback_m(350.0, 105.0, spread_m=0.0, separation_m=72.0), math.sqrt(350**2 - 105**2 - 36**2), 1e-9)


def test_columns_and_single_figures_broadcast():
    found = layback_m([[350.0], [500.0]], [100.0, 105.0, 110.0], spread_m=80.0)

    assert found.shape == (2, 3)
    assert found[0, 1] == layback_m(350.0, 105.0, spread_m=80.0)
    assert layback_m(350.0, 105.0).shape == ()


def test_a_warp_straight_down_leaves_no_layback():
    assert float(layback_m(105.0, 105.0)) == 0.0
    assert bool(reaches_bottom(105.0, 105.0))


def test_a_warp_too_short_is_refused_with_its_figures():
    with pytest.raises(UsageError) as refused:
        layback_m([350.0, 90.0], 105.0, spread_m=80.0, separation_m=8.0)

    text = str(refused.value)
    assert "warp 90 m, block above the sea bed 105 m, doors apart 80 m, blocks apart 8 m" in text
    assert "1 of 2 values" in text


def test_a_warp_short_by_a_hair_is_refused_too():
    with pytest.raises(UsageError, match="too short"):
        layback_m(105.0 - 1e-9, 105.0)


def test_whether_the_bottom_is_reached_can_be_asked_first():
    warps = np.array([90.0, 105.0, 110.9, 111.1, 350.0])

    np.testing.assert_array_equal(reaches_bottom(warps, 105.0), [False, True, True, True, True])
    # With doors 80 m and blocks 8 m apart: sqrt(105^2 + 36^2) = 111.0.
    np.testing.assert_array_equal(
        reaches_bottom(warps, 105.0, spread_m=80.0, separation_m=8.0), [False, False, False, True, True]
    )
    assert reaches_bottom(warps, 105.0).dtype == np.bool_


@pytest.mark.parametrize("asked", [layback_m, reaches_bottom, layback_slopes])
@pytest.mark.parametrize(
    ("warp", "height", "spread", "separation"),
    [
        (np.nan, 1, 0, 0),
        (9, np.nan, 0, 0),
        (9, 1, np.nan, 0),
        (9, 1, 0, np.nan),
        (-9, 1, 0, 0),
        (9, -1, 0, 0),
        (9, 1, -1, 0),
        (9, 1, 0, -1),
        (np.inf, 1, 0, 0),
    ],
)
def test_figures_that_cannot_be_are_refused(asked, warp, height, spread, separation):
    """None becomes a layback, a slope or an answer that reads as off the bottom."""
    with pytest.raises(UsageError, match="allowed"):
        asked(warp, height, spread_m=spread, separation_m=separation)


def test_slopes_are_what_a_millimetre_changes():
    figures = {"warp_m": 350.0, "height_m": 105.0, "spread_m": 80.0, "separation_m": 8.0}
    step = 1e-3

    for slope, name in zip(layback_slopes(**figures), ("warp_m", "height_m", "spread_m"), strict=True):
        more = layback_m(**figures | {name: figures[name] + step})
        less = layback_m(**figures | {name: figures[name] - step})
        close(slope, (more - less) / (2 * step), 1e-9)


def test_slopes_where_the_layback_is_nothing_are_refused():
    with pytest.raises(UsageError, match="too short"):
        layback_slopes(105.0, 105.0)


def test_wing_ends_are_one_bridle_from_the_doors():
    behind = float(wing_end_distance_m(110.0, 90.0, 20.0))
    angle = math.radians(float(bridle_angle_deg(110.0, 90.0, 20.0)))

    assert abs(math.dist((0.0, 45.0), (-behind, 10.0)) - 110.0) < 1e-9
    close([110.0 * math.cos(angle), 110.0 * math.sin(angle)], [behind, 35.0], 1e-9)


def test_wing_ends_wider_than_the_doors_turn_the_bridles_outwards():
    close(wing_end_distance_m(110.0, 20.0, 90.0), wing_end_distance_m(110.0, 90.0, 20.0), 0)
    close(bridle_angle_deg(110.0, 20.0, 90.0), -bridle_angle_deg(110.0, 90.0, 20.0), 0)


def test_a_net_rigged_to_the_doors_has_no_bridles():
    assert float(wing_end_distance_m(0.0, 20.0, 20.0)) == 0.0
    with pytest.raises(UsageError, match="above 0"):
        bridle_angle_deg(0.0, 20.0, 20.0)


@pytest.mark.parametrize("asked", [wing_end_distance_m, bridle_angle_deg])
def test_sweeps_too_short_for_the_spreads_are_refused(asked):
    assert np.isfinite(asked(35.0, 90.0, 20.0))
    with pytest.raises(UsageError, match=r"sweeps 34\.9 m, door spread 90 m, wing spread 20 m"):
        asked(34.9, 90.0, 20.0)
    with pytest.raises(UsageError, match="wing spread"):
        asked(34.9, 90.0, np.nan)


def test_a_spread_comes_back_from_the_warps_it_belongs_to():
    """Warps cut anywhere are as far apart as similar triangles say."""
    at = np.array([1.0, 2.5, 100.0, 350.0])
    apart = 8.0 + (80.0 - 8.0) * at / 350.0

    close(spread_from_warps_m(350.0, apart, at, 8.0), 80.0, 1e-9)


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        ((350.0, 8.5, 351.0, 8.0), "measured beyond their ends"),
        ((350.0, 7.0, 2.0, 8.0), "warps that cross"),
        ((350.0, 12.5, 2.0, 8.0), "farther apart than they are long"),
        ((350.0, 8.5, 0.0, 8.0), "place where the warps were measured"),
        ((350.0, 8.5, np.nan, 8.0), "place where the warps were measured"),
        ((0.0, 8.5, 2.0, 8.0), "warp: found 0 m"),
        ((350.0, 0.0, 2.0, 8.0), "distance between the warps"),
        ((350.0, 8.5, 2.0, -1.0), "distance between the blocks"),
    ],
)
def test_warps_that_cannot_run_like_that_are_refused(figures, words):
    with pytest.raises(UsageError, match=words):
        spread_from_warps_m(*figures)


def test_no_part_is_farther_than_the_rope_with_the_doors_down():
    """Sweeps and net in line behind a door that is as far as its warp lets it."""
    close(rope_bound_m(350.0, 105.0, 120.0, 35.0), layback_m(350.0, 105.0) + 155.0, 1e-9)


def test_where_the_warp_does_not_reach_down_the_whole_rope_counts():
    """100 m of warp and 155 m behind it, over a depth of 105 m: not just the 155 m."""
    close(rope_bound_m(100.0, 105.0, 120.0, 35.0), math.sqrt(255.0**2 - 105.0**2), 1e-9)
    assert float(rope_bound_m(100.0, 255.0, 120.0, 35.0)) == 0.0
    assert float(rope_bound_m(100.0, 300.0, 120.0, 35.0)) == 0.0


def test_a_net_touching_with_the_doors_off_the_bottom_is_within_the_reach():
    """Doors at any height, warp and net straight, and the net's end on the bottom: never beyond the reach."""
    warp, height, behind = 350.0, 105.0, 155.0
    door = np.linspace(0.0, 105.0, 100_001)
    touching = np.sqrt(warp**2 - (height - door) ** 2) + np.sqrt(behind**2 - door**2)
    reach = float(bottom_reach_m(warp, height, 120.0, 35.0))

    close(touching.max(), reach, 1e-6)
    # The bound with the doors down is exceeded by such a net: a proof may not rest on it.
    assert touching.max() - float(rope_bound_m(warp, height, 120.0, 35.0)) > 5.0


@pytest.mark.parametrize("asked", [rope_bound_m, bottom_reach_m])
@pytest.mark.parametrize("place", range(4))
@pytest.mark.parametrize("bad", [np.nan, -1.0])
def test_a_rope_of_impossible_figures_is_refused(asked, place, bad):
    figures = [350.0, 105.0, 120.0, 35.0]
    figures[place] = bad
    with pytest.raises(UsageError, match="allowed"):
        asked(*figures)
