"""Haul logs on tracks sailed by hand: what becomes a tow, and where log and track disagree."""

from __future__ import annotations

import numpy as np
import pytest
from synthetic_trips import START_S, sail

from towzone.errors import UsageError
from towzone.tows.detection import CANNOT_TELL, NOT_TOWING, TOWING, detect
from towzone.tows.haul_log import DisagreementKind, apply_log
from towzone.tows.logged import LoggedHaul

STEAM = (60, 10.0, 0.0, 0.0)
TRIP = [STEAM, (90, 3.0, 0, 0), (15, 1.0, 0, 0), (60, 0.3, 0, 0), (120, 3.2, 0, 0), (15, 1.0, 0, 0), STEAM]
"""Tows from minute 60 to 150 and 225 to 345."""


def utc(minute):
    return np.datetime64(round((START_S + minute * 60.0) * 1e6), "us")


def logged(name, shoot_min, haul_min, **more):
    return LoggedHaul(haul=name, shoot_utc=utc(shoot_min), haul_utc=utc(haul_min), **more)


def look(fixes, gear="OTB"):
    return detect(
        lon_deg=fixes.lon_deg,
        lat_deg=fixes.lat_deg,
        time_s=fixes.time_s,
        part=fixes.part,
        gap_s=900.0,
        max_speed_kn=12.0,
        gear=gear,
    )


def by_log(fixes, *hauls, gear="OTB"):
    return apply_log(look(fixes, gear), hauls, fixes.time_s)


def at_minute(fixes, found, minute):
    """The code of the leg a minute of the trip lies in."""
    return int(found.activity[np.searchsorted(fixes.second, minute * 60.0, side="right") - 1])


def kinds(found):
    return [(item.kind.value, item.haul_id) for item in found.disagreements]


BOTH = (logged("1", 60, 150), logged("2", 225, 345))


def test_a_log_that_agrees_makes_the_tows_and_nothing_to_say():
    """Two hauls, two tows, in order of time whatever the order in the log."""
    found = by_log(sail(TRIP), *reversed(BOTH))

    assert [tow.haul_id for tow in found.tows] == ["1", "2"]
    assert found.disagreements == ()


def test_logged_times_fall_between_fixes():
    """Fixes every ten minutes; shot 2.5 minutes after fix 6: a quarter of the way to fix 7."""
    found = by_log(sail(TRIP, 600), logged("1", 62.5, 147.0), BOTH[1])

    assert found.tows[0].shoot == pytest.approx(6.25, abs=1e-6)
    assert found.tows[0].haul == pytest.approx(14.7, abs=1e-6)


def test_the_extent_is_whole_fixes_outside_the_logged_times():
    """Shooting before, hauling after; activity is towing exactly there."""
    fixes = sail(TRIP)
    found = by_log(fixes, *BOTH)
    towing = np.zeros(len(fixes.second) - 1, dtype=bool)
    for tow in found.tows:
        assert tow.first <= tow.shoot <= tow.haul <= tow.last
        towing[tow.first : tow.last] = True

    assert np.array_equal(found.activity == TOWING, towing)
    assert fixes.second[found.tows[0].last] == pytest.approx(170 * 60, abs=30)
    assert at_minute(fixes, found, 190) == NOT_TOWING


def test_much_warp_takes_longer_to_haul():
    """1500 m at 1 m/s are 25 minutes, and ten for the net: 35 minutes from the start of hauling."""
    fixes = sail([STEAM, (90, 3.0, 0, 0), (90, 0.8, 0, 0), STEAM])
    short, long = (by_log(fixes, logged("1", 60, 150, warp_m=warp)) for warp in (300.0, 1500.0))

    assert fixes.second[short.tows[0].last] == pytest.approx(170 * 60, abs=30)
    assert fixes.second[long.tows[0].last] == pytest.approx(185 * 60, abs=30)


def test_the_log_beats_what_is_seen():
    """Steaming at 10 knots is towing when the log says so, and it is said that it does not look like it."""
    fixes = sail([(180, 10.0, 0, 0)])
    found = by_log(fixes, logged("A", 60, 120))

    assert at_minute(fixes, found, 90) == TOWING
    assert kinds(found) == [("not_in_track", "A")]
    assert "at no time in it did the vessel move as when towing" in found.disagreements[0].explain


def test_a_tow_that_is_not_logged_cannot_be_told_and_is_reported():
    """The second tow of the trip is missing in the log."""
    fixes = sail(TRIP)
    found = by_log(fixes, BOTH[0])
    (item,) = found.disagreements

    assert item.kind is DisagreementKind.UNLOGGED
    assert item.haul_id == ""
    assert np.isnat(item.logged_shoot_utc)
    assert abs(item.track_shoot_utc - utc(225)) < np.timedelta64(2, "m")
    assert abs(item.track_haul_utc - utc(345)) < np.timedelta64(2, "m")
    assert at_minute(fixes, found, 300) == CANNOT_TELL
    assert at_minute(fixes, found, 355) == CANNOT_TELL  # its hauling, too
    assert at_minute(fixes, found, 20) == NOT_TOWING


def test_what_only_the_track_leaves_open_the_log_decides():
    """Three hours of dodging outside the logged hauls: the log is taken as complete."""
    swings = [(5, 2.5, 60, -60), (5, 2.5, -60, 60)] * 18
    fixes = sail([*TRIP, *swings, STEAM])

    assert at_minute(fixes, look(fixes), 500) == CANNOT_TELL
    assert at_minute(fixes, by_log(fixes, *BOTH), 500) == NOT_TOWING


@pytest.mark.parametrize(
    ("haul", "words"),
    [
        (logged("B", -300, -200), "before the first position"),
        (logged("B", 900, 1000), "after the last position"),
        (logged("B", -30, 40), "began before the first position"),
        (logged("B", 400, 500), "ended after the last position"),
    ],
)
def test_a_haul_outside_the_track_is_reported(haul, words):
    """Before it, after it, or reaching over its ends."""
    found = by_log(sail(TRIP), *BOTH, haul)
    items = [item for item in found.disagreements if item.haul_id == "B"]

    assert [item.kind for item in items] == [DisagreementKind.NOT_IN_TRACK]
    assert words in items[0].explain
    assert ("B" in [tow.haul_id for tow in found.tows]) == ("began" in words or "ended" in words)


def test_a_log_of_another_trip_makes_no_tow():
    """All tows of the track are unlogged, the haul is not in the track."""
    found = by_log(sail(TRIP), logged("X", 9000, 9100))

    assert found.tows == ()
    assert kinds(found) == [("unlogged", ""), ("unlogged", ""), ("not_in_track", "X")]
    assert TOWING not in found.activity


def test_fixes_without_times_are_passed_over_by_places():
    """Fixes 60 and 61 of ten-minute fixes have no time: minute 605 is half way from fix 59 to fix 62."""
    fixes = sail([(1440, 3.0, 0, 0)], 600)
    fixes.time_s[60:62] = np.nan

    assert by_log(fixes, logged("N", 605, 1000)).tows[0].shoot == pytest.approx(60.5)


def test_a_haul_that_began_before_the_track_is_cut_at_its_first_fix():
    """No place lies before fix 0."""
    tow = by_log(sail(TRIP), logged("B", -30, 40)).tows[0]

    assert (tow.first, tow.shoot) == (0, 0.0)


def test_a_haul_in_the_dark_has_places_in_the_gap_and_is_reported():
    """Two hours without a position, the haul within them: 61 of 120 minutes is a place 0.508 into the leg."""
    fixes = sail([STEAM, (120, 3.0, 0, 0), STEAM])
    keep = (fixes.second <= 3600) | (fixes.second >= 10_800)
    for name in ("lon_deg", "lat_deg", "time_s", "part", "second"):
        setattr(fixes, name, getattr(fixes, name)[keep])
    found = by_log(fixes, logged("D", 70, 121))

    assert found.tows[0].haul == pytest.approx(360 + 61 / 120)
    assert (found.tows[0].first, found.tows[0].last) == (360, 361)
    assert found.activity[360] == TOWING
    assert kinds(found) == [("not_in_track", "D")]
    assert "no position in that time" in found.disagreements[0].explain


def test_hauling_reaches_from_one_long_leg_into_the_next():
    """Fixes every two hours, hauled five minutes before one of them: the gear came up after it."""
    fixes = sail([(720, 3.0, 0, 0)], 7200)
    found = by_log(fixes, logged("V", 130, 235))

    assert found.activity.tolist() == [NOT_TOWING, TOWING, TOWING, NOT_TOWING, NOT_TOWING, NOT_TOWING]
    assert found.tows[0].shoot == pytest.approx(1 + 10 / 120)


@pytest.mark.parametrize(("shift_min", "apart"), [(5, False), (14, False), (25, True), (-25, True)])
def test_times_more_than_a_quarter_of_an_hour_apart_are_reported(shift_min, apart):
    """The clock of the log is off; both times are named."""
    found = by_log(sail(TRIP), BOTH[0], logged("2", 225 + shift_min, 345 + shift_min))

    assert kinds(found) == ([("times_apart", "2")] if apart else [])
    if apart:
        assert "shot" in found.disagreements[0].explain
        assert "hauled" in found.disagreements[0].explain
        assert f"{abs(shift_min)} min" in found.disagreements[0].explain


def test_towing_seen_beyond_the_logged_times_cannot_be_told():
    """Hauled at minute 300 by the log, but towing went on until 345."""
    fixes = sail(TRIP)
    found = by_log(fixes, BOTH[0], logged("2", 225, 300))

    assert at_minute(fixes, found, 310) == TOWING  # hauling by the log
    assert at_minute(fixes, found, 340) == CANNOT_TELL
    assert kinds(found) == [("times_apart", "2")]


def test_a_tow_that_a_gap_cuts_in_two_is_one_haul():
    """Forty minutes dark in the middle: nothing is unlogged, and no time apart."""
    fixes = sail(TRIP)
    keep = (fixes.second <= 260 * 60) | (fixes.second >= 300 * 60)
    for name in ("lon_deg", "lat_deg", "time_s", "part", "second"):
        setattr(fixes, name, getattr(fixes, name)[keep])

    assert len(look(fixes).tows) == 3
    assert kinds(by_log(fixes, *BOTH)) == []


def test_hauls_close_together_do_not_share_more_than_the_leg_between():
    """Hauling ends where the next is shot."""
    fixes = sail([STEAM, (60, 3.0, 0, 0), (8, 1.0, 0, 0), (60, 3.0, 0, 0), STEAM])
    one, two = by_log(fixes, logged("1", 60, 120), logged("2", 128, 188)).tows

    assert one.last <= two.first
    assert fixes.second[two.first] <= 128 * 60


def test_gears_that_speed_cannot_show_are_told_by_the_log():
    """A seine: the extents are bounded by time alone, and nothing is compared with speeds."""
    fixes = sail([STEAM, (60, 0.2, 0, 0), STEAM])
    found = by_log(fixes, logged("S", 65, 115), gear="SDN")

    assert at_minute(fixes, found, 90) == TOWING
    assert at_minute(fixes, found, 58) == TOWING
    assert at_minute(fixes, found, 20) == NOT_TOWING
    assert found.disagreements == ()


def test_positions_without_times_cannot_be_compared():
    """No tow can be placed; every haul is reported, and nothing is said not to be towing."""
    fixes = sail(TRIP)
    fixes.time_s = np.full(len(fixes.time_s), np.nan)
    found = by_log(fixes, *BOTH)

    assert found.tows == ()
    assert kinds(found) == [("not_in_track", "1"), ("not_in_track", "2")]
    assert (found.activity == CANNOT_TELL).all()


def test_text_of_the_log_is_quoted():
    """Names of hauls are written by others."""
    found = by_log(sail(TRIP), *BOTH, logged("<b>\x1b[31m", 900, 1000))

    assert r"'<b>\x1b[31m'" in found.disagreements[0].explain


def test_an_empty_log_is_refused():
    """It would clear a trip of which nothing is known."""
    with pytest.raises(UsageError, match="holds no haul"):
        by_log(sail(TRIP))
