"""The uncertainty of the gear: published and worked figures, limits, refusals."""

from __future__ import annotations

import numpy as np
import pytest

from towzone.errors import UsageError
from towzone.gear.uncertainty import (
    TERMS,
    Sigmas,
    directional_m,
    jitter_sigma_m,
    sag_sigma_m,
    sigmas,
)

KNOT_MPS = 1852.0 / 3600.0
WORKED = {
    "warp_m": 350.0,
    "height_m": 105.0,
    "layback_m": 333.8787,
    "speed_mps": 3.0 * KNOT_MPS,
    "beta_deg": 0.0,
    "settled_m": 1e6,
    "warp_sigma_m": 7.0,
    "height_sigma_m": 3.0,
    "sag_sigma_m": 1.0,
    "position_sigma_m": 3.0,
    "antenna_sigma_m": 2.0,
    "drift_sigma_mps": 0.2 * KNOT_MPS,
    "spread_sigma_m": 8.0,
}
"""Own worked budget, check value V19."""
SURE = {name: 0.0 for name in WORKED if "sigma" in name} | {
    "clock_sigma_s": 0.0,
    "start_angle_sigma_rad": 0.0,
}


def found(**changes):
    return sigmas(**(WORKED | changes))


def alone(**changes):
    """With every doubt taken away but those given."""
    return sigmas(**(WORKED | SURE | changes))


def test_the_worked_budget_comes_out():
    """Own derivation, check value V19."""
    known = found()

    assert known.layback_m[0] == pytest.approx(7.4656728, rel=1e-6, abs=0)
    assert known.cross_m[0] == pytest.approx(22.9007507, rel=1e-6, abs=0)
    half_widths = 80.0 / 2.0 + np.array([1.0, 2.0]) * known.cross_m[0]
    np.testing.assert_allclose(half_widths, [62.9007507, 85.8015014], rtol=1e-6, atol=0)


def test_jitter_is_filtered_by_the_towline():
    """Own derivation, check value V20."""
    assert jitter_sigma_m(3.0, 10.0, 400.0)[0] == pytest.approx(0.3354102, rel=1e-6, abs=0)


def test_a_towline_never_amplifies_jitter():
    np.testing.assert_array_equal(
        jitter_sigma_m([3.0, 3.0, 3.0], [800.0, 5000.0, 10.0], [400.0, 400.0, 0.0]), 3.0
    )


def test_sag_is_half_a_percent_to_700_m_of_warp_and_one_beyond():
    """Own derivation, from catenaries of warp with its drag."""
    found_m = sag_sigma_m([350.0, 699.9, 700.0, 1320.0], [334.0, 600.0, 600.0, 1200.0])

    np.testing.assert_allclose(found_m, [1.67, 3.0, 6.0, 12.0], rtol=0, atol=1e-12)


@pytest.mark.parametrize(
    ("doubt", "cross_m", "along_m"),
    [
        ({"position_sigma_m": 3.0}, 3.0, 3.0),
        ({"antenna_sigma_m": 2.0}, 2.0 / np.cos(np.radians(30.0)), 2.0),
        ({"spread_sigma_m": 8.0}, 4.0, 0.0),
        ({"clock_sigma_s": 2.0}, 0.0, 2.0 * 3.0 * KNOT_MPS),
        ({"warp_sigma_m": 7.0}, np.tan(np.radians(30.0)) * 7.3380, 7.3380),
        ({"height_sigma_m": 3.0}, np.tan(np.radians(30.0)) * 0.94346, 0.94346),
        ({"sag_sigma_m": 1.0}, np.tan(np.radians(30.0)), 1.0),
        ({"drift_sigma_mps": 0.2 * KNOT_MPS}, 22.25858, 0.8660254 * 22.25858**2 / 333.8787),
        ({"drift_sigma_mps": 0.2 * KNOT_MPS, "friction": 1.0}, 11.12929, 0.8660254 * 11.12929**2 / 333.8787),
    ],
)
def test_each_doubt_alone_counts_as_its_formula_says(doubt, cross_m, along_m):
    """Own derivations, which the simulations of tests/oracle bear out; at 30 degrees to the towline."""
    known = alone(beta_deg=30.0, **doubt)

    assert known.cross_m[0] == pytest.approx(cross_m, rel=1e-4, abs=1e-12)
    assert known.along_m[0] == pytest.approx(along_m, rel=1e-4, abs=1e-12)


def test_an_unknown_first_angle_is_forgotten_by_the_layback():
    known = alone(start_angle_sigma_rad=0.5, settled_m=[0.0, 333.8787, 3.0 * 333.8787])

    np.testing.assert_allclose(known.cross_m, 333.8787 * 0.5 * np.exp([0.0, -1.0, -3.0]), rtol=1e-12, atol=0)


def test_a_first_angle_is_in_doubt_unless_it_is_said_not_to_be():
    assert found(settled_m=0.0).cross_m[0] > 300.0 * 0.5
    assert found(settled_m=0.0, start_angle_sigma_rad=0.0).cross_m[0] == found().cross_m[0]


def test_either_way_round_is_the_same_turn():
    beta = np.array([10.0, 89.0, 90.0, 120.0, 180.0])

    for turned in (-beta, beta + 360.0, beta - 720.0):
        np.testing.assert_allclose(
            found(beta_deg=turned).cross_m, found(beta_deg=beta).cross_m, rtol=1e-9, atol=0
        )


@pytest.mark.parametrize("speed_mps", [0.0, 1e-300, 1e-6])
def test_a_vessel_that_stands_still_leaves_the_gear_a_layback_aside_and_no_more(speed_mps):
    known = alone(drift_sigma_mps=0.1, speed_mps=speed_mps)

    assert known.cross_m[0] == pytest.approx(333.8787, rel=1e-12, abs=0)
    assert known.along_m[0] <= 333.8787


def test_no_doubt_about_the_current_is_none_at_a_standstill():
    assert alone(speed_mps=0.0).cross_m[0] == 0.0


def test_a_first_angle_sets_the_gear_a_layback_aside_and_no_more():
    assert alone(start_angle_sigma_rad=3.0, settled_m=0.0).cross_m[0] == pytest.approx(
        333.8787, rel=1e-12, abs=0
    )


@pytest.mark.parametrize("beta_deg", [90.0, 135.0, 180.0, 89.9999999])
def test_square_to_the_towline_the_layback_counts_as_in_the_tightest_turn(beta_deg):
    """The circle of a gear 7 m longer than one that only just stands still has a radius of this."""
    known = alone(sag_sigma_m=7.0, beta_deg=beta_deg)

    tightest_m = np.sqrt((333.8787 + 7.0) ** 2 - 333.8787**2)
    assert known.cross_m[0] == pytest.approx(tightest_m, rel=1e-9, abs=0)
    assert known.along_m[0] == pytest.approx(7.0, rel=1e-12, abs=0)


def test_no_doubt_about_the_layback_is_none_in_the_tightest_turn():
    known = alone(beta_deg=[90.0, 180.0])

    np.testing.assert_array_equal(known.cross_m, 0.0)


@pytest.mark.parametrize("doubt", ["warp_sigma_m", "height_sigma_m"])
def test_a_warp_up_and_down_is_in_doubt_by_what_its_length_can_make(doubt):
    """Of 105 m straight down, 2 m more reach as far out as Pythagoras says, and so do 2 m less of depth."""
    known = alone(warp_m=105.0, height_m=105.0, layback_m=0.0, **{doubt: 2.0})

    assert known.layback_m[0] == pytest.approx(np.sqrt(107.0**2 - 105.0**2), rel=1e-9, abs=0)


def test_nothing_is_no_number_where_everything_is_nothing():
    nothing = dict.fromkeys(WORKED | SURE, 0.0)

    known = sigmas(**nothing)

    for values in (known.layback_m, known.along_m, known.cross_m):
        np.testing.assert_array_equal(values, [0.0])


def test_figures_of_one_moment_serve_all_and_results_are_kept():
    known = found(layback_m=np.linspace(200.0, 340.0, 5), beta_deg=np.linspace(0.0, 60.0, 5))

    for values in (known.layback_m, known.along_m, known.cross_m):
        assert values.shape == (5,)
        assert not values.flags.writeable
    assert found().cross_m.shape == (1,)
    assert known.cross_m[2] == found(layback_m=270.0, beta_deg=30.0).cross_m[0]


@pytest.mark.parametrize("name", [name for name in WORKED | SURE if name != "beta_deg"])
@pytest.mark.parametrize("value", [np.nan, -1e-9, np.inf, 2e9])
def test_what_is_no_figure_is_refused_by_name(name, value):
    with pytest.raises(UsageError, match=f"{name} of the gear is .*; it must be from 0 to 1e"):
        found(**{name: [1.0, value]})


def test_an_angle_that_is_none_is_refused():
    with pytest.raises(UsageError, match="beta_deg of the gear is inf; it must be a finite angle"):
        found(beta_deg=np.inf)


@pytest.mark.parametrize("speeds", [[1.0, 2.0], np.ones((3, 3)), np.ones((1, 3)), []])
def test_lengths_that_do_not_fit_are_refused(speeds):
    with pytest.raises(UsageError, match=r"lists of one length.*speed_mps"):
        found(speed_mps=speeds, layback_m=[300.0, 310.0, 320.0])


@pytest.mark.parametrize(
    ("bearing_deg", "expected_m"),
    [
        (40.0, 3.0),
        (220.0, 3.0),
        (130.0, 20.0),
        (-50.0, 20.0),
        (70.0, np.hypot(20.0 * 0.5, 3.0 * np.sqrt(0.75))),
    ],
)
def test_towards_a_boundary_along_and_across_count_by_direction(bearing_deg, expected_m):
    """Own derivation: sqrt((cross sin)^2 + (along cos)^2)."""
    known = Sigmas(layback_m=np.ones(1), along_m=np.array([3.0]), cross_m=np.array([20.0]))

    towards_m = directional_m(known, bearing_deg=bearing_deg, towline_bearing_deg=40.0)

    np.testing.assert_allclose(towards_m, [expected_m], rtol=1e-12, atol=0)


def test_every_term_of_the_record_says_what_it_is_and_where_from():
    assert len({term.name for term in TERMS}) == len(TERMS) == 10
    assert all(term.formula and term.source for term in TERMS)


def test_square_to_the_towline_the_antenna_counts_as_in_the_tightest_turn_too():
    known = alone(antenna_sigma_m=2.0, beta_deg=90.0)

    assert known.cross_m[0] == pytest.approx(np.sqrt((333.8787 + 2.0) ** 2 - 333.8787**2), rel=1e-9, abs=0)
    assert known.along_m[0] == 2.0


def test_the_clock_is_in_doubt_by_a_second_unless_it_is_said_not_to_be():
    sure = {name: value for name, value in SURE.items() if name != "clock_sigma_s"}

    assert sigmas(**(WORKED | sure)).along_m[0] == pytest.approx(3.0 * KNOT_MPS, rel=1e-12, abs=0)
