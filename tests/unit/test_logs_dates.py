"""Fixes get the day the log tells, over midnight, silences and wrong clocks; where it does not, none."""

from __future__ import annotations

import datetime as dt

import pytest
from nmea_texts import START, fixes, gga, left_out, read, rmc, sentence, steps, told, zda

from towzone.errors import InputError

LAT, LON = 54.5, -8.25
ROUND = dt.timedelta(days=7168)
"""1024 weeks; published: IS-GPS-200, 20.3.3.3.1.1, from memory."""


def moments(content):
    return [when for _, when, _, _ in fixes(content)]


def at(text):
    return dt.datetime.fromisoformat(text)


def ggas(whens):
    return "".join(gga(when, LAT, LON) for when in whens)


def rmcs(whens, behind=dt.timedelta(0), **more):
    return "".join(rmc(when, LAT, LON, date=(when - behind).strftime("%d%m%y"), **more) for when in whens)


# --- midnight and silences ------------------------------------------------------------------------


def test_the_second_of_the_research_ship_moved_to_midnight():
    """An RMC at 23:59:59 dates the GGA of 00:00:00 on the next day, not on its own."""
    before, after = at("2020-01-14T23:59:59"), at("2020-01-15T00:00:00")

    assert moments(read(ggas([before]) + rmcs([before]) + ggas([after]))) == [before, after]


def test_a_zda_of_the_new_day_before_the_last_fix_of_the_old_one():
    """In a real log ZDA ran 0.77 s ahead of the fixes; last date and time of day would be 24 h late."""
    whens = steps(4, start=at("2026-03-01T23:59:57.250000"))
    log = "".join(zda(when + dt.timedelta(seconds=0.77)) + gga(when, LAT, LON) for when in whens)

    assert moments(read(log)) == whens


def test_a_zda_ahead_of_the_next_fix_does_not_date_the_one_before():
    first, second = at("2026-03-01T23:59:59.250000"), at("2026-03-02T00:00:00.250000")
    log = gga(first, LAT, LON) + zda(at("2026-03-02T00:00:00.020000")) + gga(second, LAT, LON)

    assert moments(read(log)) == [first, second]


def test_a_zda_before_a_silence_does_not_date_the_first_fix_behind_it():
    """Thirty hours later; the next ZDA does."""
    later = START + dt.timedelta(hours=30)
    log = gga(START, LAT, LON) + zda(START) + gga(later, LAT, LON)
    log += zda(later + dt.timedelta(seconds=0.5)) + gga(later + dt.timedelta(seconds=1), LAT, LON)

    assert moments(read(log)) == [START, later, later + dt.timedelta(seconds=1)]


def test_a_zda_right_behind_a_fix_dates_it():
    whens = steps(3)

    assert moments(read("".join(gga(when, LAT, LON) + zda(when) for when in whens))) == whens


@pytest.mark.parametrize("hours", [0.1, 1, 11, 13, 18, 23.5])
def test_days_are_counted_over_a_silence_of_under_a_day(hours):
    """The first date only is known; forward within a day is the rule."""
    later = START + dt.timedelta(hours=hours)
    content = read(rmcs([START]) + ggas([START, later, later + dt.timedelta(seconds=1)]))

    assert moments(content) == [START, later, later + dt.timedelta(seconds=1)]
    assert told(content, "after the last date days were counted on over 1 silence")


@pytest.mark.parametrize("seconds", [1, 3, 299])
def test_a_fix_a_little_late_in_the_file_is_not_taken_to_the_next_day(seconds):
    whens = steps(3)
    late = whens[-1] - dt.timedelta(seconds=seconds, milliseconds=500)

    assert moments(read(rmcs(whens) + ggas([late]))) == [*whens, late]


def test_every_date_counts_over_silences_of_days():
    whens = [START, START + dt.timedelta(days=3, hours=2), START + dt.timedelta(days=40, hours=1)]

    assert moments(read(rmcs(whens))) == whens


def test_fixes_without_a_date_right_before_one_behind_a_long_silence_are_dated_by_it():
    """Three days later the first fixes have no date yet; the next date does."""
    later = START + dt.timedelta(days=3, hours=2)
    whens = steps(3, start=later)

    assert moments(read(rmcs([START]) + ggas(whens) + rmcs([later + dt.timedelta(seconds=3)]))) == [
        START,
        *whens,
        later + dt.timedelta(seconds=3),
    ]


def test_fixes_between_dates_that_do_not_agree_are_not_dated():
    """Between two silences, on one of which a day more passed, nobody knows on which side."""
    between = [START + dt.timedelta(hours=2), START + dt.timedelta(hours=2, seconds=1)]
    end = START + dt.timedelta(days=1, hours=4)
    content = read(rmcs([START]) + ggas(between) + rmcs([end]))

    assert moments(content) == [START, None, None, end]
    assert content.raw[0].bounds == ((0, 1), (1, 3), (3, 4))
    assert told(content, "line 2: 2 fixes without a sure date")


def test_fixes_between_dates_that_meet_without_a_silence_are_not_dated():
    """The clock went on as if nothing had happened, and the date is three days later."""
    whens = steps(601, seconds=2)
    behind = dt.timedelta(days=3)
    content = read(rmcs(whens[:300], behind) + ggas(whens[300:301]) + rmcs(whens[301:]))

    assert moments(content) == [*(when - behind for when in whens[:300]), None, *whens[301:]]


def test_a_leap_second_is_the_second_behind_59():
    log = sentence("GPRMC,235960.00,A,5430.0000,N,00815.0000,W,3.4,120.5,311216,,,A")

    assert moments(read(log)) == [at("2017-01-01T00:00:00")]


def test_an_impossible_date_rejects_the_date_only():
    """The fix is dated by its neighbours; alone it has no date."""
    whens = steps(3)
    impossible = rmc(whens[1], LAT, LON, date="290223")
    content = read(rmcs(whens[:1]) + impossible + rmcs(whens[2:]))

    assert moments(content) == whens
    assert content.tally["bad_time_or_date"] == 1
    assert moments(read(impossible)) == [None]


def test_an_impossible_time_leaves_the_fix_out():
    whens = steps(2)
    impossible = rmc(whens[1], LAT, LON).replace("061001.00", "256199.00")
    wrong = sentence(impossible[1:].split("*")[0])
    content = read(rmcs(whens) + wrong + rmcs([whens[1] + dt.timedelta(seconds=1)]))

    assert moments(content) == [*whens, whens[1] + dt.timedelta(seconds=1)]
    assert left_out(content) == {"bad_time": 1}


# --- before the first date, and without any ---------------------------------------------------------


def test_fixes_that_lead_up_to_the_first_date_are_dated_back_from_it():
    whens = steps(4, seconds=200, start=at("2026-03-01T23:55:00"))
    content = read(ggas(whens[:3]) + rmcs(whens[3:]))

    assert moments(content) == whens
    assert told(content, "3 fixes before the first date dated back from it")


def test_fixes_before_a_silence_before_the_first_date_stay_undated():
    whens = [START, *steps(3, start=START + dt.timedelta(seconds=301))]
    content = read(ggas(whens[:3]) + rmcs(whens[3:]))

    assert moments(content) == [None, *whens[1:]]
    assert content.raw[0].bounds == ((0, 1), (1, 4))
    assert told(content, "line 1: 1 fix without a sure date")


def test_a_log_without_dates_says_how_to_give_one():
    content = read(ggas(steps(3)))

    assert moments(content) == [None] * 3
    assert told(content, "none of its fixes has a day.*--date")
    assert content.raw[0].bounds == ((0, 3),)


def test_the_day_given_is_that_of_the_first_position():
    """Void fixes before it have times that mean nothing."""
    whens = steps(3, start=at("2026-02-28T23:59:59"))
    content = read(gga(at("2026-01-01T12:00:00"), LAT, LON, quality="0") + ggas(whens), day=whens[0].date())

    assert moments(content) == whens
    assert told(content, "days were taken from --date")


def test_the_day_given_is_not_used_where_the_log_has_dates():
    content = read(rmcs(steps(2)), day=dt.date(2020, 1, 1))

    assert moments(content) == steps(2)
    assert told(content, "the log has dates; --date 2020-01-01 was not used")


def test_dates_of_void_sentences_do_not_count():
    """A receiver that has no fix yet writes any date."""
    first, *whens = steps(3)
    void = rmc(first, LAT, LON, status="V", date="220899")

    assert moments(read(void + ggas(whens))) == [None, None]
    assert moments(read(void + ggas(whens[:1]) + rmcs(whens[1:]))) == whens


def test_void_fixes_before_the_first_that_counts_are_timed_by_it():
    """Ten minutes before, on the same day, not a day later."""
    void = gga(START - dt.timedelta(minutes=10), LAT, LON, quality="0")
    late = gga(START + dt.timedelta(minutes=10), LAT, LON, quality="0")
    (some,) = read(void + rmcs([START]) + late).raw[0].left_out

    assert [time.item() for time in some.time_utc] == [
        START - dt.timedelta(minutes=10),
        START + dt.timedelta(minutes=10),
    ]


# --- the times the logger wrote ---------------------------------------------------------------------


def prefixed(whens, ahead=dt.timedelta(0), make=ggas):
    return "".join(f"{(when + ahead).isoformat()}Z\t{make([when])}" for when in whens)


def test_a_log_without_dates_is_dated_by_what_the_logger_wrote():
    """Silences of days and midnight included, though only a few lines are looked at."""
    whens = [
        when
        for days in (0, 3, 4)
        for when in steps(30, start=at("2026-03-01T23:59:45") + dt.timedelta(days=days, hours=days))
    ]
    content = read(prefixed(whens, dt.timedelta(seconds=0.4)))

    assert moments(content) == whens
    assert told(content, "days were taken from the times the logger wrote")


def test_tag_blocks_date_a_log_too():
    whens = steps(3)
    log = ""
    for when in whens:
        body = f"c:{int(when.replace(tzinfo=dt.UTC).timestamp())}"
        log += "\\" + sentence(body, mark="", end="") + "\\" + gga(when, LAT, LON)

    assert moments(read(log)) == whens


def test_the_day_given_counts_before_what_the_logger_wrote():
    whens = steps(2)

    assert moments(read(prefixed(whens, dt.timedelta(days=2)), day=START.date())) == whens


def test_a_logger_clock_that_differs_is_told_and_not_followed():
    content = read(prefixed(steps(5), dt.timedelta(hours=19.5), make=rmcs))

    assert moments(content) == steps(5)
    assert told(content, "the clock of the logger is 19 h 30 min ahead of that of receiver GP")


# --- rounds of 1024 weeks ---------------------------------------------------------------------------


def test_rmc_a_round_behind_its_zda_is_put_right():
    """Three of twenty real logs had such dates; in one RMC and ZDA disagreed by the round."""
    whens = steps(5)
    log = "".join(rmcs([when], ROUND) + zda(when) for when in whens)
    content = read(log)

    assert moments(content) == whens
    assert told(content, r"1 round of 1024 weeks \(7168 days\) behind ZDA")


def test_a_few_zda_a_round_ahead_move_nothing():
    whens = steps(6)
    ahead = [ROUND if i < 2 else dt.timedelta(0) for i in range(6)]
    log = "".join(rmcs([when]) + zda(when + some) for when, some in zip(whens, ahead, strict=True))

    assert moments(read(log)) == whens


def test_a_receiver_a_round_behind_another_is_put_right():
    """The one with more fixes is used, and dated by the other."""
    whens = steps(6)
    log = "".join(
        rmcs([when], ROUND) + (rmcs([when + dt.timedelta(seconds=0.07)], talker="IN") if i % 2 else "")
        for i, when in enumerate(whens)
    )
    content = read(log)

    assert moments(content) == whens
    assert told(content, r"dates of receiver GP are 1 round of 1024 weeks \(7168 days\) behind receiver IN")


@pytest.mark.parametrize("hours", [0, -5, 10, 19.5])
def test_a_receiver_a_round_behind_the_logger_is_put_right(hours):
    """Whatever the zone of the logger's clock."""
    content = read(
        "".join(prefixed([when], ROUND + dt.timedelta(hours=hours), make=rmcs) for when in steps(5))
    )

    assert moments(content) == [when + ROUND for when in steps(5)]


def test_a_receiver_that_finds_its_round_on_the_way_is_put_right_from_the_beginning():
    whens = steps(8)
    content = read(rmcs(whens[:6], ROUND) + rmcs(whens[6:]))

    assert moments(content) == whens
    assert told(content, "line 1: 6 dates put forward by 7168 days")


def test_all_that_is_as_much_behind_is_put_right_over_silences_of_days():
    """And fixes without a date between the last wrong and the first right one go with them."""
    first, then = steps(5), steps(9, start=START + dt.timedelta(days=3, hours=5))
    content = read(rmcs(first, ROUND) + rmcs(then[:4], ROUND) + ggas(then[4:5]) + rmcs(then[5:]))

    assert moments(content) == [*first, *then]
    assert told(content, "line 1: 9 dates put forward by 7168 days")


def test_a_round_that_is_found_behind_a_silence_is_not_put_right_but_left_out():
    """The dates before may be a round behind, or any date of a clock not set."""
    later = steps(20, start=START + dt.timedelta(hours=2))
    content = read(rmcs(steps(3), ROUND) + rmcs(later))

    assert moments(content) == later
    assert left_out(content) == {"bad_time": 3}


def test_a_receiver_that_loses_its_round_on_the_way_is_put_right_behind():
    whens = steps(8)

    assert moments(read(rmcs(whens[:3]) + rmcs(whens[3:], ROUND))) == whens


def test_dates_of_the_last_century_without_a_second_clock_stand_with_a_warning():
    old = steps(3, start=at("1999-07-15T06:10:00"))
    content = read(rmcs(old))

    assert moments(content) == old
    assert told(content, r"the log begins on 1999-07-15; .* \(it would be 2019-02-28 then\).*--year")


def test_the_year_given_moves_dates_by_whole_rounds_where_these_lead_to_it():
    old = steps(3, start=at("1999-07-15T06:10:00"))
    content = read(rmcs(old), year=2019)

    assert moments(content) == steps(3, start=at("2019-02-28T06:10:00"))
    assert told(content, "moved to 2019-02-28 by 1 round of 1024 weeks")


def test_the_year_given_replaces_the_year_where_no_round_leads_to_it():
    old = steps(3, start=at("1999-12-31T23:59:59"))
    content = read(rmcs(old), year=2026)

    assert moments(content) == steps(3, start=at("2026-12-31T23:59:59"))
    assert told(content, "moved to 2026-12-31 by whole years")


def test_a_year_without_the_day_is_refused():
    with pytest.raises(InputError, match="begins on 2020-02-29, a day that the year 2026"):
        read(rmcs(steps(2, start=at("2020-02-29T06:10:00"))), year=2026)


def test_dates_of_this_century_raise_no_doubt_of_their_round():
    assert not told(read(rmcs(steps(3, start=at("2001-07-15T06:10:00")))), "1024 weeks")


def test_the_year_given_changes_nothing_where_it_is_right():
    content = read(rmcs(steps(2)), year=2026)

    assert moments(content) == steps(2)
    assert not told(content, "--year")


# --- wrong dates ------------------------------------------------------------------------------------


def test_dates_of_a_receiver_starting_up_are_left_out():
    """Valid by their status, years before the rest, and no whole round behind."""
    first = steps(5, start=at("1999-08-22T00:04:28"))
    content = read(rmcs(first) + rmcs(steps(20)))

    assert moments(content) == steps(20)
    assert left_out(content) == {"bad_time": 5}
    assert told(content, "line 1: 5 fixes left out whose dates are years away")


def test_dates_before_2000_do_not_outweigh_later_ones_by_their_number():
    old = steps(20, start=at("1999-08-22T00:04:28"))
    content = read(rmcs(old) + rmcs(steps(5)))

    assert moments(content) == steps(5)
    assert left_out(content) == {"bad_time": 20}


def test_a_restart_on_the_way_loses_only_its_own_fixes_and_parts_the_track():
    whens = steps(40, seconds=60)
    restart = steps(12, seconds=60, start=at("2000-01-01T00:00:00"))
    for before in (15, 25):
        content = read(rmcs(whens[:before]) + rmcs(restart) + rmcs(whens[before:]))

        assert moments(content) == whens
        assert left_out(content) == {"bad_time": 12}
        assert content.raw[0].bounds == ((0, before), (before, 40))


def test_a_date_that_lags_over_midnight_is_put_right_by_its_neighbours():
    """Some receivers change the date a second late; believed, the fix were 24 h early."""
    whens = steps(6, start=at("2026-03-01T23:59:57"))
    lagging = rmc(whens[3], LAT, LON, date="010326")
    content = read(rmcs(whens[:3]) + lagging + rmcs(whens[4:]))

    assert moments(content) == whens
    assert told(content, "line 4: 1 date contradict those around them")


def test_dates_that_differ_for_longer_than_a_moment_stand_as_they_are():
    """Ten minutes of another date are no late change of it; the track is parted there."""
    whens = steps(61, seconds=60)
    other = dt.timedelta(days=2)
    content = read(rmcs(whens[:30]) + rmcs(whens[30:41], other) + rmcs(whens[41:]))

    assert moments(content) == [*whens[:30], *(when - other for when in whens[30:41]), *whens[41:]]
    assert content.raw[0].bounds == ((0, 30), (30, 61))
    assert told(content, "line 31: the dates go back 1 time")


def test_a_lagging_date_at_the_very_beginning_does_not_count():
    whens = steps(4, start=at("2026-03-02T00:00:00"))

    assert moments(read(rmc(whens[0], LAT, LON, date="010326") + rmcs(whens[1:]))) == whens


def test_a_lagging_date_at_the_very_end_does_not_count_either():
    whens = steps(4, start=at("2026-03-01T23:59:57"))

    assert moments(read(rmcs(whens[:3]) + rmc(whens[3], LAT, LON, date="010326"))) == whens


def test_logs_joined_in_the_wrong_order_keep_their_dates_and_begin_a_new_part():
    early, late = steps(10, seconds=60), steps(10, seconds=60, start=START + dt.timedelta(days=2, hours=3))
    content = read(rmcs(late) + rmcs(early))

    assert moments(content) == [*late, *early]
    assert content.raw[0].bounds == ((0, 10), (10, 20))
    assert told(content, "line 11: the dates go back 1 time")


def test_a_later_trip_in_the_same_file_stays():
    first, later = steps(10), steps(5, start=START + dt.timedelta(days=900, hours=3))

    assert moments(read(rmcs(first) + rmcs(later))) == [*first, *later]
