"""What is told of tows and of stays: many at once, against each by itself and plain figures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scenes import START, area, around, check, fixes, moved, steady, zone

from towzone.checks.activity import TowSpan
from towzone.checks.boundaries import Boundaries
from towzone.checks.force import Force, Standings
from towzone.checks.intervals import merged
from towzone.checks.legs import LegLengths
from towzone.checks.paths import build_path
from towzone.checks.settings import CheckSettings, Towing
from towzone.checks.stays import stays_told
from towzone.checks.tow_facts import tows_of
from towzone.geodesy.lines import LineKind
from towzone.model.rules import Rules
from towzone.tows.logged import LoggedHaul

A = (2.95, 54.4)
SEED = 20261126


def span(first, last, shoot, haul, **more):
    return TowSpan(first=first, last=last, shoot=shoot, haul=haul, basis="log", **more)


def told(track, spans, *, time_s, covered):
    lengths = LegLengths(track, LineKind.GEODESIC, time_s, covered)
    return tows_of(track, LineKind.GEODESIC, spans, time_s=time_s, lengths=lengths, covered=covered)


def eastward(count):
    return fixes([moved(A, 60.0, 1000.0 * n) for n in range(count)], [60.0 * n for n in range(count)])


def test_tows_told_together_are_what_they_are_alone():
    rng = np.random.default_rng(SEED)
    track = eastward(30)
    for _ in range(20):
        time_s = np.arange(30.0) * 60.0
        time_s[rng.random(30) < rng.choice([0.0, 0.1])] = np.nan
        covered = rng.random(29) < 0.8
        places = np.sort(rng.choice(np.arange(0.0, 29.5, 0.5), 6, replace=False)).tolist()
        spans = [span(int(a), int(np.ceil(b)), a, b) for a, b in zip(places[0::2], places[1::2], strict=True)]
        together = told(track, spans, time_s=time_s, covered=covered)
        alone = [told(track, [one], time_s=time_s, covered=covered)[0] for one in spans]
        assert [repr(replace(tow, number=1)) for tow in together] == [repr(tow) for tow in alone]
        assert [tow.number for tow in together] == [1, 2, 3]
    assert told(track, [], time_s=time_s, covered=covered) == ()


def test_a_gap_in_a_tow_takes_its_own_seconds_and_places_in_it_are_unknown():
    track, covered = eastward(8), np.ones(7, dtype=bool)
    covered[[1, 4]] = False
    time_s = np.arange(8.0) * 60.0
    (tow,) = told(track, [span(0, 7, 1.25, 6.0)], time_s=time_s, covered=covered)
    assert (tow.gap_seconds, tow.seconds) == (45.0 + 60.0, 4.75 * 60.0)
    np.testing.assert_allclose(tow.length_m, 3000.0, rtol=0, atol=0.01)
    assert tow.shoot_position is None
    np.testing.assert_allclose(tow.haul_position, moved(A, 60.0, 6000.0), rtol=0, atol=1e-6)
    assert tow.rectangles == ("37F2", "37F3")
    (tow,) = told(track, [span(0, 7, 1.0, 4.5)], time_s=time_s, covered=covered)
    assert (tow.gap_seconds, tow.haul_position) == (60.0 + 30.0, None)


def test_without_the_time_of_an_end_no_length_of_gaps_is_told():
    track, covered = eastward(8), np.ones(7, dtype=bool)
    covered[4] = False
    time_s = np.arange(8.0) * 60.0
    time_s[0] = np.nan
    (tow,) = told(track, [span(0, 7, 0.0, 6.0)], time_s=time_s, covered=covered)
    assert (tow.gap_seconds, tow.seconds, tow.mean_speed_kn) == (0.0, None, None)
    assert np.isnat(tow.shoot_utc)


class Beside:
    """Something that is always so many degrees east of a place."""

    def __init__(self, east_deg):
        self.east_deg = east_deg

    def positions(self, place):
        return place + self.east_deg, place * 2.0


def test_stays_are_told_of_what_was_inside():
    path = build_path(steady([A, moved(A, 90.0, 3000.0)]), CheckSettings(towing=Towing.ALL))
    one, two = Beside(10.0), Beside(20.0)
    inside = [merged([1.0, 4.5], [2.0, 5.0]), merged([], []), merged([3.0], [3.0]), merged([0.5], [7.0])]
    found = stays_told(path, inside, [one, two, two, one])
    assert [len(stays) for stays in found] == [2, 0, 1, 1]
    places = [
        (s.enter_lon_deg, s.enter_lat_deg, s.leave_lon_deg, s.leave_lat_deg) for stays in found for s in stays
    ]
    assert places == [
        (11.0, 2.0, 12.0, 4.0),
        (14.5, 9.0, 15.0, 10.0),
        (23.0, 6.0, 23.0, 6.0),
        (10.5, 1.0, 17.0, 14.0),
    ]
    assert [stay.seconds for stay in found[0]] == [60.0, 30.0]
    np.testing.assert_allclose(found[3][0].mean_speed_kn, 3.0, rtol=0, atol=1e-6)
    assert found[2][0].mean_speed_kn is None


def test_a_rule_about_gears_is_asked_for_each_logged_tow():
    track = steady([A, moved(A, 90.0, 20_000.0)])
    hauls = tuple(
        LoggedHaul(
            haul=f"h{n}",
            shoot_utc=START + np.timedelta64(3600 * n + 600, "s"),
            haul_utc=START + np.timedelta64(3600 * n + 2400, "s"),
            line=n + 2,
            gear=gear,
        )
        for n, gear in enumerate(("OTB", "OTM"))
    )
    settings = CheckSettings(towing=Towing.LOG, hauls=hauls)
    zones = [zone(area(around(A, 50_000.0)), rules=Rules(gears=("OTB",)))]
    path = build_path(track, settings)
    known = Standings(zones, Boundaries.of(zones).rule, settings)
    towing = [known.of(0, group).force for group in path.groups if group.activity == "towing"]
    assert towing[:2] == [Force.HOLDS, Force.IDLE]
    assert {
        row.status for row in check(track, zones, towing=Towing.LOG, hauls=hauls).rows if row.tow == 2
    } == {"not_in_force"}
