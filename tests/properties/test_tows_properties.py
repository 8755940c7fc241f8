"""What must hold for detection whatever the trip: place, clock and thinning do not change what is proved."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from synthetic_trips import HAUL, SHOOT, TOW, confusion, make_trip, sample

from towzone.tows.detection import CANNOT_TELL, NOT_TOWING, TOWING, detect
from towzone.tows.thinning import LONGEST_LEG_S

GEARS = ("OTB", "OTT", "TBB", "TBS", None)
STEPS_S = (10, 60, 120, 300)


@cache
def trip_of(seed):
    return make_trip(seed, GEARS[seed % len(GEARS)], days=1.0, dodging=seed % 3 == 0)


@cache
def fixes_of(seed, every_s):
    return sample(trip_of(seed), seed + 1, every_s)


def trips():
    """(gear, trip, fixes) of a few dozen invented days."""
    pairs = st.tuples(st.integers(400, 430), st.sampled_from(STEPS_S))
    return pairs.map(lambda pair: (trip_of(pair[0]), fixes_of(*pair)))


def look(trip, fixes, gap_s=900.0):
    return detect(
        lon_deg=fixes.lon_deg,
        lat_deg=fixes.lat_deg,
        time_s=fixes.time_s,
        part=fixes.part,
        gap_s=gap_s,
        max_speed_kn=12.0,
        gear=trip.gear,
    )


def kept(fixes, keep):
    """The fixes of a mask or of indices."""
    names = ("lon_deg", "lat_deg", "time_s", "part", "second")
    return replace(fixes, **{name: getattr(fixes, name)[keep] for name in names})


def seconds_of(fixes, found):
    """The code of every second of a trip that the fixes span."""
    seconds = np.arange(fixes.second[0], fixes.second[-1])
    return found.activity[np.searchsorted(fixes.second, seconds, side="right") - 1]


@given(trips(), st.integers(-2_000_000_000, 2_000_000_000))
def test_the_clock_does_not_matter(pair, shift_s):
    """The same trip at another time gives the same, leg by leg."""
    trip, fixes = pair
    later = replace(fixes, time_s=fixes.time_s + float(shift_s))

    before, after = look(trip, fixes), look(trip, later)

    assert np.array_equal(before.activity, after.activity)
    assert before.tows == after.tows
    assert before.band == after.band


@given(trips(), st.floats(-360.0, 360.0))
def test_longitude_does_not_matter(pair, turn_deg):
    """The earth is round: the same trip farther east, across 180 degrees too, gives nearly the same."""
    trip, fixes = pair
    moved = replace(fixes, lon_deg=(fixes.lon_deg + turn_deg + 180.0) % 360.0 - 180.0)

    before, after = look(trip, fixes), look(trip, moved)

    # Rounding may move a speed that lies exactly on a limit.
    assert np.mean(before.activity != after.activity) < 0.002


@given(trips(), st.data())
def test_splitting_legs_changes_little(pair, data):
    """A fix put in the middle of some legs tells nothing new; at most some stretch at a limit is in doubt."""
    trip, fixes = pair
    legs = np.array(sorted(data.draw(st.sets(st.integers(0, len(fixes.second) - 2), max_size=40))), dtype=int)
    middle = {
        name: (getattr(fixes, name)[legs] + getattr(fixes, name)[legs + 1]) / 2
        for name in ("lon_deg", "lat_deg", "time_s")
    }
    near = np.abs(np.diff(fixes.lon_deg)[legs]) < 180.0
    added = {
        name: np.insert(getattr(fixes, name), legs[near] + 1, column[near]) for name, column in middle.items()
    }
    split = replace(fixes, part=np.zeros(len(added["time_s"]), dtype=np.int32), **added)

    before = look(trip, fixes).activity
    after = np.delete(look(trip, split).activity, legs[near] + np.arange(near.sum()))

    lasts_s = np.diff(fixes.time_s)
    turned = (before != after) & (before != CANNOT_TELL) & (after != CANNOT_TELL)
    assert lasts_s[turned].sum() < 0.02 * lasts_s.sum()
    assert lasts_s[before != after].sum() < 0.1 * lasts_s.sum()


@given(trips())
def test_a_trip_sailed_backwards_was_towing_at_the_same_places(pair):
    """Shooting and hauling change places; what lies between them stays, from shoot to haul."""
    trip, fixes = pair
    back = kept(fixes, slice(None, None, -1))
    back = replace(back, time_s=fixes.time_s[0] + fixes.time_s[-1] - back.time_s)

    before, after = (np.zeros(len(fixes.second) - 1, dtype=bool) for _ in range(2))
    for towing, found in ((before, look(trip, fixes)), (after, look(trip, back))):
        for tow in found.tows:
            towing[tow.shoot : tow.haul] = True

    lasts_s = np.diff(fixes.time_s)
    assert lasts_s[before != after[::-1]].sum() < 0.02 * lasts_s.sum()


@given(trips(), st.data())
def test_codes_tows_and_marks_are_sound_whatever_is_missing(pair, data):
    """Fixes without time, fixes left out, segments cut: three codes, tows in order, towing where tows are."""
    trip, fixes = pair
    rng = np.random.default_rng(data.draw(st.integers(0, 1000)))
    n = len(fixes.second)
    fixes = replace(
        fixes,
        time_s=np.where(
            rng.uniform(size=n) < data.draw(st.sampled_from([0.0, 0.1, 0.9])), np.nan, fixes.time_s
        ),
        part=np.cumsum(rng.uniform(size=n) < data.draw(st.sampled_from([0.0, 0.01, 0.5]))).astype(np.int32),
    )
    fixes = kept(fixes, rng.uniform(size=n) < data.draw(st.sampled_from([1.0, 0.5, 0.01])))
    found = look(trip, fixes, data.draw(st.sampled_from([5.0, 60.0, 900.0, 7200.0])))

    assert found.activity.dtype == np.int8
    assert len(found.activity) == max(len(fixes.second) - 1, 0)
    assert np.isin(found.activity, (TOWING, NOT_TOWING, CANNOT_TELL)).all()
    last = 0
    for tow in found.tows:
        assert last <= tow.first <= tow.shoot < tow.haul <= tow.last < len(fixes.second)
        assert (found.activity[tow.first : tow.last] == TOWING).all()
        last = tow.last
    assert np.count_nonzero(found.activity == TOWING) == sum(tow.last - tow.first for tow in found.tows)


@given(trips(), st.floats(1.05, 12.0), st.integers(0, 1_000_000))
def test_thinned_beyond_the_gap_towing_is_never_called_not_towing(pair, times, seed):
    """What is proved of gaps is proved: whichever fixes are left, no true tow lies in a leg without one."""
    trip, fixes = pair
    least_s = times * LONGEST_LEG_S
    rng = np.random.default_rng(seed)
    some, at = [0], 0
    while True:
        later = np.searchsorted(fixes.second, fixes.second[at] + least_s * rng.uniform(1.0, 1.5))
        if later >= len(fixes.second):
            break
        some.append(int(later))
        at = int(later)
    thin = kept(fixes, np.array(some))
    found = look(trip, thin, gap_s=36_000.0)

    assert found.tows == ()
    if len(found.activity):
        assert confusion(trip, thin, found.activity)[TOW, NOT_TOWING + 1] == 0


@given(trips(), st.integers(0, 1_000_000), st.sampled_from([60.0, 300.0, 900.0]))
def test_where_the_record_drops_out_towing_is_never_called_not_towing(pair, seed, gap_s):
    """Gaps of a minute to two hours anywhere."""
    trip, fixes = pair
    rng = np.random.default_rng(seed)
    keep = np.ones(len(fixes.second), dtype=bool)
    for begin in rng.uniform(0.0, fixes.second[-1], rng.integers(1, 40)):
        keep &= (fixes.second < begin) | (fixes.second > begin + 60.0 * 120.0 ** rng.uniform())
    fixes = kept(fixes, keep)
    codes = seconds_of(fixes, look(trip, fixes, gap_s))
    phases = trip.phase[fixes.second[0] : fixes.second[-1]]

    assert not np.any((phases == TOW) & (codes == NOT_TOWING))
    wet = (phases == SHOOT) | (phases == HAUL)
    assert np.mean(codes[wet] == NOT_TOWING) < 0.05
