"""Detection of tows in tracks sailed by hand: what is towing, what is not, and what cannot be told."""

from __future__ import annotations

import numpy as np
import pytest
from synthetic_trips import START_S, sail

from towzone.errors import UsageError
from towzone.tows.around import longest_towing_s
from towzone.tows.cores import LEAST_TOW_S
from towzone.tows.detection import CANNOT_TELL, NOT_TOWING, TOWING, detect

KNOT_MPS = 1852.0 / 3600.0  # exactly; SI Brochure, 8th ed. (2006), Table 8

STEAM = (60, 10.0, 0.0, 0.0)
DRIFT = (120, 0.4, 0.0, 0.0)
HAUL = (15, 1.0, 0.0, 0.0)


def look(fixes, gear="OTB", gap_s=900.0, max_speed_kn=12.0):
    return detect(
        lon_deg=fixes.lon_deg,
        lat_deg=fixes.lat_deg,
        time_s=fixes.time_s,
        part=fixes.part,
        gap_s=gap_s,
        max_speed_kn=max_speed_kn,
        gear=gear,
    )


def minutes(fixes, found, code):
    """Minutes of the legs with a code."""
    return float(np.diff(fixes.second)[found.activity == code].sum()) / 60.0


def at_minute(fixes, found, minute):
    """The code of the leg a minute of the trip lies in."""
    return int(found.activity[np.searchsorted(fixes.second, minute * 60.0, side="right") - 1])


def without(fixes, first_min, last_min):
    """Fixes with those strictly between two minutes taken out."""
    keep = (fixes.second <= first_min * 60) | (fixes.second >= last_min * 60)
    for name in ("lon_deg", "lat_deg", "time_s", "part", "second"):
        setattr(fixes, name, getattr(fixes, name)[keep])
    return fixes


def test_three_hours_at_3_4_knots_are_10_2_nautical_miles():
    """Check value, common practice, no source: 3.4 kn for 3 h is 10.2 nmi."""
    fixes = sail([STEAM, (180, 3.4, 0.0, 0.0), HAUL, STEAM])

    found = look(fixes)

    (tow,) = found.tows
    at = found.profile.fix
    legs = slice(*np.searchsorted(at, [tow.shoot, tow.haul]))
    assert fixes.second[tow.haul] - fixes.second[tow.shoot] == pytest.approx(180 * 60, abs=60)
    assert found.profile.way_m[legs].sum() / 1852.0 == pytest.approx(10.2, abs=0.06)
    assert not tow.short


def test_towing_is_the_whole_extent_of_each_tow_and_nothing_else():
    """Activity and tows tell the same."""
    fixes = sail([STEAM, (90, 3.0, 0, 0), HAUL, DRIFT, (90, 3.2, 0, 0), HAUL, STEAM])
    found = look(fixes)
    expected = np.zeros(len(fixes.second) - 1, dtype=bool)
    for tow in found.tows:
        expected[tow.first : tow.last] = True

    assert len(found.tows) == 2
    assert np.array_equal(found.activity == TOWING, expected)
    assert all(tow.first <= tow.shoot < tow.haul <= tow.last for tow in found.tows)
    assert found.tows[0].last <= found.tows[1].first


def test_hauling_at_one_knot_belongs_to_the_tow_for_twenty_minutes():
    """Hauling lasts a quarter of an hour here; from 20 minutes after the tow drifting is not towing."""
    fixes = sail([STEAM, (90, 3.0, 0, 0), HAUL, DRIFT, STEAM])
    found = look(fixes)

    assert at_minute(fixes, found, 60 + 90 + 14) == TOWING
    assert fixes.second[found.tows[0].last] == pytest.approx((60 + 90 + 20) * 60, abs=120)
    assert at_minute(fixes, found, 60 + 90 + 30) == NOT_TOWING
    assert at_minute(fixes, found, 60 + 90 + 130) == NOT_TOWING


def test_hauling_ends_where_the_vessel_steams_off():
    """Nothing is on the sea bed at 10 knots."""
    fixes = sail([STEAM, (90, 3.0, 0, 0), (8, 1.0, 0, 0), STEAM])
    found = look(fixes)

    assert fixes.second[found.tows[0].last] == pytest.approx((60 + 90 + 8) * 60, abs=60)


def test_shooting_at_six_knots_belongs_to_the_tow_for_ten_minutes():
    """A quarter of an hour at 6 kn before the tow: ten minutes of it may be shooting."""
    fixes = sail([STEAM, (15, 6.0, 0, 0), (90, 3.0, 0, 0), HAUL, STEAM])
    found = look(fixes)

    assert fixes.second[found.tows[0].shoot] == pytest.approx(75 * 60, abs=60)
    assert fixes.second[found.tows[0].first] == pytest.approx(65 * 60, abs=60)


def test_shooting_began_after_the_vessel_lay_still():
    """A trawl is not shot without way on: the drift before the tow is none of it."""
    fixes = sail([STEAM, DRIFT, (4, 2.2, 0, 0), (90, 3.0, 0, 0), HAUL, STEAM])
    found = look(fixes)

    assert fixes.second[found.tows[0].first] == pytest.approx((60 + 120) * 60, abs=60)


def test_steaming_and_drifting_are_not_towing():
    """A day without a tow: nothing is in doubt but slowing down and speeding up."""
    fixes = sail([STEAM, DRIFT, STEAM, DRIFT, STEAM])
    found = look(fixes)

    assert found.tows == ()
    assert (found.activity == NOT_TOWING).all()


def test_a_turn_does_not_cut_a_tow():
    """Half round in ten minutes, slower than the band for four of them."""
    turn = [(3, 3.0, 0, 54), (4, 1.1, 54, 126), (3, 3.0, 126, 180)]
    fixes = sail([STEAM, (60, 3.0, 0, 0), *turn, (60, 3.0, 180, 180), HAUL, STEAM])

    assert len(look(fixes).tows) == 1


def test_hauling_and_shooting_again_are_two_tows():
    """Ten minutes at a knot are no turn."""
    fixes = sail([STEAM, (60, 3.0, 0, 0), (10, 1.0, 0, 0), (60, 3.0, 0, 0), HAUL, STEAM])

    assert len(look(fixes).tows) == 2


def test_a_wandering_course_at_towing_speed_cannot_be_told():
    """Three hours of dodging at 2.5 kn, the heading swinging through 120 degrees every five minutes."""
    swings = [(5, 2.5, 60, -60), (5, 2.5, -60, 60)] * 18
    fixes = sail([STEAM, *swings, STEAM])
    found = look(fixes)

    assert found.tows == ()
    assert at_minute(fixes, found, 60 + 90) == CANNOT_TELL
    assert minutes(fixes, found, CANNOT_TELL) == pytest.approx(180, abs=12)


def test_dredges_turn_all_the_time_and_still_tow():
    """Courses say nothing about gears that are not towed straight."""
    swings = [(5, 2.5, 60, -60), (5, 2.5, -60, 60)] * 18

    assert len(look(sail([STEAM, *swings, HAUL, STEAM]), "DRB").tows) == 1


def test_passing_through_towing_speed_is_not_towing_but_lingering_there_cannot_be_told():
    """Three minutes at 3 kn in harbour are slowing down; eight may be something else."""
    quick = sail([STEAM, (3, 3.0, 0, 0), DRIFT])
    slow = sail([STEAM, (8, 3.0, 0, 0), DRIFT])

    assert (look(quick).activity == NOT_TOWING).all()
    assert minutes(slow, look(slow), CANNOT_TELL) == pytest.approx(8, abs=2)
    assert look(slow).tows == ()


def test_a_tow_of_less_than_ten_minutes_is_labelled_short():
    """Thirteen minutes in the band, of which the tow itself, at its own speed, takes nine."""
    fixes = sail([STEAM, (4, 4.4, 0, 0), (9, 2.0, 0, 0), DRIFT, STEAM], 10)
    (tow,) = look(fixes).tows

    assert tow.short
    assert fixes.second[tow.haul] - fixes.second[tow.shoot] < LEAST_TOW_S


@pytest.mark.parametrize(("gear", "code"), [("TBB", TOWING), ("OTB", NOT_TOWING), (None, CANNOT_TELL)])
def test_six_knots_are_towing_for_a_beam_trawler_only(gear, code):
    """Without a gear it cannot be told: it may be a beam trawler."""
    fixes = sail([(60, 11.0, 0, 0), (90, 6.0, 0, 0), (60, 11.0, 0, 0)])

    assert at_minute(fixes, look(fixes, gear), 60 + 45) == code


@pytest.mark.parametrize("gear", ["FPO", "GNS", "SDN", "HMD"])
def test_gears_that_speed_cannot_show_cannot_be_told_and_why_is_said(gear):
    """Every leg, and one sentence that names the gear."""
    fixes = sail([STEAM, (60, 3.0, 0, 0), STEAM])
    found = look(fixes, gear)

    assert (found.activity == CANNOT_TELL).all()
    assert found.band is None
    assert gear in found.assumptions[0]


def test_longest_towing_in_a_gap_by_hand():
    """An hour, 10 nmi, a tow at 4 kn, a vessel of 12 kn: T + (10 - 4 T) / 12 = 1 h gives T = 15 min."""
    way_m = np.array([10.0, 3.9, 12.5]) * 1852.0 + 30.0  # twice 15 m of position error are taken off

    found = longest_towing_s(way_m, np.full(3, 3600.0), 4.0, 12.0)

    assert found == pytest.approx([900.0, 3600.0, 0.0], abs=1e-6)


@pytest.mark.parametrize("way_nmi", [2.0, 5.0, 8.0, 9.0, 9.7, 9.99])
def test_longest_towing_in_a_gap_is_the_last_that_fits(way_nmi):
    """The same by search: no second more fits in, none less is the longest."""
    tow, top = 4.8 * KNOT_MPS, 12.0 * KNOT_MPS
    seconds = np.arange(0.0, 3001.0)
    fits = seconds + np.maximum(0.0, way_nmi * 1852.0 - tow * seconds) / top <= 3000.0

    found = longest_towing_s(np.array([way_nmi * 1852.0 + 30.0]), np.array([3000.0]), 4.8, 12.0)

    assert found[0] == pytest.approx(seconds[fits].max(), abs=1.0)


@pytest.mark.parametrize(("knots", "code"), [(10.5, NOT_TOWING), (9.5, CANNOT_TELL), (3.0, CANNOT_TELL)])
def test_a_gap_is_not_towing_only_if_no_tow_fits_in(knots, code):
    """40 minutes dark: at 10.5 kn of 12 a tow of 8.4 min fits in, at 9.5 kn one of 14.2 min.

    With a tow at 4.8 kn or less: T = 40 (1 - v / 12) / (1 - 4.8 / 12), and 8 s for the error of positions.
    """
    fixes = without(sail([(60, 10.5, 0, 0), (40, knots, 0, 0), (60, 10.5, 0, 0)]), 60, 100)
    found = look(fixes, "OTT")

    assert at_minute(fixes, found, 80) == code
    assert at_minute(fixes, found, 30) == NOT_TOWING


def test_two_gaps_with_one_fix_between_are_taken_together():
    """In each a tow of 8.4 minutes fits in, end to end one of 16.8 that nobody saw."""
    whole = sail([(60, 10.5, 0, 0), (80, 10.5, 0, 0), (60, 10.5, 0, 0)])
    fixes = without(without(whole, 60, 100), 100, 140)
    found = look(fixes, "OTT")

    assert at_minute(fixes, found, 80) == CANNOT_TELL
    assert at_minute(fixes, found, 120) == CANNOT_TELL


def test_a_gap_beside_a_tow_cannot_be_told_however_short():
    """A tow may end anywhere in the 17 minutes that follow it in the dark."""
    fixes = without(sail([STEAM, (60, 3.0, 0, 0), (17, 8.0, 0, 0), STEAM]), 120, 137)
    found = look(fixes)

    assert at_minute(fixes, found, 100) == TOWING
    assert at_minute(fixes, found, 128) == CANNOT_TELL


def test_hauling_may_go_on_after_a_gap():
    """A tow runs into the dark; the vessel lies still when it is seen again."""
    fixes = without(sail([STEAM, (100, 3.0, 0, 0), DRIFT]), 120, 160)
    found = look(fixes)

    assert at_minute(fixes, found, 140) == CANNOT_TELL
    assert at_minute(fixes, found, 165) == CANNOT_TELL
    assert at_minute(fixes, found, 190) == NOT_TOWING


def test_a_short_interruption_of_the_record_does_not_cut_a_tow():
    """The receiver was started again: a new segment after half a minute."""
    fixes = without(sail([STEAM, (90, 3.0, 0, 0), HAUL, STEAM]), 100, 100.5)
    fixes.part[fixes.second > 100 * 60] = 1
    found = look(fixes)

    assert len(found.tows) == 1
    assert at_minute(fixes, found, 100.25) == TOWING


def test_fixes_without_times_cannot_be_told():
    """All of them, or those at the ends."""
    fixes = sail([STEAM, (60, 3.0, 0, 0), HAUL, STEAM], 60)
    blind = np.full(len(fixes.time_s), np.nan)
    ends = fixes.time_s.copy()
    ends[:5] = ends[-5:] = np.nan

    for times in (blind, ends):
        fixes.time_s = times
        found = look(fixes)
        assert (found.activity[:5] == CANNOT_TELL).all()
        assert (found.activity[-5:] == CANNOT_TELL).all()
    assert found.tows


@pytest.mark.parametrize("n", [0, 1])
def test_tracks_without_legs_have_no_activity(n):
    """No fix, one fix."""
    found = detect(
        lon_deg=np.zeros(n),
        lat_deg=np.zeros(n),
        time_s=np.full(n, START_S),
        part=np.zeros(n, dtype=np.int32),
        gap_s=900.0,
        max_speed_kn=12.0,
        gear=None,
    )

    assert len(found.activity) == 0
    assert found.tows == ()


def test_half_a_minute_at_towing_speed_is_all_there_is_and_cannot_be_told():
    """The track begins and ends in what may be a tow."""
    assert (look(sail([(0.5, 3.0, 0, 0)])).activity == CANNOT_TELL).all()


@pytest.mark.parametrize("every_s", [1200, 3600, 7200])
def test_fixes_farther_apart_than_a_quarter_of_an_hour_cannot_be_told_whatever_gap_is_allowed(every_s):
    """The mean speed of a long leg may hide a tow and a passage."""
    fixes = sail([(240, 3.0, 0, 0), (240, 8.0, 0, 0)], every_s)
    found = look(fixes, gap_s=36_000.0)

    assert found.tows == ()
    assert (found.activity == CANNOT_TELL).all()


def test_a_quarter_of_an_hour_between_fixes_hides_a_tow_where_the_mean_is_slow():
    """Legs of 15 min at 6.5 kn between such at 11 kn: ten minutes at 3 kn and five at 12 give 6 kn."""
    fixes = sail([(60, 11.0, 0, 0), (15, 6.5, 0, 0), (60, 11.0, 0, 0)], 900)
    found = look(fixes)

    assert at_minute(fixes, found, 67) == CANNOT_TELL
    assert at_minute(fixes, found, 20) == NOT_TOWING


def test_a_leg_in_which_a_tow_may_have_begun_belongs_to_it():
    """Fixes every five minutes; the tow begins two minutes after one of them."""
    fixes = sail([(62, 10.0, 0, 0), (118, 3.0, 0, 0), HAUL, STEAM], 300)
    found = look(fixes)

    assert at_minute(fixes, found, 63) == TOWING


def test_what_is_printed_names_the_speeds_and_their_source():
    """Thresholds, extensions and what cannot be told, in sentences."""
    text = " ".join(look(sail([STEAM, (60, 3.0, 0, 0), STEAM]), "OTB").assumptions)

    for words in (
        "1.5 to 5 kn",
        "gear OTB",
        "Skaar et al. 2011",
        "10 min",
        "20 min",
        "cannot be told",
        "12 kn",
    ):
        assert words in text


@pytest.mark.parametrize(("gap_s", "max_speed_kn"), [(0.0, 12.0), (900.0, 0.0), (float("nan"), 12.0)])
def test_limits_that_make_no_sense_are_refused(gap_s, max_speed_kn):
    """Zero, or not a number."""
    with pytest.raises(UsageError, match="more than 0"):
        look(sail([STEAM]), gap_s=gap_s, max_speed_kn=max_speed_kn)


def test_the_codes_cannot_be_changed_afterwards():
    """Frozen, like every result."""
    found = look(sail([STEAM]))

    with pytest.raises(ValueError, match="read-only"):
        found.activity[0] = TOWING
