"""Door and wing spreads that nobody measured."""

from __future__ import annotations

import numpy as np
import pytest

from towzone.errors import UsageError
from towzone.gear.spread import (
    DEPTH_FITS,
    SIZE_FORMULAS,
    SURVEY_FORMULAS,
    default_spread_m,
    default_wing_spread_m,
    spread_by_depth_fit_m,
    spread_by_survey_formula_m,
    spread_by_vessel_size_m,
)
from towzone.model.vessel import Rig

GIVEN = {"depth_m": 100.0, "warp_m": 350.0, "wing_spread_m": 20.0}

MEDIANS_M = [
    ("gov-short-sweeps", (30, 50), 67),
    ("gov-short-sweeps", (75, 100), 77),
    ("gov-short-sweeps", (100, 150), 83),
    ("gov-short-sweeps", (200, 300), 91),
    ("gov-long-sweeps", (75, 100), 104),
    ("gov-long-sweeps", (100, 150), 101),
    ("gov-long-sweeps", (200, 300), 115),
    ("gov-long-sweeps", (300, 500), 116),
    ("baca", (30, 50), 65),
    ("baca", (75, 100), 83),
    ("baca", (100, 150), 91),
    ("baca", (200, 300), 104),
    ("baca", (300, 500), 110),
    ("monkfish", (75, 100), 79),
    ("monkfish", (100, 150), 88),
    ("monkfish", (200, 300), 99),
    ("monkfish", (300, 500), 104),
    ("rockhopper", (30, 50), 36),
    ("rockhopper", (75, 100), 42),
    ("rockhopper", (100, 150), 43),
    ("porcupine-baca", (200, 300), 125),
    ("porcupine-baca", (300, 500), 140),
]
"""Medians of door spreads by depth. ICES survey hauls 2004-2021, own evaluation."""


@pytest.mark.parametrize(("name", "depths", "median"), MEDIANS_M)
def test_a_fit_is_near_the_median_of_the_hauls_it_was_fitted_to(name, depths, median):
    """Within one standard deviation about it."""
    found = spread_by_depth_fit_m(name, np.sqrt(depths[0] * depths[1]))

    assert abs(found.value_m - median) <= found.sigma_m


@pytest.mark.parametrize("name", DEPTH_FITS)
def test_beyond_its_hauls_a_fit_stays_what_it_is_at_the_nearest(name):
    fit = DEPTH_FITS[name]
    value, sigma = spread_by_depth_fit_m(name, [1.0, fit.shallowest_m, fit.deepest_m, 2000.0])

    assert value[0] == value[1] < value[2] == value[3]
    np.testing.assert_array_equal(sigma, fit.sigma_m)


@pytest.mark.parametrize("name", SURVEY_FORMULAS)
def test_every_survey_formula_gives_a_spread_such_gear_has(name):
    """50 to 125 m for the survey trawl in 50 to 200 m with three to five times the depth of warp."""
    depth = np.array([50.0, 100.0, 200.0])

    found = spread_by_survey_formula_m(
        name, depth_m=depth, warp_m=[250.0, 350.0, 600.0], wing_spread_m=[18.0, 20.0, 22.0]
    )

    assert ((found > 50.0) & (found < 125.0)).all()


FEWER_VALUES = {
    # From the printed formulas, in another form: decimal logarithms; by hand.
    "se-long-sweeps": 29.489 * np.log(350.0) - 67.157,
    "nl-to-2004": 29.544 * 2.0 + 14.116 * np.log10(350.0) - 3.456,
    "nl-2005-2014": 31.165 * 2.0 + 0.2974 * np.log10(350.0) + 29.321,
    "gb-wing": 4.616 * 20.0 - 15.966,
    "gb-sct-warp": 24.481 * np.log(350.0) - 60.895,
    "gb-sct-wing": 4.3277 * 20.0 - 3.784,
    "de-short-sweeps": -7.456 + 3.616 * 20.0 + 3.124 * np.log(100.0),
}


@pytest.mark.parametrize("name", FEWER_VALUES)
def test_formulas_without_a_check_value_are_as_printed(name):
    """Published: ICES, swept-area algorithms of the North Sea bottom trawl survey."""
    assert abs(spread_by_survey_formula_m(name, **GIVEN) - FEWER_VALUES[name]) < 1e-9


@pytest.mark.parametrize("name", SURVEY_FORMULAS)
def test_a_survey_formula_asks_for_all_it_needs_and_nothing_else(name):
    needs = SURVEY_FORMULAS[name].needs
    assert needs
    only = {need: GIVEN[need] for need in needs}

    assert spread_by_survey_formula_m(name, **only) == spread_by_survey_formula_m(name, **GIVEN)
    for need in needs:
        with pytest.raises(UsageError, match=f"{need} not given"):
            spread_by_survey_formula_m(name, **GIVEN | {need: None})
        with pytest.raises(UsageError, match="found nan"):
            spread_by_survey_formula_m(name, **GIVEN | {need: np.nan})


def test_a_survey_formula_is_refused_outside_the_depths_of_the_survey():
    assert np.isfinite(spread_by_survey_formula_m("fr", depth_m=[20.0, 250.0])).all()
    for depth in (19.9, 250.1):
        with pytest.raises(UsageError, match="from 20 to 250 m"):
            spread_by_survey_formula_m("fr", depth_m=depth)


def test_a_formula_that_gives_less_than_nothing_says_so():
    """The curve of long sweeps is negative below about 26 m."""
    with pytest.raises(UsageError, match="dk-long-sweeps"):
        spread_by_survey_formula_m("dk-long-sweeps", depth_m=22.0)


SIZES = {
    "OT_MIX_CRU": (400.0, 93.98),
    "OT_MIX_DMF_BEN": (20.0, 142.26),
    "OT_MIX_DMF_PEL": (20.0, 66.76),
    "OT_SPF": (40.0, 107.0),
}
"""Size and spread. Eigaard et al. 2016, coefficients as coded in 2015; worked out by logarithms."""


@pytest.mark.parametrize("name", SIZES)
def test_size_formulas_without_a_check_value_are_as_printed(name):
    size, expected = SIZES[name]

    assert abs(spread_by_vessel_size_m(name, size) - expected) < 0.05


@pytest.mark.parametrize("name", SIZE_FORMULAS)
def test_a_larger_vessel_has_a_wider_gear(name):
    assert (np.diff(spread_by_vessel_size_m(name, [10.0, 20.0, 40.0])) > 0.0).all()
    for size in (0.0, -1.0, np.nan):
        with pytest.raises(UsageError, match=r"engine power|length over all"):
            spread_by_vessel_size_m(name, size)


@pytest.mark.parametrize(
    "asked",
    [
        lambda name: spread_by_survey_formula_m(name, **GIVEN),
        lambda name: spread_by_vessel_size_m(name, 20.0),
        lambda name: spread_by_depth_fit_m(name, 100.0),
    ],
)
def test_an_unknown_formula_is_refused_with_those_there_are(asked):
    with pytest.raises(UsageError, match=r"no formula is called 'zz\\x00'; there are [\w-]+, "):
        asked("zz\x00")


def test_the_default_of_a_single_rig_is_the_fit_of_the_commonest_survey_gear():
    """18.66 + 13.33 ln D from 30 to 300 m, give or take 12 m."""
    value, sigma = default_spread_m([5.0, 30.0, 100.0, 300.0, 900.0], Rig.SINGLE)
    expected = 18.66 + 13.33 * np.log([30.0, 30.0, 100.0, 300.0, 300.0])

    np.testing.assert_allclose(value, expected, rtol=0, atol=1e-9)
    np.testing.assert_array_equal(sigma, 12.0)


def test_a_twin_rig_is_four_thirds_as_wide_and_less_sure():
    single, twin = default_spread_m(100.0, Rig.SINGLE), default_spread_m(100.0, Rig.TWIN)

    assert abs(twin.value_m / single.value_m - 4.0 / 3.0) < 1e-12
    assert float(twin.sigma_m) == 20.0
    assert twin.sigma_m.shape == twin.value_m.shape == ()


@pytest.mark.parametrize("rig", [Rig.BEAM, None, "\x1b[31m"])
def test_a_gear_without_doors_has_no_door_spread(rig):
    with pytest.raises(UsageError, match="have doors; state the length of the beam"):
        default_spread_m(100.0, rig)


@pytest.mark.parametrize("depth", [np.nan, 0.0, -5.0])
def test_a_default_for_no_depth_is_refused(depth):
    with pytest.raises(UsageError, match=r"^depth"):
        default_spread_m(depth, Rig.SINGLE)


def test_the_default_wing_spread_is_the_median_share_of_five_gears():
    """0.258, 0.196, 0.208, 0.308, 0.408. ICES survey hauls 2004-2021, own evaluation."""
    shares = np.array([0.258, 0.196, 0.208, 0.308, 0.408])
    value, sigma = default_wing_spread_m([0.0, 80.0])

    np.testing.assert_allclose(value, [0.0, 80.0 * 0.258], rtol=0, atol=1e-9)
    np.testing.assert_allclose(sigma, [0.0, 80.0 * np.std(shares, ddof=1)], rtol=0, atol=1e-9)
    with pytest.raises(UsageError, match="door spread"):
        default_wing_spread_m(np.nan)


def test_the_tables_cannot_be_written_to():
    with pytest.raises(TypeError):
        DEPTH_FITS["mine"] = DEPTH_FITS["baca"]
