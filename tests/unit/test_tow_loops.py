"""Compiled passes of detection against plain ones that follow their description word by word."""

from __future__ import annotations

import math

import numpy as np
import pytest

from towzone.errors import GeometryError
from towzone.tows.around import begin_of_shooting, end_of_hauling, stretches_of
from towzone.tows.around_loops import Bounds, beside, surrounded
from towzone.tows.core_loops import mostly, settled, weighted_median
from towzone.tows.doubt_loops import longest_tows_s
from towzone.tows.mixture import Components, fitted
from towzone.tows.speed_loops import resultants, run_ends, spans_around, speed_windows, ways
from towzone.tows.speeds import Profile
from towzone.tows.stretches import joined, runs, time_in
from towzone.tows.thinning import thinned

SEED = 20261126
ROUNDS = 30


@pytest.fixture(params=range(ROUNDS))
def rng(request):
    return np.random.default_rng([SEED, request.param])


def profile_in(rng, most=120):
    """Stretches of all kinds: seconds to hours, gaps, unknown speeds, several speeds in a row."""
    n = int(rng.integers(0, most))
    lasts_s = rng.choice(
        [0.0, 10.0, 20.5, 60.0, 300.0, 400.0, 1200.0], n, p=[0.02, 0.3, 0.1, 0.3, 0.1, 0.1, 0.08]
    )
    gap = rng.random(n) < 0.08
    pace_kn = np.repeat(rng.choice([0.2, 0.9, 1.7, 3.0, 3.4, 6.0, 9.0], n), rng.integers(1, 12, n))[:n]
    speed_kn = np.where(gap | (rng.random(n) < 0.05), np.nan, np.abs(pace_kn + rng.normal(0.0, 0.15, n)))
    return profile_of_legs(lasts_s, gap, speed_kn, np.where(rng.random(n) < 0.1, np.nan, rng.random(n)))


def profile_of_legs(lasts_s, gap, speed_kn, steadiness=None):
    n = len(lasts_s)
    time_s = 1.7e9 + np.concatenate([[0.0], np.cumsum(lasts_s)])
    return Profile(
        fixes=n + 1,
        fix=np.arange(n + 1),
        time_s=time_s,
        gap=gap,
        lasts_s=np.diff(time_s),
        way_m=np.nan_to_num(speed_kn) * np.diff(time_s) * 1852.0 / 3600.0,
        speed_kn=speed_kn,
        steadiness=np.ones(n) if steadiness is None else steadiness,
    )


def slow_marks(time_s, part, gap_s):
    known = [fix for fix in range(len(time_s)) if not np.isnan(time_s[fix])]
    strings = []
    for fix in known:
        before = strings[-1][-1] if strings else None
        if before is None or time_s[fix] - time_s[before] > min(gap_s, 900.0) or part[fix] != part[before]:
            strings.append([fix])
        else:
            strings[-1].append(fix)
    fixes, gaps = [], []
    for string in strings:
        tens = [math.floor((time_s[fix] - time_s[string[0]] + 1e-3) / 10.0) for fix in string]
        kept = [
            fix for at, fix in enumerate(string) if at in (0, len(string) - 1) or tens[at] != tens[at - 1]
        ]
        gaps += [True] * bool(fixes) + [False] * (len(kept) - 1)
        fixes += kept
    return fixes, gaps


def test_marks_are_those_of_a_plain_loop(rng):
    n = int(rng.integers(0, 300))
    regular = np.full(n, rng.choice([0.1, 1.0, 30.0, 900.0]))
    lasts_s = rng.choice([0.0, 0.1, 1.0, 10.0, 10.0005, 60.0, 950.0], n)
    time_s = 1.7e9 + np.cumsum(regular if rng.random() < 0.5 else lasts_s)
    time_s[rng.random(n) < rng.choice([0.0, 0.3, 1.0], p=[0.5, 0.4, 0.1])] = np.nan
    part = np.cumsum(rng.random(n) < rng.choice([0.0, 0.05]))
    gap_s = float(rng.choice([30.0, 900.0, 3600.0]))

    marks = thinned(time_s, part, gap_s)

    assert (marks.fix.tolist(), marks.gap.tolist()) == slow_marks(time_s, part, gap_s)


def test_the_first_time_that_steps_back_is_told_over_unknown_ones():
    time_s = np.array([10.0, np.nan, 20.0, np.nan, 15.0, 5.0])

    with pytest.raises(GeometryError, match="fix 5"):
        thinned(time_s, np.zeros(6, dtype=np.int32), 900.0)


def slow_run(gap, leg):
    """The marks between which there is no gap around a stretch; its own for a gap."""
    if gap[leg]:
        return leg, leg + 1
    first, last = leg, leg + 1
    while first > 0 and not gap[first - 1]:
        first -= 1
    while last < len(gap) and not gap[last]:
        last += 1
    return first, last


def slow_window(time_s, gap, leg):
    first, last = slow_run(gap, leg)
    near_first, near_last = slow_run(gap | (np.diff(time_s) >= 60.0), leg)
    if time_s[near_last] - time_s[near_first] >= 60.0:
        first, last = near_first, near_last
    middle = (time_s[leg] + time_s[leg + 1]) / 2.0
    low = max(int(np.searchsorted(time_s, middle - 30.0, side="right")) - 1, first)
    high = min(int(np.searchsorted(time_s, middle + 30.0)), last)
    high = min(max(high, int(np.searchsorted(time_s, time_s[low] + 60.0))), last)
    low = max(min(low, int(np.searchsorted(time_s, time_s[high] - 60.0, side="right")) - 1), first)
    return low, high


def test_windows_of_speeds_are_those_looked_up_one_by_one(rng):
    profile = profile_in(rng)
    legs = range(len(profile))

    windows = np.stack(speed_windows(profile.time_s, profile.gap, 60.0), axis=1)

    assert windows.tolist() == [list(slow_window(profile.time_s, profile.gap, leg)) for leg in legs]
    ends = np.stack(run_ends(profile.gap), axis=1)
    assert ends.tolist() == [list(slow_run(profile.gap, leg)) for leg in legs]


def test_spans_around_stretches_are_those_looked_up(rng):
    time_s = profile_in(rng).time_s
    middle = (time_s[1:] + time_s[:-1]) / 2.0

    first, last = spans_around(time_s, 300.0)

    assert first.tolist() == np.searchsorted(time_s, middle - 300.0).tolist()
    assert last.tolist() == (np.searchsorted(time_s, middle + 300.0, side="right") - 1).tolist()


def test_ways_and_headings_are_those_of_pyproj(rng):
    from pyproj import Geod

    m = 20
    lon = (rng.uniform(-180.0, 180.0) + np.cumsum(rng.normal(0.0, 0.01, m)) + 180.0) % 360.0 - 180.0
    lat = rng.uniform(-80.0, 80.0) + np.cumsum(rng.normal(0.0, 0.01, m))
    low, high = np.arange(m - 1), np.minimum(np.arange(m - 1) + 3, m - 1)

    way_m, across_m, heading = ways(lon, lat, low, high)

    geod = Geod(ellps="WGS84")
    azimuth, _, length_m = geod.inv(lon[low], lat[low], lon[high], lat[high])
    # Over some kilometres a chord is hardly shorter than the geodesic, and as good as parallel to it.
    assert across_m == pytest.approx(length_m, rel=1e-6)
    assert np.abs((heading - np.radians(azimuth) + np.pi) % (2.0 * np.pi) - np.pi).max() < 1e-5
    assert way_m == pytest.approx(geod.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])[2], rel=1e-6)


def test_resultants_are_those_of_sums_over_each_window(rng):
    profile = profile_in(rng)
    heading = rng.uniform(-3.0, 3.0, len(profile))
    unknown = np.isnan(profile.speed_kn)
    expected = []
    for leg in range(len(profile)):
        middle = (profile.time_s[leg] + profile.time_s[leg + 1]) / 2.0
        first, last = slow_run(unknown, leg)
        low = min(int(np.searchsorted(profile.time_s, middle - 300.0)), leg - 1)
        high = max(int(np.searchsorted(profile.time_s, middle + 300.0, side="right")) - 1, leg + 2)
        own = slice(max(low, first), min(high, last))
        weight = profile.lasts_s[own]
        able = not unknown[leg] and own.stop - own.start >= 2 and weight.sum() > 0.0
        expected.append(abs(np.sum(weight * np.exp(1j * heading[own]))) / weight.sum() if able else np.nan)

    found = resultants(profile.time_s, unknown, np.sin(heading), np.cos(heading), 300.0, 1)

    assert found == pytest.approx(np.array(expected), abs=1e-9, nan_ok=True)
    assert not (found > 1.0).any()


def slow_median(values, weights):
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weights[order])
    return values[order][np.searchsorted(reached, reached[-1] / 2.0)]


def test_a_weighted_median_is_that_of_sorted_values(rng):
    n = int(rng.integers(1, 200))
    values = rng.choice([rng.normal(0.0, 1.0, n), rng.integers(0, 5, n).astype(float), np.arange(n) * 1.0])
    weights = rng.integers(0, 4, n).astype(float)

    assert weighted_median(values, weights) == slow_median(values, weights)
    assert weighted_median(values[::-1].copy(), weights[::-1].copy()) == slow_median(
        values[::-1], weights[::-1]
    )


@pytest.mark.parametrize("ulps", [1, 2, 3])
def test_a_median_is_found_between_neighbours_and_far_out(ulps):
    """Where nothing lies between two values, and where all but one are close together."""
    one = 0.99999
    other = one + ulps * math.ulp(one)

    assert weighted_median(np.array([other, one, one]), np.ones(3)) == one
    assert weighted_median(np.array([other, one, other]), np.ones(3)) == other
    assert weighted_median(np.array([1e300, one, other, 0.0]), np.ones(4)) == one


def test_nothing_has_no_median():
    assert math.isnan(weighted_median(np.empty(0), np.empty(0)))


def within(speed_kn, low_kn, high_kn):
    return np.array([not np.isnan(v) and max(low_kn, 0.0) <= v <= high_kn for v in speed_kn], dtype=bool)


def slow_late(speed_kn, lasts_s, towing):
    some = max(int(np.searchsorted(np.cumsum(lasts_s), 1800.0)) + 1, 2)
    speed_kn, lasts_s, here = speed_kn[:some], lasts_s[:some], towing[:some] & ~np.isnan(speed_kn[:some])
    if not here.any():
        return 0
    own_kn = slow_median(speed_kn[here], lasts_s[here])
    own = joined(within(speed_kn, own_kn - 0.4, own_kn + 0.4), lasts_s, 60.0)
    spent = time_in(own, lasts_s)
    held = [first for first, last in zip(*runs(own), strict=True) if spent[last] - spent[first] >= 180.0]
    return int(held[0]) if held else 0


def slow_tows(profile, towing, begin, end):
    speed_kn, lasts_s, here = profile.speed_kn[begin:end], profile.lasts_s[begin:end], towing[begin:end]
    told = here & ~np.isnan(speed_kn)
    slow_kn = 0.6 * slow_median(speed_kn[told], lasts_s[told]) if told.any() else -1.0
    hauling = joined(within(speed_kn, 0.0, slow_kn), lasts_s, 60.0)
    edges = [0]
    for first, last in zip(*runs(hauling), strict=True):
        if lasts_s[first:last].sum() >= 300.0:
            edges += [int(first), int(last)]
    edges.append(end - begin)
    for low, high in zip(edges[::2], edges[1::2], strict=True):
        if lasts_s[low:high].sum() >= 600.0:
            own = slice(low, high)
            late = slow_late(speed_kn[own], lasts_s[own], here[own])
            early = slow_late(speed_kn[own][::-1], lasts_s[own][::-1], here[own][::-1])
            late, early = (0, 0) if late + early >= high - low else (late, early)
            yield begin + low + late, begin + high - early


def on_limits(rng):
    """Stretches whose times and speeds often lie just on the limits, most of them at some towing speed."""
    n = int(rng.integers(1, 40))
    lasts_s = rng.choice([30.0, 60.0, 60.0, 120.0, 180.0, 300.0, 1800.0], n)
    speed_kn = rng.choice([np.nan, 0.0, 1.8, 2.6, 3.0, 3.0, 3.0, 3.4, 5.0], n)
    return profile_of_legs(lasts_s, np.zeros(n, dtype=bool), speed_kn)


def test_tows_between_haulings_are_those_of_a_plain_loop(rng):
    for profile in [profile_in(rng, most=400), *(on_limits(rng) for _ in range(60))]:
        towing = within(profile.speed_kn, 1.5, 5.0) | (rng.random(len(profile)) < 0.1)
        first, last = runs(joined(towing, profile.lasts_s, 1500.0))

        found = settled(profile.speed_kn, profile.lasts_s, towing, first, last, 600.0, 300.0)

        ends = zip(first.tolist(), last.tolist(), strict=True)
        expected = [tow for begin, end in ends for tow in slow_tows(profile, towing, begin, end)]
        assert list(zip(*(column.tolist() for column in found), strict=True)) == expected


def test_a_stretch_that_holds_a_speed_of_its_own_nowhere_is_kept_whole():
    """What passes at its beginning and at its end, until each holds its own speed, leaves nothing between."""
    lasts_s, speed_kn = np.array([180.0, 900.0, 900.0]), np.array([4.0, 3.0, 3.5])
    whole = np.zeros(1, np.int64), np.full(1, 3)

    found = settled(speed_kn, lasts_s, np.ones(3, dtype=bool), *whole, 600.0, 300.0)

    assert slow_late(speed_kn, lasts_s, np.ones(3, dtype=bool)) == 2
    assert slow_late(speed_kn[::-1], lasts_s[::-1], np.ones(3, dtype=bool)) == 1
    assert [column.tolist() for column in found] == [[0], [3]]


def test_mostly_steady_is_told_by_sums_over_each_window(rng):
    profile = profile_in(rng)
    n, like = len(profile), rng.random(len(profile)) < 0.9
    steady, told = rng.random(n) < 0.6, ~np.isnan(profile.steadiness)
    expected = np.zeros(n, dtype=bool)
    for begin, end in zip(*runs(like), strict=True):
        for leg in range(begin, end):
            middle = (profile.time_s[leg] + profile.time_s[leg + 1]) / 2.0
            low = max(int(np.searchsorted(profile.time_s, middle - 1800.0)), begin)
            high = min(int(np.searchsorted(profile.time_s, middle + 1800.0, side="right")) - 1, end)
            own = slice(low, max(low, high))
            whole_s = profile.lasts_s[own][told[own]].sum()
            expected[leg] = whole_s > 0.0 and profile.lasts_s[own][steady[own]].sum() >= 0.6 * whole_s

    sums = time_in(steady, profile.lasts_s), time_in(told, profile.lasts_s)
    found = mostly(profile.time_s, *runs(like), *sums, 1800.0, 0.6)

    assert found.tolist() == expected.tolist()


def slow_passable(profile, leg, low_kn, high_kn, gap_s):
    if profile.gap[leg]:
        return profile.lasts_s[leg] < gap_s
    return np.isnan(profile.speed_kn[leg]) or low_kn <= profile.speed_kn[leg] <= high_kn


def slow_mixed(profile, leg):
    return not profile.gap[leg] and profile.lasts_s[leg] >= 60.0


def slow_begin(profile, at, floor, longest_s, low_kn, high_kn, gap_s):
    early = [mark for mark in range(at + 1) if profile.time_s[mark] <= profile.time_s[at] - longest_s]
    low = min(max([floor, *early]), at)
    blocked = [leg for leg in range(low, at) if not slow_passable(profile, leg, low_kn, high_kn, gap_s)]
    if not blocked:
        return low
    return blocked[-1] if slow_mixed(profile, blocked[-1]) else blocked[-1] + 1


def slow_end(profile, at, ceiling, longest_s, high_kn, gap_s):
    late = [m for m in range(at, len(profile) + 1) if profile.time_s[m] >= profile.time_s[at] + longest_s]
    high = max(min([ceiling, *late]), at)
    blocked = [leg for leg in range(at, high) if not slow_passable(profile, leg, 0.0, high_kn, gap_s)]
    if not blocked:
        return high
    return blocked[0] + 1 if slow_mixed(profile, blocked[0]) else blocked[0]


def test_shooting_and_hauling_reach_as_far_as_in_plain_loops(rng):
    profile = profile_in(rng)
    for _ in range(10):
        at, floor, ceiling = (int(mark) for mark in rng.integers(0, len(profile) + 1, 3))
        longest_s, gap_s = float(rng.choice([0.0, 600.0, 5000.0])), float(rng.choice([60.0, 600.0, np.inf]))

        begin = begin_of_shooting(profile, at, floor, longest_s, 5.0, gap_s, 0.5)
        end = end_of_hauling(profile, at, ceiling, longest_s, 5.0, gap_s)

        assert begin == slow_begin(profile, at, floor, longest_s, 0.5, 5.0, gap_s)
        assert end == slow_end(profile, at, ceiling, longest_s, 5.0, gap_s)


def slow_towed_s(profile, leg, towing, other):
    if not 0 <= leg < len(profile) or profile.gap[leg] or profile.lasts_s[leg] <= 300.0:
        return 0.0
    if not 0 <= other < len(profile):
        return profile.lasts_s[leg]
    v, a, b = profile.speed_kn[[leg, towing, other]]
    if np.isnan([v, a, b]).any() or a == b:
        return profile.lasts_s[leg]
    return profile.lasts_s[leg] * np.clip((v - b) / (a - b), 0.0, 1.0)


def test_tows_are_surrounded_in_order_as_in_a_plain_loop(rng):
    shooting, hauling = Bounds(0.5, 7.0, 600.0, 60.0), Bounds(0.0, 4.5, 1200.0, 60.0)
    for profile in (profile_in(rng) for _ in range(15)):
        ends = np.unique(rng.integers(0, len(profile) + 1, 12))
        shoot, haul = ends[: len(ends) // 2 * 2 : 2].copy(), ends[1::2].copy()
        expected, floor = [], 0
        for tow, (a, b) in enumerate(zip(shoot.tolist(), haul.tolist(), strict=True)):
            ceiling = int(shoot[tow + 1]) if tow + 1 < len(shoot) else len(profile)
            shooting_s = 600.0 + slow_towed_s(profile, a - 1, a, a - 2)
            hauling_s = 1200.0 + slow_towed_s(profile, b, b - 1, b + 1)
            first = slow_begin(profile, a, floor, shooting_s, 0.5, 7.0, 60.0)
            floor = slow_end(profile, b, ceiling, hauling_s, 4.5, 60.0)
            expected.append((first, floor))

        found = surrounded(stretches_of(profile), shoot, haul, shooting, hauling)

        assert list(zip(*(column.tolist() for column in found), strict=True)) == expected


def test_what_is_beside_runs_is_what_each_reaches(rng):
    profile = profile_in(rng)
    maybe = rng.random(len(profile)) < 0.1
    expected = np.zeros(len(profile), dtype=bool)
    for first, last in zip(*runs(maybe), strict=True):
        expected[slow_begin(profile, first, 0, 600.0, 0.5, 7.0, 600.0) : first] = True
        expected[last : slow_end(profile, last, len(profile), 1200.0, 5.0, 600.0)] = True

    bounds = Bounds(0.5, 7.0, 600.0, 600.0), Bounds(0.0, 5.0, 1200.0, 600.0)
    assert beside(stretches_of(profile), *runs(maybe), *bounds).tolist() == expected.tolist()


def test_the_longest_tow_reaches_through_full_stretches_into_the_next(rng):
    n = int(rng.integers(0, 60))
    held_s, full = rng.integers(0, 500, n).astype(float), rng.random(n) < 0.5
    expected = []
    for at in range(n):
        sides = []
        for step in (-1, 1):
            side, to = 0.0, at + step
            while 0 <= to < n:
                side += held_s[to]
                if not full[to]:
                    break
                to += step
            sides.append(side)
        expected.append(held_s[at] + (sum(sides) if full[at] else max(sides)))

    assert longest_tows_s(held_s, full).tolist() == expected


def test_a_mixture_is_that_of_columns(rng):
    """Rounds of expectation and maximisation on arrays of all bins, those without time among them."""
    middle = np.arange(0.025, 30.0, 0.05)
    k = int(rng.integers(1, 5))
    truth = Components(
        rng.dirichlet(np.ones(k)), np.sort(rng.uniform(0.2, 12.0, k)), rng.uniform(0.1, 1.0, k)
    )
    weight = np.floor(truth.densities(middle).sum(axis=0) * rng.uniform(0.0, 300.0, len(middle)))
    start = Components(np.full(3, 1.0 / 3.0), np.array([0.5, 3.0, 9.0]), np.full(3, 0.7))
    now, before = start, -np.inf
    for _ in range(400):
        density = now.densities(middle)
        likelihood = float(weight @ np.log(density.sum(axis=0) + 1e-300)) / weight.sum()
        if likelihood - before < 1e-7:
            break
        before = likelihood
        part = density / (density.sum(axis=0) + 1e-300) * weight / weight.sum()
        held = part.sum(axis=1) + 1e-12
        mean = (part @ middle + 1e-12 * now.mean_kn) / held
        spread = (part * (middle - mean[:, None]) ** 2).sum(axis=1) / held
        now = Components(held / held.sum(), mean, np.maximum(np.sqrt(spread), 0.1))
    order = np.argsort(now.mean_kn)

    found, found_likelihood = fitted(middle, weight, start)

    assert found_likelihood == pytest.approx(likelihood, abs=1e-9)
    for column, expected in zip(found, now, strict=True):
        assert column == pytest.approx(expected[order], abs=1e-6)
