"""Bands of speeds: of gears, and of a trip by a mixture fitted to it."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest

from towzone.errors import UsageError
from towzone.model.gears import GEAR_NAMES
from towzone.tows.bands import GearBand, band_of_gear
from towzone.tows.mixture import Components, band_of_trip, fitted
from towzone.tows.speeds import Profile


def spread(mean_kn, sigma_kn, n):
    """Speeds spread as a normal distribution says, without chance."""
    return np.array([NormalDist(mean_kn, sigma_kn).inv_cdf((i + 0.5) / n) for i in range(n)])


def profile_with(*parts):
    """A profile of minutes at the speeds of (mean, sigma, count), positions aside."""
    speed_kn = np.clip(np.concatenate([spread(*part) for part in parts]), 0.0, None)
    n = len(speed_kn)
    return Profile(
        fixes=n + 1,
        fix=np.arange(n + 1),
        time_s=np.arange(n + 1) * 60.0,
        gap=np.zeros(n, dtype=bool),
        lasts_s=np.full(n, 60.0),
        way_m=speed_kn * 60.0 * 1852.0 / 3600.0,
        speed_kn=speed_kn,
        steadiness=np.ones(n),
    )


def band_of(*parts, gear="OTB", steady=None):
    profile = profile_with(*parts)
    told = np.ones(len(profile), dtype=bool) if steady is None else steady
    return band_of_trip(profile, band_of_gear(gear), told)


def test_every_gear_code_has_a_band_with_a_source_or_a_reason():
    """None is passed over; towed gear that works on the bottom is never called not towed."""
    for code in GEAR_NAMES:
        known = band_of_gear(code)
        if isinstance(known, GearBand):
            assert 0.0 < known.low_kn < known.high_kn <= known.doubt_high_kn <= 8.0
            assert known.source
        else:
            assert known


@pytest.mark.parametrize(
    ("gear", "low_kn", "high_kn"),
    [
        ("OTB", 2.0, 4.5),  # Skaar et al. 2011 and Gerritsen and Lordan 2011: rules from 1.5 to 5
        ("TBB", 2.61, 7.85),  # Eigaard et al. 2016: 5.23 kn, sd 1.31, two standard deviations
        ("TBS", 2.0, 3.96),  # 2.98, sd 0.49
        ("OTT", 1.86, 3.1),  # 2.48, sd 0.31
        (None, 1.5, 5.0),
    ],
)
def test_bands_hold_the_published_speeds(gear, low_kn, high_kn):
    """What was measured lies inside."""
    known = band_of_gear(gear)

    assert known.low_kn <= low_kn < high_kn <= known.high_kn


@pytest.mark.parametrize("gear", ["SDN", "SSC", "HMD", "GNS", "FPO", "PS"])
def test_gears_that_speed_cannot_show_say_why(gear):
    """Seines work while the vessel lies still, pots are not towed."""
    assert isinstance(band_of_gear(gear), str)


def test_an_unknown_gear_is_refused_with_the_codes():
    """No silent default."""
    with pytest.raises(UsageError, match=r"'XYZ' is not one of the codes .*OTB"):
        band_of_gear("XYZ")


def test_a_known_mixture_is_found_again():
    """Weights, means and standard deviations that the speeds were made with."""
    middle = np.arange(0.025, 20.0, 0.05)
    truth = Components(np.array([0.3, 0.5, 0.2]), np.array([0.6, 3.2, 10.0]), np.array([0.3, 0.25, 0.6]))
    start = Components(np.full(3, 1.0 / 3.0), np.array([0.5, 4.0, 9.0]), np.full(3, 0.7))

    found, _ = fitted(middle, truth.densities(middle).sum(axis=0), start)

    # The lowest component is cut off at 0, which shifts it a little.
    assert found.mean_kn == pytest.approx(truth.mean_kn, abs=0.02)
    assert found.sigma_kn == pytest.approx(truth.sigma_kn, abs=0.02)
    assert found.weight == pytest.approx(truth.weight, abs=0.01)


def test_likelihood_never_falls():
    """More rounds of expectation and maximisation are never worse."""
    middle = np.arange(0.025, 20.0, 0.05)
    rng = np.random.default_rng(5)
    weight = rng.uniform(0.0, 1.0, len(middle)) * (middle < 12.0)
    start = Components(np.full(3, 1.0 / 3.0), np.array([1.0, 4.0, 9.0]), np.full(3, 0.7))
    share = weight / weight.sum()

    found, likelihood = fitted(middle, weight, start)

    def mean_log(components):
        return float(share @ np.log(components.densities(middle).sum(axis=0) + 1e-300))

    assert likelihood >= mean_log(start)
    assert mean_log(found) >= likelihood - 1e-6


def test_a_clear_trip_shows_its_own_band():
    """Towing at 3.2 (sd 0.3) kn between drifting and steaming: within three standard deviations."""
    band = band_of((0.6, 0.2, 150), (3.2, 0.3, 600), (10.0, 0.4, 250))

    assert band.low_kn == pytest.approx(3.2 - 3 * 0.3, abs=0.1)
    assert band.high_kn == pytest.approx(3.2 + 3 * 0.3, abs=0.1)
    assert (band.doubt_low_kn, band.doubt_high_kn) == (1.5, 5.0)
    assert "3.2 (sd 0.3) kn for 60 % of the time" in band.basis


def test_the_limit_to_a_near_component_is_where_both_are_equally_likely():
    """Equal standard deviations s: v = (m1 + m2) / 2 + s^2 ln(w1 / w2) / (m2 - m1), Bayes' rule."""
    band = band_of(
        (1.4, 0.35, 300), (3.2, 0.35, 600), (10.0, 0.4, 100), steady=np.repeat([False, True], [300, 700])
    )

    expected = (1.4 + 3.2) / 2 + 0.35**2 * math.log(300 / 600) / (3.2 - 1.4)
    assert band.low_kn == pytest.approx(expected, abs=0.03)


@pytest.mark.parametrize(
    "parts",
    [
        ((3.2, 0.25, 60), (10.0, 0.4, 60)),  # two hours only
        ((3.2, 0.25, 1000),),  # towing alone: nothing to tell it from
        ((0.5, 0.2, 500), (10.0, 0.4, 500)),  # no towing at all
        ((2.6, 0.6, 500), (3.4, 0.6, 500)),  # two that run into each other
    ],
    ids=["short", "one", "none", "blurred"],
)
def test_a_trip_that_is_not_clear_shows_no_band(parts):
    """Then the band of the gear holds."""
    band = band_of(*parts, steady=np.zeros(sum(p[2] for p in parts), dtype=bool) if len(parts) == 1 else None)

    assert band is None


def test_a_speed_that_wanders_is_not_towed_at():
    """Dodging at 2.2 kn on a wandering course beside tows at 3.6 kn: only the tows make the band."""
    steady = np.repeat([False, True, True], [300, 500, 200])

    band = band_of((2.2, 0.2, 300), (3.6, 0.2, 500), (10.0, 0.4, 200), steady=steady)

    assert band.low_kn > 2.7
    assert band.stream_low_kn > 2.2 + 2 * 0.2


def test_the_fit_does_not_hang_on_the_order_of_the_trip():
    """Deterministic, and the same for a trip sailed backwards."""
    profile = profile_with((0.6, 0.2, 150), (3.2, 0.25, 600), (10.0, 0.4, 250))
    known, steady = band_of_gear("OTB"), np.ones(1000, dtype=bool)
    back = Profile(
        fixes=profile.fixes,
        fix=profile.fix,
        time_s=profile.time_s,
        gap=profile.gap,
        lasts_s=profile.lasts_s,
        way_m=profile.way_m[::-1],
        speed_kn=profile.speed_kn[::-1],
        steadiness=profile.steadiness,
    )

    assert band_of_trip(profile, known, steady) == band_of_trip(back, known, steady)
