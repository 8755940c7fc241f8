"""Warp from depth and depth from warp, against the hauls they come from."""

from __future__ import annotations

import math

import numpy as np
import pytest

from towzone.errors import UsageError
from towzone.gear.scope import (
    SIGMA_LN,
    depth_from_warp_m,
    depth_range_m,
    greatest_warp_m,
    warp_from_depth_m,
    warp_range_m,
)

HAULS = np.array(
    [
        [10, 30, 4.35, 6.25, 10.0],
        [30, 50, 3.75, 5.13, 7.14],
        [50, 75, 3.28, 4.10, 5.74],
        [75, 100, 3.19, 3.65, 4.90],
        [100, 150, 3.00, 3.34, 4.16],
        [150, 200, 2.90, 3.17, 3.76],
        [200, 300, 2.64, 2.98, 3.34],
        [300, 500, 2.39, 2.80, 3.15],
        [500, 800, 2.21, 2.66, 2.95],
    ]
)
"""Depth from, to; warp over depth 5 %, median, 95 %.

ICES survey hauls 2004-2021, 22 536 hauls, own evaluation."""
MIDDLES = np.sqrt(HAULS[:, 0] * HAULS[:, 1])
DEPTHS = np.geomspace(1.0, 3000.0, 4001)


def test_in_the_middle_of_a_bin_the_range_is_that_of_its_hauls():
    """But for the deepest, whose fit lies 0.3 % below its 5 %: there the fit is the limit."""
    low, high = (np.asarray(limit) / MIDDLES for limit in warp_range_m(MIDDLES))

    np.testing.assert_allclose(low[:-1], HAULS[:-1, 2], rtol=0, atol=1e-9)
    np.testing.assert_allclose(high, HAULS[:, 4], rtol=0, atol=1e-9)
    assert 0.995 * 2.21 < low[-1] < 2.21


def test_the_range_holds_the_fit_at_every_depth():
    low, high = warp_range_m(DEPTHS)
    fit = warp_from_depth_m(DEPTHS)

    assert (low <= fit * (1 + 1e-12)).all()
    assert (high > fit).all()


def test_nothing_grows_with_less_depth():
    for limit in (*warp_range_m(DEPTHS), warp_from_depth_m(DEPTHS), greatest_warp_m(DEPTHS)):
        assert (np.diff(limit) > 0.0).all()


def test_where_nothing_was_measured_the_range_grows_with_the_distance():
    """In logarithms, by a tenth more a doubling or halving than holding the ratio, or following the fit."""
    for edge, away in ((MIDDLES[0], 0.5), (MIDDLES[-1], 2.0)):
        (low0, high0), (low1, high1) = (warp_range_m(edge * step) for step in (away, away**2))
        grown = float(high1 / low1) / float(high0 / low0)

        assert grown == pytest.approx(1.1**2 * 2 ** (1 - 0.7029), rel=1e-9)


def test_depth_and_warp_are_inverse():
    np.testing.assert_allclose(
        depth_from_warp_m(warp_from_depth_m(DEPTHS[DEPTHS < 2800])), DEPTHS[DEPTHS < 2800], rtol=1e-12, atol=0
    )


def test_a_depth_is_at_the_end_of_the_range_of_the_warp_that_is_at_the_end_of_its_own():
    depths = DEPTHS[(DEPTHS > 3.0) & (DEPTHS < 900.0)]
    low, high = warp_range_m(depths)

    np.testing.assert_allclose(depth_range_m(high)[0], depths, rtol=1e-9, atol=0)
    np.testing.assert_allclose(depth_range_m(low)[1], depths, rtol=1e-9, atol=0)


def test_the_range_of_depths_holds_the_fit_and_leaves_the_warp_to_reach_down():
    warps = np.geomspace(1.0, 4000.0, 2001)
    low, high = depth_range_m(warps)
    fit = depth_from_warp_m(warps)

    assert (low < fit).all()
    assert (fit <= high * (1 + 1e-12)).all()
    assert (high <= warps / 1.05 * (1 + 1e-12)).all()
    assert high[-1] == pytest.approx(4000.0 / 1.05, rel=1e-12)


def test_hardly_any_gear_has_more_than_the_greatest_warp():
    """More than the 95 % of its depth, more than three standard deviations of the fit and of the bin."""
    greatest = greatest_warp_m(DEPTHS)
    upper = HAULS[:, 3] * (HAULS[:, 4] / HAULS[:, 3]) ** (3.0 / 1.6449)

    assert (greatest > warp_range_m(DEPTHS)[1] * 1.05).all()
    assert (greatest >= warp_from_depth_m(DEPTHS) * math.exp(3.0 * 0.156) * (1 - 1e-12)).all()
    assert (greatest_warp_m(MIDDLES) >= MIDDLES * upper * (1 - 1e-9)).all()
    assert (
        greatest_warp_m(MIDDLES)
        <= MIDDLES * np.maximum(upper, 14.968 * MIDDLES**-0.2971 * math.exp(0.468)) * 1.0001
    ).all()


def test_the_spread_of_logarithms_is_the_one_evaluated():
    assert SIGMA_LN == 0.156


@pytest.mark.parametrize("asked", [warp_from_depth_m, warp_range_m, greatest_warp_m])
@pytest.mark.parametrize("depth", [np.nan, np.inf, 0.0, -100.0, 0.9, 3001.0, [100.0, np.nan]])
def test_a_depth_no_trawl_is_towed_in_is_refused(asked, depth):
    with pytest.raises(UsageError, match=r"^depth: found .* allowed: numbers from 1 to 3000 m"):
        asked(depth)


@pytest.mark.parametrize("asked", [depth_from_warp_m, depth_range_m])
@pytest.mark.parametrize("warp", [np.nan, 0.0, -1.0, 4001.0])
def test_a_warp_no_trawl_has_is_refused(asked, warp):
    with pytest.raises(UsageError, match=r"^warp: found .* allowed: numbers from 1 to 4000 m"):
        asked(warp)


def test_a_single_depth_gives_figures_without_axes():
    assert warp_range_m(100.0)[0].shape == depth_range_m(300.0)[1].shape == greatest_warp_m(9.0).shape == ()
