"""No answer may depend on how many legs are measured together."""

from __future__ import annotations

import numpy as np
import pytest
from haul_log_scenes import random_trip
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scenes import check, route

from towzone.checks import batches, path_passages
from towzone.checks.paths import build_path
from towzone.checks.settings import CheckSettings, Towing

WAYS = (Towing.LOG, Towing.DETECT, Towing.ALL, Towing.NONE)


def told(trip, towing):
    """All that the rows of a check say, in order of what they are about; measures to be compared apart."""
    result = check(
        trip.track,
        [ground.zone for ground in trip.grounds],
        towing=towing,
        hauls=tuple(haul.logged(n) for n, haul in enumerate(trip.hauls)),
        gear=trip.gear,
        reach_m=3000.0,
    )
    ordered = sorted(result.rows, key=lambda r: (r.zone_id, r.tow or 0, r.activity, r.status, r.reason))
    words = [
        (r.zone_id, r.tow, r.activity, r.status, r.reason, len(r.inside), len(r.close), r.closest is None)
        for r in ordered
    ]
    measures = [np.nan if r.clearance_m is None else r.clearance_m for r in ordered]
    stays = [
        float((at - np.datetime64("2026-03-01", "us")) / np.timedelta64(1, "s"))
        for r in ordered
        for stay in r.inside
        for at in (stay.enter_utc, stay.leave_utc)
    ]
    close = [
        float((at - np.datetime64("2026-03-01", "us")) / np.timedelta64(1, "s"))
        for r in ordered
        for some in r.close
        for at in (some.from_utc, some.to_utc)
    ]
    counts = result.beyond_reach, result.outcome, len(result.tows), len(result.doubts), len(result.moves)
    return words, measures, stays, close, counts


@pytest.fixture
def batch_of(monkeypatch):
    """Set how many legs a batch holds.

    The default of `batches` was bound when it was defined, so that it is replaced where it is used.
    """

    def set_(most_legs):
        monkeypatch.setattr(batches, "BATCH_LEGS", most_legs)
        monkeypatch.setattr(path_passages, "batches", lambda path: batches.batches(path, most_legs))

    return set_


@pytest.mark.parametrize("most_legs", [3, 10, 100])
@settings(
    max_examples=12,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    deadline=None,
)
@given(seed=st.integers(0, 2**31), towing=st.sampled_from(WAYS))
def test_batches_of_any_size_give_the_same_rows_clearances_and_stays(batch_of, most_legs, seed, towing):
    trip = random_trip(np.random.default_rng([seed, 7]))
    batch_of(500_000)
    whole = told(trip, towing)
    batch_of(most_legs)
    parts = told(trip, towing)
    assert parts[0] == whole[0]
    assert parts[4] == whole[4]
    np.testing.assert_allclose(parts[1], whole[1], rtol=0, atol=0.01)
    # A millimetre along the line at the lowest speed of these trips, half a metre a second.
    np.testing.assert_allclose(parts[2], whole[2], rtol=0, atol=0.05)
    np.testing.assert_allclose(parts[3], whole[3], rtol=0, atol=0.05)


def test_a_long_route_is_cut_into_the_batches_asked_for():
    """The property above would hold of batches that are never made."""
    path = build_path(route([(-20.0 + 0.001 * n, 57.0) for n in range(30)]), CheckSettings())
    sizes = [len(batch.groups) for batch in batches.batches(path, 3)]
    assert len(sizes) >= 9
    spans = [(g.covered.first[0], g.covered.last[-1]) for b in batches.batches(path, 3) for g in b.groups]
    assert [first for first, _ in spans[1:]] == [last for _, last in spans[:-1]]
    assert (spans[0][0], spans[-1][1]) == (0.0, 29.0)
